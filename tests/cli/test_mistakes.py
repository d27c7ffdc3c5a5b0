"""Forty ways to be wrong: each ends with exit code 2, one clear message, no traceback and no half-written folder."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from cli.conftest import Run
from pappus.plan import example_plan_text
from pappus.sources import invented_sounding_csv


@dataclass(frozen=True)
class Mistake:
    """What is done to the plan, to the winds and to the command; what the message must say."""

    says: tuple[str, ...]
    plan: Callable[[str], str | bytes] = lambda text: text
    winds: Callable[[str], str | bytes] = lambda text: text
    arguments: tuple[str, ...] = ()


def swap(old: str, new: str) -> Callable[[str], str]:
    def change(text: str) -> str:
        assert old in text, f"the example no longer holds {old!r}"
        return text.replace(old, new, 1)

    return change


def lines(keep: Callable[[int, str], bool]) -> Callable[[str], str]:
    return lambda text: "\n".join(line for i, line in enumerate(text.splitlines()) if keep(i, line)) + "\n"


def without_wind(text: str) -> str:
    return re.sub(r"^(\d[^,]*,[^,]*,[^,]*),.*$", r"\1,,", text, flags=re.MULTILINE)


def below(top_m: float) -> Callable[[str], str]:
    return lines(lambda _, line: not line[0].isdigit() or float(line.split(",")[0]) <= top_m)


MISTAKES = {
    "unit missing": Mistake(("balloon.mass", "1200", "unit"), swap('mass = "1200 g"', 'mass = "1200"')),
    "wrong dimension": Mistake(("balloon.mass", "speed"), swap('mass = "1200 g"', 'mass = "5 m/s"')),
    "number instead of text": Mistake(("balloon.mass",), swap('mass = "1200 g"', "mass = 1200")),
    "absurd mass": Mistake(("balloon.mass",), swap('mass = "1200 g"', 'mass = "1200 kg"')),
    "negative mass": Mistake(("balloon.mass",), swap('mass = "1200 g"', 'mass = "-1200 g"')),
    "nan": Mistake(("canopy.drag_coefficient",), swap("drag_coefficient = 0.8", "drag_coefficient = nan")),
    "infinite": Mistake(("canopy.area",), swap('area = "1.5 m2"', 'area = "inf m2"')),
    "two fills": Mistake(("fill",), swap('climb = "5 m/s"', 'climb = "5 m/s"\nvolume = "3.4 m3"')),
    "no fill": Mistake(("fill",), swap('climb = "5 m/s"', "")),
    "height without chance": Mistake(("fill",), swap('climb = "5 m/s"', 'height = "30 km"')),
    "mass for a lift": Mistake(("fill.scale_lift", "gf"), swap('climb = "5 m/s"', 'scale_lift = "2150 g"')),
    "chance above what early bursts leave": Mistake(
        ("chance",), swap('climb = "5 m/s"', 'height = "30 km"\nchance = "99 %"')
    ),
    "burst diameter below release diameter": Mistake(
        ("burst", "release"),
        lambda text: swap('mass = "1200 g"', 'mass = "150 g"')(
            swap('burst_diameter = "8.6 m"', 'burst_diameter = "1.9 m"')(
                swap('climb = "5 m/s"', 'volume = "4 m3"')(text)
            )
        ),
    ),
    "too little lift to leave the ground": Mistake(
        ("does not leave the ground",), swap('climb = "5 m/s"', 'volume = "2 m3"')
    ),
    "height out of reach": Mistake(("fill",), swap('climb = "5 m/s"', 'height = "45 km"\nchance = "80 %"')),
    "unknown key": Mistake(("balloon.colour",), swap('mass = "1200 g"', 'mass = "1200 g"\ncolour = "white"')),
    "misspelt key": Mistake(("burst_diameter",), swap("burst_diameter =", "burst_diametre =")),
    "unknown table": Mistake(("weather",), lambda text: text + '\n[weather]\nwind = "3 m/s"\n'),
    "missing table": Mistake(("canopy",), lambda text: re.sub(r"\[canopy\].*?(?=\n# The boxes)", "", text, flags=re.S)),
    "duplicate site": Mistake(("site", "A"), swap('name = "B"', 'name = "A"')),
    "latitude beyond the pole": Mistake(("latitude_deg",), swap("latitude_deg = -37.38", "latitude_deg = -97.38")),
    "unknown time zone": Mistake(("time_zone",), swap('"America/Argentina/Salta"', '"Pampa/Nowhere"')),
    "time without zone": Mistake(("window",), swap("opens = 2027-02-13T11:00:00Z", "opens = 2027-02-13T11:00:00")),
    "window closes before it opens": Mistake(
        ("window",), swap("closes = 2027-02-13T16:00:00Z", "closes = 2027-02-13T10:00:00Z")
    ),
    "decimal comma": Mistake(("balloon.burst_diameter",), swap('"8.6 m"', '"8,6 m"')),
    "toml syntax": Mistake(("line",), swap("[canopy]", "[canopy")),
    "binary junk as plan": Mistake(("flight.toml",), lambda _: bytes(range(256)) * 40),
    "huge plan": Mistake(("flight.toml",), lambda text: text + "# " + "x" * 2_000_000),
    "empty plan": Mistake(("flight.toml", "empty"), lambda _: "# nothing\n"),
    "binary junk as winds": Mistake(("winds.csv",), winds=lambda _: bytes(range(256)) * 40),
    "empty winds": Mistake(("winds.csv", "empty"), winds=lambda _: ""),
    "truncated bufr": Mistake(("winds.csv",), winds=lambda _: b"BUFR\x00\x10\x00\x04" + b"\x00" * 60),
    "damaged gzip": Mistake(("winds.csv", "gzip"), winds=lambda t: gzip.compress(t.encode())[:-400]),
    "sounding without wind": Mistake(("wind",), winds=without_wind),
    "sounding too low": Mistake(("winds", "end at"), winds=below(15_000.0)),
    "sounding of three levels": Mistake(("wind",), winds=lines(lambda i, line: not line[0].isdigit() or i < 10)),
    "sounding without position": Mistake(("latitude_deg",), winds=lines(lambda _, line: "itude_deg:" not in line)),
    "launch outside the coverage in place": Mistake(
        ("site A", "limits.sounding_distance"), swap('# sounding_distance = "200 km"', 'sounding_distance = "20 km"')
    ),
    "launch outside the coverage in time": Mistake(
        ("release", "limits.sounding_age"), winds=swap("2027-02-13T11:05:00Z", "2027-02-11T11:05:00Z")
    ),
    "no such site": Mistake(("--site", "Z"), arguments=("--site", "Z")),
    "release that is no time": Mistake(("--release",), arguments=("--release", "half past nine")),
    "lift that is no force": Mistake(("--lift-measured", "gf"), arguments=("--lift-measured", "2150 g")),
    "lift of a whale": Mistake(("--lift-measured",), arguments=("--lift-measured", "2150 kN")),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_mistake(name: str, pappus: Run, tmp_path: Path) -> None:
    mistake = MISTAKES[name]
    for file, content in (
        ("flight.toml", mistake.plan(example_plan_text())),
        ("winds.csv", mistake.winds(invented_sounding_csv())),
    ):
        data = content if isinstance(content, bytes) else content.encode()
        (tmp_path / file).write_bytes(data)
    before = sorted(path.name for path in tmp_path.iterdir())
    result = pappus("brief", "flight.toml", "--winds", "winds.csv", "--out", "answer", *mistake.arguments)
    said = re.sub(r"\s+", " ", result.stderr)
    assert result.returncode == 2, result.stderr + result.stdout
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert said.strip()
    for words in mistake.says:
        assert words in said
    assert sorted(path.name for path in tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("brief", "nowhere.toml", "--winds", "winds.csv"), "nowhere.toml"),
        (("brief", "flight.toml"), "--winds"),
        (("brief", "flight.toml", "--winds", "nowhere.csv"), "nowhere.csv"),
        (("plan", "check", "."), "folder"),
        (("verify", "nowhere"), "nowhere"),
        (("plan", "new", "flight.toml"), "exists"),
    ],
)
def test_missing_and_existing_files(arguments: tuple[str, ...], says: str, pappus: Run, tmp_path: Path) -> None:
    (tmp_path / "flight.toml").write_text(example_plan_text(), encoding="utf-8")
    (tmp_path / "winds.csv").write_text(invented_sounding_csv(), encoding="utf-8")
    result = pappus(*arguments)
    assert result.returncode == 2
    assert says in re.sub(r"\s+", " ", result.stderr)
    assert "Traceback" not in result.stderr
    assert (tmp_path / "flight.toml").read_text(encoding="utf-8") == example_plan_text()


def test_a_folder_with_other_files_is_never_replaced(pappus: Run, tmp_path: Path) -> None:
    (tmp_path / "flight.toml").write_text(example_plan_text(), encoding="utf-8")
    (tmp_path / "winds.csv").write_text(invented_sounding_csv(), encoding="utf-8")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "one.jpg").write_bytes(b"precious")
    result = pappus("brief", "flight.toml", "--winds", "winds.csv", "--out", "photos")
    assert result.returncode == 2
    assert "one.jpg" in result.stderr
    assert (tmp_path / "photos" / "one.jpg").read_bytes() == b"precious"
    assert [path.name for path in (tmp_path / "photos").iterdir()] == ["one.jpg"]
