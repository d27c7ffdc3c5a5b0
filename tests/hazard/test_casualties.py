"""Branches of the descent: speed, energy and expected casualties, against hand calculation and exact chances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from columns import example_train
from landings import descents_at, flights_of, round_cloud
from pappus.flight_train import FlightTrain, Package
from pappus.hazard import (
    ENERGY_THRESHOLDS_J,
    Branch,
    Surroundings,
    casualty_area_nasa_m2,
    casualty_area_rcc_m2,
    descents_of,
    ground_hazard,
    join_descents,
    object_areas_m2,
)
from pappus.trajectory import Draws

NOTHING = Surroundings()
AREA = (0.1,)


def hazard_of(people: object, **how: object):
    flights = len(np.atleast_1d(how["touchdown_m_s"]))
    descents = descents_at(*round_cloud(flights, 1e3, 1), **how)
    return ground_hazard(descents, NOTHING, people_per_km2=people, objects_m2=AREA)


def test_worked_example_with_every_landing_over_the_threshold() -> None:
    """0.1 m2, 50 people per km2, P = 1: 4.20e-5 (E_c = P rho (sqrt A_o + sqrt A_p)^2)."""
    expected = hazard_of(50.0, touchdown_m_s=np.full(400, 6.0)).casualties
    assert expected is not None
    assert expected.nasa.value == pytest.approx(4.197e-5, rel=1e-3)
    assert expected.nasa.low <= expected.nasa.value <= expected.nasa.high
    # the two forms stand side by side; for a disc of 0.1 m2 the second is pi (0.3 + 0.1784)^2
    assert expected.rcc.value == pytest.approx(50e-6 * np.pi * (0.3 + np.sqrt(0.1 / np.pi)) ** 2)
    assert hazard_of(1000.0, touchdown_m_s=np.full(400, 6.0)).casualties.nasa.value == pytest.approx(8.4e-4, rel=2e-3)


def test_the_whole_is_the_sum_over_branches_of_chance_times_expectation() -> None:
    rng = np.random.default_rng(2)
    branch = rng.choice(3, 900, p=[0.8, 0.15, 0.05]).astype(np.int8)
    speed = np.where(branch == Branch.FOULED_CANOPY, rng.normal(11.0, 1.5, 900), rng.normal(4.4, 0.3, 900))
    people = rng.uniform(0.0, 400.0, 900)
    hazard = hazard_of(people, touchdown_m_s=speed, branch=branch)
    total = sum(one.chance.p * one.casualties_nasa for one in hazard.branches)
    assert hazard.casualties.nasa.value == pytest.approx(total, rel=1e-12)
    # and directly: every flight by itself
    over = 0.5 * 1.5 * speed**2 > 14.914
    assert total == pytest.approx(float((people * over).mean()) * 1e-6 * casualty_area_nasa_m2(AREA))
    by_name = {one.branch: one for one in hazard.branches}
    fouled, good = by_name[Branch.FOULED_CANOPY], by_name[Branch.GOOD_CANOPY]
    assert fouled.over_j[0].p > 0.99 > 0.6 > good.over_j[0].p
    assert fouled.energy_j.values[1] == pytest.approx(0.5 * 1.5 * 11.0**2, rel=0.05)
    assert good.allowed_m_s == pytest.approx([np.sqrt(2.0 * limit / 1.5) for limit in ENERGY_THRESHOLDS_J])


def test_no_landing_over_the_threshold_is_not_a_hazard_of_zero() -> None:
    expected = hazard_of(np.full(300, 200.0), touchdown_m_s=np.full(300, 3.0)).casualties
    assert expected.nasa.value == 0.0
    assert expected.nasa.low == 0.0
    # 0 of 300 leaves 1.22 % open at 95 % (Clopper and Pearson 1934: 1 - 0.025^(1/300))
    assert expected.nasa.high == pytest.approx((1.0 - 0.025 ** (1 / 300)) * 200e-6 * casualty_area_nasa_m2(AREA))


def test_the_interval_covers_the_truth_about_as_often_as_it_says() -> None:
    """A tenth of the flights is too fast, over 100 people per km2: E_c = 0.1 * 1e-4 * A_c."""
    truth, covered = 0.1 * 100e-6 * casualty_area_nasa_m2(AREA), 0
    for seed in range(120):
        rng = np.random.default_rng(seed)
        speed = np.where(rng.random(150) < 0.1, 9.0, 3.0)
        expected = hazard_of(100.0, touchdown_m_s=speed).casualties
        covered += expected.nasa.low <= truth <= expected.nasa.high
    assert covered >= 108


def test_members_that_disagree_widen_the_interval() -> None:
    member = np.arange(600) % 3
    speed = np.where(member == 0, 9.0, 3.0)
    few = hazard_of(100.0, touchdown_m_s=speed, member=member).casualties.nasa
    many = hazard_of(100.0, touchdown_m_s=speed, member=np.random.default_rng(0).permutation(member)).casualties.nasa
    assert few.value == pytest.approx(many.value)
    assert few.high - few.low > 3.0 * (many.high - many.low)


def test_the_wind_at_the_ground_adds_to_the_energy() -> None:
    """3 m/s down and 4 m/s across are 5 m/s: 18.75 J of 1.5 kg, above 14.914 J, where the sink alone has 6.75 J."""
    descents = descents_at(*round_cloud(50, 1e3, 1), touchdown_m_s=3.0)
    still, windy = (
        ground_hazard(descents, NOTHING, people_per_km2=50.0, objects_m2=AREA, wind_at_ground_m_s=wind)
        for wind in (None, 4.0)
    )
    assert still.branches[0].energy_j.values[1] == pytest.approx(6.75)
    assert windy.branches[0].energy_j.values[1] == pytest.approx(18.75)
    assert windy.branches[0].touchdown_m_s == still.branches[0].touchdown_m_s
    assert still.casualties.nasa.value == 0.0
    assert windy.casualties.nasa.value == pytest.approx(4.197e-5, rel=1e-3)
    unknown = ground_hazard(descents, NOTHING, people_per_km2=50.0, objects_m2=AREA, wind_at_ground_m_s=np.nan)
    assert unknown.casualties is None
    assert "energy" in unknown.why_not["casualties"]


def test_what_is_not_known_cannot_be_told() -> None:
    people = np.full(100, 50.0)
    people[7] = np.nan
    unknown = hazard_of(people, touchdown_m_s=np.full(100, 6.0))
    assert unknown.casualties is None
    assert "1 of 100 landings" in unknown.why_not["casualties"]
    assert unknown.branches[0].casualties_nasa is None
    # a density that is missing where nobody lands does no harm
    landed = ~np.isnan(people)
    told = hazard_of(people, touchdown_m_s=np.full(100, 6.0), landed=landed)
    assert told.casualties.nasa.value == pytest.approx(4.197e-5, rel=1e-3)
    assert told.casualties.unknown.p == 0.01
    branch = np.zeros(100, np.int8)
    branch[:3] = Branch.FOULED_CANOPY
    lost = hazard_of(50.0, touchdown_m_s=np.full(100, 6.0), landed=branch == 0, branch=branch)
    assert lost.casualties is None
    assert "fouled canopy" in lost.why_not["casualties"]
    sizeless = ground_hazard(descents_at([0.0], [0.0]), NOTHING, people_per_km2=50.0)
    assert sizeless.casualties is None
    assert sizeless.branches[0].casualties_nasa is None


def test_packages_hang_apart_and_count_apart() -> None:
    package = Package("camera", 0.8, (0.2, 0.3, 0.1))
    train = replace(example_train(), packages=(package, replace(package, edges_m=(0.1, 0.1, 0.1))))
    assert object_areas_m2(train) == pytest.approx((0.06, 0.01))
    two = casualty_area_nasa_m2((0.06, 0.01))
    assert two == pytest.approx(casualty_area_nasa_m2((0.06,)) + casualty_area_nasa_m2((0.01,)))
    assert casualty_area_rcc_m2((0.0,)) == pytest.approx(np.pi * 0.09)


def draws(train: FlightTrain) -> Draws:
    four = np.ones(4)
    return Draws(
        member=np.array([0, 1, 0, 1]),
        gas_mol=100.0 * four,
        drag_factor=four,
        burst_diameter_m=8.0 * four,
        early_burst_msl_m=np.array([np.nan, 12e3, 12e3, np.nan]),
        gas_excess_offset_k=0.0 * four,
        drag_area_m2=four,
        fouled=np.array([False, False, True, False]),
        fall_exponent=0.35 * four,
        remnant_kg=np.array([0.1, 0.2, 0.3, 0.4]),
        leak_per_s=np.array([0.0, 0.0, 0.0, 1e-5]),
        release_delay_s=0.0 * four,
    )


def test_the_mass_holds_the_film_that_hangs_on_the_train() -> None:
    train = example_train()
    there, height = np.zeros((4, 3)), np.tile([0.0, 30e3, 0.0], (4, 1))
    flights = flights_of([0.0, 5000.0, 8000.0], there, there, height)
    flights = replace(flights, ascent_end=np.array([1, 1, 2, 0], np.int8))
    found = descents_of(flights, draws(train), train)
    # after a burst its own remnant, after a cut nothing, and where neither came the whole envelope
    hanging = found.mass_kg - train.train_mass_kg
    assert hanging == pytest.approx([0.1, 0.2, 0.0, train.envelope.mass_kg])
    good, fouled, early = Branch.GOOD_CANOPY, Branch.FOULED_CANOPY, Branch.EARLY_BURST
    assert found.branch.tolist() == [good, early, fouled, good]
    both = join_descents([found, replace(found, member=found.member + 1000)])
    assert both.flights == 8
    assert both.member.tolist() == [0, 1, 0, 1, 1000, 1001, 1000, 1001]
    with pytest.raises(ValueError, match="do not come from"):
        descents_of(replace(flights, outcome=flights.outcome[:2]), draws(train), train)
