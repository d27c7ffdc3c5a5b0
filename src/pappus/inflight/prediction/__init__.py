"""Where the flight comes down as things are now: balloon, canopy and winds as this flight has shown them."""

from pappus.inflight.prediction._after import TRACKED, search_area, whereabouts
from pappus.inflight.prediction._model import InFlightModel, own_column
from pappus.inflight.prediction._prediction import Fitted, Prediction, SearchArea, Whereabouts
from pappus.inflight.prediction._repredict import FLIGHTS, cut_now, repredict
from pappus.inflight.prediction._track import Track, track_of
from pappus.inflight.prediction._winds import WindsTold

__all__ = [
    "FLIGHTS",
    "TRACKED",
    "Fitted",
    "InFlightModel",
    "Prediction",
    "SearchArea",
    "Track",
    "Whereabouts",
    "WindsTold",
    "cut_now",
    "own_column",
    "repredict",
    "search_area",
    "track_of",
    "whereabouts",
]
