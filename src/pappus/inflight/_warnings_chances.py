"""Warnings of what lies ahead, by its chance."""

from __future__ import annotations

from collections.abc import Iterator

from pappus.inflight._warnings_condition import Sign, Symptom, phase_of, sign_of
from pappus.inflight._warnings_kinds import WarningKind
from pappus.inflight._warnings_picture import ChanceAhead, FlightPicture
from pappus.tracking import Phase


def ahead(picture: FlightPicture) -> Iterator[Symptom]:
    limits, ahead = picture.limits, picture.ahead
    if phase_of(picture) is Phase.LANDED:
        return
    for kind, chances, what, todo, why in (
        (WarningKind.AIRSPACE, ahead.airspace, "Chance to enter {}",
         "Tell the air traffic unit now; compare a cut-down before it.", "No permission of the plan covers it."),
        (WarningKind.BORDER, ahead.border, "Chance to land in{}",
         "Call the authority on the other side; compare a cut-down now. No car crosses without papers.",
         "Flight and recovery there need a permission of that country."),
        (WarningKind.PERMIT_AREA, ahead.permit_area, "Chance to leave the permit area{}",
         "Tell the authority; compare a cut-down now.", "The permission ends at its edge."),
    ):  # fmt: skip
        for one in chances:
            yield _chance(kind, one, limits.chance, what, todo, why)
    for one in ahead.hazard:
        before = one.before or 0.0
        symptom = _chance(
            WarningKind.HAZARD, one, limits.hazard, "Chance to land on{}",
            "A termination is worth considering: compare the area of a cut-down now. Warn who is there.",
            "What lies under the landing area has changed for the worse since the release.",
        )  # fmt: skip
        risen = one.share is not None and one.share.p >= max(2.0 * before, before + 0.5 * limits.hazard[0])
        if symptom.sign is Sign.YES and not risen:
            yield Symptom(WarningKind.HAZARD, Sign.BETWEEN, subject=one.subject)
        else:
            yield symptom


def _chance(
    kind: WarningKind, one: ChanceAhead, pair: tuple[float, float], what: str, todo: str, why: str
) -> Symptom:  # fmt: skip
    if one.share is None:
        return Symptom(
            kind, Sign.UNKNOWN, f"{kind.value.capitalize()}: cannot be told, {one.why_not}", subject=one.subject
        )
    named = one.subject if kind is WarningKind.AIRSPACE else f" {one.subject}" if one.subject else ""
    first = "" if one.first_utc is None else f", from {one.first_utc:%H:%M}Z"
    before = "" if one.before is None else f", {one.before:.0%} at release"
    words = f"{what.format(named)} {one.share.p:.0%}{before}{first}, limit {pair[0]:.0%}"
    return Symptom(
        kind, sign_of(one.share.p, pair, above=True), words, todo, why, one.share.p, pair[0], "1", one.subject
    )  # fmt: skip
