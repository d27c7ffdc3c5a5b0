"""ICAO Annex 2 Appendix 5 (SERA.3140 and SERA Appendix 2): unmanned free balloons."""

from __future__ import annotations

from datetime import timedelta

from pappus.rules._classes import classify_icao
from pappus.rules._limits import icao_pennant_spacing_m, icao_separation_n, icao_suspension_m, icao_visibility_m
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
from pappus.rules._verdict import either, every, more_than, negated

HEAVY = frozenset({"heavy"})
MEDIUM_UP = frozenset({"medium", "heavy"})
_SEEN = "consolidated (EU) 923/2012, date not noted"
_UNDATED = "date of the text not noted"
EARLY_NOTICE, LATEST_CHANGE = timedelta(days=7), timedelta(hours=6)


def _where(paragraph: str) -> str:
    return f"ICAO Annex 2 App. 5 / SERA App. 2, {paragraph}"


def _launch_state(_: Asked) -> Judgement:
    why = "the State of the launch has to authorise every free balloon, whatever its mass"
    return Judgement(False, "none noted", why)


def _abroad(asked: Asked) -> Judgement:
    facts = asked.facts
    judged = chance(facts.abroad, asked.profile.chance_most, "crossing a border")
    if judged.ok is not True and facts.meteorological_only:
        balloon = classify_icao(facts.packages, facts.separation_force_n, facts.rest_mass_kg)
        if balloon.name == "light":
            why = "light and only for meteorology as prescribed: exempt here, not from the State of the launch"
            return Judgement(True, judged.number, why)
    return judged


def _weather(asked: Asked) -> Judgement:
    clouds, seen = cloud(asked), sight(asked, icao_visibility_m)
    ok = every(clouds.ok, seen.ok)
    reason = next((part for part in (clouds, seen) if part.ok is ok), seen)
    number = f"{clouds.number} of the sky, {seen.number}"
    return below_60000_ft(asked, Judgement(ok, number, reason.why, reason.missing))


def _tracking(asked: Asked) -> Judgement:
    equipment = asked.facts.equipment
    ok = either(equipment.radar_reflector, equipment.continuous_tracking)
    return carried(ok, "radar reflector or continuous tracking")


def _beacon(flag: bool | None, in_use: bool | None, what: str) -> Judgement:
    ok = either(negated(in_use), flag)
    if ok is None:
        missing = f"Say whether ground stations for it are in use there, or carry it: {what}."
        return Judgement(None, NOT_KNOWN, f"not known: {what}, or whether it is in use there", missing)
    if in_use is False:
        return Judgement(True, "-", f"no ground stations for it in use there: {what}")
    return carried(ok, what)


def _lit(asked: Asked) -> Judgement:
    facts = asked.facts
    seen = facts.equipment.light_visible_m
    ok = either(negated(facts.night), None if seen is None else seen > 0.0)
    number = NOT_KNOWN if seen is None else f"seen from {seen / 1000.0:.2f} km"
    if ok is None:
        return Judgement(None, number, "night on the way or the lights are not known", "Give the times, or the lights.")
    if facts.night is False:
        return Judgement(True, number, "no part below 60 000 ft is flown at night")
    return Judgement(ok, number, "lit" if ok else "part of the flight is at night without lights")


def _antenna(asked: Asked) -> Judgement:
    force = asked.facts.equipment.antenna_breaking_force_n
    strong = None if force is None else more_than(force, icao_separation_n)
    return antenna(asked.facts.equipment, icao_separation_n, strong, icao_pennant_spacing_m)


def _envelope(asked: Asked) -> Judgement:
    if asked.facts.zero_pressure_polyethylene is False:
        return Judgement(True, "-", "not a zero-pressure balloon of polyethylene")
    judged = count(asked.facts.equipment.envelope_terminators, 2, "ways to end the flight of the envelope")
    if judged.ok is False and asked.facts.zero_pressure_polyethylene is None:
        return Judgement(
            None, judged.number, "the kind of the envelope is not known", "Say what the envelope is made of."
        )
    return judged


def _early_notice(asked: Asked) -> Judgement:
    release, given = asked.facts.release_utc, asked.facts.notice_given_utc
    if release is None:
        return Judgement(None, NOT_KNOWN, "the time of release is not known", "Set the time of release.")
    due = release - EARLY_NOTICE
    if given is None or given > asked.at_utc:
        if asked.at_utc > due:
            return Judgement(False, "none noted", f"no notice is noted, and it was due by {clock(due)}")
        return Judgement(
            None, "none noted", f"no notice is noted; due by {clock(due)}", f"Give it by {clock(due)}, and note when."
        )
    return Judgement(
        given <= due, clock(given), f"notice given {'in time' if given <= due else 'late'}; due by {clock(due)}"
    )


def _changes(asked: Asked) -> Judgement:
    release, told = asked.facts.release_utc, asked.facts.notified_release_utc
    if release is None or told is None:
        return Judgement(
            None, NOT_KNOWN, "the release or the time that was told is not known", "Note which time was told."
        )
    if release == told:
        return Judgement(True, clock(told), "the release is at the time that was told")
    due = release - LATEST_CHANGE
    if asked.at_utc <= due:
        return Judgement(
            None, clock(told), f"another time was told; the change is due by {clock(due)}", f"Tell it by {clock(due)}."
        )
    return Judgement(False, clock(told), f"another time was told, and the change was due by {clock(due)}")


ICAO_RULES: tuple[Rule, ...] = (
    Rule(
        "icao.2.1",
        _where("2.1"),
        "Authorisation of the launch State",
        "none without it, whatever the mass",
        "text seen",
        _SEEN,
        "Ask the authority of the State.",
        _launch_state,
        by_permission=True,
    ),
    Rule(
        "icao.2.2",
        _where("2.2, 2.3"),
        "Other States",
        "none across another State without its authorisation, before release",
        "text seen",
        _SEEN,
        "Choose another time, site or fill.",
        _abroad,
        by_permission=True,
    ),
    Rule(
        "icao.2.5",
        "SERA.3140; " + _where("2.5"),
        "Impact creates no hazard to persons or property",
        "no hazard",
        "restated by others",
        _UNDATED,
        "Change the landing area, the mass or the canopy.",
        hazard,
    ),
    Rule(
        "icao.2.6",
        _where("2.6"),
        "High seas",
        "not without coordination with the air navigation service",
        "restated by others",
        _UNDATED,
        "Choose another time or site.",
        lambda asked: chance(asked.facts.high_seas, asked.profile.chance_most, "flying over the high seas"),
        HEAVY,
        True,
    ),
    Rule(
        "icao.3.1",
        _where("3.1"),
        "Weather below 18 000 m (60 000 ft) pressure altitude",
        "not more than 4 oktas, 8 km visibility or more",
        "from memory",
        _UNDATED,
        "Wait for better weather.",
        _weather,
        HEAVY,
        True,
    ),
    Rule(
        "icao.3.2",
        _where("3.2"),
        "Congested areas below 300 m",
        "not over a congested area or an assembly",
        "from memory",
        _UNDATED,
        "Move the site upwind of open country.",
        congested,
        MEDIUM_UP,
    ),
    Rule(
        "icao.3.3.a",
        _where("3.3(a)"),
        "Ending the flight of the payload",
        "two devices, working independently",
        "text seen",
        _SEEN,
        "Add a cut-down.",
        lambda asked: count(asked.facts.equipment.payload_cut_downs, 2, "payload cut-downs"),
        HEAVY,
    ),
    Rule(
        "icao.3.3.b",
        _where("3.3(b)"),
        "Ending the flight of a zero-pressure envelope",
        "two ways, working independently",
        "text seen",
        _SEEN,
        "Add a way.",
        _envelope,
        HEAVY,
    ),
    Rule(
        "icao.3.3.c",
        _where("3.3(c)"),
        "Seen by radar or tracked",
        "reflector for 200 to 2700 MHz, or continuous tracking",
        "text seen",
        _SEEN,
        "Hang a reflector or carry a tracker.",
        _tracking,
        HEAVY,
    ),
    Rule(
        "icao.3.4.a",
        _where("3.4"),
        "Transponder",
        "with pressure altitude, where ground radar for it is in use",
        "from memory",
        _UNDATED,
        "Carry a transponder, or ask the air navigation service.",
        lambda asked: _beacon(asked.facts.equipment.transponder, asked.facts.ssr_in_use, "transponder"),
        HEAVY,
    ),
    Rule(
        "icao.3.4.b",
        _where("3.4"),
        "ADS-B transmitter",
        "where ground stations for it are in use",
        "from memory",
        _UNDATED,
        "Carry a transmitter, or ask the air navigation service.",
        lambda asked: _beacon(asked.facts.equipment.ads_b, asked.facts.ads_b_in_use, "ADS-B transmitter"),
        HEAVY,
    ),
    Rule(
        "icao.3.5",
        _where("3.5"),
        "Trailing antenna",
        "over 230 N: pennants every 15 m or less",
        "from memory",
        _UNDATED,
        "Add pennants or a weaker antenna.",
        _antenna,
    ),
    Rule(
        "icao.3.6",
        _where("3.6"),
        "Lit at night below 18 000 m",
        "balloon, attachments and payload lit",
        "from memory",
        _UNDATED,
        "Fit lights or fly by day.",
        _lit,
        HEAVY,
    ),
    Rule(
        "icao.3.7",
        _where("3.7"),
        "Long suspension by day",
        "over 15 m: coloured bands or pennants",
        "from memory",
        _UNDATED,
        "Mark the line or shorten it.",
        lambda asked: suspension(asked.facts, icao_suspension_m),
        HEAVY,
    ),
    Rule(
        "icao.5.1.1",
        _where("5.1.1"),
        "Early notice to air traffic services",
        "7 days before release",
        "restated by others",
        _UNDATED,
        "Set a later release, and give the notice.",
        _early_notice,
        MEDIUM_UP,
    ),
    Rule(
        "icao.5.1.3",
        _where("5.1.3"),
        "Changes told",
        "6 h before release",
        "from memory",
        _UNDATED,
        "Tell air traffic services, and set a release 6 h later.",
        _changes,
        MEDIUM_UP,
    ),
    Rule(
        "icao.6.1",
        _where("6.1"),
        "Position recorded at or below 18 000 m",
        "every two hours or more often",
        "from memory",
        _UNDATED,
        "Set the tracker to report more often.",
        position_record,
        HEAVY,
    ),
)
