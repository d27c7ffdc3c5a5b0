"""OpenAir: every command, and every block that is not understood is named with its line and the reason."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from pappus.errors import BadFile
from pappus.sources import AirspaceFile, read_openair

HEAD = "AC R\nAN TESTVIK\nAL GND\nAH FL100\n"
SQUARE = "DP 45:00:00N 007:00:00E\nDP 45:00:00N 007:05:00E\nDP 45:05:00N 007:05:00E\nDP 45:05:00N 007:00:00E\n"
GOOD = "AC D\nAN OSTERVANG\nAL 1000 ft\nAH 5000 ft\n" + SQUARE.replace("007", "008")
CENTRE = "V X=45:00:00N 007:00:00E\n"


def read(tmp_path: Path, text: str | bytes) -> AirspaceFile:
    path = tmp_path / "areas.txt"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_openair(path)


@pytest.mark.parametrize(
    ("text", "kind", "height_m"),
    [
        ("SFC", "surface", 0.0),
        ("gnd", "surface", 0.0),
        ("FL195", "pressure", 5943.6),
        ("FL 65", "pressure", 1981.2),
        ("1500ft AMSL", "msl", 457.2),
        ("1500 FT MSL", "msl", 457.2),
        ("4500", "msl", 1371.6),
        ("17999 ft", "msl", 5486.0952),
        ("1500F", "msl", 457.2),
        ("300m AGL", "ground", 300.0),
        ("300 M GND", "ground", 300.0),
        ("2000ft SFC", "ground", 609.6),
        ("1200.5 m AMSL", "msl", 1200.5),
        ("10000ft STD", "pressure", 3048.0),
        ("UNL", "unlimited", np.inf),
        ("UNLIMITED", "unlimited", np.inf),
        ("ASK ON 123.450", "unknown", np.nan),
        ("FL", "unknown", np.nan),
        ("FL1000", "unknown", np.nan),
        ("1,500 ft", "unknown", np.nan),
        ("-100 ft", "unknown", np.nan),
        ("1500 yards", "unknown", np.nan),
        ("12 km", "unknown", np.nan),
        ("", "unknown", np.nan),
    ],
)
def test_limits(tmp_path: Path, text: str, kind: str, height_m: float) -> None:
    ceiling = kind not in ("surface",)
    lines = f"AL SFC\nAH {text}\n" if ceiling else f"AL {text}\nAH FL100\n"
    found = read(tmp_path, f"AC R\nAN TESTVIK\n{lines}{SQUARE}")
    limit = found.volumes[0].ceiling if ceiling else found.volumes[0].floor
    assert limit.kind == kind
    assert limit.text == text
    assert limit.height_m == pytest.approx(height_m, nan_ok=True)
    said = [note for note in found.notes if "TESTVIK, line 1: ceiling" in note]
    assert len(said) == (kind == "unknown")


def test_a_block_without_limits_is_a_volume_of_which_nothing_is_sure(tmp_path: Path) -> None:
    found = read(tmp_path, "AC R\nAN TESTVIK\n" + SQUARE)
    inside = found.volumes[0].positions_inside(45.02, 7.02, 100.0, ground_msl_m=0.0, pressure_altitude_m=100.0)
    assert inside.cannot_tell
    assert sum("not understood" in note for note in found.notes) == 2


def test_comments_pens_remarks_and_line_ends(tmp_path: Path) -> None:
    text = (
        "* made up\r\n\r\nAC R\r\nAY TRA\r\nAN TESTVIK *3*\r\nAF 123.450\r\nAA 2026-06-14T06:00Z/2026-06-14T12:00Z\r\n"
        "AL GND\r\nAH FL100 * by day\r\nSP 0,1,255,0,0\r\nSB 255,255,255\r\nAT 45:00:00N 007:00:00E\r\nV Z=100\r\n"
        "DP 45:00:00N 007:00:00E * corner\r\nDP 45:00:00N 007:05:00E\r\ndp 45:05:00N 007:05:00E\r\n\x1a"
    )
    found = read(tmp_path, text + "\r\n")
    (volume,) = found.volumes
    assert volume.name == "TESTVIK *3*"
    assert volume.origin == "areas.txt, line 3"
    assert volume.ceiling.text == "FL100"
    assert volume.remarks == ("AY TRA", "AF 123.450", "AA 2026-06-14T06:00Z/2026-06-14T12:00Z")
    assert volume.outline.points == 3
    assert found.not_understood == ()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
def test_letters_of_other_languages(tmp_path: Path, encoding: str) -> None:
    found = read(tmp_path, HEAD.replace("TESTVIK", "ÅRØSUND\xa0– NORD").encode(encoding) + SQUARE.encode())
    assert found.volumes[0].name == "ÅRØSUND – NORD"


def test_direction_starts_clockwise_in_each_block(tmp_path: Path) -> None:
    arc = CENTRE + "DP 45:00:00N 007:00:00E\nDA 5,0,90\n"
    text = (
        HEAD + "V D=-\n" + arc + HEAD.replace("TESTVIK", "TWO") + arc + HEAD.replace("TESTVIK", "3") + "V D=+\n" + arc
    )
    three_quarters, quarter, again = (volume.outline.area_m2 for volume in read(tmp_path, text).volumes)
    assert three_quarters == pytest.approx(3.0 * quarter, rel=3e-3)
    assert again == pytest.approx(quarter)


def test_arc_between_points(tmp_path: Path) -> None:
    """Half a disc of 5 nautical miles: the ends lie 5 minutes of latitude north and south of the centre."""
    text = HEAD + CENTRE + "DB 45:05:00N 007:00:00E, 44:55:00N 007:00:00E\n"
    (half,) = read(tmp_path, text).volumes
    assert half.outline.area_m2 == pytest.approx(0.5 * np.pi * (5.0 * 1852.0) ** 2, rel=5e-3)
    assert half.outline.contains(45.0, [7.05, 6.95]).tolist() == [True, False]
    (other,) = read(tmp_path, text.replace(CENTRE, "V D=-\n" + CENTRE)).volumes
    assert other.outline.contains(45.0, [7.05, 6.95]).tolist() == [False, True]


def test_full_turn_of_an_arc_is_a_circle(tmp_path: Path) -> None:
    turn, circle = (
        read(tmp_path, HEAD + CENTRE + line).volumes[0].outline.area_m2 for line in ("DA 5,0,360\n", "DC 5\n")
    )
    assert turn == pytest.approx(circle)


def test_airway(tmp_path: Path) -> None:
    text = HEAD + "V W=5\nDY 45:00:00N 007:00:00E\nDY 46:00:00N 007:00:00E\nDY 46:00:00N 008:00:00E\n"
    (airway,) = read(tmp_path, text).volumes
    # from memory: the width goes from edge to edge
    assert airway.outline.contains([45.5, 45.5, 45.5], [7.0, 7.05, 7.07]).tolist() == [True, True, False]
    assert airway.outline.contains([44.99, 46.03, 46.05], [7.0, 7.5, 7.5]).tolist() == [False, True, False]


def test_over_the_date_line(tmp_path: Path) -> None:
    text = HEAD + "V X=17:30:00S 179:58:00E\nDC 10\n"
    (volume,) = read(tmp_path, text).volumes
    assert volume.outline.contains(-17.5, [179.9, -179.95, 180.0, 0.0]).tolist() == [True, True, True, False]
    assert volume.outline.area_m2 == pytest.approx(np.pi * 18_520.0**2, rel=3e-3)


BROKEN = {
    "unknown command": (HEAD + SQUARE + "DX 45\n", 9, "not known"),
    "line without a command": (HEAD + "45:00:00N 007:00:00E\n" + SQUARE, 5, "not known"),
    "control characters in a name": (HEAD + SQUARE + "AN \x1b[31mTWO\n", 9, "not known"),
    "very long line": (HEAD + SQUARE + "DP " + "4" * 3000 + "\n", 9, "not known"),
    "nothing drawn": (HEAD, 1, "draws nothing"),
    "two points": (HEAD + "".join(SQUARE.splitlines(keepends=True)[:2]), 1, "three points"),
    "outline that crosses itself": (
        HEAD + "".join(SQUARE.splitlines(keepends=True)[i] for i in (0, 2, 1, 3)),
        1,
        "crosses itself|its parts cancel",
    ),
    "no area": (HEAD + SQUARE.replace("45:05", "45:00"), 1, "three different points"),
    "letters of the hemisphere exchanged": (HEAD + SQUARE.replace("N", "E", 1), 5, "not a latitude"),
    "no hemisphere": (HEAD + SQUARE.replace("E", "", 1), 5, "not a latitude"),
    "sixty minutes": (HEAD + SQUARE.replace("45:05", "45:60"), 7, "below 60"),
    "latitude of 91": (HEAD + SQUARE.replace("45:05", "91:05"), 7, "beyond 90"),
    "longitude of 181": (HEAD + SQUARE.replace("007:05", "181:05"), 6, "beyond 180"),
    "fraction of a degree before minutes": (HEAD + SQUARE.replace("45:05", "45.5:05"), 7, "fraction"),
    "point in another hemisphere": (HEAD + SQUARE.replace("45:05:00N 007:05", "45:05:00S 007:05"), 1, "too far apart"),
    "circle without centre": (HEAD + "DC 5\n", 5, "no centre"),
    "arc without centre": (HEAD + "DA 5,0,90\n", 5, "no centre"),
    "arc to a point without centre": (HEAD + "DB 45:00:00N 007:00:00E, 45:05:00N 007:00:00E\n", 5, "no centre"),
    "arc with two numbers": (HEAD + CENTRE + "DA 5,0\n", 6, "3 numbers"),
    "arc with a bearing of 400": (HEAD + CENTRE + "DA 5,0,400\n", 6, "0 to 360"),
    "arc of nothing": (HEAD + CENTRE + "DA 5,90,90\n", 6, "one bearing"),
    "arc whose ends fit no circle": (
        HEAD + CENTRE + "DB 45:05:00N 007:00:00E, 45:20:00N 007:00:00E\n",
        6,
        "different distances",
    ),
    "circle of no radius": (HEAD + CENTRE + "DC 0\n", 6, "radius"),
    "circle larger than a continent": (HEAD + CENTRE + "DC 5000\n", 6, "radius"),
    "circle with a word": (HEAD + CENTRE + "DC five\n", 6, "not a number"),
    "circle with a sign": (HEAD + CENTRE + "DC -5\n", 6, "not a number"),
    "two circles": (HEAD + CENTRE + "DC 5\nDC 6\n", 7, "second circle"),
    "circle and points": (HEAD + CENTRE + "DC 5\n" + SQUARE, 1, "mixed"),
    "airway without width": (HEAD + "DY 45:00:00N 007:00:00E\n", 5, "no width"),
    "airway of one point": (HEAD + "V W=5\nDY 45:00:00N 007:00:00E\n", 1, "two or more"),
    "airway that stands still": (HEAD + "V W=5\n" + "DY 45:00:00N 007:00:00E\n" * 2, 1, "part of a corridor"),
    "airway of very many points": (HEAD + "V W=5\n" + "DY 45:00:00N 007:00:00E\n" * 51, 56, "more than 50"),
    "unknown variable": (HEAD + "V Q=5\n" + SQUARE, 5, "not a variable"),
    "direction that is none": (HEAD + "V D=left\n" + SQUARE, 5, "clockwise"),
    "ceiling below the floor": (HEAD.replace("GND", "FL200") + SQUARE, 1, "not below the ceiling"),
    "ceiling on the ground": (HEAD.replace("FL100", "GND") + SQUARE, 1, "nothing is between"),
    "no class": (HEAD.replace("AC R", "AC") + SQUARE, 1, "class"),
    "head of the next block lost": (HEAD + SQUARE + "AN TWO\nAL GND\nAH FL50\n" + SQUARE, 9, "second AN"),
    "head of the next block spoilt": (HEAD + SQUARE + "A C D\nAN TWO\nAL GND\nAH FL50\n" + SQUARE, 9, "not known"),
    "outline of terrain": ("TO {RIDGE}\n" + SQUARE, 1, "terrain"),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_a_broken_block_is_named_and_the_others_stay(tmp_path: Path, kind: str) -> None:
    text, line, reason = BROKEN[kind]
    after = read(tmp_path, text + GOOD)
    assert [volume.name for volume in after.volumes] == ["OSTERVANG"]
    (finding,) = after.not_understood
    assert finding.field == f"areas.txt, line {line}"
    assert re.search(reason, finding.reason), finding.reason
    assert finding.fix.endswith(".")
    assert str(finding).isprintable()
    for name in ("TESTVIK", "TWO") if "\x1b" not in text else ("TESTVIK",):
        assert (name in text) == (name in finding.reason)


def test_only_broken_blocks_is_a_bad_file(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="draws nothing"):
        read(tmp_path, HEAD)


def test_a_name_that_is_missing_does_not_lose_the_volume(tmp_path: Path) -> None:
    assert read(tmp_path, HEAD.replace("AN TESTVIK\n", "") + SQUARE).volumes[0].name == "unnamed, line 1"


def test_lines_before_the_first_block(tmp_path: Path) -> None:
    found = read(tmp_path, "SP 0,1,2,3,4\nV D=+\nAN LOST\nDC 5\n" + HEAD + SQUARE)
    (finding,) = found.not_understood
    assert (finding.field, finding.value) == ("areas.txt, line 3 to 4", "AN LOST")
    assert finding.reason == "2 lines before the first AC (airspace LOST) not understood"


def test_a_file_that_ends_inside_a_line(tmp_path: Path) -> None:
    """``DC 4`` may have been ``DC 4.5``: without a line end nobody can tell."""
    found = read(tmp_path, GOOD + HEAD + CENTRE + "DC 4")
    assert [volume.name for volume in found.volumes] == ["OSTERVANG"]
    assert "middle of a line" in found.not_understood[0].reason
    for end in ("\n", "\r", "\n\x1a", "\n* a comment"):
        assert read(tmp_path, GOOD + HEAD + CENTRE + "DC 4" + end).not_understood == ()


def test_the_last_volume_is_to_be_compared(tmp_path: Path) -> None:
    assert any("no end mark" in note and "OSTERVANG" in note for note in read(tmp_path, GOOD).notes)


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "empty"),
        (b"hello\n", "no line begins an airspace"),
        (b"AC R\x00\nAN A\n", "not a text file"),
        (HEAD.encode("utf-16"), "not a text file"),
        (b"AC R\n" * 20_001, "more than 20000 blocks"),
        (b"<html><body>Error 503</body></html>", "no line begins an airspace"),
    ],
)
def test_files_that_are_none(tmp_path: Path, content: bytes, reason: str) -> None:
    with pytest.raises(BadFile, match=reason):
        read(tmp_path, content)


def test_a_short_line_cannot_ask_for_any_number_of_points(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pappus.sources.maps._openair._MOST_POINTS", 5_000)
    with pytest.raises(BadFile, match="more than 5000 points"):
        read(tmp_path, HEAD + CENTRE + "DA 900,0,359\n" * 10)
    with pytest.raises(BadFile, match="more than 5000 points"):
        read(tmp_path, (HEAD + CENTRE + "DC 900\n") * 10)
