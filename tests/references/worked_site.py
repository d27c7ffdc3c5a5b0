"""The site of the worked examples: standard air, and a gas that takes its temperature."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pappus.atmosphere import Profile
from pappus.flight_train import Canopy, Envelope, FlightTrain, Gas, SiteAir


@dataclass(frozen=True)
class GasAtAirTemperature(SiteAir):
    """The worked examples let the gas take the temperature of the air."""

    def gas_excess_at_k(self, height_msl_m: Any) -> Any:
        return np.zeros_like(np.asarray(height_msl_m, dtype=float))


STANDARD_SITE = GasAtAirTemperature(Profile.standard(60_000.0), 0.0, 0.0)


def train_with(mass_kg: float, train_kg: float, burst_m: float, unstretched_m: float) -> FlightTrain:
    canopy = Canopy(train_kg, 1.0, 1.0, 0.0, 0.0)
    return FlightTrain(Envelope(mass_kg, burst_m, 0.0, unstretched_m, False, 0.0), Gas("helium"), canopy, (), (), ())
