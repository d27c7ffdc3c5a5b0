"""The content of a store as plain files that any program reads."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from pappus.store._errors import bad_store
from pappus.store._lines import to_lines
from pappus.store._records import Record
from pappus.tracking import Heard

_CSV_HEAD = ("heard_utc", "receiver", "counter", "kind", "role", "signal_db", "digest", "raw_text", "raw_hex")


def export_to(path: Path, packets: Iterable[Heard], records: Iterable[Record]) -> None:
    """``.jsonl``: everything, and it can be taken back. ``.csv``: the packets as a table."""
    if path.suffix == ".jsonl":
        _write(path, _everything(packets, records))
    elif path.suffix == ".csv":
        _write(path, _table(packets))
    else:
        raise bad_store(path, "its ending names no form of export", "Let it end in .jsonl (all) or .csv (packets).")


def _everything(packets: Iterable[Heard], records: Iterable[Record]) -> Iterator[bytes]:
    yield from to_lines(packets)
    yield from to_lines(records)


def _table(packets: Iterable[Heard]) -> Iterator[bytes]:
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\r\n")  # as RFC 4180 has it
    table.writerow(_CSV_HEAD)
    for heard in packets:
        strength = "" if heard.signal_db is None else repr(heard.signal_db)
        raw = heard.raw.decode("latin-1").encode("unicode_escape").decode()
        names = (_harmless(heard.receiver), heard.counter, _harmless(heard.kind), _harmless(heard.role))
        row = (heard.heard_utc.isoformat(), *names, strength, heard.digest, _harmless(raw), heard.raw.hex())
        table.writerow(row)
        yield text.getvalue().encode()
        text.seek(0)
        text.truncate()
    yield text.getvalue().encode()


def _harmless(text: str) -> str:
    """Anybody can send a packet: a spreadsheet must not take its text for a formula."""
    return "'" + text if text[:1] in ("=", "+", "-", "@") else text


def _write(path: Path, pieces: Iterable[bytes]) -> None:
    """The file appears whole or not at all."""
    unfinished = path.with_name(path.name + ".unfinished")
    try:
        with unfinished.open("wb") as file:
            for piece in pieces:
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
        os.replace(unfinished, path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise bad_store(path, f"it cannot be written ({error.strerror})", "Make room or give another place.") from None
