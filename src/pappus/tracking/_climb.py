"""Height and vertical rate from noisy heights: a Kalman filter that notices when the flight changes its mind."""

from __future__ import annotations

from typing import NamedTuple

HEIGHT_SD_M = 8.0
"""Noise of one satellite height, one standard deviation: 5 to 15 m (from memory), 1.5 to 2 times the horizontal. Taken
for the first fixes; then every tracker shows its own."""
HEIGHT_SD_LEAST_M, HEIGHT_SD_MOST_M = 4.0, 60.0
NOISE_FROM = 40
"""The noise is learned from about so many heights."""
RATE_WALK_M2_S3 = 0.03
"""How the rate wanders: 0.55 m/s in 10 s, 1.3 m/s in a minute. Within one flight the 1 km means of the rate scatter by
0.3 to 1 m/s (from memory); the rest is room for the canopy to settle. Common practice, no source."""
RATE_SD_START_M_S = 30.0
SURPRISE = 6.0
"""A height this many standard deviations from the forecast is no noise: the rate is learned afresh (a burst)."""
SURPRISE_IN_A_ROW = 3.5
"""Two in a row on the same side need only this many."""


class Climb(NamedTuple):
    """State of the filter: a local level with a drifting rate."""

    time_s: float
    height_msl_m: float
    rate_m_s: float
    height_var_m2: float
    cross_m2_s: float
    rate_var_m2_s2: float
    surprise: float
    """Last innovation in standard deviations, signed."""
    measured_msl_m: float
    """The last height itself."""
    noise_var_m2: float
    """Of one height, as this tracker has shown it."""
    heights: int


def first_climb(time_s: float, height_msl_m: float) -> Climb:
    """The state after one height."""
    return Climb(
        time_s, height_msl_m, 0.0, HEIGHT_SD_M**2, 0.0, RATE_SD_START_M_S**2, 0.0, height_msl_m, HEIGHT_SD_M**2, 4
    )


def next_climb(before: Climb, time_s: float, height_msl_m: float) -> Climb:
    """The state after one more height, not earlier than the last.

    Source: the constant-velocity filter of any textbook (Bar-Shalom, Li & Kirubarajan 2001, section 6.2.2, white-noise
    acceleration); the reset after a surprise is our own.
    """
    dt = time_s - before.time_s
    variance = before.noise_var_m2
    walk = RATE_WALK_M2_S3
    height = before.height_msl_m + before.rate_m_s * dt
    rate = before.rate_m_s
    height_var = before.height_var_m2 + dt * (2.0 * before.cross_m2_s + dt * before.rate_var_m2_s2) + walk * dt**3 / 3.0
    cross = before.cross_m2_s + dt * before.rate_var_m2_s2 + walk * dt * dt / 2.0
    rate_var = before.rate_var_m2_s2 + walk * dt
    off = height_msl_m - height
    surprise = off / (height_var + variance) ** 0.5
    # what the forecast of the height does not explain is noise; a surprise counts as a large error and no more
    seen = min(surprise * surprise, SURPRISE_IN_A_ROW**2) * (height_var + variance) - height_var
    noise = variance + (seen - variance) / min(before.heights + 1, NOISE_FROM)
    noise = min(max(noise, HEIGHT_SD_LEAST_M**2), HEIGHT_SD_MOST_M**2)
    twice = min(abs(surprise), abs(before.surprise)) > SURPRISE_IN_A_ROW and surprise * before.surprise > 0
    if abs(surprise) > SURPRISE or twice:
        # start from the last height as it was measured: the filtered one still carries the old rate and would drag
        fresh = RATE_SD_START_M_S**2
        height, rate = before.measured_msl_m, 0.0
        height_var, cross, rate_var = variance + dt * dt * fresh, dt * fresh, fresh
        off = height_msl_m - height
    gain_h, gain_r = height_var / (height_var + variance), cross / (height_var + variance)
    return Climb(
        time_s,
        height + gain_h * off,
        rate + gain_r * off,
        (1.0 - gain_h) * height_var,
        (1.0 - gain_h) * cross,
        rate_var - gain_r * cross,
        surprise,
        height_msl_m,
        noise,
        before.heights + 1,
    )
