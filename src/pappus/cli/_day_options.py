"""The options that commands which fly the plan share, stated once."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields
from datetime import datetime
from pathlib import Path
from typing import get_type_hints

from pappus.cli._options import (
    Json,
    Out,
    PackFolder,
    PlanFile,
    PriorFile,
    ReleaseText,
    SiteName,
    Terrain,
    Winds,
    release_time,
)
from pappus.plan import Plan


@dataclass(frozen=True)
class DayOptions:
    """Which plan, from where and when, in what winds and over what ground."""

    plan: PlanFile
    winds: Winds = None
    site: SiteName = None
    release: ReleaseText = None
    prior: PriorFile = None
    terrain: Terrain = None
    pack: PackFolder = None
    as_json: Json = False

    def release_utc(self, plan: Plan) -> datetime | None:
        """The release that was asked for."""
        return release_time(self.release, plan)


@dataclass(frozen=True)
class BriefingOptions(DayOptions):
    """The same, and where the briefing folder goes."""

    out: Out = None

    def require_folder(self) -> Path | None:
        """The folder, once it is known that it can be written."""
        from pappus.preflight import require_folder

        if self.out is not None:
            require_folder(self.out)
        return self.out


def takes(shared: type[DayOptions]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """The fields of ``shared`` as options of a command, which gets them together as its first argument."""

    def with_options(command: Callable[..., None]) -> Callable[..., None]:
        common, own = get_type_hints(shared, include_extras=True), get_type_hints(command, include_extras=True)
        names = [one.name for one in fields(shared)]
        keyword = inspect.Parameter.POSITIONAL_OR_KEYWORD
        parameters = [
            inspect.Parameter(
                one.name, keyword, annotation=common[one.name],
                default=inspect.Parameter.empty if one.default is MISSING else one.default,
            )
            for one in fields(shared)
        ] + [
            one.replace(annotation=own[one.name]) for one in list(inspect.signature(command).parameters.values())[1:]
        ]  # fmt: skip
        signature = inspect.Signature(parameters)

        def run(*arguments: object, **options: object) -> None:
            bound = signature.bind(*arguments, **options)
            bound.apply_defaults()
            told = bound.arguments
            command(shared(**{name: told.pop(name) for name in names}), **told)

        run.__name__, run.__doc__, run.__module__ = command.__name__, command.__doc__, command.__module__
        run.__annotations__ = {one.name: one.annotation for one in parameters}
        run.__signature__ = signature  # type: ignore[attr-defined]  # a function may have one; mypy does not know it
        return run

    return with_options
