"""Sun and horizon against the worked example of SPA and another flight's own angles."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from pappus.errors import BadInput, OutOfRange
from pappus.sky import horizon_dip_deg, sun_elevation_deg

EXAMPLE_TIME = datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC)
EXAMPLE_PLACE = (39.742476, -105.1786)


def test_worked_example_of_spa() -> None:
    """Reda & Andreas 2004 (NREL/TP-560-34302), appendix A.5: topocentric zenith 50.11162 degrees.

    Their zenith has refraction at 820 hPa and 11 degrees C in it (their eq. 42), which is taken away here by hand.
    """
    true = float(sun_elevation_deg([EXAMPLE_TIME], *EXAMPLE_PLACE)[0])
    refraction = 820 / 1010 * 283 / (273 + 11) * 1.02 / (60 * np.tan(np.radians(true + 10.3 / (true + 5.11))))
    assert 90 - true - refraction == pytest.approx(50.11162, abs=2e-4)


def test_sunset_of_the_worked_example() -> None:
    """The centre of the sun passes 0.8333 degrees below the horizon at 00:20:19 UT (same source), within 3 s."""
    sunset = datetime(2003, 10, 17, 0, 20, 19, tzinfo=UTC)
    before, after = sun_elevation_deg([sunset - timedelta(seconds=3), sunset + timedelta(seconds=3)], *EXAMPLE_PLACE)
    assert before > -0.8333 > after


def test_sun_of_a_measured_flight(shared_data: Callable[[str], Path]) -> None:
    """Solar elevation in the GRUAN product of Payerne, 2017-07-11 22:50:42 UTC, along the flight."""
    netcdf = pytest.importorskip("netCDF4")
    with netcdf.Dataset(shared_data("sondes/gruan_pay_20170712T00_gdpA.nc")) as flight:
        latitude, longitude, elevation, seconds = (
            np.asarray(flight[name][::500], dtype=float) for name in ("lat", "lon", "sea", "time")
        )
    start = datetime(2017, 7, 11, 22, 50, 42, 93_000, tzinfo=UTC)
    ours = sun_elevation_deg([start + timedelta(seconds=s) for s in seconds], latitude, longitude)
    assert np.abs(ours - elevation).max() < 0.02, f"error {np.abs(ours - elevation).max():.4f} degrees"


def test_both_kinds_of_time_agree() -> None:
    times = [EXAMPLE_TIME + timedelta(hours=hours) for hours in range(5)]
    stamps = np.array([time.replace(tzinfo=None) for time in times], dtype="datetime64[s]")
    local = [time.astimezone() for time in times]
    expected = sun_elevation_deg(times, *EXAMPLE_PLACE)
    assert sun_elevation_deg(stamps, *EXAMPLE_PLACE).tolist() == expected.tolist()
    assert sun_elevation_deg(local, *EXAMPLE_PLACE).tolist() == expected.tolist()


def test_bad_times_and_places_are_refused() -> None:
    with pytest.raises(BadInput, match="no zone"):
        sun_elevation_deg([EXAMPLE_TIME, EXAMPLE_TIME.replace(tzinfo=None)], *EXAMPLE_PLACE)
    for times, place in (
        ([EXAMPLE_TIME.replace(year=2051)], EXAMPLE_PLACE),
        (np.array(["NaT"], dtype="datetime64[s]"), EXAMPLE_PLACE),
        ([EXAMPLE_TIME], (90.1, 0)),
        ([EXAMPLE_TIME], (0, 361)),
    ):
        with pytest.raises(OutOfRange):
            sun_elevation_deg(times, *place)


def test_the_sun_does_not_wait_for_pandas() -> None:
    """Start-up of the command line: the sun alone must not load the heavy parts of its library."""
    code = (
        "import sys, datetime as d\n"
        "from pappus.sky import sun_elevation_deg\n"
        "sun_elevation_deg([d.datetime(2026, 1, 1, tzinfo=d.UTC)], 0, 0)\n"
        "print(sorted({'pandas', 'scipy'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.stdout, done.stderr) == ("[]\n", "")


def test_horizon_dip() -> None:
    """acos(R / (R + h)), R = 6371 km, at 10, 20, 30 and 40 km, and the sailor's 1.93' sqrt(h/m) without refraction."""
    heights_msl_m = [10_000, 20_000, 30_000, 40_000]
    assert horizon_dip_deg(heights_msl_m) == pytest.approx([3.20812, 4.534, 5.54938, 6.4037], rel=1e-4)
    assert horizon_dip_deg(4.0) * 60 == pytest.approx(1.926 * 2, abs=0.002)
    assert horizon_dip_deg(0) == 0
    with pytest.raises(OutOfRange, match="height"):
        horizon_dip_deg(-1)
