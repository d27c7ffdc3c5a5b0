"""Classes and their boundaries: the entries of rules_law.json name the paragraph and whether its text was seen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.flight_train import Canopy, Envelope, FlightTrain, Gas, Line, Package
from pappus.rules import PackageFact, classify_australia, classify_icao, train_facts, us_part_101_applies
from pappus.rules._limits import (
    congested_below_m,
    cubic_foot_m3,
    pound_force_n,
    sixty_thousand_ft_m,
    surface_area_below_m,
    us_dense_package_kg,
    us_density_kg_m2,
    us_package_kg,
    us_payload_kg,
    us_separation_n,
    us_suspension_m,
    us_visibility_m,
)
from pappus.units import parse_quantity
from references.checks import Entry, assert_within, case_id
from references.rules_checks import load_rule, load_rules

OUNCE_IN2 = 0.45359237 / 16.0 / 0.0254**2


def test_us_thresholds_in_si() -> None:
    entry = load_rule("us_units")
    found = {
        "g": [1000.0 * kg for kg in (us_dense_package_kg, us_package_kg, us_payload_kg)],
        "g_per_cm2": us_density_kg_m2 / 10.0,
        "N": us_separation_n,
        "km": us_visibility_m / 1000.0,
        "m": [congested_below_m, surface_area_below_m, sixty_thousand_ft_m, us_suspension_m],
    }
    assert_within(found, entry)
    assert_within({"m3": 115.0 * cubic_foot_m3}, load_rule("ca_size"))


@pytest.mark.parametrize("entry", load_rules("us_applic_"), ids=case_id)
def test_part_101(entry: Entry) -> None:
    packages = tuple(
        PackageFact(f"box {index}", parse_quantity(f"{pounds!r} lb", "mass"), parse_quantity(f"{area!r} in**2", "area"))
        for index, (pounds, area) in enumerate(entry["inputs"]["packages_lb_and_smallest_face_in2"])
    )
    force = parse_quantity(f"{entry['inputs']['separation_force_lbf']} lbf", "force")
    part = us_part_101_applies(packages, force)
    found = {
        "part101_applies": part.applies,
        "criteria": list(part.criteria),
        "101.7_applies": part.hazard_rule_applies,
    }
    assert_within(found, entry)
    assert part.undecided == ()


@pytest.mark.parametrize("entry", load_rules("icao_class_"), ids=case_id)
def test_icao_class(entry: Entry) -> None:
    packages = tuple(
        PackageFact(f"box {index}", kg, cm2 * 1e-4)
        for index, (kg, cm2) in enumerate(entry["inputs"]["packages_kg_and_smallest_face_cm2"])
    )
    balloon = classify_icao(packages, entry["inputs"]["separation_force_N"])
    assert_within({"class": balloon.name, "heavy_criteria": list(balloon.heavy_criteria)}, entry)
    assert balloon.possible == {balloon.name}


def test_230_newtons_are_more_than_50_pounds_of_force() -> None:
    """14 CFR 101.1(a)(4)(iv) says more than 50 lb, SERA Appendix 2 1.1(c)(4) says 230 N or more: two limits."""
    box = (PackageFact("box", 1.0, 0.03),)
    between = 226.0
    assert 50.0 * pound_force_n < between < 230.0
    assert us_part_101_applies(box, between).criteria == ("iv",)
    assert classify_icao(box, between).name == "light"


def test_everything_below_the_neck_counts_into_the_combined_mass() -> None:
    """Common practice: neither text names canopy, lines and reflector."""
    two = (PackageFact("a", 1.9, 0.03), PackageFact("b", 1.9, 0.03))
    assert classify_icao(two, 100.0, 0.0).name == "light"
    assert classify_icao(two, 100.0, 0.2).name == "medium"
    assert classify_icao(two, 100.0, 2.2).name == "heavy"
    assert "below the neck" in classify_icao(two, 100.0, 0.2).why
    pounds = (PackageFact("a", 2.6, 0.04), PackageFact("b", 2.6, 0.04))
    assert us_part_101_applies(pounds, 100.0, 0.2).applies is False
    assert us_part_101_applies(pounds, 100.0, 0.3).criteria == ("iii",)
    # (iii) is about two or more packages, however heavy the rest of one is
    assert us_part_101_applies(pounds[:1], 100.0, 4.0).applies is False


def test_one_package_that_its_canopy_makes_four_kilograms_is_medium_and_says_so() -> None:
    """A gap of the text: one package cannot be medium, and 4 kg combined cannot be light. The stricter is taken."""
    balloon = classify_icao((PackageFact("box", 2.9, 0.09),), 100.0, 1.2)
    assert balloon.name == "medium"
    assert "no class for one package" in balloon.why


def test_a_missing_number_leaves_the_class_open_unless_another_decides() -> None:
    light = (PackageFact("box", 1.5, 0.02),)
    assert classify_icao(light, None).name is None
    assert classify_icao(light, None).possible == {"light", "heavy"}
    assert classify_icao(light, 100.0, None).name is None
    assert classify_icao(None, 100.0).possible == {"light", "medium", "heavy"}
    assert classify_icao((PackageFact("box", None, None), PackageFact("big", 6.1, None)), None).name == "heavy"
    # the face does not matter below 2 kg, and from there it does
    assert classify_icao((PackageFact("box", 1.9, None),), 100.0).name == "light"
    assert classify_icao((PackageFact("box", 2.1, None),), 100.0).name is None
    assert us_part_101_applies((PackageFact("box", 1.9, None),), 100.0).applies is None
    assert us_part_101_applies((PackageFact("box", 1.8, None),), 100.0).applies is False
    assert us_part_101_applies((PackageFact("box", 1.8, None),), None).undecided == ("iv",)
    assert us_part_101_applies(None, 300.0).criteria == ("iv",)


def test_australian_classes() -> None:
    """CASR 101.145 (text seen): small up to 2 m across at launch and up to 50 g."""
    grams_50 = (PackageFact("box", 0.05, 0.002),)
    assert classify_australia(grams_50, 100.0, 0.0, 2.0).name == "small"
    assert classify_australia(grams_50, 100.0, 0.0, 2.1).name == "light"
    assert classify_australia((PackageFact("box", 0.051, 0.002),), 100.0, 0.0, 1.5).name == "light"
    assert classify_australia(grams_50, 100.0, 0.0, None).name is None
    assert classify_australia((PackageFact("box", 3.0, 0.1),), 100.0, 0.0, 1.5).name == "heavy"


package_facts = st.lists(
    st.builds(
        PackageFact,
        st.just("box"),
        st.none() | st.floats(0.01, 8.0),
        st.none() | st.floats(0.005, 0.2),
    ),
    max_size=3,
).map(tuple)


@given(package_facts, st.none() | st.floats(0.0, 400.0), st.none() | st.floats(0.0, 3.0), st.data())
def test_learning_a_number_only_narrows_the_class(
    packages: tuple[PackageFact, ...], force: float | None, rest: float | None, data: st.DataObject
) -> None:
    known = tuple(
        PackageFact(
            package.name,
            data.draw(st.floats(0.01, 8.0)) if package.mass_kg is None else package.mass_kg,
            data.draw(st.floats(0.005, 0.2)) if package.smallest_face_m2 is None else package.smallest_face_m2,
        )
        for package in packages
    )
    full_force = data.draw(st.floats(0.0, 400.0)) if force is None else force
    full_rest = data.draw(st.floats(0.0, 3.0)) if rest is None else rest
    assert classify_icao(known, full_force, full_rest).possible <= classify_icao(packages, force, rest).possible
    before = us_part_101_applies(packages, force, rest)
    after = us_part_101_applies(known, full_force, full_rest)
    assert after.applies is not None
    assert before.applies in (None, after.applies)
    assert set(before.criteria) <= set(after.criteria)
    diameter = data.draw(st.none() | st.floats(0.5, 4.0))
    told = 1.0 if diameter is None else diameter
    assert (
        classify_australia(known, full_force, full_rest, told).possible
        <= classify_australia(packages, force, rest, diameter).possible
    )


def _train(*forces: float | None) -> FlightTrain:
    return FlightTrain(
        envelope=Envelope(1.2, 8.6, 0.05, 1.9, False, 0.05),
        gas=Gas("helium"),
        canopy=Canopy(0.12, 1.1, 0.8, 0.1, 0.05),
        packages=(Package("camera", 1.4, (0.3, 0.2, 0.1)),),
        lines=tuple(Line(f"line {index}", 5.0, 0.02, force) for index, force in enumerate(forces)),
        cut_downs=(),
    )


def test_facts_of_a_train() -> None:
    facts = train_facts(_train(150.0, 400.0))
    assert facts.packages == (PackageFact("camera", 1.4, pytest.approx(0.02)),)
    assert facts.rest_mass_kg == pytest.approx(0.16)
    assert facts.separation_force_n == 150.0
    assert facts.suspension_length_m == 10.0
    assert facts.launch_mass_kg == pytest.approx(1.2 + 1.4 + 0.16)
    # a weak link bounds the force whatever the other line holds; a strong one does not
    assert train_facts(_train(150.0, None)).separation_force_n == 150.0
    assert train_facts(_train(400.0, None)).separation_force_n is None
    assert train_facts(_train(None)).separation_force_n is None
