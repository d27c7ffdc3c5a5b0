"""An invented briefing document, one that is too full for its first sheet, and a launch matrix of any size."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from pages import NOTE, TITLE, chart, square

from pappus.export import (
    BriefingDocument,
    Chapter,
    ClockTime,
    CrewPage,
    DraftNotice,
    Grid,
    Judged,
    JudgedTable,
    KeyNumber,
    LaunchMatrix,
    MatrixCell,
    PhoneCall,
    Picture,
    Rows,
    Sentences,
)

MADE = datetime(2027, 2, 13, 14, 20, tzinfo=UTC)
ZONE = "America/Argentina/Buenos_Aires"
DIGEST = "3f2a9c1b" * 8
LONG = "Llanfair pwllgwyn gyllgogery chwyrndrob wllllanty siliogogo goch " * 40


def at(hour: int, minute: int = 0, day: int = 13) -> datetime:
    return datetime(2027, 2, day, hour, minute, tzinfo=UTC)


def crew(**keys: Any) -> CrewPage:
    usual: dict[str, Any] = {
        "answer": "wait",
        "headline": "Wait: the wind at the site is too strong at 18:30Z.",
        "reasons": (
            ("wait", "Wind at the site 7.8 m/s, gusts 11.2 m/s: the plan asks for 6 and 10."),
            ("cannot tell", "Chance of built-up ground 0.4 to 1.3 %: the limit is 1 %."),
            ("go", "Every other check is met."),
        ),
        "clock": (
            ClockTime("Notice due", at(12, 0, 12), "operator"),
            ClockTime("Fill starts", at(18, 30), "gas crew"),
            ClockTime("Release", at(20), "window 18:00Z to 22:00Z"),
            ClockTime("Burst", at(21, 50), "90 % 21:35Z to 22:04Z"),
            ClockTime("Sunset", None, "not computed"),
            ClockTime("This holds until", at(23, 30)),
        ),
        "zone": ZONE,
        "map": Picture("Where it comes down", square("#00ff00")),
        "numbers": (
            KeyNumber("Reaches 31.0 km", "87 %", "84 to 90 %"),
            KeyNumber("Lands", "12.4 km (7.7 mi) south-east of Macachín", "90 % area 412 km²"),
        ),
        "calls": (
            PhoneCall("24 h before", "Area control centre", "+54 9 0000 0001"),
            PhoneCall("at burst", "Chase one", "+54 9 0000 0002"),
            PhoneCall("before entering", "Landowner", ""),
        ),
        "cautions": ("Gas: hydrogen burns unseen.", "Driving: the driver drives, another reads the map."),
    }
    return CrewPage(**(usual | keys))


def judged(state: Any, word: str, title: str) -> Judged:
    return Judged(state, word, title, "0.8 % (0.4 to 1.3 %)", "at most 1.0 %", "4 min old", "Too wide.", "fly more")


def document(**keys: Any) -> BriefingDocument:
    checks = (judged("no-go", "not met", "Airspace"), judged("cannot tell", "cannot tell", "Built-up ground"))
    evidence = (
        Chapter("Checks", (JudgedTable("Checks, worst first", (*checks, judged("go", "met", "Water")), "By rank."),)),
        Chapter(
            "Hazards", (Rows("Ground", (("Water", "3.1 %"),)), Grid("Airspace", ("name", "up"), (("CTR", "1 %"),)))
        ),
        Chapter("Curves", (Picture("Landing against delay", chart()),)),
        Chapter(
            "What this does not know", (Sentences("", ("Nothing about & < > \" '.", "Whether Øyer/Čačak is open.")),)
        ),
        Chapter(
            "Draft notices", (DraftNotice("Notice of a flight", "Area control centre", "a. kettle one\nb. light"),)
        ),
    )
    usual: dict[str, Any] = {
        "title": TITLE, "note": NOTE, "crew": crew(), "evidence": evidence, "made_utc": MADE, "plan_sha256": DIGEST,
    }  # fmt: skip
    return BriefingDocument(**(usual | keys))


def overfull() -> BriefingDocument:
    """Everything on the first sheet is too long and too much."""
    few = crew()
    return document(
        title=LONG[:300], note=LONG[:300],
        crew=replace(
            few, answer="cannot tell", headline=LONG[:400],
            reasons=tuple(("no-go", LONG[:400]) for _ in range(9)),
            clock=tuple(ClockTime(LONG[:90], at(1, k), LONG[:90]) for k in range(30)),
            numbers=tuple(KeyNumber(LONG[:90], LONG[:90], LONG[:90]) for _ in range(30)),
            calls=tuple(PhoneCall(LONG[:90], LONG[:90], f"+54 9 0000 0000 {k:04d} ext 12345") for k in range(30)),
            cautions=tuple(f"{k}. {LONG[:300]}" for k in range(20)),
        ),
    )  # fmt: skip


def full() -> BriefingDocument:
    """As much as a first sheet takes, in lines that are as long as usual ones are."""
    few = crew()
    name = "Area control centre, duty officer"
    return document(
        crew=replace(
            few, headline="Wait: the surface wind is too strong for the fill at 18:30Z; it eases by 20:00Z.",
            reasons=tuple(("wait", "Wind 7.8 m/s (15.2 kt), gusts 11.2 m/s: 6 and 10 are asked for.") for _ in "abc"),
            clock=tuple(ClockTime("Wanted height 31.0 km", at(12 + k), "90 % 21:29Z to 21:51Z") for k in range(9)),
            numbers=tuple(KeyNumber("Distance from site", "88.1 km (54.7 mi)", "90 % 71 to 106 km") for _ in range(9)),
            calls=tuple(PhoneCall("before the fill", name, f"+54 9 0000 {k:04d}") for k in range(8)),
            cautions=tuple(f"{k}: stand clear below the train; cylinders are chained and capped." for k in range(6)),
        )
    )  # fmt: skip


def matrix(rows: int, columns: int, **keys: Any) -> LaunchMatrix:
    """Answers drawn by lot, some of them missing, with the longest names in some rows."""
    lot = random.Random(7)
    names = tuple(("Salina Chica, gravel pit" if row % 2 else "Quemú") + f"; fill {row}; 1000 g" for row in range(rows))
    reasons = {
        "go": ("",),
        "wait": ("wind 8 m/s",),
        "no-go": ("airspace", "permit area left"),
        "cannot tell": ("unknown flights not known, and more",),
    }
    cells = []
    for row in range(rows):
        for column in range(columns):
            answer: Any = lot.choice(list(reasons))
            if rows * columns > 1 and lot.random() < 0.04:
                continue
            chance = lot.random() if lot.random() < 0.9 else None
            cells.append(MatrixCell(row, column, answer, lot.choice(reasons[answer]), chance))
    usual: dict[str, Any] = {
        "rows": names, "times": tuple(at(18) + timedelta(hours=column) for column in range(columns)),
        "cells": tuple(cells), "zone": ZONE, "wanted_height_msl_m": 31_000.0,
    }  # fmt: skip
    return LaunchMatrix(**(usual | keys))
