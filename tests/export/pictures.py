"""Invented flights along straight tracks, and what can be read from a finished picture: pixels and words."""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Any

import numpy as np

from pappus.landing import LandingArea, landing_area
from pappus.trajectory import AscentEnd, Flights, Outcome

SITE = (-37.38, -64.60)
TOP_MSL_M, GROUND_MSL_M, STEPS = 30_000.0, 225.0, 41
INK, BLUE, GREEN, PALE, GROUND = "#1a1a1a", "#0072b2", "#009e73", "#bfdcee", "#d8d4cc"
FILLS = ("#66aad1", "#a6cee5", "#dcecf6")


def straight_flights(
    end_deg: Any, *, site: tuple[float, float] = SITE, outcome: Outcome = Outcome.LANDED, hours: Any = 2.5
) -> Flights:
    """Up in a straight line for 60 % of the time, then down; a flight that does not land ends half way up."""
    end = np.atleast_2d(np.asarray(end_deg, dtype=float))
    count, share = len(end), np.linspace(0.0, 1.0, STEPS)
    whole = outcome == Outcome.LANDED
    reached = share if whole else 0.3 * share
    time = 3600.0 * np.broadcast_to(np.asarray(hours, dtype=float), (count,))[:, None] * reached
    rise, fall = reached / 0.6, (1.0 - reached) / 0.4
    height = np.broadcast_to(GROUND_MSL_M + (TOP_MSL_M - GROUND_MSL_M) * np.minimum(rise, fall), (count, STEPS))
    latitude = site[0] + (end[:, :1] - site[0]) * reached
    longitude = site[1] + (end[:, 1:] - site[1]) * reached
    top = np.arange(count), np.argmax(height, axis=1)
    return Flights(
        outcome=np.full(count, outcome, dtype=np.int8),
        ascent_end=np.full(count, AscentEnd.BURST if whole else AscentEnd.NONE, dtype=np.int8),
        top_latitude_deg=latitude[top], top_longitude_deg=_wrapped(longitude[top]), top_height_msl_m=height[top],
        top_time_s=time[top],
        end_latitude_deg=latitude[:, -1], end_longitude_deg=_wrapped(longitude[:, -1]),
        end_height_msl_m=height[:, -1], end_time_s=time[:, -1],
        touchdown_m_s=np.full(count, 5.0 if whole else np.nan),
        track_time_s=time, track_latitude_deg=latitude, track_longitude_deg=_wrapped(longitude),
        track_height_msl_m=np.asarray(height), release_time_s=0.0,
    )  # fmt: skip


def _wrapped(longitude_deg: Any) -> Any:
    return (longitude_deg + 180.0) % 360.0 - 180.0


def scattered_ends(count: int = 200, *, site: tuple[float, float] = SITE, spread_deg: float = 0.08) -> Any:
    """Ends of flights about a place north-east of the site."""
    middle = np.array([site[0] + 0.2, site[1] + 0.8])
    return middle + spread_deg * np.random.default_rng(3).standard_normal((count, 2))


def area_of(flights: Flights) -> LandingArea:
    """Landing area of the flights."""
    landed = flights.landed
    return landing_area(
        flights.end_latitude_deg[landed], flights.end_longitude_deg[landed], unknown=int((~landed).sum())
    )


def pixels(path: Path) -> Any:
    """Red, green and blue of a picture, 0 to 255, shape (rows, columns, 3)."""
    from matplotlib.image import imread

    return np.rint(imread(path)[..., :3] * 255.0).astype(int)


def where(picture: Any, colour: str, tolerance: int = 2) -> Any:
    """Which pixels have a colour such as ``#1a1a1a``."""
    wanted = [int(colour[place : place + 2], 16) for place in (1, 3, 5)]
    return np.all(np.abs(picture - wanted) <= tolerance, axis=-1)


def runs(row: Any) -> list[tuple[int, int]]:
    """First column and the one behind the last of each run of true in a row."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(int), [0]))))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def words(path: Path) -> str:
    """All text of an SVG picture: matplotlib draws letters as shapes and writes each line as a comment beside them."""
    return "\n".join(html.unescape(comment) for comment in re.findall(r"<!-- (.*?) -->", path.read_text("utf-8")))
