"""The climb law against the handbook and brute force, and recorded ascents against what their first 3 km said.

Recorded ascents (read from ``../shared`` where it exists): GRUAN Payerne 2017, EUREC4A Barbados 2019, WMO bulletins
from Alice Springs' region 2016, Prague 2007, Albuquerque 2023, Norway 2024 and Nairobi 2019, eclipse soundings of
Wyoming 2017, University of Montana 2020, Fort Collins 2021, ARM Alabama 2025.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from pappus.atmosphere import standard_air
from pappus.export import Grid, Sentences
from pappus.flight_train import ClimbScatter, square_root
from pappus.landing import clopper_pearson
from pappus.postflight._campaigns import campaigns, of_other_campaigns
from pappus.postflight.climb_and_fall._ascent import AscentChecks, ascent_check, ascent_checks
from pappus.postflight.climb_and_fall._climb_fit import (
    ClimbCurve,
    ClimbScaleFit,
    climb_curve,
    climb_curves,
    fit_climb_shape,
    fit_drag_factor,
    shape_grid,
)
from pappus.postflight.climb_and_fall._climb_law import (
    SCATTER_PRIOR,
    STRAIGHT,
    ClimbShape,
    Layers,
    draw_laws,
    weighed,
)
from pappus.postflight.climb_and_fall._fall_fit import fit_fall_prior
from pappus.postflight.climb_and_fall._page import ascent_sections
from pappus.sources import Sounding, read_sounding
from postflight.flights_of_our_own import FLIGHT, ascent_to, invented

Shared = Callable[[str], Path]

FILES = (
    "bco_20190210T1909_ascent_309057.bufr",
    "bnfsondewnpnM1.b1.20250619.053000.cdf",
    "bom_94461_20160403T2315_ascent_309052.bufr",
    "chmi_11520_20071119-20_4ascents_309052.bufr",
    "fortcollins_20210720_no2971.csv.gz",
    "fortcollins_20210721_no2970.csv.gz",
    "gruan_pay_20170712T00_gdpA.nc",
    "kabq_72365_20230521T2305_ascent.bufr",
    "kabq_72365_20230522T1104_ascent.bufr",
    "missoula2020_W2L1_20200610T170554.txt.gz",
    "missoula2020_W5L2_20200701T173044.txt.gz",
    "missoula2020_W9L1_20200729T150146.txt.gz",
    "nairobi_63741_20190809T2333_ascent_309052.bufr",
    "norway_20240225T23_6ascents_309057.bufr",
    "norway_20240226T05_2ascents_309057.bufr",
    "wyoming2017_C3_centre_20170821T054604.txt.gz",
    "wyoming2017_C4_centre_20170821T114604.txt.gz",
    "wyoming2017_C9_centre_20170822T174730.txt.gz",
    "wyoming2017_N1_north_20170820T174749.txt.gz",
    "wyoming2017_S1_south_20170820T174551.txt.gz",
)


def standard_layers(top_m: float = 25_000.0) -> Layers:
    edges = np.arange(0.0, top_m + 1.0, 1_000.0)
    air = standard_air(0.5 * (edges[1:] + edges[:-1]))
    return Layers(
        edges_msl_m=edges,
        pressure_pa=air.pressure_pa,
        temperature_k=air.temperature_k,
        sun_elevation_deg=np.full(len(edges) - 1, -30.0),
        log_density_ratio=np.log(1.225 / air.density_kg_m3),
    )


def curve_of(sounding: Sounding) -> ClimbCurve:
    found = climb_curve(sounding, FLIGHT, 1)
    assert isinstance(found, ClimbCurve), found
    return found


def test_the_prior_climbs_as_the_handbook_and_scatters_as_operations() -> None:
    """300 m/min for balloons of 350 to 3000 g (WMO-No. 8, chapter balloon techniques, from memory); climbs differ by
    0.5 to 1 m/s between flights (from memory)."""
    laws = draw_laws(standard_layers(), FLIGHT, np.random.default_rng(1)).bent(STRAIGHT, standard_layers())
    low = laws.rate_m_s[:, 0]
    assert np.median(low) == pytest.approx(5.0, rel=0.08)
    assert 0.5 < low.std() < 1.0


def test_weighing_agrees_with_keeping_only_the_flights_that_climbed_so() -> None:
    """Brute force: draw laws with scatter, keep the flights that come near the seen rates, ask how they went on."""
    layers, rng = standard_layers(15_000.0), np.random.default_rng(5)
    laws = draw_laws(layers, FLIGHT, rng).bent(STRAIGHT, layers)
    seen = np.array([5.6, 5.8, 5.5])
    root = np.linalg.cholesky(SCATTER_PRIOR.covariance(layers.middle_msl_m))
    kept = []
    for _ in range(100):
        rates = laws.rate_m_s * np.exp(rng.standard_normal(laws.rate_m_s.shape) @ root.T)
        kept.append(rates[np.abs(rates[:, :3] - seen).max(axis=1) < 0.15])
    by_force = np.concatenate(kept)
    assert len(by_force) > 1_000
    ours = weighed(laws, layers, SCATTER_PRIOR, seen, 20_000, rng)
    np.testing.assert_array_equal(ours.rate_m_s[:, :3], np.broadcast_to(seen, (20_000, 3)))
    for above in (3, 5, 9):
        allowed = 4.0 * by_force[:, above].std() / np.sqrt(len(by_force))
        assert ours.rate_m_s[:, above].mean() == pytest.approx(by_force[:, above].mean(), abs=allowed + 0.02)
        assert ours.rate_m_s[:, above].std() == pytest.approx(by_force[:, above].std(), rel=0.1)
    # what was seen tells something: the prior alone is wider
    alone = weighed(laws, layers, SCATTER_PRIOR, seen[:0], 20_000, rng)
    assert alone.rate_m_s[:, 5].std() > 1.2 * ours.rate_m_s[:, 5].std()


def test_bands_hold_what_they_promise_when_the_prior_is_true() -> None:
    """400 flights drawn from the prior itself: the 90 % band must hold 90 % of them, within the exact interval."""
    layers, rng = standard_layers(15_000.0), np.random.default_rng(8)
    laws = draw_laws(layers, FLIGHT, rng).bent(STRAIGHT, layers)
    flown = weighed(draw_laws(layers, FLIGHT, rng).bent(STRAIGHT, layers), layers, SCATTER_PRIOR, np.zeros(0), 400, rng)
    inside = 0
    for rates in flown.rate_m_s:
        after = weighed(laws, layers, SCATTER_PRIOR, rates[:3], 500, rng)
        low, high = np.quantile(np.sum(1.0 / after.rate_m_s[:, 3:], axis=1), (0.05, 0.95))
        inside += bool(low <= np.sum(1.0 / rates[3:]) <= high)
    low_share, high_share = clopper_pearson(inside, 400, 0.99)
    assert low_share < 0.9 < high_share


def test_a_steady_climb_is_inferred_and_predicted() -> None:
    curve = curve_of(ascent_to(32_000.0, rate_m_s=6.0))
    check = ascent_check(curve, STRAIGHT, 1)
    assert check.first_rate_m_s == pytest.approx(6.0, abs=0.01)
    assert [number.name for number in check.times] == ["to 10 km", "to 15 km", "to 20 km", "to 25 km", "to 30 km"]
    assert [number.name for number in check.rates][:2] == ["0-5 km", "5-10 km"]
    # from 3.1 km, where the first 3 km end, at 6 m/s
    assert check.times[0].recorded == pytest.approx(6_900.0 / 6.0, rel=1e-3)
    assert check.rates[2].recorded == pytest.approx(6.0, rel=1e-3)
    assert check.times[0].inside_90
    # a strong balloon with more drag climbs alike: only their combination is known
    assert check.joint_correlation > 0.2
    assert check.free_lift_kg[0] < check.free_lift_kg[1] < check.free_lift_kg[2]
    assert check.effective_draws > 300.0


def test_a_strong_balloon_gets_more_free_lift_or_less_drag() -> None:
    slow, fast = (ascent_check(curve_of(ascent_to(12_000.0, rate)), STRAIGHT, 1) for rate in (4.0, 7.0))
    assert slow.free_lift_kg[1] < 0.8 * fast.free_lift_kg[1]
    assert slow.drag_factor[1] > fast.drag_factor[1]
    for check in (slow, fast):
        assert abs(check.times[0].error) < abs(check.times[0].prior_error)


def bent_ascents(count: int, rng: np.random.Generator) -> list[Sounding]:
    """Flights of the law, slower by a fifth where the air is ten times thinner, with some scatter of scale."""
    heights = np.arange(100.0, 24_001.0, 100.0)
    straight = curve_of(invented(np.full(len(heights) - 1, 5.0), heights))
    middle = 0.5 * (heights[1:] + heights[:-1])
    law = np.interp(middle, straight.layers.middle_msl_m, straight.law_m_s)
    ratio = np.log(standard_air(100.0).density_kg_m3 / standard_air(middle).density_kg_m3)
    bend = np.exp(-0.2 * np.clip(ratio / np.log(10.0), 0.0, 1.0))
    return [invented(law * bend * np.exp(0.1 * rng.standard_normal()), heights) for _ in range(count)]


def test_the_fit_finds_the_bend_and_the_scale_that_made_the_flights() -> None:
    curves = [curve_of(sounding) for sounding in bent_ascents(12, np.random.default_rng(6))]
    shape = fit_climb_shape(curves)
    assert isinstance(shape, ClimbShape), shape
    # the curve is zero over the first 3 km, where the bend has begun: 0.16 of ln(10) on the mean
    begun = 0.2 * np.mean(curves[0].layers.log_density_ratio[:3]) / np.log(10.0)
    at = float(np.log(shape.factor(np.array([np.log(10.0)]))[0]))
    assert at == pytest.approx(-0.2 + begun, abs=0.02)
    assert shape.log_density_ratio[-1] <= shape_grid()[-1]
    scale = fit_drag_factor(curves)
    assert isinstance(scale, ClimbScaleFit), scale
    assert scale.median_interval[0] < np.exp(-begun) < scale.median_interval[1]
    assert scale.ln_sd_interval[0] < 0.1 < scale.ln_sd_interval[1]
    assert scale.drag_factor_ln_sd == pytest.approx(1.604 * scale.ln_sd)
    assert isinstance(fit_climb_shape(curves[:4]), str)
    assert isinstance(fit_drag_factor(curves[:4]), str)


def test_flights_of_one_campaign_do_not_check_one_another() -> None:
    """Flights that hang together through others are one campaign, whatever their order."""
    one, two, three = (curve_of(sounding) for sounding in bent_ascents(3, np.random.default_rng(6)))
    far = replace(one, longitude_deg=one.longitude_deg + 20.0)
    late, later = (replace(one, release=one.release + timedelta(days=days)) for days in (40, 80))
    assert campaigns([one, far, later, two, late, three]) == [[one, later, two, late, three], [far]]
    assert of_other_campaigns(one, [one, far, later, two, late, three]) == [far]
    assert campaigns([one, later]) == [[one], [later]]


def test_a_campaign_counts_as_one_in_the_bend_however_many_flights_it_made() -> None:
    """Twenty flights that bend by a fifth at one place, five places with one flight each that does not bend."""
    rng = np.random.default_rng(6)
    many = [curve_of(sounding) for sounding in bent_ascents(20, rng)]
    straight = replace(many[0], ln_ratio=np.where(np.isnan(many[0].ln_ratio), np.nan, 0.0))
    few = [replace(straight, longitude_deg=straight.longitude_deg + 20.0 * (k + 1)) for k in range(5)]
    alone, together = fit_climb_shape(many), fit_climb_shape([*many, *few])
    assert isinstance(alone, ClimbShape)
    assert isinstance(together, ClimbShape)
    np.testing.assert_allclose(together.ln_rate, alone.ln_rate / 6.0, atol=0.004)


def test_the_straying_that_made_the_flights_is_found() -> None:
    """60 flights, each with a place of its own, strayed by 9 % below and 16 % above over 4 km: found on the grid."""
    truth, rng = ClimbScatter(0.09, 0.16, 4_000.0), np.random.default_rng(4)
    made = curve_of(ascent_to(32_000.0))
    root = square_root(truth.covariance(made.layers.middle_msl_m))
    curves = []
    for k in range(60):
        off = rng.standard_normal(len(root)) @ root
        ratio = np.interp(shape_grid(), made.layers.log_density_ratio, off, right=np.nan) - off[:3].mean()
        curves.append(
            replace(made, longitude_deg=5.0 * k, recorded_m_s=made.law_m_s * np.exp(off), ln_ratio=ratio)
        )  # fmt: skip
    shape = fit_climb_shape(curves)
    assert isinstance(shape, ClimbShape)
    found = shape.scatter
    assert found.low_ln_sd == pytest.approx(0.09, abs=0.021)
    assert found.high_ln_sd == pytest.approx(0.16, abs=0.041)
    assert 2_000.0 <= found.depth_m <= 8_000.0


def test_what_cannot_be_judged_says_why() -> None:
    flight = ascent_to(20_000.0)
    assert flight.time_s is not None
    few = replace(flight, time_s=np.where(np.arange(flight.levels) < 20, flight.time_s, np.nan))
    cases = (
        (replace(flight, time_s=None), "no level has a time"),
        (few, "only 20 levels with a time"),
        (ascent_to(4_000.0), "holds only 3900 m of ascent"),
        (replace(flight, station_height_msl_m=-900.0), "starts 1000 m above its station"),
    )
    for sounding, reason in cases:
        found = climb_curve(sounding, FLIGHT, 1)
        assert isinstance(found, str)
        assert reason in found
    checks = ascent_checks([sounding for sounding, _ in cases], FLIGHT, 1)
    assert checks.law == ()
    assert len(checks.left_out) == len(cases)


@pytest.fixture(scope="module")
def checks(shared_data: Shared) -> AscentChecks:
    soundings = [s for file in FILES for s in read_sounding(shared_data(f"sondes/{file}"))]
    return ascent_checks(soundings, FLIGHT, 1)


def test_recorded_climbs_bend_away_from_the_law(checks: AscentChecks) -> None:
    """The bare drag law predicts most flights too fast at 15 to 20 km: its bands promise too much, and we say so."""
    law = [number for check in checks.law for number in check.rates if number.name == "15-20 km"]
    assert len(law) > 20
    assert np.mean([number.error for number in law]) > 0.7
    by_name = {count.name: count for count in checks.counts}
    assert not by_name["to 20 km"].keeps_90


def test_the_law_bent_as_other_campaigns_flew_is_unbiased_and_keeps_its_word(checks: AscentChecks) -> None:
    assert len(checks.bent) == len(checks.law)
    bent = [number for check in checks.bent for number in check.rates if number.name == "15-20 km"]
    assert abs(np.mean([number.error for number in bent])) < 0.25
    by_name = {count.name: count for count in checks.counts_bent}
    for name in by_name:
        assert by_name[name].keeps_90, (name, by_name[name])


def test_the_first_3_km_help_on_most_flights(checks: AscentChecks) -> None:
    """Continuous ranked probability score against the prior alone, which has the same bent law."""
    for name in ("to 10 km", "to 20 km"):
        numbers = [number for check in checks.bent for number in check.times if number.name == name]
        better = sum(number.crps < number.prior_crps for number in numbers)
        assert clopper_pearson(better, len(numbers))[0] > 0.5, (name, better, len(numbers))
        assert np.median([abs(n.error) for n in numbers]) < np.median([abs(n.prior_error) for n in numbers])


def test_the_page_holds_every_count_and_reason(checks: AscentChecks) -> None:
    page = ascent_sections(replace(checks, left_out=("flight X: no level has a time",)))
    grids = [section for section in page if isinstance(section, Grid)]
    assert [grid.title for grid in grids] == [
        "Climb by the bare drag law", "Climb by the law bent as other campaigns flew", "Climb by flight",
    ]  # fmt: skip
    for grid in grids:
        assert all(len(row) == len(grid.columns) for row in grid.rows)
    assert [row[0] for row in grids[0].rows] == [count.name for count in checks.counts]
    assert len(grids[2].rows) == len(checks.bent)
    assert page[-1] == Sentences("Climbs not judged", ("flight X: no level has a time",))
    first = page[0]
    assert isinstance(first, Sentences)
    assert any("does not hold 90 %" in line and "to 20 km" in line for line in first.lines)


def test_fits_that_cannot_be_made_say_why() -> None:
    for said in (fit_drag_factor([]), fit_climb_shape([]), fit_fall_prior([])):
        assert isinstance(said, str)
        assert "only 0" in said


def test_two_sondes_on_one_balloon_count_once() -> None:
    """The same climb recorded twice is one flight; a second balloon beside it, a tenth faster, is another."""
    first = ascent_to(20_000.0, 5.0)
    twin = replace(first, release=first.release + timedelta(seconds=5.0))
    beside = ascent_to(20_000.0, 5.6)
    curves, left_out = climb_curves([first, twin, beside], FLIGHT, 1)
    assert [curve.leg.start for curve in curves] == [curve_of(one).leg.start for one in (first, beside)]
    assert [line.split(": ")[-1] for line in left_out] == ["hung on the balloon of invented.csv, which counts once"]
