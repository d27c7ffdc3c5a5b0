"""What a country asks beyond its base rule set."""

from __future__ import annotations

from datetime import datetime, timedelta

from pappus.rules._facts import Permission, RuleFacts
from pappus.rules._profile import MeasuredFact, Requirement, RuleProfile
from pappus.rules._rule import EVERYONE, NOT_KNOWN, Asked, Judgement, Rule, clock
from pappus.rules._verdict import more_than


def national_rules(profile: RuleProfile) -> tuple[Rule, ...]:
    """The lead time and every requirement of a profile as rules."""
    lead = () if profile.lead_time_days == 0 else (_lead_rule(profile),)
    return (*lead, *(_requirement_rule(profile.key, asked) for asked in profile.requirements))


def lead_due_utc(profile: RuleProfile, release_utc: datetime) -> datetime | None:
    """When the permit has to be asked for; None when the profile knows no lead time."""
    if not profile.lead_time_days:
        return None
    if not profile.lead_in_working_days:
        return release_utc - timedelta(days=profile.lead_time_days)
    due, left = release_utc, profile.lead_time_days
    while left:
        due -= timedelta(days=1)
        left -= due.weekday() < 5
    return due


def lead_text(profile: RuleProfile) -> str:
    """The lead time in words."""
    kind = "working days (public holidays not counted)" if profile.lead_in_working_days else "days"
    return "not known" if profile.lead_time_days is None else f"{profile.lead_time_days} {kind} before release"


def _lead_rule(profile: RuleProfile) -> Rule:
    return Rule(
        rule_id=f"{profile.key}.lead_time",
        paragraph=profile.lead_source or "no source",
        title=f"Asking the authority in time, {profile.name}",
        limit_text=lead_text(profile),
        certainty=profile.lead_certainty,
        text_date=profile.text_date,
        mend="Set a later release, or ask the authority whether it still takes the request.",
        judge=_lead,
        by_permission=True,
    )


def _lead(asked: Asked) -> Judgement:
    facts, profile = asked.facts, asked.profile
    held = _held(profile, facts)
    if held is not None:
        return Judgement(True, held.reference, f"the permit is held, reference {held.reference}")
    if facts.release_utc is None:
        return Judgement(None, NOT_KNOWN, "the time of release is not known", "Set the time of release.")
    due, sent = lead_due_utc(profile, facts.release_utc), facts.application_sent_utc
    if due is None:
        why = f"no lead time is known here for {profile.name}"
        return Judgement(None, NOT_KNOWN, why, "Ask the authority, and write its lead time into a profile of your own.")
    if sent is None or sent > asked.at_utc:
        if asked.at_utc > due:
            return Judgement(False, "none noted", f"no request is noted, and it was due by {clock(due)}")
        return Judgement(
            None, "none noted", f"no request is noted; due by {clock(due)}", f"Send it by {clock(due)}, and note when."
        )
    return Judgement(sent <= due, clock(sent), f"sent {'in time' if sent <= due else 'late'}; due by {clock(due)}")


def _held(profile: RuleProfile, facts: RuleFacts) -> Permission | None:
    """The permission of the State: under its paragraph of ICAO, or as the permit of the profile."""
    names = ("icao.2.1", f"{profile.key}.permit")
    covering = (held for held in facts.permissions if any(held.covers_rule(name, facts.release_utc) for name in names))
    return next(covering, None)


def _requirement_rule(key: str, requirement: Requirement) -> Rule:
    return Rule(
        rule_id=f"{key}.{requirement.name}",
        paragraph=requirement.paragraph,
        title=requirement.title,
        limit_text=_limit_text(requirement),
        certainty=requirement.certainty,
        text_date=requirement.text_date,
        mend=f"Ask {requirement.who}, {requirement.when}.",
        judge=lambda asked: _requirement(requirement, asked.facts),
        holds_for=frozenset(requirement.classes) or EVERYONE,
        by_permission=True,
    )


def _limit_text(requirement: Requirement) -> str:
    limits = []
    if requirement.over_fact is not None:
        limits.append(f"{requirement.over_fact.rsplit('_', 1)[0].replace('_', ' ')} over {requirement.over_text}")
    if requirement.only_if is not None:
        limits.append(requirement.only_if.replace("_", " "))
    if requirement.classes:
        limits.append(f"class {' or '.join(requirement.classes)}")
    where = f", where {' and '.join(limits)}" if limits else ""
    return f"{requirement.who}, {requirement.when}{where}"


def _requirement(requirement: Requirement, facts: RuleFacts) -> Judgement:
    blank = "who, when and the reference number are not noted"
    number = "no reference noted"
    if requirement.only_if is not None and getattr(facts, requirement.only_if) is False:
        return Judgement(True, "-", f"does not hold: not {requirement.only_if.replace('_', ' ')}")
    holds: bool | None = True if requirement.only_if is None else getattr(facts, requirement.only_if)
    if requirement.over_fact is not None:
        value = _measured(facts, requirement.over_fact)
        if value is not None and not more_than(value, requirement.over):
            return Judgement(True, f"{value:.4g}", f"not over {requirement.over_text}")
        number = f"{NOT_KNOWN}, no reference noted" if value is None else f"{value:.4g}, no reference noted"
        holds = None if value is None else holds
    if requirement.done_by is not None and getattr(facts.equipment, requirement.done_by):
        return Judgement(True, "yes", f"{requirement.done_by.replace('_', ' ')}: stated in the equipment")
    if holds is None:
        return Judgement(
            None, number, "whether this holds is not known", f"Give what is not known, or ask {requirement.who}."
        )
    if requirement.kind == "authorisation":
        return Judgement(False, number, f"an authorisation is asked; {blank}")
    missing = f"Ask {requirement.who}, {requirement.when}, and note the reference as a permission."
    return Judgement(None, number, f"a question to answer; {blank}", missing)


def _measured(facts: RuleFacts, name: MeasuredFact) -> float | None:
    if name == "payload_mass_kg":
        parts = [None] if facts.packages is None else [package.mass_kg for package in facts.packages]
        masses = [*parts, facts.rest_mass_kg]
        return None if None in masses else sum(mass for mass in masses if mass is not None)
    value: float | None = getattr(facts, name)
    return value
