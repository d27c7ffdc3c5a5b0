"""Shortest lines on the WGS84 ellipsoid."""

from __future__ import annotations

from pappus.earth._limits import require_range


def geodesic_inverse(
    latitude1_deg: float, longitude1_deg: float, latitude2_deg: float, longitude2_deg: float
) -> tuple[float, float, float]:
    """Distance in metres and the forward azimuths (0 to 360 degrees) at point 1 and at point 2.

    Source: Karney 2013, J. Geodesy 87, 43-55, through geographiclib; to some nanometres, also near the antipode.
    """
    from geographiclib.geodesic import Geodesic

    for latitude_deg in (latitude1_deg, latitude2_deg):
        require_range("latitude", latitude_deg, -90, 90, "deg")
    line = Geodesic.WGS84.Inverse(latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg)
    return line["s12"], line["azi1"] % 360, line["azi2"] % 360


def geodesic_direct(
    latitude_deg: float, longitude_deg: float, azimuth_deg: float, distance_m: float
) -> tuple[float, float, float]:
    """Latitude, longitude (-180 to 180) and forward azimuth (0 to 360) at the far end, degrees.

    Source: Karney 2013, J. Geodesy 87, 43-55, through geographiclib.
    """
    from geographiclib.geodesic import Geodesic

    require_range("latitude", latitude_deg, -90, 90, "deg")
    line = Geodesic.WGS84.Direct(latitude_deg, longitude_deg, azimuth_deg, distance_m)
    return line["lat2"], line["lon2"], line["azi2"] % 360
