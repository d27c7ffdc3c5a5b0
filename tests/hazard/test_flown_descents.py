"""Flights as the kernel flies them, all the way to the ground hazard and through a volume of airspace."""

from __future__ import annotations

import numpy as np
import pytest

from ensembles import ensemble
from pappus.airspace import AirspaceVolume, VerticalLimit, circle_points, entries
from pappus.ground import Outline, Zone
from pappus.hazard import Branch, Leaves, Surroundings, descents_of, ground_hazard, leaves_area, object_areas_m2
from pappus.trajectory import fly


def test_from_the_kernel_to_the_answer() -> None:
    conditions, draws = ensemble(120)
    flights = fly(conditions, draws, tracks=120)
    train, release = conditions.train, conditions.release
    descents = descents_of(flights, draws, train)
    assert (descents.mass_kg >= train.train_mass_kg).all()
    assert (descents.mass_kg <= train.train_mass_kg + train.envelope.mass_kg).all()
    hazard = ground_hazard(descents, Surroundings(), people_per_km2=50.0, objects_m2=object_areas_m2(train))
    by_branch = {one.branch: one for one in hazard.branches}
    assert sum(one.flights for one in hazard.branches) == 120
    fouled, good = by_branch[Branch.FOULED_CANOPY], by_branch[Branch.GOOD_CANOPY]
    assert fouled.touchdown_m_s.values[1] > 1.4 * good.touchdown_m_s.values[1]
    assert fouled.over_j[0].p >= good.over_j[0].p
    total = sum(one.chance.p * one.casualties_nasa for one in hazard.branches)
    assert hazard.casualties.nasa.value == pytest.approx(total)

    # everything goes up through the air over the site; what lies behind it is met by none
    def column(latitude: float, longitude: float) -> AirspaceVolume:
        ring = circle_points((latitude, longitude), 2_000.0)
        outline = Outline(((ring,),))
        return AirspaceVolume(
            "invented", "R", VerticalLimit.surface("SFC"), VerticalLimit.unlimited("UNL"), outline, ""
        )

    site = column(release.latitude_deg, release.longitude_deg)
    away = column(-release.latitude_deg, release.longitude_deg)
    found = entries(flights, [site, away], None, conditions.ground.height_msl_m, member=draws.member)
    assert found[0].up.p == 1.0
    assert found[0].first_time_s[0] >= 0.0
    assert found[1].at_most.p == float((~flights.landed).mean())
    landing = column(float(flights.end_latitude_deg[0]), float(flights.end_longitude_deg[0]))
    assert entries(flights, [landing], None, None)[0].down.p > 0.0

    wide = Outline(((circle_points((release.latitude_deg, release.longitude_deg), 400e3),),))
    near = Outline(((circle_points((release.latitude_deg, release.longitude_deg), 1e3),),))
    stays, leaves = (leaves_area(flights, [Zone("permit", "permit area", one, "invented")]) for one in (wide, near))
    assert np.array_equal(stays == Leaves.NO, flights.landed)
    assert (leaves == Leaves.YES).all()
