"""Bytes of a file that somebody gave us, read with care: nothing is trusted before it is measured."""

from __future__ import annotations

import gzip
import hashlib
import io
import zlib
from dataclasses import dataclass
from pathlib import Path

from pappus.errors import BadFile, Finding

LARGEST_FILE_BYTES = 50_000_000
LARGEST_UNPACKED_BYTES = 200_000_000
_GZIP_MAGIC = b"\x1f\x8b"


@dataclass(frozen=True)
class FileBytes:
    """Content of one file; ``sha256`` is that of the file as it lies on disk, before unpacking."""

    name: str
    sha256: str
    content: bytes


def bad_file(name: str, reason: str, fix: str, *, value: str = "") -> BadFile:
    """One finding about a file as a whole."""
    return BadFile(Finding(name, value, reason, fix))


def read_file(path: str | Path, *, largest_bytes: int = LARGEST_FILE_BYTES) -> FileBytes:
    """Read a file, gzip-packed or not; raises BadFile for anything that is not a readable file of sensible size."""
    path = Path(path)
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise bad_file(name, "this is a folder, not a file", "Name one file.")
        size = path.stat().st_size
        if size > largest_bytes:
            raise bad_file(
                name,
                f"the file is larger than {largest_bytes / 1e6:.0f} MB",
                "Cut out the part for the place and day.",
                value=f"{size / 1e6:.0f} MB",
            )
        if not path.is_file():
            raise bad_file(name, "this is not a regular file", "Name one file.")
        packed = path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a NUL in the path
        reason = "there is no such file" if isinstance(error, FileNotFoundError) else f"it cannot be read ({error})"
        raise bad_file(name, reason, "Check the path and the permissions.") from None
    content = _unpack(name, packed) if packed.startswith(_GZIP_MAGIC) else packed
    if not content.strip():
        raise bad_file(name, "the file is empty", "Get the file again.")
    return FileBytes(name, hashlib.sha256(packed).hexdigest(), content)


def _unpack(name: str, packed: bytes) -> bytes:
    """Unpack gzip with a limit, since a small packed file may hold any number of bytes."""
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(packed)) as stream:
            content = stream.read(LARGEST_UNPACKED_BYTES + 1)
    except (EOFError, OSError, zlib.error) as error:
        raise bad_file(name, f"the gzip packing is damaged ({error})", "Get the file again.") from None
    if len(content) > LARGEST_UNPACKED_BYTES:
        reason = f"the file unpacks to more than {LARGEST_UNPACKED_BYTES / 1e6:.0f} MB"
        raise bad_file(name, reason, "Cut out the part for the place and day.")
    return content


def is_netcdf(head: bytes) -> bool:
    """True for the classic formats and for netCDF-4, which is HDF5."""
    return head.startswith((b"CDF\x01", b"CDF\x02", b"CDF\x05", b"\x89HDF\r\n\x1a\n"))
