"""A volume of airspace and the question whether positions are inside: yes, no or cannot tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.airspace._limits import VerticalLimit
from pappus.errors import BadInput, Finding
from pappus.ground import Outline

Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Inside:
    """Answer for many positions; nothing is both."""

    inside: Mask
    cannot_tell: Mask

    @property
    def outside(self) -> Mask:
        """Where it is certain that the position is not in the volume."""
        return np.asarray(~(self.inside | self.cannot_tell))


@dataclass(frozen=True, eq=False)
class AirspaceVolume:
    """A volume of airspace between a floor and a ceiling, both of which belong to it.

    Heights above mean sea level are compared as they are: an aircraft on an altimeter flies lower than its number in
    air colder than standard, by some 4 % for 10 K (common practice, no source).

    Raises BadInput for a floor that is not below the ceiling, as far as the two count from the same level.
    """

    name: str
    kind: str
    """Class or type as the source wrote it, such as ``R`` or ``CTR``."""
    floor: VerticalLimit
    ceiling: VerticalLimit
    outline: Outline
    origin: str
    """The file, and where in it."""
    remarks: tuple[str, ...] = ()
    """What else the source says, such as times of activity; nothing here reads it, so the volume always counts."""

    def __post_init__(self) -> None:
        said = f"{self.floor.text} to {self.ceiling.text}"
        fix = "Correct its floor and ceiling."
        if self.floor.kind == "unlimited" or self.ceiling.kind == "surface":
            raise BadInput(Finding("floor and ceiling", said, "nothing is between them", fix))
        if _level(self.floor) == _level(self.ceiling) and self.floor.height_m >= self.ceiling.height_m:
            raise BadInput(Finding("floor and ceiling", said, "the floor is not below the ceiling", fix))

    def positions_inside(
        self,
        latitude_deg: ArrayLike,
        longitude_deg: ArrayLike,
        height_msl_m: ArrayLike,
        *,
        ground_msl_m: ArrayLike | None,
        pressure_altitude_m: ArrayLike | None,
    ) -> Inside:
        """Which positions are inside; the arguments broadcast.

        Whatever is missing (None or NaN) makes the answer "cannot tell" only where it matters: a position beside the
        outline, or known to be above the ceiling, is outside whatever else is not known.

        :param ground_msl_m: height of the ground below each position, for limits above ground.
        :param pressure_altitude_m: from ``pressure_altitude_m``, for flight levels.
        :raises OutOfRange: a latitude beyond 90 degrees.
        """
        above_floor = self.floor.height_above_m(height_msl_m, ground_msl_m, pressure_altitude_m)
        above_ceiling = self.ceiling.height_above_m(height_msl_m, ground_msl_m, pressure_altitude_m)
        latitude, longitude, above_floor, above_ceiling = np.broadcast_arrays(
            np.asarray(latitude_deg, dtype=np.float64), np.asarray(longitude_deg, dtype=np.float64),
            above_floor, above_ceiling,
        )  # fmt: skip
        placed = ~(np.isnan(latitude) | np.isnan(longitude))
        within = np.zeros(latitude.shape, dtype=np.bool_)
        within[placed] = self.outline.contains(latitude[placed], longitude[placed])
        # nothing flies below the ground, whatever a coarse terrain says
        on_surface = self.floor.kind == "surface"
        no = (placed & ~within) | (above_ceiling > 0.0) | ((above_floor < 0.0) & (not on_surface))
        yes = within & (above_ceiling <= 0.0) & ((above_floor >= 0.0) | on_surface)
        return Inside(inside=np.asarray(yes), cannot_tell=np.asarray(~(yes | no)))


def _level(limit: VerticalLimit) -> str:
    return "ground" if limit.kind == "surface" else limit.kind
