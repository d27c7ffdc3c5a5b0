"""Places as aviation writes them, and circles of whole minutes and nautical miles that cover them.

Structure of ICAO Doc 8126 and PANS-AIM (Doc 10066); rounding as in the guides to it, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from pappus.earth import LocalPlane, geodesic_inverse, require_range
from pappus.errors import OutOfRange
from pappus.rules._limits import nautical_mile_m

Place = tuple[float, float]
"""Latitude and longitude in degrees."""

WHOLE_REGION_NM = 999
"""As a radius: the whole flight information region."""
_STEPS = 400
_SLACK_M = 1e-3


@dataclass(frozen=True)
class CoveringCircle:
    """A circle whose centre is in whole minutes and whose radius in whole nautical miles covers every place."""

    latitude_deg: float
    longitude_deg: float
    radius_nm: int

    @property
    def text(self) -> str:
        """Fourteen characters: ``4530N00716E015``."""
        return f"{minutes_text(self.latitude_deg, self.longitude_deg)}{self.radius_nm:03d}"


def minutes_text(latitude_deg: float, longitude_deg: float) -> str:
    """``4530N00716E``: the nearest whole minutes, half a minute away from zero; sixty carry into the degree."""
    return _written(latitude_deg, longitude_deg, per_degree=60)


def seconds_text(latitude_deg: float, longitude_deg: float) -> str:
    """``453020N0071540E``: the nearest whole seconds; sixty carry."""
    return _written(latitude_deg, longitude_deg, per_degree=3600)


def covering_circle(places: Sequence[Place]) -> CoveringCircle:
    """The circle that covers one or more places; its radius counts from the rounded centre, so rounding uncovers none.

    At least 1 nautical mile. Where the places are more than about 500 km apart, or the radius would pass 998, it stands
    for the whole region. Distances are geodesics on WGS84.
    """
    try:
        centre = _centre(places)
        rounded = _whole_minutes(centre)
        radius = covering_radius_nm(rounded, places)
    except OutOfRange:
        rounded, radius = _whole_minutes(places[0]), WHOLE_REGION_NM
    return CoveringCircle(*rounded, min(radius, WHOLE_REGION_NM))


def covering_radius_nm(centre: Place, places: Sequence[Place]) -> int:
    """The smallest whole number of nautical miles, 1 or more, that reaches every place from the centre."""
    farthest = max(geodesic_inverse(*centre, *place)[0] for place in places)
    # so that a place at a whole mile does not cost another by the last digit
    return max(1, ceil((farthest - _SLACK_M) / nautical_mile_m))


def _centre(places: Sequence[Place]) -> Place:
    """Centre of a nearly smallest circle: steps towards the farthest place that get shorter and shorter.

    Source: Badoiu and Clarkson 2003, "Smaller core-sets for balls", SODA; within 1/sqrt(steps) of the radius.
    """
    latitude, longitude = np.array(places, dtype=np.float64).T
    plane = LocalPlane(float(latitude[0]), float(longitude[0]))
    points = np.column_stack(plane.to_east_north_m(latitude, longitude))
    centre = 0.5 * (points.min(axis=0) + points.max(axis=0))
    for step in range(1, _STEPS):
        farthest = points[np.argmax(((points - centre) ** 2).sum(axis=1))]
        centre = centre + (farthest - centre) / (step + 1)
    middle_latitude, middle_longitude = plane.to_latitude_longitude_deg(centre[0], centre[1])
    return float(middle_latitude), float(middle_longitude)


def _whole_minutes(place: Place) -> Place:
    latitude, longitude = (
        int(abs(degrees) * 60.0 + 0.5) / 60.0 * (-1.0 if degrees < 0.0 else 1.0) for degrees in place
    )
    return latitude, longitude


def _written(latitude_deg: float, longitude_deg: float, per_degree: int) -> str:
    require_range("latitude", latitude_deg, -90, 90, "deg")
    require_range("longitude", longitude_deg, -180, 180, "deg")
    return _one(latitude_deg, 2, "NS", per_degree) + _one(longitude_deg, 3, "EW", per_degree)


def _one(degrees: float, digits: int, sides: str, per_degree: int) -> str:
    count = int(abs(degrees) * per_degree + 0.5)
    whole, rest = divmod(count, per_degree)
    parts = [f"{rest:02d}"] if per_degree == 60 else [f"{rest // 60:02d}", f"{rest % 60:02d}"]
    return f"{whole:0{digits}d}{''.join(parts)}{sides[degrees < 0.0]}"
