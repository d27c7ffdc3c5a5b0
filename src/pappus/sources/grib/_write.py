"""Writes ensemble fields as GRIB edition 2, marked as test products of no centre.

Sections and code tables: WMO-No. 306, Manual on Codes, volume I.2, FM 92 GRIB edition 2 (from memory): templates 4.1
and 4.11, tables 1.3, 1.4, 4.5, 4.6, 4.10. The encoding itself is done by ecCodes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pappus.sources.grib._quiet_eccodes import quiet_eccodes

Array = NDArray[np.float64]

BITS = 16
"""Of each packed value: a range of 300 m is kept to 5 mm."""
NO_CENTRE = 255
TEST_PRODUCTS = 1
CONTROL_AND_PERTURBED = 5
CONTROL, POSITIVELY_PERTURBED = 1, 3
GROUND, TOP_OF_AIR, ISOBARIC, ABOVE_GROUND, NOTHING = 1, 8, 100, 103, 255
_INSTANT, _WINDOW = 1, 11
_SUM = 1


class Quantity(NamedTuple):
    """What a field holds, by the numbers of discipline 0 (meteorology)."""

    category: int
    number: int
    surface: int
    """GROUND, ISOBARIC or ABOVE_GROUND."""
    level: int = 0
    """Pa on ISOBARIC, m ABOVE_GROUND."""
    up_to: int = NOTHING
    """Second surface of a layer: TOP_OF_AIR."""
    is_sum: bool = False
    """Summed since the run began."""


class Ensemble(NamedTuple):
    """What all fields of a run share."""

    run: datetime
    members: int
    step_h: Sequence[int]
    latitude_deg: Array
    """Ascending, evenly spaced."""
    longitude_deg: Array
    """Ascending, evenly spaced."""
    remark: str
    """ASCII text, carried by every message in its section for local use."""


def write_grib(path: Path, ensemble: Ensemble, fields: Iterable[tuple[Quantity, Array]]) -> None:
    """Write fields [member, step, latitude, longitude]; member 0 is the control.

    A field with fewer members or steps than the ensemble holds the first ones only.
    """
    codes = quiet_eccodes()
    template = _template(codes, ensemble)
    try:
        with open(path, "wb") as file:
            for quantity, values in fields:
                handle = codes.codes_clone(template)
                try:
                    _set_quantity(codes, handle, quantity)
                    for member, steps in enumerate(values):
                        for hours, grid in zip(ensemble.step_h, steps, strict=False):
                            file.write(_message(codes, handle, quantity, member, hours, grid))
                finally:
                    codes.codes_release(handle)
    finally:
        codes.codes_release(template)


def _message(codes: Any, handle: int, quantity: Quantity, member: int, hours: int, grid: Array) -> bytes:
    codes.codes_set_long(handle, "typeOfEnsembleForecast", CONTROL if member == 0 else POSITIVELY_PERTURBED)
    codes.codes_set_long(handle, "perturbationNumber", member)
    if quantity.is_sum:
        codes.codes_set_string(handle, "stepRange", f"0-{hours}")
    else:
        codes.codes_set_long(handle, "forecastTime", hours)
    codes.codes_set_double_array(handle, "values", np.ascontiguousarray(grid[::-1]).ravel())  # north comes first
    return bytes(codes.codes_get_message(handle))


def _set_quantity(codes: Any, handle: int, quantity: Quantity) -> None:
    codes.codes_set_long(handle, "productDefinitionTemplateNumber", _WINDOW if quantity.is_sum else _INSTANT)
    if quantity.is_sum:
        codes.codes_set_long(handle, "typeOfStatisticalProcessing", _SUM)
    for key, value in (
        ("parameterCategory", quantity.category),
        ("parameterNumber", quantity.number),
        ("typeOfFirstFixedSurface", quantity.surface),
        ("scaleFactorOfFirstFixedSurface", 0),
        ("scaledValueOfFirstFixedSurface", quantity.level),
        ("typeOfSecondFixedSurface", quantity.up_to),
    ):
        codes.codes_set_long(handle, key, value)


def _template(codes: Any, ensemble: Ensemble) -> int:
    latitude, longitude = ensemble.latitude_deg, ensemble.longitude_deg
    handle = codes.codes_grib_new_from_samples("regular_ll_pl_grib2")
    try:
        for key, value in (
            ("centre", NO_CENTRE),
            ("subCentre", 0),
            ("productionStatusOfProcessedData", TEST_PRODUCTS),
            ("typeOfProcessedData", CONTROL_AND_PERTURBED),
            ("dataDate", int(ensemble.run.strftime("%Y%m%d"))),
            ("dataTime", int(ensemble.run.strftime("%H%M"))),
            ("Ni", len(longitude)),
            ("Nj", len(latitude)),
            ("latitudeOfFirstGridPointInDegrees", latitude[-1]),
            ("latitudeOfLastGridPointInDegrees", latitude[0]),
            ("longitudeOfFirstGridPointInDegrees", longitude[0] % 360.0),
            ("longitudeOfLastGridPointInDegrees", longitude[-1] % 360.0),
            ("iDirectionIncrementInDegrees", longitude[1] - longitude[0]),
            ("jDirectionIncrementInDegrees", latitude[1] - latitude[0]),
            ("productDefinitionTemplateNumber", _INSTANT),
            ("numberOfForecastsInEnsemble", ensemble.members),
            ("bitsPerValue", BITS),
        ):
            codes.codes_set(handle, key, value)
        message = bytes(codes.codes_get_message(handle))
    finally:
        codes.codes_release(handle)
    return int(codes.codes_new_from_message(_with_local_text(message, ensemble.remark.encode("ascii"))))


def _with_local_text(message: bytes, text: bytes) -> bytes:
    """The message with a section 2 of text after section 1: ecCodes keeps such a section but cannot make one."""
    end_of_section_1 = 16 + int.from_bytes(message[16:20], "big")
    section_2 = (5 + len(text)).to_bytes(4, "big") + b"\x02" + text
    total = (len(message) + len(section_2)).to_bytes(8, "big")
    return message[:8] + total + message[16:end_of_section_1] + section_2 + message[end_of_section_1:]
