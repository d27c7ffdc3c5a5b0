"""Law: verdicts on a flight from the numbers of the rooms below, deadlines, and drafts of what has to be said.

A planning aid, not legal advice. Every verdict says how its text is known and from when it is; a missing input is never
"met". The drafts are texts to send or read out by hand: nothing here files anything.
"""

from pappus.rules._check import check_rules, possible_classes
from pappus.rules._classes import (
    BalloonClass,
    Classification,
    Part101,
    classify_australia,
    classify_icao,
    us_part_101_applies,
)
from pappus.rules._coordinates import CoveringCircle, covering_circle
from pappus.rules._deadlines import Deadline, deadlines, position_gap_alarm_utc
from pappus.rules._drafts import (
    Draft,
    RuleSet,
    cancellation,
    descent_report,
    end_report,
    launch_notice,
    launch_report,
    lost_position_report,
    position_report,
)
from pappus.rules._facts import Equipment, Operator, PackageFact, Permission, RuleFacts, train_facts
from pappus.rules._limits import congested_below_m, sixty_thousand_ft_m, surface_area_below_m
from pappus.rules._night import LightOnTheWay, light_on_the_way
from pappus.rules._notam import NotamRequest, notam_request
from pappus.rules._notice import FlightNotice, TrackPoint
from pappus.rules._profile import Base, FlagFact, MeasuredFact, Requirement, RuleProfile
from pappus.rules._verdict import Certainty, RuleVerdict, Verdict

__all__ = [
    "BalloonClass",
    "Base",
    "Certainty",
    "Classification",
    "CoveringCircle",
    "Deadline",
    "Draft",
    "Equipment",
    "FlagFact",
    "FlightNotice",
    "LightOnTheWay",
    "MeasuredFact",
    "NotamRequest",
    "Operator",
    "PackageFact",
    "Part101",
    "Permission",
    "Requirement",
    "RuleFacts",
    "RuleProfile",
    "RuleSet",
    "RuleVerdict",
    "TrackPoint",
    "Verdict",
    "cancellation",
    "check_rules",
    "classify_australia",
    "classify_icao",
    "congested_below_m",
    "covering_circle",
    "deadlines",
    "descent_report",
    "end_report",
    "launch_notice",
    "launch_report",
    "light_on_the_way",
    "lost_position_report",
    "notam_request",
    "position_gap_alarm_utc",
    "position_report",
    "possible_classes",
    "sixty_thousand_ft_m",
    "surface_area_below_m",
    "train_facts",
    "us_part_101_applies",
]
