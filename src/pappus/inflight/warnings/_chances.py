"""Warnings of what lies ahead, by its chance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pappus.inflight.warnings._condition import ALOFT, Sign, Symptom, phase_of, sign_of
from pappus.inflight.warnings._kinds import WarningKind
from pappus.inflight.warnings._picture import ChanceAhead, FlightPicture
from pappus.tracking import Phase
from pappus.units import say_duration


def ahead(picture: FlightPicture) -> Iterator[Symptom]:
    limits, ahead, lost = picture.limits, picture.ahead, _lost(picture)
    if phase_of(picture) is Phase.LANDED:
        return
    for kind, chances, pair, what, todo, why in (
        (WarningKind.AIRSPACE, ahead.airspace, limits.chance, "Chance to enter {}",
         "Tell the air traffic unit now; compare a cut-down before it.", "No permission of the plan covers it."),
        (WarningKind.BORDER, ahead.border, limits.chance, "Chance to land in{}",
         "Call the authority on the other side; compare a cut-down now. No car crosses without papers.",
         "Flight and recovery there need a permission of that country."),
        (WarningKind.PERMIT_AREA, ahead.permit_area, limits.chance, "Chance to leave the permit area{}",
         "Tell the authority; compare a cut-down now.", "The permission ends at its edge."),
        (WarningKind.HAZARD, ahead.hazard, limits.hazard, "Chance to land on{}",
         "A termination is worth considering: compare the area of a cut-down now. Warn who is there.",
         "What lies under the landing area has changed for the worse since the release."),
    ):  # fmt: skip
        quiet = []
        for one in chances:
            symptom = _chance(kind, one, pair, what, todo, why, lost)
            if lost and symptom.sign in (Sign.NO, Sign.BETWEEN):
                quiet.append(one)
                symptom = Symptom(kind, Sign.BETWEEN, subject=one.subject)
                # what has no name of its own is told below
                if not one.subject:
                    continue
            yield symptom
        if quiet:
            yield _not_told(kind, quiet, lost)


def _lost(picture: FlightPicture) -> str:
    """How long the balloon has not been heard aloft; empty where it is followed."""
    position = None if picture.estimate is None else picture.estimate.position
    if position is None or phase_of(picture) not in ALOFT:
        return ""
    silent_s = (picture.now - position.heard_utc).total_seconds()
    return f"no position for {say_duration(silent_s)}" if silent_s > picture.limits.no_position_s else ""


def _not_told(kind: WarningKind, chances: Sequence[ChanceAhead], lost: str) -> Symptom:
    """No all-clear: the chances are reckoned from where the balloon was heard last."""
    most = max(one.share.p for one in chances if one.share is not None)
    return Symptom(
        kind, Sign.UNKNOWN, f"{kind.value.capitalize()}: cannot be told, {lost}; {most:.0%} as reckoned from there"
    )


def _chance(
    kind: WarningKind, one: ChanceAhead, pair: tuple[float, float], what: str, todo: str, why: str, lost: str
) -> Symptom:  # fmt: skip
    if one.share is None:
        return Symptom(
            kind, Sign.UNKNOWN, f"{kind.value.capitalize()}: cannot be told, {one.why_not}", subject=one.subject
        )
    if lost:
        # nobody will know better before it happens: the lower limit counts
        pair = pair[1], pair[1]
    sign = sign_of(one.share.p, pair, above=True)
    was = one.before or 0.0
    if kind is WarningKind.HAZARD and sign is Sign.YES and one.share.p < max(2.0 * was, was + 0.5 * pair[0]):
        # high from the release on: it has not risen
        return Symptom(kind, Sign.BETWEEN, subject=one.subject)
    named = one.subject if kind is WarningKind.AIRSPACE else f" {one.subject}" if one.subject else ""
    first = "" if one.first_utc is None else f", from {one.first_utc:%H:%M}Z"
    before = "" if one.before is None else f", {one.before:.0%} at release"
    old = f", {lost}" if lost else ""
    words = f"{what.format(named)} {one.share.p:.0%}{before}{first}, limit {pair[0]:.0%}{old}"
    return Symptom(kind, sign, words, todo, why, one.share.p, pair[0], "1", one.subject)
