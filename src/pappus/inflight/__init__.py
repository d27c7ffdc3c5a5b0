"""During the flight: what is heard is kept and judged, and somebody is told where the balloon is."""

from pappus.inflight._flight import estimator_for, receivers_of
from pappus.inflight._prediction import Fitted, Prediction, SearchArea, Whereabouts
from pappus.inflight._repredict import cut_now, repredict
from pappus.inflight._repredict_after import after_loss, search_area
from pappus.inflight._repredict_model import InFlightModel, own_column
from pappus.inflight._repredict_track import Track, track_of
from pappus.inflight._repredict_winds import WindsTold
from pappus.inflight._watch import Watch, watch
from pappus.inflight._watched import CatchingUp, Watched

__all__ = [
    "CatchingUp",
    "Fitted",
    "InFlightModel",
    "Prediction",
    "SearchArea",
    "Track",
    "Watch",
    "Watched",
    "Whereabouts",
    "WindsTold",
    "after_loss",
    "cut_now",
    "estimator_for",
    "own_column",
    "receivers_of",
    "repredict",
    "search_area",
    "track_of",
    "watch",
]
