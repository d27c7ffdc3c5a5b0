"""Warnings that come when something has been so for a while, and go when it has been gone for a while."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

from pappus.inflight.warnings._condition import Sign, Symptom
from pappus.inflight.warnings._kinds import Warning_, WarningKind
from pappus.inflight.warnings._picture import FlightPicture
from pappus.inflight.warnings._symptoms import symptoms
from pappus.units import say_duration

RAISE_AFTER_S: Mapping[WarningKind, float] = MappingProxyType(
    {
        WarningKind.SLOW_CLIMB: 90.0,
        WarningKind.FLOATER: 60.0,
        WarningKind.FAST_DESCENT: 20.0,
        WarningKind.POWER: 60.0,
        WarningKind.COLD: 60.0,
        WarningKind.CLOCK: 30.0,
        WarningKind.HEIGHT: 30.0,
    }
)
"""A condition must hold so long; the others warn at once. Common practice, no source."""
_TELL_THEIR_TIME = (WarningKind.NO_POSITION, WarningKind.TWO_HOURS, WarningKind.DESCENT_REPORT)
SAID_FROM_S = 30.0
"""What has come just now is said without its time."""
CLEAR_AFTER_S = 120.0
"""And must be clearly gone so long before the warning goes."""

Key = tuple[WarningKind, str]


@dataclass(frozen=True)
class _State:
    """One condition on its way up or down."""

    began_utc: datetime
    raised: bool
    gone_utc: datetime | None = None


@dataclass(frozen=True)
class Warned:
    """What stands at a moment, and what is on its way; the next look starts from it."""

    warnings: tuple[Warning_, ...] = ()
    """The most pressing first; those with ``known`` False say what cannot be told."""
    states: Mapping[Key, _State] = field(default_factory=dict)

    @property
    def standing(self) -> tuple[Warning_, ...]:
        """Without what cannot be told."""
        return tuple(one for one in self.warnings if one.known)


def warn(picture: FlightPicture, before: Warned | None = None) -> Warned:
    """The warnings of this picture. Pure: the same pictures in the same order warn alike.

    :param before: the answer of the look before; None at the first.
    """
    old = {} if before is None else before.states
    states: dict[Key, _State] = {}
    told = () if before is None else before.warnings
    said = {(one.kind, one.subject): one for one in told if one.known}
    lacking = {(one.kind, one.subject): one.since_utc for one in told if not one.known}
    warnings = []
    for symptom in symptoms(picture):
        key = symptom.kind, symptom.subject
        if symptom.sign is Sign.UNKNOWN:
            warnings.append(_unknown(symptom, lacking.get(key, picture.now)))
            # what stood is not called off by missing data
            if key in old and key in said:
                states[key] = old[key]
                warnings.append(said[key])
            continue
        state = _next(old.get(key), symptom, picture.now)
        if state is None:
            continue
        states[key] = state
        if state.raised:
            warnings.append(_said(symptom, state, picture.now, said.get(key)))
    return Warned(tuple(sorted(warnings, key=lambda one: (one.rank, one.subject))), MappingProxyType(states))


def _next(state: _State | None, symptom: Symptom, now: datetime) -> _State | None:
    if symptom.sign is Sign.YES:
        began = now if state is None else state.began_utc
        wait_s = RAISE_AFTER_S.get(symptom.kind, 0.0)
        raised = (state is not None and state.raised) or (now - began).total_seconds() >= wait_s
        return _State(began, raised)
    if state is None or not state.raised:
        return None
    if symptom.sign is Sign.BETWEEN:
        return _State(state.began_utc, True)
    gone = state.gone_utc or now
    return None if (now - gone).total_seconds() >= CLEAR_AFTER_S else _State(state.began_utc, True, gone)


def _said(symptom: Symptom, state: _State, now: datetime, before: Warning_ | None) -> Warning_:
    """In the words of now where the condition still gives any, else in those of the last look."""
    if before is not None and (not symptom.words or symptom.sign is Sign.NO):
        return before
    since = symptom.began_utc or state.began_utc
    long_s = max((now - since).total_seconds(), 0.0)
    told = symptom.kind in _TELL_THEIR_TIME or long_s < SAID_FROM_S
    how_long = "" if told else f", since {say_duration(long_s)}"
    return Warning_(
        symptom.kind,
        symptom.subject,
        since,
        f"{symptom.words}{how_long}.",
        symptom.what_to_do,
        symptom.why,
        symptom.number,
        symptom.against,
        symptom.unit,
        True,
    )


def _unknown(symptom: Symptom, since: datetime) -> Warning_:
    return Warning_(
        symptom.kind, symptom.subject, since, f"{symptom.words}.", "", "Unknown is no all-clear.", None, None, "", False
    )
