"""A prediction as GeoJSON (RFC 7946) for maps of any kind: areas, nominal flight, ends of flights, site and burst."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import Geoid
from pappus.export._date_line import cut_areas, wrapped_deg
from pappus.export._handout import Leg, Mark, clock, legs, release_mark, top_mark
from pappus.export._tracks import ends
from pappus.landing import AreaLevel, LandingArea
from pappus.trajectory import Flights

Json = dict[str, Any]


def landing_geojson(
    *,
    area: LandingArea,
    nominal: Flights,
    flights: Flights,
    off_nominal: NDArray[np.bool_],
    site_name: str,
    site_latitude_deg: float,
    site_longitude_deg: float,
    release: datetime,
    name: str,
    note: str,
    geoid: Geoid | None,
) -> str:
    """A feature collection; ``kind`` in the properties tells the features apart.

    Lines and areas are cut at the date line. RFC 7946 wants heights above the ellipsoid: with a geoid positions carry
    them, without one they carry none and ``heights`` says why; ``height_msl_m`` in the properties holds in both cases.
    A level without an area is a feature without a geometry that says why.

    :param nominal: one flight.
    :param flights: the ensemble, N flights.
    :param off_nominal: shape (N,), true where balloon or canopy do not do what they should.
    :param release: with an offset from UTC.
    :param name: of the collection.
    :param note: in the properties of every feature, such as "Invented example".
    :raises OutOfRange: a landing area goes round a pole.
    """
    writer = _Writer(nominal, release, note, geoid)
    features = [writer.area(part, area) for part in reversed(area.parts)]
    features += [writer.leg(leg) for leg in legs(nominal)]
    features += [writer.ends(group, flights, which) for group, which in ends(flights, off_nominal)]
    features.append(writer.mark("site", release_mark(nominal, site_name, site_latitude_deg, site_longitude_deg)))
    if (top := top_mark(nominal)) is not None:
        features.append(writer.mark("top", top))
    collection = {"type": "FeatureCollection", "name": name, "features": features}
    return json.dumps(collection, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n"


class _Writer:
    """Features with the note and the kind of height that all of them carry."""

    def __init__(self, nominal: Flights, release: datetime, note: str, geoid: Geoid | None) -> None:
        self._nominal, self._release, self._note, self._geoid = nominal, release, note, geoid

    def area(self, part: AreaLevel, area: LandingArea) -> Json:
        polygons = [[_pairs(*ring.T) for ring in rings] for rings in cut_areas(part)]
        return self._feature(
            _one_or_many("Polygon", polygons) if polygons else None,
            kind="landing area",
            name=f"Landing area, {100 * part.probability:g} % of flights",
            probability=part.probability,
            area_km2=part.area_km2,
            area_sd_km2=part.area_sd_km2,
            why_not=part.why_not,
            flights=area.flights,
            landed=area.landed,
            unknown=area.unknown,
            notes=list(area.notes),
            release_utc=self._clock(self._nominal.release_time_s),
        )

    def leg(self, leg: Leg) -> Json:
        lines = [self._positions(*piece.T[:3]) for piece in leg.pieces]
        times = [[self._clock(time) for time in piece[:, 3]] for piece in leg.pieces]
        heights = [np.round(piece[:, 2], 1).tolist() for piece in leg.pieces]
        single = len(lines) == 1
        return self._feature(
            _one_or_many("LineString", lines),
            kind="nominal flight",
            name=f"Nominal flight, {leg.way}",
            leg=leg.way,
            ends_with=leg.end,
            first_utc=times[0][0],
            last_utc=times[-1][-1],
            height_msl_m=heights[0] if single else heights,
            time_utc=times[0] if single else times,
            heights=self._heights(),
        )

    def ends(self, group: str, flights: Flights, which: NDArray[np.intp]) -> Json:
        height = flights.end_height_msl_m[which]
        longitude = wrapped_deg(flights.end_longitude_deg[which])
        points = self._positions(longitude, flights.end_latitude_deg[which], height)
        return self._feature(
            {"type": "MultiPoint", "coordinates": points},
            kind="ends of flights",
            name=f"{group.capitalize()} ({len(which):,})",
            height_msl_m=np.round(height, 1).tolist(),
            time_utc=[self._clock(time) for time in flights.end_time_s[which]],
            heights=self._heights(),
        )

    def mark(self, kind: str, mark: Mark) -> Json:
        (point,) = self._positions(mark.longitude_deg, mark.latitude_deg, mark.height_msl_m)
        return self._feature(
            {"type": "Point", "coordinates": point},
            kind=kind,
            name=mark.name,
            time_utc=self._clock(mark.time_s),
            height_msl_m=round(mark.height_msl_m, 1),
            heights=self._heights(),
        )

    def _feature(self, geometry: Json | None, **properties: Any) -> Json:
        return {"type": "Feature", "geometry": geometry, "properties": {**properties, "note": self._note}}

    def _clock(self, time_s: float) -> str:
        return clock(self._release, self._nominal, time_s)

    def _heights(self) -> str:
        if self._geoid is None:
            return "left out of the positions: they would be above the ellipsoid, and no geoid was given to know that"
        return f"in the positions, above the WGS84 ellipsoid, by the geoid {self._geoid.name}"

    def _positions(self, longitude_deg: ArrayLike, latitude_deg: ArrayLike, height_msl_m: ArrayLike) -> list[Any]:
        if self._geoid is None:
            return _pairs(longitude_deg, latitude_deg)
        height = np.atleast_1d(np.asarray(height_msl_m) + self._geoid.undulation_m(latitude_deg, longitude_deg))
        pairs = _pairs(longitude_deg, latitude_deg)
        return [[*pair, above] for pair, above in zip(pairs, np.round(height, 1).tolist(), strict=True)]


def _pairs(longitude_deg: ArrayLike, latitude_deg: ArrayLike) -> list[Any]:
    """Six decimals are a tenth of a metre."""
    points = np.column_stack((np.atleast_1d(longitude_deg), np.atleast_1d(latitude_deg)))
    return list(np.round(points, 6).tolist())


def _one_or_many(kind: str, parts: list[Any]) -> Json:
    if len(parts) == 1:
        return {"type": kind, "coordinates": parts[0]}
    return {"type": f"Multi{kind}", "coordinates": parts}
