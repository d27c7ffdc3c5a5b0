"""Run the full counts of what the project claims and write docs/verification*.md, one file for each part.

``make evidence`` runs all, ``python benchmarks/evidence.py day`` one of them. Everything in those files
comes from this command; nothing is written by hand. Recorded flights are read from ``../shared`` beside the checkout;
without it their part says so.
"""

from __future__ import annotations

import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))
SHARED = ROOT.parent / "shared"
SEED = 1
FAULT_RUNS, PACKETS, KILLS, REHEARSED = 1000, 1_000_000, 1000, 200
COMMAND = [sys.executable, "-m", "pappus.cli"]


def run(command: list[str], cwd: Path = ROOT) -> tuple[int, str, float]:
    """Exit code, output and seconds of a command."""
    start = time.perf_counter()
    # small matrices lose time with more threads than one, as the command line knows
    environment = os.environ | {"COLUMNS": "110", "NO_COLOR": "1", "OPENBLAS_NUM_THREADS": "1"}
    result = subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False, env=environment)
    return result.returncode, result.stdout + result.stderr, time.perf_counter() - start


def header(title: str) -> list[str]:
    """What ran, where and when."""
    commit = run(["git", "rev-parse", "--short", "HEAD"])[1].strip() or "none"
    dirty = run(["git", "status", "--porcelain"])[1].strip()
    return [
        f"# {title}",
        "",
        "Written by `make evidence`; not edited by hand.",
        "",
        f"- commit {commit}{' with uncommitted changes' if dirty else ''}, {datetime.now(UTC):%Y-%m-%d %H:%M} UTC",
        f"- {platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, seed {SEED}",
        "",
    ]


def answered(folder: Path) -> tuple[float, float]:
    """Seconds until the three lines are on the screen, and until the folder with its pictures is written."""
    start = time.perf_counter()
    process = subprocess.Popen([*COMMAND, "demo", "trial"], cwd=folder, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    process.stdout.readline()
    first = time.perf_counter() - start
    process.communicate()
    return first, time.perf_counter() - start


def demo(folder: Path) -> list[str]:
    """The built-in example, twice: exit codes and the time of later runs."""
    first, second = (run([*COMMAND, "demo", "trial"], folder) for _ in range(2))
    answers, wholes = (sorted(times) for times in zip(*(answered(folder) for _ in range(7)), strict=True))
    files = ", ".join(sorted(path.name for path in (folder / "trial" / "briefing").iterdir()))
    return [
        "## The built-in example",
        "",
        f"`pappus demo` ends with exit {first[0]} and again {second[0]}; the briefing folder holds {files}.",
        f"Seven later runs, as whole processes: the answer stands after {answers[3]:.2f} s (median; slowest "
        f"{answers[-1]:.2f} s), the folder with its pictures after {wholes[3]:.2f} s (slowest {wholes[-1]:.2f} s).",
        "",
        "```",
        *first[1].splitlines()[:5],
        "```",
        "",
    ]


GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("check values: standards, tables, worked examples", ("tests.references",)),
    ("commands, run as a crew runs them", ("tests.cli.test_commands",)),
    ("mistakes: exit 2, one message, nothing half-written", ("tests.cli.test_mistakes",)),
    ("recorded flights", ("tests.replay",)),
    ("briefings on real forecasts", ("tests.cli.test_forecasts",)),
    ("hand-outs and documents in GDAL, gpxpy, a PDF reader and a browser", ("tests.export",)),
    ("winds measured on the way up: the exact update", ("tests.wind",)),
    ("recorded flights judged, priors fitted", ("tests.postflight", "tests.cli.test_verify")),
    ("field packs; brief with the network unplugged", ("tests.cli.test_field_pack", "tests.sources.test_pack")),
    ("fetching forecasts: misbehaving centres, a small sample", ("tests.centres",)),
    ("files of winds, maps, zones and airspace, whole and damaged", ("tests.sources",)),
    ("law: verdicts at their boundaries, deadlines, drafts", ("tests.rules",)),
    ("chances on the ground and in the air against exact ones", ("tests.hazard", "tests.airspace", "tests.ground")),
    ("decision: unknown is never go, over all subsets", ("tests.decision",)),
    ("launch window, judged releases, documents", ("tests.preflight",)),
    ("packets and receivers, with brokers, modems and serial lines that are not ours", ("tests.receivers",)),
    ("the record of a flight: kills, faults, merging", ("tests.store",)),
    ("the estimate: recorded flights as packets, faults", ("tests.tracking",)),
    ("watch and re-prediction", ("tests.inflight",)),
    ("chase and search", ("tests.recovery",)),
    ("the desk: roles, attacks, pages in a browser", ("tests.web", "tests.desk")),
    ("everything", ("tests",)),
)  # fmt: skip


def tests() -> list[str]:
    """All tests once, counted by what they show."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "tests.xml"
        command = [sys.executable, "-m", "pytest", "-q", "-n", "2", "--dist", "loadfile", "-p", "no:cacheprovider"]
        code, output, spent = run([*command, f"--junitxml={report}", "tests"])
        cases = list(ElementTree.parse(report).getroot().iter("testcase"))
    lines = ["## Tests by what they show", "", f"`pytest tests`, exit {code}, {spent / 60:.0f} min; pytest says:", ""]
    said = output.strip().splitlines()
    lines += [
        *(line for line in said if line.startswith(("FAILED", "ERROR"))),
        said[-1],
        "",
        "| what | passed | failed | skipped |",
        "|--|--:|--:|--:|",
    ]
    for what, prefixes in GROUPS:
        chosen = [case for case in cases if case.get("classname", "").startswith(prefixes)]
        skipped = sum(case.find("skipped") is not None for case in chosen)
        failed = sum(case.find("failure") is not None or case.find("error") is not None for case in chosen)
        lines.append(f"| {what} | {len(chosen) - skipped - failed} | {failed} | {skipped} |")
    return [*lines, ""]


def program(title: str, script: str, *arguments: str) -> list[str]:
    """One of the programs beside this one, with what it printed."""
    code, output, spent = run([sys.executable, f"benchmarks/{script}", *arguments])
    said = " ".join(["python", f"benchmarks/{script}", *arguments])
    lines = [line.rstrip() for line in output.splitlines()]
    return [f"## {title}", "", f"`{said}`, exit {code}, {spent:.0f} s", "", "```", *lines, "```", ""]


def recorded() -> list[str]:
    """The tables of real-data errors."""
    lines = ["## What recorded flights and forecasts say", ""]
    data = SHARED / "data"
    if not (data / "sondes").is_dir():
        return [*lines, "Not run: no recorded flights beside this checkout.", ""]
    with tempfile.TemporaryDirectory() as folder:
        saved = Path(folder) / "tables.txt"
        code, output, spent = run([*COMMAND, "verify", str(data / "sondes"), str(data / "nwp"), "--out", str(saved)])
        text = saved.read_text(encoding="utf-8") if code == 0 else output
    table = [line.rstrip() for line in text.splitlines()]
    said = f"`pappus verify ../shared/data/sondes ../shared/data/nwp`, exit {code}, {spent:.0f} s"
    return [*lines, said, "", "```", *table, "```", ""]


def field_pack(folder: Path) -> list[str]:
    """The command itself: three sites, 48 h of window, 21 members, from a loopback centre; then a brief without it."""
    from oracle.centre_runs import Run
    from oracle.centre_server import CentreServer
    from pappus.plan import example_plan_text

    run_at = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(hours=9)
    run_at = run_at.replace(hour=run_at.hour // 6 * 6)
    opens = run_at + timedelta(hours=12)
    plan = example_plan_text()
    for old, hours in (("2027-02-13T11:00:00Z", 0), ("2027-02-13T12:30:00Z", 1), ("2027-02-13T16:00:00Z", 48)):
        plan = plan.replace(old, f"{opens + timedelta(hours=hours):%Y-%m-%dT%H:%M:%SZ}")
    third = (
        '[[site]]\nname = "C"\nplace = "invented"\nlatitude_deg = -37.9\nlongitude_deg = -65.2\nheight = "300 m"\n\n'
    )
    (folder / "flight.toml").write_text(plan.replace("[balloon]", third + "[balloon]", 1), encoding="utf-8")
    levels = (1000, 925, 850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30, 20, 10, 7, 5, 3)
    made = Run("gefs", run_at, tuple(range(0, 73, 3)), range(21), step_deg=5.0, levels_hpa=levels, decoys=6)
    watched = (
        "import resource, subprocess, sys\n"
        "code = subprocess.run(sys.argv[1:]).returncode\n"
        "print(code, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024)\n"
    )
    with CentreServer([made]) as server:
        command = [*COMMAND, "fetch", "flight.toml", "--centre", "gefs", "--address", server.url, "--members", "21"]
        _, output, spent = run([sys.executable, "-c", watched, *command], folder)
    code, peak = output.strip().splitlines()[-1].split()
    origin = next((file["origin"] for file in _manifest(folder) if file["kind"] == "winds"), "nothing fetched")
    brief_code, brief, _ = run([*COMMAND, "brief", "flight.toml"], folder)
    return [
        "## A field pack", "",
        f"`pappus fetch flight.toml --centre gefs --members 21` from a loopback centre, three sites, window of 48 h: "
        f"exit {code}, {spent:.0f} s, {origin.split(': ', 1)[-1]}; peak memory of the command {peak} MB. The invented "
        "fields are so small that gaps between them are moved along, and over plain http all is read twice: the ratio "
        "for fields of the usual size over https is below.",
        f"`pappus brief flight.toml` afterwards, the centre gone: exit {brief_code}.", "",
        "```", *brief.splitlines()[:3], "```", "",
    ]  # fmt: skip


def _manifest(folder: Path) -> list[dict[str, str]]:
    path = folder / "flight.pack" / "manifest.json"
    found: list[dict[str, str]] = json.loads(path.read_text(encoding="utf-8"))["files"] if path.exists() else []
    return found


FLIGHTS = {
    "Hungary, model levels": (46.9, 19.7, "2018-11-15T12:00:00Z", ("ecmwf_ifs_137ml_2018111412_f024_europe.grib2",)),
    "Spain, model levels": (39.6, -3.6, "2018-11-15T12:00:00Z", ("ecmwf_ifs_137ml_2018111412_f024_europe.grib2",)),
    "Hungary, pressure levels to 10 hPa": (46.9, 19.7, "2011-10-11T00:00:00Z", ("gfs_2p5deg_2011100800_f072.grib2",)),
    "Montana, four runs of a column": (
        46.92, -114.08, "2017-04-03T18:00:00Z",
        tuple(f"gfs_kmso_20170401{hour}_bufkit.txt.gz" for hour in ("00", "06", "12", "18")),
    ),
}  # fmt: skip


def forecasts(folder: Path) -> list[str]:
    """A large balloon through each real forecast: heights, areas, and what is said of them."""
    from cli.plans import LARGE_BALLOON, plan_at

    lines = ["## Flights through real forecasts", ""]
    if not (SHARED / "data" / "nwp").is_dir():
        return [*lines, "Not run: no forecasts beside this checkout.", ""]
    allow = ('# extrapolation_above_top = "5 km"', 'extrapolation_above_top = "14 km"')
    lines += ["| flight | known to km | top km (90 %) | 50 % area km² | 90 % area km² | without extrapolation |",
              "|--|--|--|--|--|--|"]  # fmt: skip
    said = []
    for name, (latitude, longitude, release, files) in FLIGHTS.items():
        plan = plan_at(latitude, longitude, "300 m", release, "UTC", *LARGE_BALLOON, allow)
        (folder / "flight.toml").write_text(plan, encoding="utf-8")
        winds = []
        for file in files:
            shutil.copyfile(SHARED / "data" / "nwp" / file, folder / file)
            winds += ["--winds", file]
        code, output, _ = run([*COMMAND, "brief", "flight.toml", "--json", *winds], folder)
        if code:
            lines.append(f"| {name} | exit {code}: {output.strip()} | | | | |")
            continue
        answer = json.loads(output)
        landing = answer["landing"]
        half, most = (area["area_km2"] for area in landing["areas"][:2])
        low, top, high = (value / 1000 for value in answer["top_msl_m"].values())
        narrow = landing["area_90_without_extrapolation_km2"]
        lines.append(
            f"| {name} | {answer['winds'][0]['top_msl_m'] / 1000:.1f} "
            f"| {top:.1f} ({low:.1f} to {high:.1f}) | {_km2(half)} | {_km2(most)} | {_km2(narrow)} |"
        )
        said += [f"- {name}: {line}" for line in answer["cannot_tell"] if "valid time" in line or "winds end" in line]
        moved = [run["from_newest_m"] / 1000 for run in landing["by_run"][1:] if run["from_newest_m"] is not None]
        said += [
            f"- {name}: nominal landings {', '.join(f'{km:.1f}' for km in moved)} km from the newest run's"
        ] * bool(moved)
    return [*lines, "", *said, ""]


def _km2(area: float | None) -> str:
    return "none" if area is None else f"{area:,.0f}"


def hand_outs(folder: Path) -> list[str]:
    """What GDAL, which is not ours, reads in the files of the example's folder."""
    lines = ["## Hand-outs read by GDAL", ""]
    if shutil.which("ogrinfo") is None:
        return [*lines, "Not run: no ogrinfo on this machine.", ""]
    lines += ["```"]
    for name in ("landing.geojson", "flight.kml", "flight.gpx"):
        _, output, _ = run(["ogrinfo", "-ro", "-al", "-so", str(folder / "trial" / "briefing" / name)])
        for line in output.splitlines():
            if line.startswith(("Layer name", "Feature Count", "Geometry", "Extent")) or 'ID["EPSG",4326]]' in line:
                lines.append(f"{name}: {line.strip()}")
    return [*lines, "```", ""]


Section = Callable[[], list[str]]


def example_and_winds() -> list[str]:
    """The commands on the example and on real forecasts."""
    folder = Path(tempfile.mkdtemp(prefix="pappus-evidence-"))
    try:
        return demo(folder) + hand_outs(folder) + forecasts(folder) + field_pack(folder)
    finally:
        shutil.rmtree(folder)


def run_of(title: str, script: str, *arguments: object) -> Section:
    """A program as a section."""
    return partial(program, title, script, *map(str, arguments))


PARTS: dict[str, tuple[str, str, tuple[Section, ...]]] = {
    "tests": ("verification-tests.md", "Verification: tests and the launch window", (
        run_of("The launch window", "window.py"), tests,
    )),
    "day": ("verification-day.md", "Verification: the flight day", (
        run_of("Random and damaged packets", "packet_fuzz.py", PACKETS),
        run_of("Kills, a full disk, many receivers", "store_kills.py", KILLS, SEED),
        run_of("Ten stations", "watch_load.py"),
    )),
    "prediction": ("verification-prediction.md", "Verification: re-prediction, warnings and the chase", (
        run_of("From a packet to the landing area", "repredict.py"),
        run_of("Re-prediction over simulated flights", "rehearsal_study.py", REHEARSED, 2),
        run_of("Warnings over rehearsed flights", "rehearsals.py", REHEARSED, 2),
        run_of("The chase", "chase.py", REHEARSED),
    )),
    "desk": ("verification-desk.md", "Verification: the desk", (
        run_of("The desk in a browser", "desk.py"), run_of("Three hours heard by ten stations", "desk_memory.py"),
        run_of("The wheel without Node", "wheel.py"),
    )),
    "before": ("verification.md", "Verification: before the flight", (
        example_and_winds, recorded, run_of("Reading forecasts", "read_forecast.py"),
        run_of("Fetching forecasts from a centre that misbehaves", "fault_runs.py", FAULT_RUNS, SEED),
    )),
}  # fmt: skip


def main() -> None:
    """Run the parts that are named, or all; what is finished of a part stands in its file."""
    for name in sys.argv[1:] or PARTS:
        file, title, sections = PARTS[name]
        lines, unfinished = header(title), ["Unfinished: the command is still running, or was stopped.", ""]
        for section in sections:
            lines += section()
            (ROOT / "docs" / file).write_text("\n".join([*lines, *unfinished]), encoding="utf-8")
        (ROOT / "docs" / file).write_text("\n".join(lines), encoding="utf-8")
        sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
