"""What a crew may choose between: when, where, with how much gas and under which balloon."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import product

from pappus.errors import BadPlan, Finding
from pappus.flight_train import Envelope, FillWish
from pappus.plan import Plan, Site

OWN = "as planned"
"""Name of the fill and of the balloon that stand in the plan itself."""
MOST_RELEASES = 200
"""More launch times than this are a slip of the hand, not a question."""


@dataclass(frozen=True)
class LaunchOption:
    """One choice of each kind."""

    site: Site
    release: datetime
    fill_name: str
    fill: FillWish
    balloon_name: str
    balloon: Envelope


@dataclass(frozen=True)
class LaunchOptions:
    """Every launch time with every site, fill and balloon."""

    releases: tuple[datetime, ...]
    """UTC-aware."""
    sites: tuple[Site, ...]
    fills: tuple[tuple[str, FillWish], ...]
    balloons: tuple[tuple[str, Envelope], ...]

    def __post_init__(self) -> None:
        for name, chosen in (
            ("window.step", [f"{release:%Y-%m-%dT%H:%M:%SZ}" for release in self.releases]),
            ("site", [site.name for site in self.sites]),
            ("fill_option", [name for name, _ in self.fills]),
            ("balloon_option", [name for name, _ in self.balloons]),
        ):
            if not chosen:
                raise BadPlan(Finding(name, "", "there is nothing to choose", "Give one at least."))
            twice = next((one for one in chosen if chosen.count(one) > 1), None)
            if twice is not None:
                raise BadPlan(Finding(name, twice, "it stands there twice", "Give each a name of its own."))

    @property
    def cells(self) -> int:
        """Number of combinations."""
        return len(self.releases) * len(self.sites) * len(self.fills) * len(self.balloons)

    def at(self, site: Site, release: datetime) -> Iterator[LaunchOption]:
        """Every fill and balloon at one site and launch time."""
        for (balloon_name, balloon), (fill_name, fill) in product(self.balloons, self.fills):
            yield LaunchOption(site, release, fill_name, fill, balloon_name, balloon)


def launch_options(
    plan: Plan,
    *,
    step_s: float = 3600.0,
    fills: tuple[tuple[str, FillWish], ...] = (),
    balloons: tuple[tuple[str, Envelope], ...] = (),
) -> LaunchOptions:
    """The launch window of the plan in steps, its sites, and its own fill and balloon beside the options given.

    The planned release is always among the launch times. Raises BadPlan for a step that gives none or too many.
    """
    window = plan.window
    span_s = (window.closes - window.opens).total_seconds()
    if not step_s > 0.0 or span_s / step_s > MOST_RELEASES:
        reason = f"the window of {span_s / 3600.0:.1f} h has more than {MOST_RELEASES} such steps"
        raise BadPlan(Finding("window.step", f"{step_s:g} s", reason, 'Give a longer one, for example "30 min".'))
    steps = int(span_s / step_s + 1e-9) + 1
    releases = {window.opens + timedelta(seconds=step_s * step) for step in range(steps)} | {window.release}
    return LaunchOptions(
        tuple(sorted(releases)), plan.sites, ((OWN, plan.fill), *fills), ((OWN, plan.flight_train.envelope), *balloons)
    )


def with_balloon(plan: Plan, balloon: Envelope) -> Plan:
    """The plan with another balloon on its train."""
    return replace(plan, flight_train=replace(plan.flight_train, envelope=balloon))
