"""14 CFR Part 101, subparts A and D: unmanned free balloons in the United States."""

from __future__ import annotations

from datetime import timedelta

from pappus.rules._limits import us_light_m, us_pennant_spacing_m, us_separation_n, us_suspension_m, us_visibility_m
from pappus.rules._questions import (
    antenna,
    below_60000_ft,
    cloud,
    congested,
    hazard,
    position_record,
    sight,
    suspension,
)
from pappus.rules._rule import NOT_KNOWN, Asked, Judgement, Rule, carried, chance, clock, count
from pappus.rules._verdict import at_least, either, every, more_than, negated

PART_101 = frozenset({"part 101"})
_SEEN = "editions of 2019 and 2024"
_UNDATED = "date of the text not noted"
NOTICE_EARLIEST, NOTICE_LATEST = timedelta(hours=24), timedelta(hours=6)
RELEASE_TOLERANCE = timedelta(minutes=30)


def _drop(asked: Asked) -> Judgement:
    drops = asked.facts.drops_object
    if drops is None:
        return Judgement(
            None, NOT_KNOWN, "whether anything is dropped is not stated", "Say if anything is meant to fall off."
        )
    if drops:
        return Judgement(
            None, "yes", "something is dropped; its hazard is not computed", "Show that what falls harms nobody."
        )
    return Judgement(True, "no", "nothing is meant to fall off")


def _lights(asked: Asked) -> Judgement:
    facts = asked.facts
    seen, flashes = facts.equipment.light_visible_m, facts.equipment.light_flashes_per_min
    ok = either(
        negated(facts.night_as_corrected),
        every(
            None if seen is None else at_least(seen, us_light_m),
            None if flashes is None else at_least(flashes, 40.0) and not more_than(flashes, 100.0),
        ),
    )
    number = "-" if seen is None or flashes is None else f"{seen / 1000.0:.2f} km, {flashes:.0f} a minute"
    if ok is None:
        missing = "Give the times of the flight, or the reach and the flashes of the lights."
        return Judgement(None, number, "night on the way or the lights are not known", missing)
    if facts.night_as_corrected is False:
        return Judgement(True, number, "no part below 60 000 ft is flown between sunset and sunrise at its altitude")
    return Judgement(ok, number, "lights as asked" if ok else "part of the flight is at night and the lights do not do")


def _antenna(asked: Asked) -> Judgement:
    force = asked.facts.equipment.antenna_breaking_force_n
    strong = None if force is None else more_than(force, us_separation_n)
    return antenna(asked.facts.equipment, us_separation_n, strong, us_pennant_spacing_m)


def _notice(asked: Asked) -> Judgement:
    release, given = asked.facts.release_utc, asked.facts.notice_given_utc
    if release is None:
        return Judgement(None, NOT_KNOWN, "the time of release is not known", "Set the time of release.")
    opens, closes = release - NOTICE_EARLIEST, release - NOTICE_LATEST
    span = f"from {clock(opens)} to {clock(closes)}"
    if given is None or given > asked.at_utc:
        if asked.at_utc > closes:
            return Judgement(False, "none noted", f"no notice is noted, and its time ran {span}")
        return Judgement(
            None, "none noted", f"no notice is noted; its time runs {span}", f"Give the notice {span}, and note when."
        )
    ok = opens <= given <= closes
    return Judgement(ok, clock(given), f"notice given {'in' if ok else 'outside'} its time, {span}")


def _release_as_told(asked: Asked) -> Judgement:
    release, told = asked.facts.release_utc, asked.facts.notified_release_utc
    if release is None or told is None:
        return Judgement(
            None, NOT_KNOWN, "the release or the time that was told is not known", "Note which time was told."
        )
    slip = release - told
    minutes = slip.total_seconds() / 60.0
    return Judgement(
        abs(slip) <= RELEASE_TOLERANCE, f"{minutes:+.0f} min", f"released {minutes:+.0f} min from the time told"
    )


US_RULES: tuple[Rule, ...] = (
    Rule(
        "us.101.5",
        "14 CFR 101.5",
        "Prohibited and restricted areas",
        "none without permission of the agency",
        "text seen",
        _SEEN,
        "Move the site or the time.",
        lambda asked: chance(asked.facts.restricted_area, asked.profile.chance_most, "entering such an area"),
        PART_101,
        True,
    ),
    Rule(
        "us.101.7.a",
        "14 CFR 101.7(a)",
        "No hazard to other persons or their property",
        "no hazard",
        "text seen",
        "eCFR, April 2026",
        "Change the landing area, the mass or the canopy.",
        hazard,
    ),
    Rule(
        "us.101.7.b",
        "14 CFR 101.7(b)",
        "Nothing dropped that creates a hazard",
        "no hazard",
        "text seen",
        "eCFR, April 2026",
        "Drop nothing.",
        _drop,
    ),
    Rule(
        "us.101.33.a",
        "14 CFR 101.33(a)",
        "Surface areas of airports",
        "not below 2000 ft above the surface unless ATC authorises",
        "restated by others",
        _UNDATED,
        "Move the site, or ask ATC.",
        lambda asked: chance(asked.facts.surface_area_low, asked.profile.chance_most, "flying low in a surface area"),
        PART_101,
        True,
    ),
    Rule(
        "us.101.33.b",
        "14 CFR 101.33(b)",
        "Cloud, at any altitude",
        "not more than five tenths",
        "restated by others",
        _UNDATED,
        "Wait for less cloud.",
        cloud,
        PART_101,
    ),
    Rule(
        "us.101.33.c",
        "14 CFR 101.33(c)",
        "Visibility below 60 000 ft pressure altitude",
        "5 statute miles (8.047 km) or more",
        "restated by others",
        _UNDATED,
        "Wait for better visibility.",
        lambda asked: below_60000_ft(asked, sight(asked, us_visibility_m)),
        PART_101,
    ),
    Rule(
        "us.101.33.d",
        "14 CFR 101.33(d)",
        "Congested areas in the first 1000 ft",
        "not over a congested area or an assembly",
        "restated by others",
        _UNDATED,
        "Move the site upwind of open country.",
        congested,
        PART_101,
    ),
    Rule(
        "us.101.33.e",
        "14 CFR 101.33(e)",
        "Impact creates no hazard",
        "no hazard",
        "restated by others",
        _UNDATED,
        "Change the landing area, the mass or the canopy.",
        hazard,
        PART_101,
    ),
    Rule(
        "us.101.35.a.1",
        "14 CFR 101.35(a)(1)",
        "Payload cut-downs",
        "two, working independently",
        "text seen",
        _SEEN,
        "Add a cut-down.",
        lambda asked: count(asked.facts.equipment.payload_cut_downs, 2, "payload cut-downs"),
        PART_101,
    ),
    Rule(
        "us.101.35.a.2",
        "14 CFR 101.35(a)(2)",
        "Ending the flight of the envelope",
        "two ways, working independently",
        "text seen",
        _SEEN,
        "Add a way; the burst of latex is commonly argued to be one.",
        lambda asked: count(asked.facts.equipment.envelope_terminators, 2, "ways to end the flight of the envelope"),
        PART_101,
    ),
    Rule(
        "us.101.35.a.3",
        "14 CFR 101.35(a)(3)",
        "Radar reflector",
        "echo to surface radar of 200 to 2700 MHz",
        "text seen",
        _SEEN,
        "Hang a radar reflector.",
        lambda asked: carried(asked.facts.equipment.radar_reflector, "radar reflector"),
        PART_101,
    ),
    Rule(
        "us.101.35.b",
        "14 CFR 101.35(b)",
        "Lights at night below 60 000 ft",
        "seen from 5 miles (8.047 km), 40 to 100 flashes a minute",
        "text seen",
        _SEEN,
        "Fit lights or fly by day.",
        _lights,
        PART_101,
    ),
    Rule(
        "us.101.35.c",
        "14 CFR 101.35(c)",
        "Trailing antenna",
        "over 50 lbf (222.4 N): pennants every 50 ft (15.24 m) or less",
        "text seen",
        _SEEN,
        "Add pennants or a weaker antenna.",
        _antenna,
        PART_101,
    ),
    Rule(
        "us.101.35.d",
        "14 CFR 101.35(d)",
        "Long suspension by day",
        "over 50 ft (15.24 m): bands or pennants seen from a mile",
        "text seen",
        _SEEN,
        "Mark the line or shorten it.",
        lambda asked: suspension(asked.facts, us_suspension_m),
        PART_101,
    ),
    Rule(
        "us.101.37.a",
        "14 CFR 101.37(a)",
        "Notice to the nearest ATC facility",
        "6 to 24 h before release",
        "text seen",
        _SEEN,
        "Set a later release, and give the notice in its time.",
        _notice,
        PART_101,
    ),
    Rule(
        "us.101.37.a.2",
        "14 CFR 101.37(a)(2)",
        "Release as told",
        "within 30 minutes",
        "from memory",
        _UNDATED,
        "Tell ATC the new time.",
        _release_as_told,
        PART_101,
    ),
    Rule(
        "us.101.39.a",
        "14 CFR 101.39(a)",
        "Position recorded",
        "every two hours or more often",
        "restated by others",
        _UNDATED,
        "Set the tracker to report more often.",
        position_record,
        PART_101,
    ),
)
