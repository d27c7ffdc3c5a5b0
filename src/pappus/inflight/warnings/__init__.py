"""What the crew should know now: symptoms of the flight, and what lies ahead of it."""

from pappus.inflight.warnings._ahead import LiesAround, ahead_of, descent_report_due, gap_alarm_asked, planned_of
from pappus.inflight.warnings._kinds import LIMITS, Warning_, WarningKind, WarningLimits
from pappus.inflight.warnings._motion import OPENING_S, THICK_BELOW_MSL_M, THIN_AIR
from pappus.inflight.warnings._picture import Ahead, ChanceAhead, FlightPicture, Past, PlannedFlight, looked
from pappus.inflight.warnings._warn import Warned, warn

__all__ = [
    "LIMITS",
    "OPENING_S",
    "THICK_BELOW_MSL_M",
    "THIN_AIR",
    "Ahead",
    "ChanceAhead",
    "FlightPicture",
    "LiesAround",
    "Past",
    "PlannedFlight",
    "Warned",
    "WarningKind",
    "WarningLimits",
    "Warning_",
    "ahead_of",
    "descent_report_due",
    "gap_alarm_asked",
    "looked",
    "planned_of",
    "warn",
]
