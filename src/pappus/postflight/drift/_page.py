"""Winds against positions as a table, and a line of reasons for each flight that ends more than 60 m off."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from pappus.export import Grid, Section, Sentences
from pappus.postflight.drift._breaks import FILLED_S, GAP_S, JUMP_M_S, Break
from pappus.postflight.drift._check import WANTED_M, DriftCheck

SMALLEST_SAID_M = 10.0
EVENLY = 0.9
"""A share of the variance from which an error is said to grow evenly."""


def drift_sections(drift: tuple[DriftCheck, ...]) -> list[Section]:
    """The table with every flight, and the reasons."""
    columns = ("flight", "leg", "top km", "drift km", "end m", "most m", "joined m", "winds m")
    rows = tuple(
        (
            _name(row),
            row.leg,
            f"{row.top_msl_m / 1000:.1f}",
            f"{row.drift_m / 1000:.1f}",
            f"{row.end_error_m:.0f}",
            f"{row.largest_error_m:.0f}",
            f"{row.joined_end_error_m:.0f}",
            f"{row.written_m:.0f}",
        )
        for row in drift
    )
    note = (
        "Each flight carried along its own measured winds, against its measured positions: how far off at the end "
        "and at most. joined: at the end without the "
        f"breaks of the track (jumps: steps {JUMP_M_S:.0f} m/s off the steps of the minutes around; gaps over "
        f"{GAP_S:.0f} s; stretches over {FILLED_S:.0f} s drawn straight). winds: what rounding and scatter of the "
        "written winds alone give, two standard deviations."
    )
    return [
        Grid("Winds against positions", columns, rows, note),
        Sentences(f"Why flights end more than {WANTED_M:.0f} m off", (_counts(drift), *_reasons(drift))),
    ]


def _counts(drift: tuple[DriftCheck, ...]) -> str:
    count = Counter(row.cause for row in drift)
    throughout = sum(row.largest_error_m <= WANTED_M for row in drift)
    return (
        f"{len(drift)} flights. Within {WANTED_M:.0f} m at the end: {count['none']}, and all the way: {throughout}. "
        f"Within it but for breaks or the first minute of the track: {count['track']}. Within what rounding and "
        f"scatter of the written winds give: {count['written winds']}. Not explained: {count['not explained']}."
    )


def _reasons(drift: tuple[DriftCheck, ...]) -> Iterator[str]:
    for row in drift:
        if row.cause != "none":
            unknown = ["not explained"] if row.cause == "not explained" else []
            yield f"{_name(row)} {row.leg}, {row.end_error_m:.0f} m: {'; '.join([*_parts(row), *unknown])}."


def _parts(row: DriftCheck) -> Iterator[str]:
    larger = sorted((one for one in row.breaks if one.apart_m >= SMALLEST_SAID_M), key=lambda one: -one.apart_m)
    for one in larger[:3]:
        yield _break(one)
    if len(larger) > 3:
        yield f"further breaks: {len(larger) - 3}"
    yield f"first minute {row.first_minute_m:.0f} m, then {row.after_first_minute_m:.0f} m"
    if row.rounding_m > 0.0:
        yield f"rounded winds up to {row.rounding_m:.0f} m (all to one side {row.rounding_most_m:.0f} m)"
    if row.scatter_m >= WANTED_M:
        yield f"winds scatter from record to record: up to {row.scatter_m:.0f} m"
    if row.cause == "not explained" and row.steady_share >= EVENLY:
        yield f"grows evenly, by {row.steady_m_s:.3f} m/s"


def _break(one: Break) -> str:
    where = f"at {one.at_msl_m / 1000:.1f} km"
    if one.kind == "jump":
        return f"position jumps {one.apart_m / 1000:.1f} km {where}"
    what = "gap" if one.kind == "gap" else "drawn straight"
    return f"{what} for {one.seconds:.0f} s {where}: {one.apart_m:.0f} m"


def _name(row: DriftCheck) -> str:
    return f"{row.flight} {row.release:%Y-%m-%d %H:%MZ}"
