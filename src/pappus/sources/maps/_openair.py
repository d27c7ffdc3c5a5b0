"""Airspace in the OpenAir text format: every block becomes a volume or a line that says why it did not.

Source: OpenAir extended specification, version 2.1.0 (2025-10-07). Distances are nautical miles, bearings true.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from pappus.airspace import AirspaceVolume
from pappus.errors import BadFile, Finding
from pappus.sources._files import bad_file, read_file
from pappus.sources.maps._one_line import one_line
from pappus.sources.maps._openair_block import Damage, Line, PointBudget, TooManyPoints, block_finding, read_block

_LARGEST_BYTES = 20_000_000
_LONGEST_LINE = 2_000
_MOST_BLOCKS = 20_000
_MOST_POINTS = 1_500_000
_MOST_FINDINGS = 10
_BLANK = " \x1a\ufeff"
"""Some editors end a file with a control-Z."""
_SPACES = {ord("\t"): " ", ord("\N{NO-BREAK SPACE}"): " "}
_COMMAND = re.compile(r"([A-Za-z]{1,2})(?:\s+(.*))?", re.DOTALL)
_TEXT_COMMANDS = frozenset({"AC", "AN", "AY", "AF", "AG", "AX", "AI", "AA"})
_TERRAIN = frozenset({"TO", "TC"})
_HARMLESS_OUTSIDE = frozenset({"SP", "SB", "V"})
"""Before the first block they set pens and variables; a block that relies on them is refused for its own reason."""

NO_END_MARK = (
    "The format has no end mark: a file cut off between two lines looks whole, so compare its last volume, {last}, "
    "with the source."
)


@dataclass(frozen=True, eq=False)
class AirspaceFile:
    """Volumes of an airspace file, and what in it is not among them."""

    name: str
    sha256: str
    volumes: tuple[AirspaceVolume, ...]
    not_understood: tuple[Finding, ...]
    """One line for each block that gave no volume: as long as there is any, the file does not show all airspace."""
    notes: tuple[str, ...]


def read_openair(path: str | Path) -> AirspaceFile:
    """All volumes of an OpenAir file, gzip-packed or not, with WGS84 outlines and typed limits.

    Raises BadFile when it cannot be read, is not OpenAir, or when not a single block was understood.
    """
    file = read_file(path, largest_bytes=_LARGEST_BYTES)
    if len(file.content) > _LARGEST_BYTES:
        reason = f"the file unpacks to more than {_LARGEST_BYTES / 1e6:.0f} MB"
        raise bad_file(file.name, reason, "Cut out the part for the place and day.")
    text = _decode(file.content)
    if "\x00" in text:
        raise bad_file(file.name, "this is not a text file", "Give an OpenAir text file in UTF-8.")
    rows = [raw.translate(_SPACES).strip(_BLANK) for raw in re.split(r"\r\n|\n|\r", text)]
    outside, blocks = _blocks(rows)
    if not blocks:
        reason = "no line begins an airspace (AC and a class)"
        raise bad_file(file.name, reason, "Give an OpenAir text file.")
    if len(blocks) > _MOST_BLOCKS:
        reason = f"it holds more than {_MOST_BLOCKS} blocks"
        raise bad_file(file.name, reason, "Cut out the part for the place.", value=str(len(blocks)))
    cut = bool(rows[-1]) and not rows[-1].startswith("*")
    volumes: list[AirspaceVolume] = []
    refused = _outside_findings(outside, file.name)
    notes: list[str] = []
    budget = PointBudget(_MOST_POINTS)
    for block in blocks:
        try:
            _refuse_whole(block, cut_short=cut and block is blocks[-1])
            volume, said = read_block(block, file.name, budget)
        except Damage as damage:
            refused.append(block_finding(block, damage, file.name))
            continue
        except TooManyPoints:
            reason = f"its outlines have more than {_MOST_POINTS} points, those of arcs included"
            raise bad_file(file.name, reason, "Cut out the part for the place.") from None
        volumes.append(volume)
        notes += said
    if not volumes:
        raise BadFile(*refused[:_MOST_FINDINGS])
    notes.append(NO_END_MARK.format(last=volumes[-1].name))
    return AirspaceFile(file.name, file.sha256, tuple(volumes), tuple(refused), tuple(notes))


def _decode(content: bytes) -> str:
    """UTF-8, or one byte a letter: names may come out wrong then, but no number does."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _blocks(rows: list[str]) -> tuple[list[Line], list[list[Line]]]:
    """Lines before the first block, and the blocks; a terrain outline is a block that will be refused."""
    outside: list[Line] = []
    blocks: list[list[Line]] = []
    for number, plain in enumerate(rows, 1):
        if not plain or plain.startswith("*"):
            continue
        line = _line(number, plain)
        if line.command == "AC" or line.command in _TERRAIN:
            blocks.append([line])
        elif blocks:
            blocks[-1].append(line)
        else:
            outside.append(line)
    return outside, blocks


def _line(number: int, plain: str) -> Line:
    """A line without a known form, or with control characters, has an empty command, which no block accepts."""
    known = len(plain) <= _LONGEST_LINE and plain.isprintable()
    found = _COMMAND.fullmatch(plain) if known else None
    terrain = plain[:2].upper()
    if known and terrain in _TERRAIN and plain[2:3] in ("{", " ", ""):
        return Line(number, terrain, plain[2:].strip())
    if found is None:
        return Line(number, "", one_line(plain))
    command, rest = found[1].upper(), (found[2] or "").strip()
    if command not in _TEXT_COMMANDS:
        rest = rest.partition("*")[0].strip()
    return Line(number, command, rest)


def _refuse_whole(block: list[Line], *, cut_short: bool) -> None:
    if block[0].command in _TERRAIN:
        raise Damage(block[0], "this is an outline of terrain, not airspace", "Take it out.")
    if cut_short:
        reason = "the file ends in the middle of a line, so the block may be cut short"
        raise Damage(block[-1], reason, "Get the file again; if it is whole, put an empty line at its end.")


def _outside_findings(lines: list[Line], file_name: str) -> list[Finding]:
    lost = [line for line in lines if line.command not in _HARMLESS_OUTSIDE]
    if not lost:
        return []
    first, last = lost[0], lost[-1]
    where = f"{file_name}, line {first.number}" + (f" to {last.number}" if last is not first else "")
    names = "; ".join(line.rest for line in lost if line.command == "AN")
    about = f" (airspace {names})" if names else ""
    reason = f"{len(lost)} line{'s' if len(lost) > 1 else ''} before the first AC{about} not understood"
    value = one_line(f"{first.command} {first.rest}", 80)
    return [Finding(where, value, reason, "Begin each block with AC.")]
