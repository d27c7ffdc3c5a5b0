"""The desk: the flight in a browser. Thin: it asks the paths and hands out what they say."""

from pappus.web._app import create_app
from pappus.web._run import run_desk
from pappus.web.desk import Desk, Role, Share, share

__all__ = ["Desk", "Role", "Share", "create_app", "run_desk", "share"]
