"""The sun and the horizon as seen from a flight."""

from pappus.sky._sun import horizon_dip_deg, sun_elevation_deg

__all__ = ["horizon_dip_deg", "sun_elevation_deg"]
