"""How much faster forecasts are read here than by cfgrib: ratios of medians within one run, never seconds alone.

    python benchmarks/read_forecast.py [folder with GRIB files]

Files are the open ones beside the checkout where they exist, and one written here in CCSDS packing. cfgrib opens the
same variables on the same levels and loads their values; it is asked for them in the way that is quickest for it.
"Decoded" is headers and values, "read" adds digest, heights and checks, "kept" is the second reading.
"""

from __future__ import annotations

import contextlib
import io
import logging
import statistics
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from pappus.sources import read_forecast
from pappus.sources.forecasts._grib import find_runs
from pappus.sources.grib._values import decode
from sources.grib_writer import air

PRESSURE, MODEL = "isobaricInhPa", "hybrid"
FILES: dict[str, tuple[str, tuple[str, ...]]] = {
    "ecmwf_ifs_137ml_2018111412_f024_europe.grib2": (MODEL, ("u", "v", "t", "q")),
    "ecmwf_6pl_4runs_2steps_20240603.grib1": (PRESSURE, ("u", "v", "t", "z")),
    "gfs_2p5deg_2011011012_f120.grib2": (PRESSURE, ("u", "v", "t", "gh")),
    "gfs_2p5deg_2011100800_f072.grib2": (PRESSURE, ("u", "v", "t", "gh")),
    "nam_awp211_2018091700_f000_lambert.grib2": (PRESSURE, ("u", "v", "t", "gh")),
}


def median_s(work: Callable[[], Any], times: int) -> float:
    """Median of some runs, after one that warms up."""
    work()
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def decoded(path: Path, kind: str, names: tuple[str, ...]) -> None:
    """Every value of the fields that cfgrib is asked for."""
    content = np.memmap(path, dtype=np.uint8, mode="r").view(np.ndarray)
    for run in find_runs([(path.name, content)]):
        found = run.by_kind["pressure" if kind == PRESSURE else "hybrid"]
        for name in names:
            fields = [field for key, field in found.items() if key[0] == name]
            if fields:
                decode(fields, run.contents, run.files, lambda values: values)


def by_cfgrib(path: Path, kind: str, names: tuple[str, ...]) -> None:
    """The same values through cfgrib: one opening when the variables share their levels, else one a variable."""
    import xarray

    filters: list[dict[str, Any]] = [{"typeOfLevel": kind, "shortName": list(names)}]
    if len(names) > 1 and kind == PRESSURE:
        filters = [{"typeOfLevel": kind}]
    for keys in filters:
        how = {"indexpath": "", "filter_by_keys": keys}
        try:
            data = xarray.open_dataset(path, engine="cfgrib", backend_kwargs=how)
            data = data[list(names)]
        except Exception:  # levels differ from one variable to the next: it then wants one opening for each
            for name in names:
                how = {"indexpath": "", "filter_by_keys": {"typeOfLevel": kind, "shortName": name}}
                xarray.open_dataset(path, engine="cfgrib", backend_kwargs=how).load().close()
        else:
            data.load().close()


def compare(path: Path, kind: str, names: tuple[str, ...], packing: str) -> None:
    """Print one line."""
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder)
        with contextlib.redirect_stderr(io.StringIO()):
            other = median_s(lambda: by_cfgrib(path, kind, names), 3)
        ours = median_s(lambda: decoded(path, kind, names), 9)
        read = median_s(lambda: read_forecast([path]), 9)
        again = median_s(lambda: read_forecast([path], keep_in=kept), 49)
    print(f"{path.name:48} {packing:20} {other / ours:8.0f} {other / read:8.0f} {other / again:8.0f}")


def main() -> None:
    """Print the table."""
    warnings.simplefilter("ignore")
    logging.disable(logging.CRITICAL)
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT.parent / "shared" / "data" / "nwp"
    print("time of cfgrib over ours")
    print(f"{'file':48} {'packing':20} {'decoded':>8} {'read':>8} {'kept':>8}")
    packings = ("simple, 12 bits", "simple, 16 bits", "complex, differences", "complex, differences", "complex")
    for (name, (kind, names)), packing in zip(FILES.items(), packings, strict=True):
        if (folder / name).exists():
            compare(folder / name, kind, names, packing)
        else:
            print(f"{name:48} is not here")
    with tempfile.TemporaryDirectory() as own:
        latitudes, longitudes = np.linspace(60.0, 30.0, 121), np.arange(0.0, 60.0, 0.25)
        for packing in ("grid_simple", "grid_ccsds", "grid_complex_spatial_differencing"):
            path = Path(own) / f"written_here.{packing}"
            levels = (1000, 850, 700, 500, 300, 200, 100, 50, 20, 10)
            rng = np.random.default_rng(1)

            def rough(name: str, level: int, values: np.ndarray, rng: np.random.Generator = rng) -> np.ndarray:
                return values if name == "gh" else values + rng.normal(0.0, 0.5, values.shape)

            path.write_bytes(
                air(
                    levels=levels,
                    hours=(0, 3, 6),
                    latitudes=latitudes,
                    longitudes=longitudes,
                    packing=packing,
                    bits=16,
                    change=rough,
                )
            )
            compare(path, PRESSURE, ("u", "v", "t", "gh"), "16 bits")


if __name__ == "__main__":
    main()
