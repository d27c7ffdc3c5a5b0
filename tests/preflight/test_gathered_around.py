"""What is gathered around a flight from plan and pack: what is missing or unreadable stays open."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pappus.decision import Answer
from pappus.errors import BadFile
from pappus.export import Grid
from pappus.landing import Share
from pappus.plan import Plan, load_plan
from pappus.preflight import (
    Asked,
    Given,
    PackMaps,
    choose_cell,
    fly_plan_window,
    gather_around,
    gather_winds,
    judge_release,
    papers_of,
    read_maps,
    write_example,
)
from pappus.preflight.window._low import congested_below, surface_area_around
from pappus.rules import Verdict
from pappus.sources import load_countries, load_places, read_pack, read_prior

NOW = datetime(2027, 2, 13, 6, tzinfo=UTC)


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan, PackMaps]:
    path = write_example(tmp_path_factory.mktemp("example"))
    return path, load_plan(path), read_maps(read_pack(path.with_suffix(".pack")))


def given_for(path: Path, plan: Plan) -> Given:
    small = replace(plan, ensemble=replace(plan.ensemble, flights=1000))
    winds = gather_winds([path.parent / "invented-forecast-2027-02-13-00Z.grib2"], plan)
    return Given(small, winds, load_places(), read_prior(), (), NOW)


def test_one_release_judged_with_all_that_the_example_holds(example: tuple[Path, Plan, PackMaps]) -> None:
    path, plan, held = example
    given = given_for(path, plan)
    around = gather_around(plan, path, held, (), given.places, load_countries())
    judged = judge_release(given, around, Asked(plan.sites[0], plan.window.release, plan.fill))
    assert judged.decision.answer is Answer.GO
    assert judged.briefing.decision is judged.decision
    assert not any("not checked: look at the map" in line for line in judged.briefing.cannot_tell)
    papers = papers_of(judged, around)
    # a light balloon owes no early notice: ICAO Annex 2 App. 5, 5.1.1 binds medium and heavy ones
    assert not any("early" in one.title.lower() for one in papers.due)
    titles = {section.title for section in papers.ground}
    assert {"Where flights come down", "How hard they land", "Airspace"} <= titles
    (landing,) = (section for section in papers.ground if section.title == "How hard they land")
    assert isinstance(landing, Grid)
    assert landing.rows[0][0] == "good canopy"


@pytest.mark.parametrize("gone", ["maps", "airspace", "zones", "countries", "places"])
def test_what_is_not_packed_cannot_be_told_and_is_no_go_ahead(example: tuple[Path, Plan, PackMaps], gone: str) -> None:
    path, plan, held = example
    given = given_for(path, plan)
    kept = held if gone in ("countries", "places") else replace(held, **{gone: ()})
    around = gather_around(
        replace(plan, people_per_km2=None), path, kept, (), None if gone == "places" else given.places,
        None if gone == "countries" else load_countries(),
    )  # fmt: skip
    judged = judge_release(given, around, Asked(plan.sites[0], plan.window.release, plan.fill))
    open_checks = {check.name for check in judged.decision.checks if check.verdict is Verdict.CANNOT_TELL}
    assert judged.decision.answer is Answer.WAIT
    expected = {
        "maps": "road", "airspace": "airspace", "zones": "keep_out", "countries": "abroad",
        "places": "casualty_expectation",
    }  # fmt: skip
    assert expected[gone] in open_checks


@pytest.mark.parametrize(("kind", "name"), [("airspace", "airspace"), ("zones", "keep_out")])
def test_what_could_not_be_read_leaves_the_chance_open(
    example: tuple[Path, Plan, PackMaps], kind: str, name: str
) -> None:
    path, plan, held = example
    given = given_for(path, plan)
    file = getattr(held, kind)[0][0]
    around = gather_around(
        plan, path, replace(held, unusable=((file, "it is damaged"),)), (), given.places, load_countries()
    )
    judged = judge_release(given, around, Asked(plan.sites[0], plan.window.release, plan.fill))
    check = next(check for check in judged.decision.checks if check.name == name)
    assert check.verdict is Verdict.CANNOT_TELL
    assert "damaged" in check.source
    assert judged.decision.answer is not Answer.GO


def test_without_terrain_no_landing_is_known_to_be_acceptable(example: tuple[Path, Plan, PackMaps]) -> None:
    """A sounding has no ground of a model: flights come down as high as the site until somebody says more."""
    path, plan, held = example
    sounding = gather_winds([path.parent / "invented-sounding.csv"], plan)
    given = replace(given_for(path, plan), winds=sounding)
    around = gather_around(plan, path, held, (), given.places, load_countries())
    asked = Asked(plan.sites[0], plan.window.release, plan.fill)
    check = next(one for one in judge_release(given, around, asked).decision.checks if one.name == "lands_acceptably")
    assert check.verdict is Verdict.CANNOT_TELL
    assert "no terrain" in check.why
    told = replace(plan, limits=replace(plan.limits, landing_ground_height_msl_m=225.0))
    judged = judge_release(replace(given, plan=told), around, asked)
    assert next(one for one in judged.decision.checks if one.name == "lands_acceptably").verdict is Verdict.MET


def test_a_profile_of_rules_that_is_not_there_is_named(example: tuple[Path, Plan, PackMaps]) -> None:
    path, plan, held = example
    unknown = replace(plan, legal=replace(plan.legal, profile="atlantis"))
    with pytest.raises(BadFile, match="atlantis"):
        gather_around(unknown, path, held, (), None, None)


def test_the_best_cell_is_the_one_nearest_to_the_plan(example: tuple[Path, Plan, PackMaps]) -> None:
    path, plan, held = example
    given = given_for(path, replace(plan, window=replace(plan.window, step_s=5400.0)))
    around = gather_around(plan, path, held, (), given.places, load_countries())
    window = fly_plan_window(given, around, flights=1000)
    best = choose_cell(window, planned=plan.window.release)
    assert best.decision.answer is Answer.GO
    assert best.option.release == plan.window.release
    named = choose_cell(window, site_name="B", planned=plan.window.release)
    assert named.option.site.name == "B"


def test_low_flight_is_clear_in_the_open_and_open_near_towns_and_airports(example: tuple[Path, Plan, PackMaps]) -> None:
    """14 CFR 101.33(a) and (d) ask for them; General Acha and Santa Rosa are real towns, the airspace is invented."""
    path, plan, held = example
    around = gather_around(plan, path, held, (), None, None)
    field = replace(plan.sites[0], latitude_deg=-37.55, longitude_deg=-64.95)
    town = replace(plan.sites[0], latitude_deg=-37.378, longitude_deg=-64.604)
    airport = replace(plan.sites[0], latitude_deg=-36.60, longitude_deg=-64.28)
    assert congested_below(around, field) == Share(0.0, 0.0, 0.0)
    assert surface_area_around(around, field) == Share(0.0, 0.0, 0.0)
    assert congested_below(around, town) is None
    assert surface_area_around(around, airport) is None
    bare = gather_around(plan, path, PackMaps(), (), None, None)
    assert congested_below(bare, field) is None
    assert surface_area_around(bare, field) is None
