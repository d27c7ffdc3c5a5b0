"""During the flight: what is heard is kept and judged, and somebody is told where the balloon is."""

from pappus.inflight._flight import estimator_for, receivers_of
from pappus.inflight._watch import Watch, watch
from pappus.inflight._watched import CatchingUp, Watched

__all__ = ["CatchingUp", "Watch", "Watched", "estimator_for", "receivers_of", "watch"]
