"""Questions that several laws ask in the same way, with their own limits."""

from __future__ import annotations

from pappus.rules._facts import Equipment, RuleFacts
from pappus.rules._limits import cloud_most, position_every_s, sixty_thousand_ft_m
from pappus.rules._rule import NOT_KNOWN, Asked, Judgement, chance
from pappus.rules._verdict import at_least, either, every, more_than, negated


def hazard(asked: Asked) -> Judgement:
    """Whether people and property below are put at risk; the number is common practice, the laws have none."""
    expected, most = asked.facts.casualty_expectation, asked.profile.casualty_expectation_most
    if expected is None:
        return Judgement(
            None, NOT_KNOWN, "the people below were not counted", "Give the ground below the landing area."
        )
    return Judgement(
        not more_than(expected, most),
        f"{expected:.1e} people a flight",
        f"{expected:.1e} people hurt are expected in a flight; the text gives no number, {most:.0e} is common practice",
    )


def cloud(asked: Asked) -> Judgement:
    """More than half of the sky."""
    fraction = asked.facts.cloud_fraction
    if fraction is None:
        return Judgement(
            None, NOT_KNOWN, "the cloud on the way is not known", "Give a forecast with cloud, or look up."
        )
    return Judgement(not more_than(fraction, cloud_most), f"{fraction:.2f}", f"{fraction:.2f} of the sky is covered")


def sight(asked: Asked, least_m: float) -> Judgement:
    """Horizontal visibility."""
    visibility = asked.facts.visibility_m
    if visibility is None:
        return Judgement(None, NOT_KNOWN, "the visibility is not known", "Give a forecast or a report with visibility.")
    number = f"{visibility / 1000.0:.2f} km"
    return Judgement(at_least(visibility, least_m), number, f"{number} of visibility, {least_m / 1000.0:.3f} km asked")


def below_60000_ft(asked: Asked, judged: Judgement) -> Judgement:
    """A limit that ends at a pressure altitude of 60 000 ft."""
    level = asked.facts.lowest_pressure_altitude_m
    if at_least(level, sixty_thousand_ft_m):
        return Judgement(True, judged.number, f"the level of {level:.0f} m pressure altitude is not below 60 000 ft")
    return judged


def congested(asked: Asked) -> Judgement:
    """The first 1000 ft or 300 m over houses or a crowd."""
    facts = asked.facts
    over = chance(facts.congested_area_low, asked.profile.chance_most, "passing low over a congested area")
    ok = every(over.ok, negated(facts.assembly_low))
    if ok is False:
        why = "an open-air assembly is below" if facts.assembly_low else over.why
        return Judgement(False, over.number, why)
    if ok is None and over.ok is True:
        return Judgement(
            None, over.number, "whether people gather there is not stated", "Say if an open-air assembly is below."
        )
    return Judgement(ok, over.number, over.why, over.missing)


def position_record(asked: Asked) -> Judgement:
    """How often the position is recorded."""
    interval = asked.facts.position_interval_s
    if interval is None:
        return Judgement(
            None, NOT_KNOWN, "the longest gap between positions is not stated", "Give the interval of the tracker."
        )
    ok = not more_than(interval, position_every_s)
    return Judgement(ok, f"{interval:.0f} s", f"a position every {interval:.0f} s is planned")


def antenna(equipment: Equipment, force_n: float, strong: bool | None, spacing_m: float) -> Judgement:
    """Pennants on a trailing antenna that does not break easily."""
    breaking, spacing = equipment.antenna_breaking_force_n, equipment.antenna_pennant_spacing_m
    if breaking == 0.0:
        return Judgement(True, "none", "no trailing antenna")
    ok = either(negated(strong), None if spacing is None else spacing > 0.0 and not more_than(spacing, spacing_m))
    number = NOT_KNOWN if breaking is None else f"{breaking:.0f} N"
    if ok is None:
        missing = "State the breaking force of the trailing antenna (0 for none) and the distance of its pennants."
        return Judgement(None, number, "the trailing antenna or its pennants are not stated", missing)
    if strong is False:
        return Judgement(True, number, f"breaks within {force_n:.1f} N")
    return Judgement(ok, number, "pennants close enough" if ok else "pennants too far apart or none")


def suspension(facts: RuleFacts, limit_m: float) -> Judgement:
    """Bands or pennants on a long suspension by day."""
    length, marked = facts.suspension_length_m, facts.equipment.suspension_marked
    long = None if length is None else more_than(length, limit_m)
    ok = either(negated(facts.day), negated(long), marked)
    number = NOT_KNOWN if length is None else f"{length:.2f} m"
    if ok is None:
        missing = "Give the length of the suspension, whether it flies by day, and whether it is marked."
        return Judgement(None, number, "length, daylight or marking of the suspension is not known", missing)
    if facts.day is False:
        return Judgement(True, number, "no part below 60 000 ft is flown by day")
    if long is False:
        return Judgement(True, number, "not longer than the limit")
    return Judgement(ok, number, "longer than the limit and marked" if ok else "longer than the limit and not marked")
