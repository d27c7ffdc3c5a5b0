"""Files that appear whole or not at all, and parts that a broken download can go on from.

A file is written under a temporary name, flushed to the disk and renamed. A part carries the digest of its content in
its first line, so one that a crash of the machine left half written is taken for missing.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import time
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from pappus.sources.centres._rules import not_fetched

_TEMPORARY = ".unfinished-"
_OLD_S = 3600.0
_OLD_PART_S = 5.0 * 86_400.0


def write_whole(path: Path, pieces: Iterable[bytes]) -> str:
    """Write a file at once and give its SHA-256; NotFetched when the disk does not take it, with nothing left over."""
    digest = hashlib.sha256()
    temporary: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=_TEMPORARY)
        with os.fdopen(handle, "wb") as file:
            for piece in pieces:
                digest.update(piece)
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
        temporary = None
    except OSError as error:
        fix = "Make room or choose another folder; what was fetched is kept, and the next try goes on from it."
        raise not_fetched(str(path.parent), f"the disk does not take the file ({error.strerror})", fix) from None
    finally:
        if temporary is not None:
            with suppress(OSError):
                os.unlink(temporary)
    return digest.hexdigest()


def keep_part(path: Path, head: dict[str, Any], content: bytes) -> None:
    """Keep some content with what is known about it."""
    line = json.dumps({**head, "sha256": hashlib.sha256(content).hexdigest(), "octets": len(content)})
    write_whole(path, (line.encode("ascii") + b"\n", content))


def load_part(path: Path) -> tuple[dict[str, Any], bytes] | None:
    """A part, None when there is none or it is damaged."""
    try:
        line, _, content = path.read_bytes().partition(b"\n")
        head = json.loads(line)
        digest = hashlib.sha256(content).hexdigest()
        return (head, content) if head["sha256"] == digest and head["octets"] == len(content) else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def sha256_of(path: Path) -> str | None:
    """Digest of a file, None when it cannot be read."""
    try:
        with open(path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def sweep(folder: Path) -> None:
    """Remove what killed processes left and parts that nobody came back for; not the young, which may be in use."""
    for pattern, old_s in ((f"{_TEMPORARY}*", _OLD_S), ("*.part", _OLD_PART_S)):
        for path in folder.glob(pattern):
            with suppress(OSError):
                if time.time() - path.stat().st_mtime > old_s:
                    path.unlink()


def remove(paths: Iterable[Path]) -> None:
    """Remove files that are no longer needed, if they are there."""
    for path in paths:
        with suppress(OSError):
            path.unlink()
