"""Everything that pairs of forecast and measured winds can say, in one answer."""

from __future__ import annotations

from dataclasses import dataclass

from pappus.postflight.forecasts._check import WindError, same_hour_correlation, wind_errors
from pappus.postflight.forecasts._ensemble import EnsembleCheck, ensemble_checks
from pappus.postflight.forecasts._vertical import VerticalCorrelation, vertical_correlation
from pappus.sources import ForecastPairs
from pappus.wind import WindPrior


@dataclass(frozen=True, eq=False)
class ForecastCheck:
    """Errors by level and lead time, their reach in height, and the spread of members."""

    file: str
    pairs: int
    errors: tuple[WindError, ...]
    same_hour: tuple[float, int]
    """Correlation of the errors at two stations in the same hour, and the number of such pairs."""
    vertical: VerticalCorrelation | str
    ensembles: tuple[EnsembleCheck, ...]
    left_out: tuple[str, ...]
    """What could not be judged, and why."""


def check_forecasts(pairs: ForecastPairs, prior: WindPrior, *, seed: int) -> ForecastCheck:
    """Compare forecasts with radiosondes; ``seed`` fixes the draws behind the intervals and the ranks."""
    ensembles, alone = ensemble_checks(pairs, prior, seed=seed)
    vertical = vertical_correlation(pairs, prior, seed=seed)
    unfitted = (f"vertical correlation: {vertical}",) if isinstance(vertical, str) else ()
    return ForecastCheck(
        file=pairs.source.name,
        pairs=len(pairs),
        errors=wind_errors(pairs, prior, seed=seed),
        same_hour=same_hour_correlation(pairs),
        vertical=vertical,
        ensembles=ensembles,
        left_out=(*pairs.notes, *alone, *unfitted),
    )
