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
from pappus.rules._deadlines import Deadline, deadlines, position_gap_alarm_utc
from pappus.rules._facts import Equipment, Operator, PackageFact, Permission, RuleFacts, train_facts
from pappus.rules._night import LightOnTheWay, horizon_distance_m, light_on_the_way, sunset_delay_s
from pappus.rules._profile import Base, FlagFact, MeasuredFact, Requirement, RuleProfile
from pappus.rules._verdict import Certainty, RuleVerdict, Verdict

__all__ = [
    "BalloonClass",
    "Base",
    "Certainty",
    "Classification",
    "Deadline",
    "Equipment",
    "FlagFact",
    "LightOnTheWay",
    "MeasuredFact",
    "Operator",
    "PackageFact",
    "Part101",
    "Permission",
    "Requirement",
    "RuleFacts",
    "RuleProfile",
    "RuleVerdict",
    "Verdict",
    "check_rules",
    "classify_australia",
    "classify_icao",
    "deadlines",
    "horizon_distance_m",
    "light_on_the_way",
    "position_gap_alarm_utc",
    "possible_classes",
    "sunset_delay_s",
    "train_facts",
    "us_part_101_applies",
]
