"""From packets to a state: what was heard, what it says, and where the balloon is."""

from pappus.tracking._burst import FallStart
from pappus.tracking._estimate import Apart, Estimate, LastPosition, Listener, Motion, TrackerState, VehicleSeen
from pappus.tracking._estimator import Estimator, LaunchPlace, Reading, estimate_all
from pappus.tracking._fix import Fix, FixQuality, TimeQuality
from pappus.tracking._heard import Heard, PacketKind, Role, received
from pappus.tracking._limits import fall_most_m_s, wind_most_m_s
from pappus.tracking._phase import Phase
from pappus.tracking._point import Point
from pappus.tracking._reasons import Reason
from pappus.tracking._track import LATE_S
from pappus.tracking._winds import WindLayer

__all__ = [
    "LATE_S",
    "Apart",
    "Estimate",
    "Estimator",
    "FallStart",
    "Fix",
    "FixQuality",
    "Heard",
    "LastPosition",
    "LaunchPlace",
    "Listener",
    "Motion",
    "PacketKind",
    "Phase",
    "Point",
    "Reading",
    "Reason",
    "Role",
    "TimeQuality",
    "TrackerState",
    "VehicleSeen",
    "WindLayer",
    "estimate_all",
    "fall_most_m_s",
    "received",
    "wind_most_m_s",
]
