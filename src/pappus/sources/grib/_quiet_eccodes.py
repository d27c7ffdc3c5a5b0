"""ecCodes, told to keep its own error lines to itself: ours say what is wrong."""

from __future__ import annotations

import atexit
import os
from functools import cache
from typing import IO, Any


@cache
def quiet_eccodes() -> Any:
    """The module ``eccodes``, imported at the first call since that takes a while."""
    import eccodes

    eccodes.codes_context_set_logging(_nowhere())
    return eccodes


@cache  # ecCodes writes to this stream until the process ends: a collected one crashes the process
def _nowhere() -> IO[str]:
    stream = open(os.devnull, "w")  # noqa: SIM115 - closed at exit
    atexit.register(stream.close)
    return stream
