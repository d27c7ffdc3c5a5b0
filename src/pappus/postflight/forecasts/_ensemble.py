"""Whether the members of a forecast spread as much as they err, before and after they are raised to the prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from pappus.postflight.forecasts._resampled import Resampled, interval_95
from pappus.sources import ForecastPairs
from pappus.wind import WindPrior, forecast_wind_sd_m_s

Array = NDArray[np.float64]
Index = NDArray[np.intp]

LAGGED_S = 10_800.0
"""Members of runs that start within these three hours, the last one full, are taken as one ensemble."""
FEWEST_MEMBERS = 5


@dataclass(frozen=True)
class SpreadOverError:
    """Spread and error of the member mean at one level, per component."""

    pressure_pa: float
    """NaN for all levels together."""
    ensembles: int
    soundings: int
    error_m_s: float
    """Root mean square of the member mean against the sonde."""
    member_ratio: float
    """sqrt(member variance (m + 1) / m + noise) / error."""
    member_ratio_95: tuple[float, float]
    raised_ratio: float
    """The same with the variance that flights meet: of the members, and of the draw that raises them to the prior."""
    raised_ratio_95: tuple[float, float]


@dataclass(frozen=True, eq=False)
class RankHistogram:
    """How often the sonde's wind has each rank among the members, u and v counted together; shape (members + 1,)."""

    counts: Index
    chi2: float
    limit_95: float
    """For ranks that do not depend on one another."""
    dependent_limit_95: float
    """From blocks of one station and one day that are drawn again."""


@dataclass(frozen=True, eq=False)
class EnsembleCheck:
    """One model's members."""

    model: str
    members: int
    lead_s: tuple[float, float]
    levels: tuple[SpreadOverError, ...]
    """From the ground up, then all together."""
    member_ranks: RankHistogram
    raised_ranks: RankHistogram


@dataclass(frozen=True, eq=False)
class _Groups:
    """G ensembles with the wind they are judged by; winds are [group, member, component]."""

    wind_m_s: Array
    observed_m_s: Array
    pressure_pa: Array
    lead_s: Array
    sonde_m2_s2: Array
    """Instrument and rounding of the sonde's report."""
    rounding_m2_s2: Array
    """Of the member mean."""
    row: Index
    """The first member's, into the pairs."""

    @property
    def member_m2_s2(self) -> Array:
        """Unbiased variance of the members, mean of u and v, shape (G,)."""
        return np.asarray(self.wind_m_s.var(axis=1, ddof=1).mean(axis=-1))


def ensemble_checks(
    pairs: ForecastPairs, prior: WindPrior, *, seed: int
) -> tuple[tuple[EnsembleCheck, ...], tuple[str, ...]]:
    """A check of each model with five members or more, and a line for what is not judged. Lead 0 does not count.

    A flight meets ``member deviation + draw``, and the draw has the variance ``max(large - member variance, 0) + wave``
    with both parts of the prior at the level and lead time. Sonde and rounding add to both sides of the comparison:
    as variance to the spread, as a draw to each member before it is ranked.
    """
    resampled = Resampled.of(pairs, seed=seed)
    checks, left = [], []
    for index, model in enumerate(pairs.models):
        rows = np.flatnonzero(pairs.model == index)
        if rows.size == 0:
            continue
        found = _groups(pairs, rows, prior)
        if isinstance(found, str):
            left.append(f"{model}: {found}")
        else:
            groups, incomplete = found
            checks.append(_check(model, groups, prior, resampled, seed))
            if incomplete:
                left.append(f"{model}: {incomplete} ensembles lack a member")
    return tuple(checks), tuple(left)


def _groups(pairs: ForecastPairs, rows: Index, prior: WindPrior) -> tuple[_Groups, int] | str:
    """Complete ensembles of one model, and how many are not complete; or why there is none."""
    epoch_s = pairs.epoch.timestamp()
    nominal = np.ceil((pairs.run_s[rows] + epoch_s) / LAGGED_S) * LAGGED_S - epoch_s
    ahead = nominal < pairs.valid_s[rows]
    rows, nominal = rows[ahead], nominal[ahead]
    if rows.size == 0:
        return "no forecast with a lead time"
    keys = np.column_stack([nominal, pairs.valid_s[rows], pairs.station[rows], pairs.pressure_pa[rows]])
    _, group, count = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    group = group.ravel()
    members = int(count.max())
    if members < FEWEST_MEMBERS:
        return f"{members} member{'s' * (members > 1)} only"
    # a control that runs on alone after its members end is no ensemble, and so no incomplete one
    incomplete = int(((count < members) & (count > 1)).sum())
    whole = count[group] == members
    order = np.flatnonzero(whole)[np.argsort(group[whole], kind="stable")]
    table = rows[order].reshape(-1, members)
    first = table[:, 0]
    sonde = prior.instrument_sd_m_s**2 + pairs.observed_rounding_m2_s2[first]
    return _Groups(
        wind_m_s=np.stack([pairs.forecast_u_m_s[table], pairs.forecast_v_m_s[table]], axis=-1),
        observed_m_s=np.stack([pairs.observed_u_m_s[first], pairs.observed_v_m_s[first]], axis=-1),
        pressure_pa=pairs.pressure_pa[first],
        lead_s=pairs.lead_s[table].mean(axis=1),
        sonde_m2_s2=sonde,
        rounding_m2_s2=pairs.forecast_rounding_m2_s2[table].mean(axis=1) / members,
        row=first,
    ), incomplete


def _check(model: str, groups: _Groups, prior: WindPrior, resampled: Resampled, seed: int) -> EnsembleCheck:
    members = groups.wind_m_s.shape[1]
    of_members = groups.member_m2_s2
    whole = forecast_wind_sd_m_s(groups.pressure_pa, groups.lead_s, prior) ** 2
    drawn = np.maximum(prior.large_share * whole - of_members, 0.0) + (1.0 - prior.large_share) * whole
    noise = groups.sonde_m2_s2 + groups.rounding_m2_s2
    error = ((groups.wind_m_s.mean(axis=1) - groups.observed_m_s) ** 2).mean(axis=-1)
    before = of_members * (members + 1) / members + noise
    # flights take their members in turn, so they meet the plain variance of the members
    after = of_members * (members - 1) / members + drawn + noise
    levels = [
        _spread(
            resampled, groups.row, np.flatnonzero(groups.pressure_pa == pressure), float(pressure), error, before, after
        )
        for pressure in np.unique(groups.pressure_pa)[::-1]
    ]
    levels.append(_spread(resampled, groups.row, np.arange(error.size), float("nan"), error, before, after))
    rng = np.random.default_rng(seed)
    return EnsembleCheck(
        model=model,
        members=members,
        lead_s=(float(groups.lead_s.min()), float(groups.lead_s.max())),
        levels=tuple(levels),
        member_ranks=_ranks(groups, groups.sonde_m2_s2, resampled, rng),
        raised_ranks=_ranks(groups, groups.sonde_m2_s2 + drawn, resampled, rng),
    )


def _spread(
    resampled: Resampled, row: Index, rows: Index, pressure_pa: float, error: Array, before: Array, after: Array
) -> SpreadOverError:
    errors = resampled.sums(row[rows], error[rows])
    ratios = [
        (
            float(np.sqrt(values[rows].sum() / error[rows].sum())),
            np.sqrt(resampled.sums(row[rows], values[rows]) / errors),
        )
        for values in (before, after)
    ]
    return SpreadOverError(
        pressure_pa=pressure_pa,
        ensembles=int(rows.size),
        soundings=resampled.soundings(row[rows]),
        error_m_s=float(np.sqrt(error[rows].mean())),
        member_ratio=ratios[0][0],
        member_ratio_95=interval_95(ratios[0][1]),
        raised_ratio=ratios[1][0],
        raised_ratio_95=interval_95(ratios[1][1]),
    )


def _ranks(groups: _Groups, added_m2_s2: Array, resampled: Resampled, rng: np.random.Generator) -> RankHistogram:
    """Ranks among the members, each with a draw of variance ``added_m2_s2`` of its own."""
    bins = groups.wind_m_s.shape[1] + 1
    draw = rng.standard_normal(groups.wind_m_s.shape) * np.sqrt(added_m2_s2)[:, None, None]
    rank = (groups.wind_m_s + draw < groups.observed_m_s[:, None, :]).sum(axis=1)
    # ensemble by bin: how many of u and v have that rank
    ranked = (rank[:, :, None] == np.arange(bins)).sum(axis=1)
    counts = ranked.sum(axis=0)
    total = int(counts.sum())
    drawn = resampled.sums(groups.row, ranked.astype(np.float64))
    share = drawn / drawn.sum(axis=1, keepdims=True)
    apart = total * bins * ((share - counts / total) ** 2).sum(axis=1)
    return RankHistogram(
        counts=counts,
        chi2=float(((counts - total / bins) ** 2).sum() * bins / total),
        limit_95=float(chi2.ppf(0.95, bins - 1)),
        dependent_limit_95=float(np.nanquantile(apart, 0.95)),
    )
