"""Limits and volumes: yes, no, and cannot tell where something is missing."""

from __future__ import annotations

from itertools import product
from math import inf, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.airspace import AirspaceVolume, VerticalLimit, pressure_altitude_m
from pappus.atmosphere import Profile
from pappus.errors import BadInput, OutOfRange
from pappus.ground import Outline
from references.rules_checks import load_rule

OUTLINE = Outline(((np.array([[45.0, 7.0], [45.0, 8.0], [46.0, 8.0], [46.0, 7.0]]),),))
FL100 = VerticalLimit.flight_level(100, "FL100")
SFC = VerticalLimit.surface("SFC")
UNL = VerticalLimit.unlimited("UNL")
MSL_2000 = VerticalLimit("msl", 2000.0, "2000 m AMSL")
AGL_300 = VerticalLimit("ground", 300.0, "300 m AGL")
UNKNOWN = VerticalLimit.unknown("ASK ATC")


def volume(floor: VerticalLimit, ceiling: VerticalLimit) -> AirspaceVolume:
    return AirspaceVolume("OSTERVANG", "R", floor, ceiling, OUTLINE, "made.txt, line 1")


def answer(floor: VerticalLimit, ceiling: VerticalLimit, height: float, ground: object, pressure: object) -> str:
    found = volume(floor, ceiling).positions_inside(
        45.5, 7.5, height, ground_msl_m=ground, pressure_altitude_m=pressure  # type: ignore[arg-type]  # given as a number or none
    )  # fmt: skip
    assert int(found.inside) + int(found.cannot_tell) + int(found.outside) == 1
    return "yes" if found.inside else "cannot tell" if found.cannot_tell else "no"


@pytest.mark.parametrize(
    ("floor", "ceiling", "height", "ground", "pressure", "expected"),
    [
        (SFC, MSL_2000, 1999.0, None, None, "yes"),
        (SFC, MSL_2000, 2001.0, None, None, "no"),
        (SFC, MSL_2000, 500.0, 700.0, None, "yes"),  # a coarse terrain above the balloon does not take it out
        (SFC, MSL_2000, nan, 700.0, 100.0, "cannot tell"),
        (SFC, FL100, 2000.0, 0.0, 3047.9, "yes"),
        (SFC, FL100, 2000.0, 0.0, 3048.1, "no"),
        (SFC, FL100, 2000.0, 0.0, None, "cannot tell"),
        (SFC, FL100, 90_000.0, 0.0, nan, "cannot tell"),
        (AGL_300, FL100, 1200.0, 1000.0, None, "no"),  # below the floor, whatever the pressure
        (AGL_300, FL100, 1400.0, 1000.0, None, "cannot tell"),
        (AGL_300, FL100, 1400.0, 1000.0, 1500.0, "yes"),
        (AGL_300, FL100, 1400.0, None, 1500.0, "cannot tell"),
        (AGL_300, FL100, 1400.0, None, 5000.0, "no"),  # above the ceiling, whatever the ground
        (AGL_300, MSL_2000, 1400.0, nan, 1500.0, "cannot tell"),
        (MSL_2000, UNL, 30_000.0, None, None, "yes"),
        (MSL_2000, UNL, 1_999.0, None, None, "no"),
        (UNKNOWN, MSL_2000, 1400.0, 0.0, 1400.0, "cannot tell"),
        (UNKNOWN, MSL_2000, 2400.0, 0.0, 2400.0, "no"),
        (MSL_2000, UNKNOWN, 2400.0, 0.0, 2400.0, "cannot tell"),
        (UNKNOWN, UNKNOWN, 2400.0, 0.0, 2400.0, "cannot tell"),
        (SFC, AGL_300, 1250.0, 1000.0, None, "yes"),
        (SFC, AGL_300, 1350.0, 1000.0, None, "no"),
        (SFC, AGL_300, 1250.0, None, None, "cannot tell"),
    ],
)
def test_answers(
    floor: VerticalLimit, ceiling: VerticalLimit, height: float, ground: object, pressure: object, expected: str
) -> None:
    assert answer(floor, ceiling, height, ground, pressure) == expected


def test_many_positions_at_once_and_places_that_are_missing() -> None:
    found = volume(SFC, MSL_2000).positions_inside(
        [45.5, 44.5, nan, nan, 45.5],
        [367.5, 7.5, 7.5, nan, nan],
        [100.0, 100.0, 100.0, 2500.0, 100.0],
        ground_msl_m=np.zeros(5),
        pressure_altitude_m=None,
    )
    assert found.inside.tolist() == [True, False, False, False, False]
    assert found.cannot_tell.tolist() == [False, False, True, False, True]
    assert found.outside.tolist() == [False, True, False, True, False]


@given(
    st.sampled_from(list(product([SFC, AGL_300, MSL_2000, UNKNOWN], [FL100, UNL, UNKNOWN]))),
    st.floats(-100.0, 40_000.0),
    st.floats(-100.0, 3_000.0),
    st.floats(-300.0, 40_000.0),
    st.tuples(st.booleans(), st.booleans(), st.booleans()),
)
def test_what_is_missing_never_turns_the_answer(
    limits: tuple[VerticalLimit, VerticalLimit],
    height: float,
    ground: float,
    pressure: float,
    missing: tuple[bool, bool, bool],
) -> None:
    """With less known the answer is the same or "cannot tell"."""
    whole = answer(*limits, height, ground, pressure)
    less = answer(*limits, *(nan if gone else value for gone, value in zip(missing, (height, ground, pressure))))  # noqa: B905
    assert less in (whole, "cannot tell")


def test_pressure_altitude_of_the_standard_atmosphere() -> None:
    """ISO 2533 and ICAO Doc 7488: pressures of 18 288 m (FL600) and 18 000 m."""
    entry = load_rule("isa_60000ft")
    heights = pressure_altitude_m(np.array(entry["expected"]["hPa"]) * 100.0)
    # 0.005 hPa is 0.5 m there
    assert heights == pytest.approx(entry["inputs"]["geopotential_m"], abs=0.5)
    assert pressure_altitude_m(101_325.0) == pytest.approx(0.0, abs=1e-6)


def test_pressure_altitude_of_a_reference_library() -> None:
    """Geopotential heights of ICAO Doc 7488/3 (1993), through the library ambiance."""
    ambiance = pytest.importorskip("ambiance")
    pressure = np.geomspace(110_000.0, 50.0, 40)
    expected = ambiance.Atmosphere.from_pressure(pressure).H
    assert pressure_altitude_m(pressure) == pytest.approx(expected, abs=0.5)


def test_missing_and_impossible_pressures() -> None:
    assert np.isnan(pressure_altitude_m([nan, 50_000.0])).tolist() == [True, False]
    with pytest.raises(OutOfRange, match="pressure"):
        pressure_altitude_m(0.0)
    with pytest.raises(OutOfRange, match="pressure"):
        pressure_altitude_m([50_000.0, 200_000.0])


def test_height_above_sea_level_where_it_can_be_known() -> None:
    air = Profile.standard(30_000.0)
    assert MSL_2000.height_msl_m(None, None) == 2000.0
    assert AGL_300.height_msl_m(650.0, None) == 950.0
    assert np.isnan(AGL_300.height_msl_m(None, air))
    assert SFC.height_msl_m(650.0, None) == 650.0
    assert UNL.height_msl_m(None, None) == inf
    assert np.isnan(UNKNOWN.height_msl_m(650.0, air))
    assert np.isnan(FL100.height_msl_m(650.0, None))
    # in the standard atmosphere the two differ by geopotential alone: H (1 + H / 6356.766 km), ISO 2533
    assert FL100.height_msl_m(None, air) == pytest.approx(3048.0 * (1.0 + 3048.0 / 6_356_766.0), abs=0.2)
    assert np.isnan(VerticalLimit.flight_level(999, "FL999").height_msl_m(None, air))


def test_a_flight_level_is_not_a_height() -> None:
    """A column with the pressures of the standard 100 m further down: so is the flight level."""
    air = Profile.standard(30_000.0)
    low = Profile("low", air.height_msl_m - 100.0, air.pressure_pa, air.temperature_k)
    assert FL100.height_msl_m(None, low) == pytest.approx(FL100.height_msl_m(None, air) - 100.0, abs=0.1)


@pytest.mark.parametrize(
    ("kind", "height"),
    [("msl", nan), ("msl", inf), ("surface", 5.0), ("unlimited", 0.0), ("unknown", 0.0), ("ground", nan)],
)
def test_limits_that_contradict_themselves(kind: str, height: float) -> None:
    with pytest.raises(ValueError, match="cannot have the height"):
        VerticalLimit(kind, height, "x")  # type: ignore[arg-type]  # given as a number or none


def test_flight_levels_have_three_digits() -> None:
    with pytest.raises(OutOfRange, match="flight level"):
        VerticalLimit.flight_level(1000, "FL1000")


@pytest.mark.parametrize(
    ("floor", "ceiling"),
    [
        (MSL_2000, VerticalLimit("msl", 1000.0, "1000 m")),
        (MSL_2000, MSL_2000),
        (FL100, FL100),
        (UNL, UNL),
        (UNL, MSL_2000),
        (SFC, SFC),
        (AGL_300, SFC),
        (SFC, VerticalLimit("ground", 0.0, "0 m AGL")),
    ],
)
def test_volumes_with_nothing_inside(floor: VerticalLimit, ceiling: VerticalLimit) -> None:
    with pytest.raises(BadInput, match="floor and ceiling"):
        volume(floor, ceiling)
