"""How the pieces of the kernel are compiled."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])

_compiler: Any = njit
_HOW: dict[str, Any] = {
    # not a number must stay what it is: neither "nnan" nor "ninf"
    "fastmath": {"contract", "reassoc", "nsz", "arcp", "afn"},
    "error_model": "numpy",
    # nothing is allocated inside; without this, threads queue up to count references to the cube
    "_nrt": False,
}
_codes: list[bytes] = []


def part(function: F) -> F:
    """A piece of the kernel, compiled into it."""
    code, around = function.__code__, function.__globals__
    numbers = [(name, around[name]) for name in code.co_names if isinstance(around.get(name), int | float)]
    _codes.append(code.co_code + repr((code.co_consts, code.co_names, numbers)).encode())
    return cast(F, _compiler(forceinline=True, **_HOW)(function))


def whole(function: F) -> F:
    """The outermost function, kept on disk; other threads may run while it does."""
    return cast(F, _compiler(cache=True, nogil=True, **_HOW)(function))


def fingerprint() -> int:
    """Changes with the code of any piece, and with the numbers that it takes from its file."""
    return zlib.crc32(b"".join(sorted(_codes)))  # in whatever order the files were read
