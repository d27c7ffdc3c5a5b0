"""One door for soundings of every format; the content tells the format, not the name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from pappus.errors import BadFile, Finding
from pappus.sources._files import FileBytes, is_netcdf, read_file
from pappus.sources.soundings._bufr import is_bufr, read_bufr
from pappus.sources.soundings._cf_sounding import read_cf_sounding
from pappus.sources.soundings._headed_table import is_headed_table, read_headed_table
from pappus.sources.soundings._igra import is_igra, read_igra
from pappus.sources.soundings._level_table import read_table
from pappus.sources.soundings._levels import RawSounding, build_sounding
from pappus.sources.soundings._profile_text import is_profile_text, read_profile_text
from pappus.sources.soundings._sounding import Sounding
from pappus.sources.soundings._station_list import is_station_list, read_station_list
from pappus.sources.soundings._tracker_table import is_tracker_table, read_tracker_table

MOST_FINDINGS = 10


def read_sounding(path: str | Path) -> list[Sounding]:
    """All soundings of a file, gzip-packed or not, in the order of the file.

    Read are BUFR (templates 3 09 052, 3 09 056, 3 09 057), netCDF along a time, text of the Integrated Global
    Radiosonde Archive version 2, tables of comma-separated values (their columns stand in ``_level_table``), and four
    forms of recorded flights (``_profile_text``, ``_headed_table``, ``_tracker_table``, ``_station_list``). A record of
    a whole flight gives its ascent and, where there is one, its descent as the sounding after it.

    A sounding that cannot be used is named in the notes of the others; when none can be used, or the file cannot be
    read, BadFile says why.
    """
    file = read_file(path)
    soundings: list[Sounding] = []
    refused: list[Finding] = []
    for found in _find(file):
        try:
            if isinstance(found, BadFile):
                raise found
            soundings.append(build_sounding(found, file))
        except BadFile as error:
            refused.extend(error.findings)
    if not soundings:
        raise BadFile(*refused[:MOST_FINDINGS])
    notes = [f"not used: {finding}" for finding in refused[:MOST_FINDINGS]]
    if len(refused) > MOST_FINDINGS:
        notes.append(f"not used: {len(refused) - MOST_FINDINGS} more soundings of this file")
    return [replace(sounding, notes=(*sounding.notes, *notes)) for sounding in soundings]


def _find(file: FileBytes) -> Iterable[RawSounding | BadFile]:
    if is_bufr(file):
        return read_bufr(file)
    if is_netcdf(file.content):
        return read_cf_sounding(file)
    if is_igra(file):
        return read_igra(file)
    if is_station_list(file):
        return read_station_list(file)
    if is_profile_text(file):
        return read_profile_text(file)
    if is_headed_table(file):
        return read_headed_table(file)
    if is_tracker_table(file):
        return read_tracker_table(file)
    return [read_table(file)]
