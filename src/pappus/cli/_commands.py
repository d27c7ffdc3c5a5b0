"""All commands: each of these modules puts its own into the app."""

from pappus.cli import _brief_commands, _day_commands, _plan_commands, _rehearse_command
from pappus.cli._app import app, pack_app, plan_app

__all__ = ["_brief_commands", "_day_commands", "_plan_commands", "_rehearse_command", "app", "pack_app", "plan_app"]
