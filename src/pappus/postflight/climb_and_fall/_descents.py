"""All recorded descents of a collection, with the prior as it stands and with one fitted to the other campaigns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pappus.flight_train import FallPrior
from pappus.postflight._campaigns import campaigns, of_other_campaigns
from pappus.postflight._inside import InsideCount, inside_counts
from pappus.postflight.climb_and_fall._descent import DescentCheck, descent_check
from pappus.postflight.climb_and_fall._fall_fit import fit_fall_prior
from pappus.sources import Sounding
from pappus.wind import WindPrior


@dataclass(frozen=True)
class DescentChecks:
    """All descents that can be judged, and why the others cannot."""

    prior: tuple[DescentCheck, ...]
    """With the prior as given. Where it was fitted to some of these very flights, it knew their exponents."""
    others: tuple[DescentCheck, ...]
    """With a prior fitted to the descents of other campaigns only."""
    left_out: tuple[str, ...]

    @property
    def counts(self) -> tuple[InsideCount, ...]:
        """Ends inside the areas by moment, with the prior as given."""
        return _counts(self.prior)

    @property
    def counts_others(self) -> tuple[InsideCount, ...]:
        """The same with the priors of the other campaigns."""
        return _counts(self.others)


def descent_checks(
    soundings: Sequence[Sounding],
    fall: FallPrior,
    wind: WindPrior,
    rng_seed: int,
    step: Callable[[str], None] = lambda _: None,
) -> DescentChecks:
    """Judge every descent twice: with the prior as given, and with what the other campaigns say."""
    descents = [sounding for sounding in soundings if sounding.is_descent]
    given: list[DescentCheck] = []
    others: list[DescentCheck] = []
    left_out: list[str] = []
    for descent in descents:
        step(descent.source.name)
        title = f"{descent.source.name}, descent {descent.release:%Y-%m-%d %H:%MZ}"
        checked = descent_check(descent, soundings, fall, wind, rng_seed)
        if isinstance(checked, str):
            left_out.append(f"{title}: {checked}")
            continue
        given.append(checked)
        left_out.extend(f"{title}: {line}" for line in checked.left_out)
        fit = fit_fall_prior(of_other_campaigns(descent, descents))
        if isinstance(fit, str):
            left_out.append(f"{title}, prior of the other campaigns: {fit}")
            continue
        again = descent_check(descent, soundings, fit.prior, wind, rng_seed)
        if isinstance(again, DescentCheck):
            others.append(again)
    return DescentChecks(tuple(given), tuple(others), tuple(left_out))


def _counts(checks: tuple[DescentCheck, ...]) -> tuple[InsideCount, ...]:
    return inside_counts(
        (moment.moment, campaign, moment.inside_50, moment.inside_90)
        for campaign, group in enumerate(campaigns(checks))
        for check in group
        for moment in check.moments
    )
