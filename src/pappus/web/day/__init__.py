"""The pages of the flight day and after it: watch, rehearsal, chase, review."""

from pappus.web.day import _chase_routes, _review_routes, _watch_routes
from pappus.web.day._rehearsal import end_days

__all__ = [
    "ROUTERS",
    "end_days",
]

ROUTERS = (_watch_routes.router, _chase_routes.router, _review_routes.router)
