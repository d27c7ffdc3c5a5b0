"""During the flight: what is heard is kept and judged, and somebody is told where the balloon is."""

from pappus.inflight._flight import estimator_for, receivers_of
from pappus.inflight._given import keep_given
from pappus.inflight._prediction import Fitted, Prediction, SearchArea, Whereabouts
from pappus.inflight._rehearse import Moment, rehearse
from pappus.inflight._rehearse_crew import Crew, Raised
from pappus.inflight._rehearse_fast import Rehearsed, ears_of, rehearse_fast
from pappus.inflight._rehearse_faults import Fault, faults_named
from pappus.inflight._rehearse_score import Score, score_lines, score_of, stopped_lines
from pappus.inflight._rehearse_truth import Stage, Truth, draw_truth
from pappus.inflight._repredict import cut_now, repredict
from pappus.inflight._repredict_after import TRACKED, search_area, whereabouts
from pappus.inflight._repredict_model import InFlightModel, own_column
from pappus.inflight._repredict_track import Track, track_of
from pappus.inflight._repredict_winds import WindsTold
from pappus.inflight._warnings import Warned, warn
from pappus.inflight._warnings_ahead import LiesAround, ahead_of, descent_report_due, gap_alarm_asked, planned_of
from pappus.inflight._warnings_kinds import Warning_, WarningKind, WarningLimits
from pappus.inflight._warnings_picture import Ahead, ChanceAhead, FlightPicture, Past, PlannedFlight, looked
from pappus.inflight._watch import Watch, watch
from pappus.inflight._watched import CatchingUp, Watched

__all__ = [
    "TRACKED",
    "Ahead",
    "CatchingUp",
    "ChanceAhead",
    "Crew",
    "Fault",
    "Fitted",
    "FlightPicture",
    "InFlightModel",
    "LiesAround",
    "Moment",
    "Past",
    "PlannedFlight",
    "Prediction",
    "Raised",
    "Rehearsed",
    "Score",
    "SearchArea",
    "Stage",
    "Track",
    "Truth",
    "Warned",
    "WarningKind",
    "WarningLimits",
    "Warning_",
    "Watch",
    "Watched",
    "Whereabouts",
    "WindsTold",
    "ahead_of",
    "cut_now",
    "descent_report_due",
    "draw_truth",
    "ears_of",
    "estimator_for",
    "faults_named",
    "gap_alarm_asked",
    "keep_given",
    "looked",
    "own_column",
    "planned_of",
    "receivers_of",
    "rehearse",
    "rehearse_fast",
    "repredict",
    "score_lines",
    "score_of",
    "search_area",
    "stopped_lines",
    "track_of",
    "warn",
    "watch",
    "whereabouts",
]
