"""What is on a disk when the power goes: from the system calls of a real process.

A write counts only once its file was synced after it; a new name only once its folder was. Of what is not synced yet, a
disk may have kept any part, in any order: any subset of the writes, each cut anywhere between two sectors (512 octets).
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

TRACED = "openat,pwrite64,write,ftruncate,fsync,fdatasync,unlink,rename"
SECTOR = 512
_CALL = re.compile(r"^\d+ +(\w+)\((.*)\) += (-?\d+)(?:<((?:\\x[0-9a-f]{2})*)>)?")
_TEXT = re.compile(r"<((?:\\x[0-9a-f]{2})*)>|\"((?:\\x[0-9a-f]{2})*)\"")


@dataclass
class _File:
    content: bytearray = field(default_factory=bytearray)
    pending: list[tuple[int, bytes | None]] = field(default_factory=list)
    """Writes since the last sync: where and what; None for a truncation."""
    is_named: bool = False
    """Its folder was synced since it was made."""


class Disk:
    """One folder, fed with the lines of a trace."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._files: dict[str, _File] = {}

    def feed(self, lines: Iterable[str]) -> Iterator[bytes]:
        """Take the lines in; gives what was written to the standard output, each time at the moment of the write."""
        for line in lines:
            found = _CALL.match(line)
            if found is None or int(found[3]) < 0:
                continue
            name, given = found[1], found[2]
            texts = [_octets(one or other) for one, other in _TEXT.findall(given)]
            if name == "write" and given.startswith("1<"):
                yield texts[1]
            elif name == "openat" and "O_CREAT" in given:
                self._file(texts[1])
            elif name == "pwrite64":
                self._change(texts[0], int(given.rsplit(",", 1)[1]), texts[1])
            elif name == "ftruncate":
                self._change(texts[0], int(given.rsplit(",", 1)[1]), None)
            elif name in ("fsync", "fdatasync"):
                self._sync(Path(texts[0].decode()))
            elif name == "unlink":
                self._files.pop(Path(texts[0].decode()).name, None)

    def cut(self, folder: Path, chance: random.Random | None) -> None:
        """Write what the disk holds; without ``chance`` nothing that was not synced."""
        for name, file in self._files.items():
            if name.endswith("-shm") or not (file.is_named or (chance is not None and chance.random() < 0.5)):
                continue
            content = bytearray(file.content)
            if chance is not None:
                for place, octets in file.pending:
                    if chance.random() < 0.6:
                        whole = octets is None or chance.random() < 0.7
                        end = None if whole else SECTOR * chance.randrange(len(octets or b"") // SECTOR + 1)
                        _apply(content, place, octets if octets is None else octets[:end])
            (folder / name).write_bytes(content)

    def _file(self, path: bytes) -> _File | None:
        where = Path(path.decode())
        if where.parent != self._folder:
            return None
        return self._files.setdefault(where.name, _File())

    def _change(self, path: bytes, place: int, octets: bytes | None) -> None:
        file = self._file(path)
        if file is not None:
            file.pending.append((place, octets))

    def _sync(self, path: Path) -> None:
        if path == self._folder:
            for file in self._files.values():
                file.is_named = True
        elif path.parent == self._folder and path.name in self._files:
            file = self._files[path.name]
            for place, octets in file.pending:
                _apply(file.content, place, octets)
            file.pending.clear()


def _apply(content: bytearray, place: int, octets: bytes | None) -> None:
    if octets is None:
        del content[place:]
        return
    content.extend(bytes(max(0, place - len(content))))
    content[place : place + len(octets)] = octets


def _octets(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))
