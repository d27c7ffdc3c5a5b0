"""The pages before the flight: Plan, Window, Flight and Briefing, and the heavy work behind them."""

from pappus.web.before import _briefing_routes, _flight_routes, _plan_routes, _window_routes
from pappus.web.before._plan_routes import plan_answer
from pappus.web.before._release_work import surrounded

__all__ = ["ROUTERS", "plan_answer", "surrounded"]

ROUTERS = (_plan_routes.router, _window_routes.router, _flight_routes.router, _briefing_routes.router)
