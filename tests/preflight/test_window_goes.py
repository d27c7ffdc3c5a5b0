"""A window in which everything is known and good goes, and stops to go when anything is taken away."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landings import shapes
from pappus.airspace import AirspaceVolume, VerticalLimit, circle_points
from pappus.decision import Answer, GoLimits
from pappus.flight_train import FillWish
from pappus.ground import FlatGround, GroundFeatures, MapBox, Outline, RoadWay, TerrainGrid, build_road_network
from pappus.hazard import Surroundings
from pappus.preflight import Around, LaunchCell, Law, Winds
from pappus.rules import Permission, RuleFacts, Verdict
from pappus.sources import load_countries, read_rule_profile
from preflight.windows import choices, example_plan, flown, forecast

A = example_plan().sites[0]
BOX = MapBox(A.latitude_deg - 1.5, A.latitude_deg + 1.5, A.longitude_deg - 1.0, A.longitude_deg + 5.0)
KINDS = {
    "water": "areas", "waterway": "lines", "sea": "areas", "sea_or_land": "areas", "building": "areas",
    "building_point": "points", "railway": "lines", "power_line": "lines", "power_tower": "points",
    "substation": "areas",
}  # fmt: skip
LIMITS = GoLimits(reach_wanted_least=0.3, drive_time_most_s=10 * 3600.0, drift_most_m=400_000.0)
FLIGHTS = 420


def far_airspace() -> AirspaceVolume:
    centre = (A.latitude_deg + 8.0, A.longitude_deg)
    outline = Outline(((circle_points(centre, 20_000.0),),))
    low, high = VerticalLimit("surface", 0.0, "SFC"), VerticalLimit("msl", 3000.0, "3000 m")
    return AirspaceVolume("R INVENTED", "R", low, high, outline, "invented")


@cache
def open_country() -> dict[str, Any]:
    """Empty pampa with one road across it, every question answered; invented."""
    steps = 300
    longitude = np.linspace(BOX.west_deg + 0.01, BOX.east_deg - 0.01, steps)
    # far enough in the north not to be landed on, and the only road there is
    latitude = np.full(steps, BOX.north_deg - 0.05)
    longitude, latitude = np.append(longitude, A.longitude_deg), np.append(latitude, A.latitude_deg)
    start = int(np.argmin(np.abs(longitude[:-1] - A.longitude_deg)))
    ways = [
        RoadWay(nodes, True, True, 20.0, 20.0, False, "track", "")
        for nodes in (np.arange(steps), np.array([start, steps]))
    ]
    axis_y, axis_x = np.linspace(BOX.south_deg, BOX.north_deg, 40), np.linspace(BOX.west_deg, BOX.east_deg, 40)
    terrain = TerrainGrid(axis_y, axis_x, np.full((40, 40), 200.0), "invented plain", FlatGround(200.0, "plain"))
    return {
        "features": GroundFeatures(BOX, {kind: shapes(form) for kind, form in KINDS.items()}),
        "roads": build_road_network(BOX, latitude, longitude, ways),
        "countries": load_countries().clip(BOX),
        "terrain": (terrain,),
    }


@cache
def calm() -> Winds:
    """The forecast with a light wind near the ground that does not freshen."""
    winds = forecast()
    assert winds.surface is not None
    fields = {name: values[:, :1] + 0.0 * values for name, values in winds.surface.fields.items()}
    return replace(winds, surface=replace(winds.surface, fields=fields))


ANSWERED = Permission(("us.exempt_notice", "us.landowner", "us.phone_off"), "invented 1")
"""The questions of the checklist that nobody but the crew can answer."""


@cache
def cell(without: frozenset[str] = frozenset()) -> LaunchCell:
    """One cell with everything but what is left out."""
    known = {name: value for name, value in open_country().items() if name not in without}
    home = None if "home" in without else load_countries().name_at(A.latitude_deg, A.longitude_deg)
    surroundings = Surroundings(**known, home=home)
    answers = () if "answers" in without else (ANSWERED,)
    law = Law(read_rule_profile("us"), RuleFacts(drops_object=False, permissions=answers))
    around = Around(
        surroundings,
        zones_given="zones" not in without,
        volumes=None if "airspace" in without else (far_airspace(),),
        people_per_km2=None if "people" in without else 0.1,
        law=None if "law" in without else law,
    )
    winds = calm()
    if "surface" in without:
        winds = replace(winds, surface=None)
    options = choices(2.0, sites=(A,), fills=(("five", FillWish("climb", 5.0)),))
    return flown(options, winds=[winds], around=around, limits=LIMITS, flights=FLIGHTS).cells[0]


NEEDED = ("features", "roads", "countries", "home", "zones", "airspace", "people", "law", "surface", "answers")


def test_with_everything_known_and_good_it_goes() -> None:
    decision = cell().decision
    assert decision.answer is Answer.GO, [(one.name, one.why) for one in decision.checks if one.verdict != "met"]
    assert len(decision.checks) > 20


@pytest.mark.parametrize("name", NEEDED)
def test_without_one_thing_it_does_not(name: str) -> None:
    decision = cell(frozenset({name})).decision
    assert decision.answer is Answer.WAIT
    assert decision.checks[0].verdict is Verdict.CANNOT_TELL


@settings(max_examples=12)
@given(st.sets(st.sampled_from(NEEDED), min_size=1))
def test_without_any_of_them_it_does_not(without: set[str]) -> None:
    assert cell(frozenset(without)).decision.answer is not Answer.GO
