"""All checks of a country at once."""

from __future__ import annotations

from datetime import datetime

from pappus.errors import BadInput, Finding
from pappus.rules._classes import Classification, classify_australia, classify_icao, us_part_101_applies
from pappus.rules._facts import RuleFacts
from pappus.rules._icao import ICAO_RULES
from pappus.rules._national import national_rules
from pappus.rules._profile import RuleProfile
from pappus.rules._questions import hazard
from pappus.rules._rule import NOT_KNOWN, Asked, Judgement, Rule
from pappus.rules._us import US_RULES
from pappus.rules._verdict import RuleVerdict

_CLASS_MEND = "Give the mass and the edges of every package, the rest below the neck, and the weakest link."
_AUSTRALIAN_RULES = (
    Rule(
        "australia.101.055",
        "CASR 101.055",
        "No hazard to other aircraft, persons or property",
        "no hazard",
        "from memory",
        "date of the text not noted",
        "Change the landing area, the mass or the canopy.",
        hazard,
    ),
)


def check_rules(profile: RuleProfile, facts: RuleFacts, now: datetime) -> tuple[RuleVerdict, ...]:
    """One verdict for the class, for every paragraph of the base rule set and for every national requirement.

    A fact that is not known never makes a verdict "met". Where it is not known whether a paragraph holds for this
    balloon, only an answer that satisfies the paragraph anyway is "met". A permission with a reference covers what the
    text forbids "unless authorised", never a hazard. A planning aid, not legal advice.

    :param now: UTC-aware; the notices are held against it.
    :raises BadInput: for a time without an offset from UTC.
    """
    if now.utcoffset() is None:
        raise BadInput(Finding("now", now.isoformat(), "the time has no zone", "Give it in UTC."))
    asked = Asked(facts, profile, now)
    class_rule, possible, base = _base(profile, facts)
    rules = (class_rule, *base, *national_rules(profile))
    return tuple(rule.verdict(asked, possible) for rule in rules)


def possible_classes(profile: RuleProfile, facts: RuleFacts) -> frozenset[str]:
    """Every class that the facts leave open: ``small`` to ``heavy``, or ``part 101`` and ``exempt`` in the US."""
    return _base(profile, facts)[1]


def _base(profile: RuleProfile, facts: RuleFacts) -> tuple[Rule, frozenset[str], tuple[Rule, ...]]:
    packages, force, rest = facts.packages, facts.separation_force_n, facts.rest_mass_kg
    if profile.base == "us":
        part = us_part_101_applies(packages, force, rest)
        said = {True: "Part 101 holds", False: "exempt from the rest of Part 101, not from 101.7", None: NOT_KNOWN}
        possible = frozenset(
            name for name, out in (("part 101", part.applies is False), ("exempt", part.applies is True)) if not out
        )
        judged = Judgement(None if part.applies is None else True, said[part.applies], part.why, _CLASS_MEND)
        rule = Rule(
            "us.101.1",
            "14 CFR 101.1(a)(4)",
            "Whether Part 101 holds",
            "package over 4 lb and 3 oz/in2, over 6 lb, two or more over 12 lb, or over 50 lbf to part",
            "text seen",
            "editions of 2019 and 2024",
            _CLASS_MEND,
            lambda _: judged,
        )
        return rule, possible, US_RULES
    if profile.base == "australia":
        balloon = classify_australia(packages, force, rest, facts.envelope_diameter_m)
        rule = Rule(
            "australia.101.145",
            "CASR 101.145",
            "Class of the balloon",
            "small up to 2 m and 50 g, light under 4 kg, medium two packages 4 to under 6 kg, else heavy",
            "text seen",
            "date of the text not noted",
            _CLASS_MEND,
            lambda _: _class_told(balloon),
        )
        return rule, frozenset(balloon.possible), _AUSTRALIAN_RULES
    balloon = classify_icao(packages, force, rest)
    rule = Rule(
        "icao.1.1",
        "ICAO Annex 2 App. 5 / SERA App. 2, 1.1",
        "Class of the balloon",
        "heavy from 6 kg, a package from 3 kg, or from 2 kg over 13 g/cm2, or from 230 N; medium from 4 kg",
        "text seen",
        "consolidated (EU) 923/2012, date not noted",
        _CLASS_MEND,
        lambda _: _class_told(balloon),
    )
    return rule, frozenset(balloon.possible), ICAO_RULES


def _class_told(balloon: Classification) -> Judgement:
    number = NOT_KNOWN if balloon.combined_kg is None else f"{balloon.combined_kg:.3f} kg"
    said = balloon.name or " or ".join(sorted(balloon.possible))
    return Judgement(True if balloon.name else None, f"{said}, {number}", balloon.why, _CLASS_MEND)
