"""Forecasts fetched from the centres that give them away: what to ask for, the asking, and what came."""

from pappus.sources.centres._centres import CENTRES, Centre
from pappus.sources.centres._fetch import Fetched, FetchedFile, fetch, join_fetched
from pappus.sources.centres._plan import plan_fetch
from pappus.sources.centres._rules import DownloadRules, NotFetched
from pappus.sources.centres._wish import FetchPlan, FetchWish

__all__ = [
    "CENTRES",
    "Centre",
    "DownloadRules",
    "FetchPlan",
    "FetchWish",
    "Fetched",
    "FetchedFile",
    "NotFetched",
    "fetch",
    "join_fetched",
    "plan_fetch",
]
