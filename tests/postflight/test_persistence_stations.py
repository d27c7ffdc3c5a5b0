"""Stations at one hour on each other's winds: size and depth of the differences, from made-up winds and real ones."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import brentq

from pappus.earth import distance_m, geodesic_inverse
from pappus.errors import NoSolution
from pappus.postflight.held_winds._page import station_hour_sections
from pappus.postflight.held_winds._station_hour import fit_large_depth_m, station_hour
from pappus.postflight.held_winds._station_places import station_place_deg
from pappus.sources import Sounding, load_places, read_sounding
from postflight.persistence_cases import PRIOR, ascent

CITIES = {
    "KABQ": "Albuquerque", "KAMA": "Amarillo", "KBOI": "Boise", "KBRO": "Brownsville", "KBUF": "Buffalo",
    "KDDC": "Dodge City", "KDNR": "Denver", "KGGW": "Glasgow", "KGJT": "Grand Junction", "KINL": "International Falls",
    "KJAX": "Jacksonville", "KLCH": "Lake Charles", "KLZK": "Little Rock", "KOUN": "Norman", "KRIW": "Riverton",
    "KSLC": "Salt Lake City", "KTUS": "Tucson", "KUNR": "Rapid City", "CYYT": "St. John's", "CYYQ": "Churchill",
    "KFAI": "Fairbanks", "KANC": "Anchorage", "KYXY": "Whitehorse", "CYLW": "Kelowna",
}  # fmt: skip
COLUMNS = ("time_s", "pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s")


def stations(*, sd_m_s: float, depth_m: float, seed: int) -> list[Sounding]:
    """A grid of stations 300 km apart, independent of each other, correlated in height as exp(-dz / depth)."""
    rng = np.random.default_rng(seed)
    found = []
    for row in range(8):
        for column in range(8):
            latitude = 36.0 + row * 300.0 / 111.2
            plain = ascent(
                latitude_deg=latitude, longitude_deg=-100.0 + column * 300.0 / (111.3 * np.cos(np.radians(latitude)))
            )
            kept = np.exp(-np.diff(plain.height_msl_m) / depth_m)
            noise = sd_m_s * rng.standard_normal((2, plain.levels))
            for k, keep in enumerate(kept, start=1):  # a first-order autoregression has this correlation exactly
                noise[:, k] = keep * noise[:, k - 1] + np.sqrt(1.0 - keep**2) * noise[:, k]
            found.append(replace(plain, station=f"{row}{column}", wind_u_m_s=noise[0], wind_v_m_s=noise[1]))
    return found


@pytest.mark.parametrize("depth_m", [1500.0, 4000.0])
def test_known_size_and_depth_are_found_again(depth_m: float) -> None:
    made = stations(sd_m_s=3.0, depth_m=depth_m, seed=int(depth_m))
    found = station_hour(made, PRIOR)
    assert found.stations == 64
    apart = [
        geodesic_inverse(one.latitude_deg, one.longitude_deg, other.latitude_deg, other.longitude_deg)[0]
        for one, other in combinations(made, 2)
    ]
    assert found.pairs == sum(150_000.0 <= distance <= 400_000.0 for distance in apart)
    assert found.low_m < depth_m < found.high_m
    assert found.length_m == pytest.approx(depth_m, rel=0.25)
    whole = depth_m * (1.0 - np.exp(-15_000.0 / depth_m))
    assert found.depth_m == pytest.approx(whole, rel=0.25)
    for size in found.sizes:  # the difference of two independent winds
        assert size.low_m_s < np.sqrt(2.0) * 3.0 < size.high_m_s or size.sd_m_s == pytest.approx(4.24, rel=0.2)


def test_the_prior_is_measured_by_the_same_rule() -> None:
    """1/e of 0.6 exp(-z2 / 2 L2) + 0.4 exp(-z / l), solved by scipy."""
    found, depth_m = station_hour(stations(sd_m_s=3.0, depth_m=2000.0, seed=1), PRIOR), PRIOR.large_depth_m

    def fall(z_m: float) -> float:
        return 0.6 * np.exp(-0.5 * (z_m / depth_m) ** 2) + 0.4 * np.exp(-z_m / 1000.0) - np.exp(-1.0)

    assert found.prior_length_m == pytest.approx(brentq(fall, 100.0, 15_000.0), abs=10.0)
    # the two integrals in closed form: L sqrt(pi / 2) and l, less tails below 1 %
    assert found.prior_depth_m == pytest.approx(0.6 * depth_m * np.sqrt(np.pi / 2.0) + 400.0, rel=0.01)


def test_the_depth_of_the_large_part_makes_both_parts_sum_to_what_was_found() -> None:
    """Integral in closed form: 0.6 L sqrt(pi / 2) + 0.4 l, less tails below 1 %; shallower than the waves: no depth."""
    found = station_hour(stations(sd_m_s=3.0, depth_m=4000.0, seed=1), PRIOR)
    depth_m = fit_large_depth_m(found, PRIOR)
    assert depth_m is not None
    assert 0.6 * depth_m * np.sqrt(np.pi / 2.0) + 400.0 == pytest.approx(found.depth_m, rel=0.01)
    assert f"{found.depth_m / 1000:.1f} km" in found.evidence
    assert fit_large_depth_m(replace(found, depth_m=600.0), PRIOR) is None


def test_wide_gaps_are_not_bridged() -> None:
    """Half of the stations report no level between 8 and 12 km: their wind at 10 km is not known."""
    made = stations(sd_m_s=3.0, depth_m=2000.0, seed=2)
    cut = []
    for sounding in made[::2]:
        keep = (sounding.height_msl_m < 8_000.0) | (sounding.height_msl_m > 12_000.0)
        cut.append(replace(sounding, **{name: getattr(sounding, name)[keep] for name in COLUMNS}))
    found = station_hour([*cut, *made[1::2]], PRIOR)
    pairs = {size.height_msl_m: size.pairs for size in found.sizes}
    assert pairs[15_000.0] == found.pairs
    assert pairs.get(10_000.0, 0) < 0.6 * found.pairs


def test_too_few_stations_are_refused() -> None:
    with pytest.raises(NoSolution, match="20 stations"):
        station_hour(stations(sd_m_s=3.0, depth_m=2000.0, seed=3)[:19], PRIOR)
    spread = [ascent(latitude_deg=40.0, longitude_deg=15.0 * k) for k in range(24)]  # 1 280 km apart
    with pytest.raises(NoSolution, match="partner"):
        station_hour(spread, PRIOR)


def test_shallow_soundings_are_refused() -> None:
    low = []
    for sounding in stations(sd_m_s=3.0, depth_m=2000.0, seed=3):
        keep = sounding.height_msl_m < 12_000.0
        low.append(replace(sounding, **{name: getattr(sounding, name)[keep] for name in COLUMNS}))
    with pytest.raises(NoSolution, match="15 km apart"):
        station_hour(low, PRIOR)


def test_station_places_against_the_cities_they_are_named_after() -> None:
    """GeoNames places, from the package that the build takes them from; a station may stand well outside its city."""
    places = load_places()
    for code, city in CITIES.items():
        place = station_place_deg(code)
        assert place is not None, code
        near = places.within(*place, 45_000.0, 2000)
        assert any(named.name.startswith(city) for named in near), (code, city)


def test_real_hour(shared_data) -> None:
    """117 stations on 1999-05-04 00 UTC; their places are ours, from memory."""
    soundings = read_sounding(shared_data("sondes/northamerica_117stations_19990504T00.json.gz"))
    found = station_hour(soundings, PRIOR)
    assert found.stations > 60
    assert found.no_place == ("KSIC",)
    assert 500.0 < found.low_m < found.length_m < found.high_m
    # above the jet the winds of that hour differ by far less than what the prior gives, below by about as much
    assert [size.sd_m_s < 0.75 * size.prior_sd_m_s for size in found.sizes] == [False, False, True, True, True, True]
    sentences, grid = station_hour_sections(found)
    assert f"{found.stations} stations of 1999-05-04" in sentences.lines[0]
    assert "KSIC" in sentences.lines[-1]
    assert len(grid.rows) == len(found.sizes)


def test_places_of_real_stations_are_apart(shared_data) -> None:
    soundings = read_sounding(shared_data("sondes/northamerica_117stations_19990504T00.json.gz"))
    known = np.array([place for s in soundings if (place := station_place_deg(s.station))])
    apart = distance_m(known[:, None, 0], known[:, None, 1], known[:, 0], known[:, 1])
    assert np.sort(apart, axis=1)[:, 1].min() > 60_000.0
