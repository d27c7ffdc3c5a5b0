"""Invented flights half-way through, as the estimator has them: what the tests of re-prediction share."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parents[2] / "benchmarks"))

from rehearsal_study import heard, model_of, moments_of, truth_of

from pappus.inflight import InFlightModel
from pappus.tracking import Estimate, Phase
from pappus.trajectory import Flights

SEED = 1001


@cache
def flown(seed: int = SEED) -> tuple[InFlightModel, Flights, dict[str, tuple[Estimate, datetime]]]:
    """The model, one true flight and what was heard of it at each moment."""
    model = model_of(False)
    truth = truth_of(model, False, seed)
    assert truth is not None
    moments = moments_of(truth)
    order = sorted(moments, key=lambda name: moments[name])
    made = heard(model, truth, list(moments.values()), seed)
    at = {
        name: (estimate, model.epoch + timedelta(seconds=moments[name]))
        for name, estimate in zip(order, made, strict=True)
    }
    return model, truth, at


def silent(
    model: InFlightModel, phase: Phase, height_msl_m: float, climb_m_s: float, after_s: float = 3600.0
) -> tuple[Estimate, datetime]:
    """A balloon of which nothing is known but its position, an hour after release over the site."""
    _, _, at = flown()
    estimate = at["half ascent"][0]
    release = model.release
    when = release + timedelta(seconds=after_s)
    assert estimate.position is not None
    position = replace(
        estimate.position, time_utc=when, heard_utc=when, latitude_deg=model.site.latitude_deg,
        longitude_deg=model.site.longitude_deg, height_msl_m=height_msl_m,
    )  # fmt: skip
    assert estimate.motion is not None
    motion = replace(estimate.motion, height_msl_m=height_msl_m, climb_m_s=climb_m_s, climb_sd_m_s=0.2)
    return replace(
        estimate, heard_utc=when, phase=phase, position=position, motion=motion, wind=(), release_utc=release,
        fall_start=None, highest_msl_m=height_msl_m, landed_utc=None,
    ), when  # fmt: skip


def median_deg(area_latitude: np.ndarray, area_longitude: np.ndarray) -> tuple[float, float]:
    """The middle of a cloud."""
    return float(np.median(area_latitude)), float(np.median(area_longitude))
