"""OpenAir cut anywhere, with lines lost or spoilt, or of random bytes: listed or refused, never a traceback."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.errors import BadFile, Finding
from pappus.sources import AirspaceFile, read_openair

TEXT = (
    "* made up\n"
    "AC R\nAN OSTERVANG RANGE\nAL GND\nAH FL100\nV X=45:30:00 N 007:15:30 E\nDC 4.5\n\n"
    "AC D\nAN TESTVIK CTR\nAL SFC\nAH 2500ft AMSL\nV X=45:10:00N 007:20:00E\nDP 45:10:00N 007:20:00E\nDA 10,0,90\n\n"
    "AC Q\nAN NORDHOLM\nAL 300m AGL\nAH UNL\nV D=-\nV X=45:10:00N 008:20:00E\n"
    "DB 45:15:00N 008:20:00E, 45:05:00N 008:20:00E\n\n"
    "AC C\nAN AIRWAY FIVE\nAL FL95\nAH FL195\nV W=5\nDY 45:00:00N 007:00:00E\nDY 46:00:00N 007:00:00E\n"
)
NAMES = re.findall(r"^AN (.*)$", TEXT, re.MULTILINE)


def read(content: bytes) -> AirspaceFile | tuple[Finding, ...]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "areas.txt"
        path.write_bytes(content)
        try:
            return read_openair(path)
        except BadFile as error:
            return error.findings


def looks(found: AirspaceFile) -> dict[str, tuple[object, ...]]:
    """What tells a volume from a spoilt one."""
    return {
        v.name: (v.kind, v.floor, v.ceiling, v.outline.points, round(v.outline.area_m2), v.outline.bounds_deg)
        for v in found.volumes
    }


def whole() -> dict[str, tuple[object, ...]]:
    found = read(TEXT.encode())
    assert isinstance(found, AirspaceFile)
    assert found.not_understood == ()
    return looks(found)


WHOLE = whole()


def findings_of(found: AirspaceFile | tuple[Finding, ...]) -> str:
    findings = found.not_understood if isinstance(found, AirspaceFile) else found
    assert findings or isinstance(found, AirspaceFile)
    return "\n".join(str(f) for f in findings)


def test_the_text_holds_what_the_tests_below_cut() -> None:
    assert list(WHOLE) == NAMES


@pytest.mark.parametrize("part", range(4))
def test_cut_at_any_byte(part: int) -> None:
    """No volume comes out other than it is, unless the cut falls between two lines, which no reader can see.

    Then the note on the missing end mark names the volume to compare.
    """
    seen_between_lines = 0
    for length in range(part, len(TEXT), 4):
        cut = TEXT[:length]
        found = read(cut.encode())
        said = findings_of(found)
        volumes = looks(found) if isinstance(found, AirspaceFile) else {}
        for name, look in volumes.items():
            if look != WHOLE.get(name):
                assert cut.endswith("\n"), (length, name)
                assert isinstance(found, AirspaceFile)
                assert any("no end mark" in note and name in note for note in found.notes)
                seen_between_lines += 1
        for name in re.findall(r"^AN (.*)\n", cut, re.MULTILINE):
            assert name in volumes or name in said, (length, name)
    assert seen_between_lines <= 3


@given(st.sets(st.integers(0, len(TEXT.splitlines()) - 1), max_size=6))
@settings(max_examples=60)
def test_lines_lost_never_lose_a_name(lost: set[int]) -> None:
    """Whatever lines are gone: a name that is still there shows as a volume or in a finding."""
    kept = [line for number, line in enumerate(TEXT.splitlines()) if number not in lost]
    found = read(("\n".join(kept) + "\n").encode())
    said = findings_of(found)
    volumes = looks(found) if isinstance(found, AirspaceFile) else {}
    for line in kept:
        if line.startswith("AN "):
            assert line[3:] in volumes or line[3:] in said, line


@given(st.integers(0, len(TEXT) - 1), st.binary(min_size=1, max_size=3))
@settings(max_examples=100)
def test_bytes_overwritten(place: int, bytes_: bytes) -> None:
    content = TEXT.encode()
    found = read(content[:place] + bytes_ + content[place + len(bytes_) :])
    if isinstance(found, AirspaceFile):
        others = {name: look for name, look in looks(found).items() if WHOLE.get(name) != look}
        # one place can spoil one block, or join two; digits that become other digits nobody can see
        assert len(others) <= 1


@given(st.binary(max_size=400))
@settings(max_examples=100)
def test_random_bytes(content: bytes) -> None:
    read(content)
    read(b"AC R\n" + content + b"\n")


COMMANDS = st.sampled_from(["AC", "AN", "AL", "AH", "V", "DP", "DA", "DB", "DC", "DY", "TO", "SP", "*", "ZZ", ""])
ARGUMENTS = st.one_of(
    st.sampled_from([
        "R", "FL100", "SFC", "UNL", "X=45:00:00N 007:00:00E", "D=-", "W=5", "5", "900", "5,0,90", "900,0,359.9",
        "45:00:00N 007:00:00E", "45:00:00N 007:10:00E", "45:10:00N 007:05:00E", "90:00:00N 180:00:00W",
        "45:00:00N 007:10:00E, 45:00:00N 006:50:00E", "0:0:0N 0:0:0E", "89:59:59S 179:59:59E",
    ]),
    st.text(max_size=30),
)  # fmt: skip


@given(st.lists(st.tuples(COMMANDS, ARGUMENTS), max_size=25))
@settings(max_examples=100)
def test_any_order_of_lines(lines: list[tuple[str, str]]) -> None:
    text = "".join(f"{command} {argument}\n" for command, argument in lines)
    found = read(("AC R\n" + text).encode())
    if isinstance(found, AirspaceFile):
        assert all(0.0 < volume.outline.area_m2 < 5.2e14 for volume in found.volumes)
