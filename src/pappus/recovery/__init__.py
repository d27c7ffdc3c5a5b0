"""The chase: where cars wait, where antennas point, when contact ends, and where to search afterwards.

Advice for a crew that keeps the law and its own judgement: nothing here drives, and any line of it may be dismissed.
"""

from pappus.recovery._angles import DescentTracks, Pointing, SignalLoss, Station, look_angles, signal_lost
from pappus.recovery._best import Effort
from pappus.recovery._cells import LastHeard, SearchCells, after_search, loss_offset_m, search_cells
from pappus.recovery._follow import (
    ChaseEnd,
    FlightSeen,
    by_advice,
    by_dot,
    by_nearest_stop,
    follow,
    last_position,
    middle_predicted,
)
from pappus.recovery._landings import Landings, landings_of
from pappus.recovery._meeting import Car, Chase, Meeting, cars_of, meeting_point, route_to
from pappus.recovery._reach import Reach
from pappus.recovery._route import ChaseRoute, DecisionPoint, Turn
from pappus.recovery._sight import Sight, last_heard_height_m, line_of_sight, radio_horizon_m
from pappus.recovery._spoken import SAFETY, Line, say_road_distance, spoken
from pappus.recovery._stops import ChaseRoads, StopRules, chase_roads

__all__ = [
    "SAFETY",
    "Car",
    "Chase",
    "ChaseEnd",
    "ChaseRoads",
    "ChaseRoute",
    "DecisionPoint",
    "DescentTracks",
    "Effort",
    "FlightSeen",
    "Landings",
    "LastHeard",
    "Line",
    "Meeting",
    "Pointing",
    "Reach",
    "SearchCells",
    "Sight",
    "SignalLoss",
    "Station",
    "StopRules",
    "Turn",
    "after_search",
    "by_advice",
    "by_dot",
    "by_nearest_stop",
    "cars_of",
    "chase_roads",
    "follow",
    "landings_of",
    "last_heard_height_m",
    "last_position",
    "line_of_sight",
    "look_angles",
    "loss_offset_m",
    "meeting_point",
    "middle_predicted",
    "radio_horizon_m",
    "route_to",
    "say_road_distance",
    "search_cells",
    "signal_lost",
    "spoken",
]
