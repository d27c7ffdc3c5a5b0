"""What a desk holds for all its pages: people and their rights, jobs, events, what goes wrong, maps, sharing."""

from pappus.web.desk import _map_routes, _routes
from pappus.web.desk._access import DeskRoute, needs, role_of
from pappus.web.desk._desk import Desk, desk_folder
from pappus.web.desk._guard import Buckets, Guard
from pappus.web.desk._jobs import Job, Step
from pappus.web.desk._map_routes import map_text
from pappus.web.desk._models import Answer, Asked, FindingAnswer, JobAnswer, Problem
from pappus.web.desk._people import Person, Role
from pappus.web.desk._plan_edit import Edit, edited, plan_of, plan_tables, save
from pappus.web.desk._problems import Refused, install
from pappus.web.desk._share import Share, share

__all__ = [
    "ROUTERS",
    "Answer",
    "Asked",
    "Buckets",
    "Desk",
    "DeskRoute",
    "Edit",
    "FindingAnswer",
    "Guard",
    "Job",
    "JobAnswer",
    "Person",
    "Problem",
    "Refused",
    "Role",
    "Share",
    "Step",
    "desk_folder",
    "edited",
    "install",
    "map_text",
    "needs",
    "plan_of",
    "plan_tables",
    "role_of",
    "save",
    "share",
]

ROUTERS = (_routes.router, _map_routes.router)
