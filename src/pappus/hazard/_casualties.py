"""How many people a landing may be expected to hurt: by branch, and over all of them.

An estimate for comparing flights and for a talk with an authority, never a permission: it counts people in the open who
are hit from above, and no vehicle, aircraft or ship.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import require_range
from pappus.flight_train import FlightTrain
from pappus.hazard._chances import quantiles_known
from pappus.hazard._descents import Array, Branch, Descents, Mask
from pappus.hazard._energy import CASUALTY_ENERGY_J, ENERGY_THRESHOLDS_J, allowed_speed_m_s, kinetic_energy_j
from pappus.landing import Quantiles, Share, clopper_pearson, share_over_members, student_t975

PERSON_AREA_M2 = 0.36
"""A standing person from above in the NASA form (NASA-STD-8719.14, from memory)."""
PERSON_RADIUS_M = 0.3
"""The same in the RCC form (RCC 321, from memory)."""

_NOT_LANDED = "did not land in the data"
_M2_PER_KM2 = 1e6


def casualty_area_nasa_m2(object_areas_m2: Sequence[float]) -> float:
    """Sum over the objects of (sqrt(A) + sqrt(0.36 m2))^2: NASA-STD-8719.14 (from memory).

    :param object_areas_m2: area of each separate thing from above, 0 to 100 m2.
    :raises OutOfRange: another area.
    """
    areas = require_range("area of an object", np.asarray(object_areas_m2), 0.0, 100.0, "m2")
    return float(np.sum((np.sqrt(areas) + sqrt(PERSON_AREA_M2)) ** 2))


def casualty_area_rcc_m2(object_areas_m2: Sequence[float]) -> float:
    """Sum over the objects of pi (r_p + r_d)^2, r_p 0.3 m and r_d that of a disc of its area: RCC 321 (from memory).

    For things that come straight down: without slide and bounce. Ranges as ``casualty_area_nasa_m2``.
    """
    areas = require_range("area of an object", np.asarray(object_areas_m2), 0.0, 100.0, "m2")
    return float(np.sum(pi * (PERSON_RADIUS_M + np.sqrt(areas / pi)) ** 2))


def object_areas_m2(train: FlightTrain) -> tuple[float, ...]:
    """The largest face of every package: each hangs apart on the train and may hit somebody else."""
    faces = []
    for package in train.packages:
        edges = sorted(package.edges_m)
        faces.append(edges[-1] * edges[-2])
    return tuple(faces)


@dataclass(frozen=True)
class Estimate:
    """An expected number with the 95 % interval that the flights and the forecast members behind them leave."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class BranchHazard:
    """How flights of one branch touch down."""

    branch: Branch
    chance: Share
    """Of the branch, over all flights."""
    flights: int
    landed: int
    touchdown_m_s: Quantiles | None
    """5, 50 and 95 %; None when none landed."""
    energy_j: Quantiles | None
    """Of the sink, and of the wind at the ground where that was given."""
    over_j: tuple[Share, ...] | None
    """Share of its landed flights above each of ``ENERGY_THRESHOLDS_J``."""
    allowed_m_s: tuple[float, ...] | None
    """Speed at which its median mass has each of those energies."""
    casualties_nasa: float | None
    """Expected casualties of a flight of this branch; None without people, packages or a landing."""
    casualties_rcc: float | None


@dataclass(frozen=True)
class Casualties:
    """Expected casualties of one flight of the ensemble: sum over branches of chance times expectation."""

    nasa: Estimate
    rcc: Estimate
    area_nasa_m2: float
    area_rcc_m2: float
    threshold_j: float
    """Landings with less energy than this hurt nobody."""
    unknown: Share
    """Flights that did not land in the data: taken to land as the others of their branch do."""
    assumptions: str


def touchdown_energy_j(descents: Descents, wind_at_ground_m_s: ArrayLike | None) -> Array:
    """Kinetic energy of each flight at touchdown: of its sink and, where it is given, of the wind that carries it."""
    wind = np.zeros(()) if wind_at_ground_m_s is None else np.asarray(wind_at_ground_m_s, dtype=np.float64)
    return kinetic_energy_j(descents.mass_kg, np.hypot(descents.touchdown_m_s, wind))


def branch_hazards(
    descents: Descents, energy_j: Array, people_per_km2: Array | None, objects_m2: Sequence[float]
) -> tuple[BranchHazard, ...]:
    """Speed, energy and expected casualties of every branch that the ensemble has.

    :param energy_j: of each flight at touchdown, NaN where it is not known.
    :param people_per_km2: one for each flight; used where it landed.
    """
    known = descents.landed & np.isfinite(energy_j)
    answers = []
    for branch in Branch:
        mine = descents.branch == branch
        if not mine.any():
            continue
        landed = mine & known
        mean = None
        if people_per_km2 is not None and objects_m2 and landed.any():
            mean = _mean_hit(people_per_km2, energy_j, landed)
        over = allowed = None
        if landed.any():
            members, mass_kg = descents.member[landed], float(np.median(descents.mass_kg[landed]))
            over = tuple(share_over_members(energy_j[landed] > limit, members) for limit in ENERGY_THRESHOLDS_J)
            allowed = tuple(float(allowed_speed_m_s(mass_kg, limit)) for limit in ENERGY_THRESHOLDS_J)
        flights = int(mine.sum())
        answers.append(
            BranchHazard(
                branch=branch,
                chance=share_over_members(mine, descents.member),
                flights=flights,
                landed=int(landed.sum()),
                touchdown_m_s=quantiles_known(descents.touchdown_m_s[landed], flights, _NOT_LANDED),
                energy_j=quantiles_known(energy_j[landed], flights, _NOT_LANDED),
                over_j=over,
                allowed_m_s=allowed,
                casualties_nasa=None if mean is None else mean * casualty_area_nasa_m2(objects_m2),
                casualties_rcc=None if mean is None else mean * casualty_area_rcc_m2(objects_m2),
            )
        )
    return tuple(answers)


def casualties(
    descents: Descents, energy_j: Array, people_per_km2: Array | None, objects_m2: Sequence[float]
) -> tuple[Casualties | None, str]:
    """Expected casualties over all branches, or None and the reason why it cannot be told."""
    if people_per_km2 is None:
        return None, "the density of people is not known"
    if not objects_m2:
        return None, "the sizes of the packages are not known"
    known = descents.landed & np.isfinite(energy_j)
    if not known.any():
        return None, "no flight landed in the data" if not descents.landed.any() else "no energy at touchdown is known"
    missing = int(np.isnan(people_per_km2[known]).sum())
    if missing:
        return None, f"the density of people is not known for {missing} of {int(known.sum())} landings"
    weight = np.zeros(descents.flights)
    for branch in np.unique(descents.branch):
        mine = descents.branch == branch
        landed = mine & known
        if not landed.any():
            return None, f"no flight with {Branch(branch).text} landed in the data"
        # flights that did not land are shared out over those of their branch that did
        weight[landed] = mine.sum() / landed.sum() * known.sum() / descents.flights
    over = energy_j[known] > CASUALTY_ENERGY_J
    hit = _interval(weight[known] * over, people_per_km2[known], descents.member[known])
    nasa, rcc = casualty_area_nasa_m2(objects_m2), casualty_area_rcc_m2(objects_m2)
    return (
        Casualties(
            nasa=Estimate(*(value * nasa for value in hit)),
            rcc=Estimate(*(value * rcc for value in hit)),
            area_nasa_m2=nasa,
            area_rcc_m2=rcc,
            threshold_j=CASUALTY_ENERGY_J,
            unknown=share_over_members(~known, descents.member),
            assumptions="people in the open, hit from above by whole packages; nobody is hurt below the threshold; "
            "vehicles, aircraft and ships are left out",
        ),
        "",
    )


def _mean_hit(people_per_km2: Array, energy: Array, landed: Mask) -> float | None:
    """People for each square metre where it counts, a mean over landings; None where a density is not known."""
    density = people_per_km2[landed]
    if bool(np.isnan(density).any()):
        return None
    return float((density * (energy[landed] > CASUALTY_ENERGY_J)).mean()) / _M2_PER_KM2


def _interval(weight: Array, people_per_km2: Array, member: NDArray[np.intp]) -> tuple[float, float, float]:
    """Mean of weight times density for each square metre, with its 95 % interval.

    The widest of three: normal over the flights; the exact interval of the number of flights that count at all, for
    when they are few or none; jackknife over the members with Student's t (see ``landing.share_over_members``).
    """
    values = weight * people_per_km2 / _M2_PER_KM2
    count, mean = len(values), float(values.mean())
    reach = 1.96 * float(values.std()) / sqrt(count)
    low, high = mean - reach, mean + reach
    hits = values > 0.0
    few_low, few_high = clopper_pearson(int(hits.sum()), count)
    typical = float(values[hits].mean()) if hits.any() else float(people_per_km2.max()) / _M2_PER_KM2
    low, high = min(low, few_low * typical), max(high, few_high * typical)
    _, group = np.unique(member, return_inverse=True)
    sizes = np.bincount(group)
    if len(sizes) > 1:
        without = (values.sum() - np.bincount(group, weights=values)) / (count - sizes)
        error = sqrt((len(sizes) - 1) / len(sizes) * float(((without - without.mean()) ** 2).sum()))
        reach = student_t975(len(sizes) - 1) * error
        low, high = min(low, mean - reach), max(high, mean + reach)
    return mean, max(low, 0.0), high
