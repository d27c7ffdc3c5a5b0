"""Hazard to people and things on the ground: where an ensemble lands, how hard, and how far from a road.

Every chance carries what is not known beside it: flights without a landing and landings that no map covers are unknown,
never safe. A planning aid; local rules and the people who answer for the flight decide.
"""

from pappus.hazard._areas import Leaves, leaves_area
from pappus.hazard._casualties import (
    PERSON_AREA_M2,
    PERSON_RADIUS_M,
    BranchHazard,
    Casualties,
    Estimate,
    casualty_area_nasa_m2,
    casualty_area_rcc_m2,
    object_areas_m2,
)
from pappus.hazard._chances import Chance
from pappus.hazard._descents import Branch, Descents, descents_of, join_descents
from pappus.hazard._energy import (
    CASUALTY_ENERGY_J,
    CATEGORY_3_ENERGY_J,
    ENERGY_THRESHOLDS_J,
    NASA_ENERGY_J,
    allowed_speed_m_s,
    kinetic_energy_j,
)
from pappus.hazard._ground_hazard import GroundHazard, ground_hazard
from pappus.hazard._people import RURAL_PER_KM2, URBAN_PER_KM2, PeopleDensity, people_density
from pappus.hazard._retrieval import Retrieval, retrieval
from pappus.hazard._surroundings import Clearances, Surroundings

__all__ = [
    "CASUALTY_ENERGY_J",
    "CATEGORY_3_ENERGY_J",
    "ENERGY_THRESHOLDS_J",
    "NASA_ENERGY_J",
    "PERSON_AREA_M2",
    "PERSON_RADIUS_M",
    "RURAL_PER_KM2",
    "URBAN_PER_KM2",
    "Branch",
    "BranchHazard",
    "Casualties",
    "Chance",
    "Clearances",
    "Descents",
    "Estimate",
    "GroundHazard",
    "Leaves",
    "PeopleDensity",
    "Retrieval",
    "Surroundings",
    "allowed_speed_m_s",
    "casualty_area_nasa_m2",
    "casualty_area_rcc_m2",
    "descents_of",
    "ground_hazard",
    "join_descents",
    "kinetic_energy_j",
    "leaves_area",
    "object_areas_m2",
    "people_density",
    "retrieval",
]
