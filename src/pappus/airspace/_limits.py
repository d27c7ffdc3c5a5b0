"""Floors and ceilings of airspace: what they are measured from, and how far above or below them a balloon is."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, isnan, nan
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.atmosphere import Profile, standard_air_at_geopotential, standard_height_msl_m
from pappus.earth import geopotential_height_m, require_range
from pappus.units import foot_m

Array = NDArray[np.float64]

LimitKind = Literal["msl", "ground", "pressure", "surface", "unlimited", "unknown"]
_MEASURED = ("msl", "ground", "pressure")
_FIXED = {"surface": 0.0, "unlimited": inf}
_LOWEST_PA, _HIGHEST_PA = 0.4, 170_000.0
_HIGHEST_FLIGHT_LEVEL = 999


@dataclass(frozen=True)
class VerticalLimit:
    """A floor or a ceiling.

    ``kind`` says what ``height_m`` counts from: ``msl`` mean sea level, ``ground`` the ground below, ``pressure`` the
    standard pressure level of 1013.25 hPa (pressure altitude: flight levels). ``surface`` is the ground itself,
    ``unlimited`` has no end, and ``unknown`` is a text that nobody here understood.
    """

    kind: LimitKind
    height_m: float
    """0 for ``surface``, infinite for ``unlimited``, NaN for ``unknown``."""
    text: str
    """As the source wrote it."""

    def __post_init__(self) -> None:
        if self.kind in _MEASURED:
            fits = isfinite(self.height_m)
        else:
            fits = isnan(self.height_m) if self.kind == "unknown" else self.height_m == _FIXED[self.kind]
        if not fits:
            raise ValueError(f"a limit of kind {self.kind} cannot have the height {self.height_m}")

    @classmethod
    def flight_level(cls, number: float, text: str) -> VerticalLimit:
        """A flight level, 0 to 999: hundreds of feet of pressure altitude (ICAO Annex 2, definitions)."""
        level = float(require_range("flight level", number, 0, _HIGHEST_FLIGHT_LEVEL, ""))
        return cls("pressure", level * 100.0 * foot_m, text)

    @classmethod
    def surface(cls, text: str) -> VerticalLimit:
        """The ground."""
        return cls("surface", 0.0, text)

    @classmethod
    def unlimited(cls, text: str) -> VerticalLimit:
        """No end."""
        return cls("unlimited", inf, text)

    @classmethod
    def unknown(cls, text: str) -> VerticalLimit:
        """A text that was not understood; every question about it answers "cannot tell"."""
        return cls("unknown", nan, text)

    def height_msl_m(self, ground_msl_m: float | None, air: Profile | None) -> float:
        """The limit above mean sea level at one place, or NaN where that needs something that is not known.

        :param ground_msl_m: height of the ground there; only limits that count from the ground need it.
        :param air: the column of air of that hour; only flight levels need it, as far as it reaches.
        """
        if self.kind in ("msl", "unlimited"):
            return self.height_m
        if self.kind in ("ground", "surface"):
            return nan if ground_msl_m is None else ground_msl_m + self.height_m
        if self.kind == "unknown" or air is None:
            return nan
        pressure = float(standard_air_at_geopotential(self.height_m).pressure_pa)
        if not air.pressure_pa[-1] <= pressure <= air.pressure_pa[0]:
            return nan
        return float(air.height_msl_m_at_pressure(pressure))

    def height_above_m(
        self, height_msl_m: ArrayLike, ground_msl_m: ArrayLike | None, pressure_altitude_m: ArrayLike | None
    ) -> Array:
        """How far positions are above the limit (negative: below), NaN for cannot tell; the arguments broadcast.

        :param height_msl_m: NaN where not known.
        :param ground_msl_m: height of the ground below, above mean sea level; None or NaN where not known.
        :param pressure_altitude_m: from ``pressure_altitude_m``; None or NaN where not known.
        """
        height, ground, pressure = np.broadcast_arrays(
            *(
                np.asarray(nan if given is None else given, dtype=np.float64)
                for given in (height_msl_m, ground_msl_m, pressure_altitude_m)
            )
        )
        if self.kind == "unlimited":
            return np.full(height.shape, -inf)
        measured = {"msl": height, "ground": height - ground, "surface": height - ground, "pressure": pressure}
        return np.asarray(measured.get(self.kind, np.full(height.shape, nan)) - self.height_m)


def pressure_altitude_m(pressure_pa: ArrayLike) -> Array:
    """Pressure altitude of air pressures, 0.4 Pa to 1700 hPa: the geopotential height of the standard atmosphere.

    This is what flight levels count and transponders send; it is neither the height of a satellite receiver nor one
    above mean sea level. A missing pressure (NaN) gives NaN. Source: ICAO Annex 2 (pressure-altitude), ISO 2533:1975.
    Raises OutOfRange.
    """
    pressure = np.asarray(pressure_pa, dtype=np.float64)
    known = ~np.isnan(pressure)
    result = np.full(pressure.shape, nan)
    result[known] = geopotential_height_m(
        standard_height_msl_m(require_range("air pressure", pressure[known], _LOWEST_PA, _HIGHEST_PA, "Pa"))
    )
    return result
