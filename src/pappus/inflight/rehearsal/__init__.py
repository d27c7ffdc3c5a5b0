"""A flight that is not flown: its truth, its packets and faults, the crew that answers it, and how it did."""

from pappus.inflight.rehearsal._crew import Crew, Raised
from pappus.inflight.rehearsal._fast import Rehearsed, ears_of, rehearse_fast
from pappus.inflight.rehearsal._faults import Fault, faults_named
from pappus.inflight.rehearsal._rehearse import Moment, rehearse
from pappus.inflight.rehearsal._score import Score, score_lines, score_of, stopped_lines
from pappus.inflight.rehearsal._truth import Stage, Truth, draw_truth

__all__ = [
    "Crew",
    "Fault",
    "Moment",
    "Raised",
    "Rehearsed",
    "Score",
    "Stage",
    "Truth",
    "draw_truth",
    "ears_of",
    "faults_named",
    "rehearse",
    "rehearse_fast",
    "score_lines",
    "score_of",
    "stopped_lines",
]
