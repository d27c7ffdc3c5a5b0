"""Earlier winds against later balloons, as tables and sentences."""

from __future__ import annotations

from pappus.export import Grid, Section, Sentences
from pappus.postflight._scores_by_group import GroupMean, GroupShare
from pappus.postflight.held_winds._pairs import ASCENT_RATE_M_S
from pappus.postflight.held_winds._scores import FEWEST_TO_JUDGE, HeightScore, Persistence
from pappus.postflight.held_winds._station_hour import StationHour

SCOPE = (
    "This tests an ascent under persistence: the winds of an earlier sounding from the same place, 4 to 14 h old, "
    "held as they were. It does not test the error of a weather model, and it does not test a landing."
)


def persistence_sections(result: Persistence) -> tuple[Section, ...]:
    """What it tests, the fitted factor, the shares and scores by height, then what was left out and why."""
    sections: list[Section] = [Sentences("Later balloons on earlier winds", (SCOPE, *_evidence(result)))]
    if result.heights:
        sections += [_shares(result), _scores(result)]
    if result.left_out:
        sections.append(Sentences("Not compared", result.left_out))
    return tuple(sections)


def _evidence(result: Persistence) -> tuple[str, ...]:
    pairs, factor = result.pairs, result.age_factor
    if factor is None:
        return (f"{len(pairs)} pairs: nothing is fitted and nothing is judged.",)
    untimed = sum(not pair.timed for pair in pairs)
    summed = sum(not pair.from_positions for pair in pairs)
    lines = [
        f"{factor.pairs} pairs on {factor.days} days. One factor on the spread of a held wind is fitted, nothing else: "
        f"{factor.factor:.2f}, 95 % interval {factor.low:.2f} to {factor.high:.2f} by resampling whole days.",
        "Each day is judged with the factor that the other days gave "
        f"({min(f for _, f in factor.without_day):.2f} to {max(f for _, f in factor.without_day):.2f}).",
        "Days at one place that follow each other share their weather, and a flight may be the later one of a pair and "
        "the earlier one of the next: the intervals by days are rather too narrow, the exact ones more so.",
    ]
    if summed:
        lines.append(f"In {summed} pairs no position was measured: there the later winds were summed for the truth.")
    if untimed:
        lines.append(f"In {untimed} pairs the later ascent has no times: it rises at {ASCENT_RATE_M_S:.0f} m/s there.")
    return (*lines, *(line for row in result.heights if row.judged for line in _off_by_days(row)))


def _off_by_days(row: HeightScore) -> tuple[str, ...]:
    """A line for each share whose interval by days leaves out what it should be, although the days do vary."""
    found = []
    for nominal, share in ((50, row.inside_50), (90, row.inside_90)):
        varies = share.group_low < share.group_high
        if varies and not share.group_low <= nominal / 100 <= share.group_high:
            size = "wide" if share.k / share.n > nominal / 100 else "narrow"
            found.append(
                f"At {row.height_msl_m / 1000:.0f} km the interval by days of the {nominal} % area leaves {nominal} % "
                f"out: the field looks too {size} there."
            )
    return tuple(found)


def _shares(result: Persistence) -> Grid:
    columns = (
        "km MSL",
        "pairs",
        "days",
        "in 50 %",
        "exact %",
        "by days %",
        "in 90 %",
        "exact %",
        "by days %",
        "covers",
    )
    rows = tuple(
        (
            f"{row.height_msl_m / 1000:.0f}",
            f"{row.n}",
            f"{row.days}",
            *_share(row.inside_50),
            *_share(row.inside_90),
            _verdict(row, row.covers),
        )
        for row in result.heights
    )
    note = (
        "Pairs inside the area that should hold 50 and 90 % of them, with 95 % intervals: exact for independent "
        "flights (Clopper and Pearson), and by whole days drawn again, which cannot vary where all or none are "
        "inside. It covers when both shares lie in the exact interval; "
        f"fewer than {FEWEST_TO_JUDGE} pairs are not judged."
    )
    return Grid("Later balloons inside the area", columns, rows, note)


def _scores(result: Persistence) -> Grid:
    columns = (
        "km MSL",
        "off",
        "spread",
        "field",
        "winds",
        "circle",
        "over winds",
        "over circle",
        "best",
    )
    rows = tuple(
        (
            f"{row.height_msl_m / 1000:.0f}",
            f"{row.rms_error_m / 1000:.1f}",
            f"{row.sd_m * 2**0.5 / 1000:.1f}",
            f"{row.energy_score_m / 1000:.2f}",
            f"{row.point_score_m / 1000:.2f}",
            f"{row.circle_score_m / 1000:.2f}",
            _gain(row.over_point_m),
            _gain(row.over_circle_m),
            _verdict(row, row.beats_both),
        )
        for row in result.heights
    )
    note = (
        "All in km. Off and spread: root mean square distance, as found and as the error field gave it. Energy scores, "
        "smaller is better: the error field, the earlier winds alone, one circle fitted to the other days. Over: 95 % "
        "interval by days of how much better the field is; one that holds zero leaves the order open."
    )
    return Grid("Energy score", columns, rows, note)


def _verdict(row: HeightScore, good: bool) -> str:
    if not row.judged:
        return "too few"
    return "yes" if good else "no"


def _share(share: GroupShare) -> tuple[str, str, str]:
    return f"{share.k}", _percent(share.low, share.high), _percent(share.group_low, share.group_high)


def _percent(low: float, high: float) -> str:
    return f"{low * 100:.0f}-{high * 100:.0f}"


def _gain(gain: GroupMean) -> str:
    return f"{gain.group_low / 1000:.2f} to {gain.group_high / 1000:.2f}"


def station_hour_sections(result: StationHour) -> tuple[Section, ...]:
    """Size of the wind differences of stations at one hour by height, and over which depth they hang together."""
    lines: tuple[str, ...] = (
        f"{result.stations} stations of {result.hour:%Y-%m-%d %H:%MZ}, {result.pairs} pairs 150 to 400 km apart, "
        "intervals by resampling stations. One hour of one day: the size is that day's, not a mean over the year.",
        f"The difference falls to 1/e over {_km(result.length_m)} of height "
        f"({_km(result.low_m)} to {_km(result.high_m)}); the prior has {_km(result.prior_length_m)}.",
        f"Summed over the heights apart its correlation gives {_km(result.depth_m)} ({_km(result.depth_low_m)} to "
        f"{_km(result.depth_high_m)}); the prior has {_km(result.prior_depth_m)}.",
    )
    if result.no_place:
        lines += (f"Left out, because it is not known where they are: {', '.join(result.no_place)}.",)
    columns = ("km MSL", "pairs", "m/s a component", "by stations", "prior m/s", "ratio")
    rows = tuple(
        (
            f"{row.height_msl_m / 1000:.0f}",
            f"{row.pairs}",
            f"{row.sd_m_s:.1f}",
            f"{row.low_m_s:.1f} to {row.high_m_s:.1f}",
            f"{row.prior_sd_m_s:.1f}",
            f"{row.sd_m_s / row.prior_sd_m_s:.2f}",
        )
        for row in result.sizes
    )
    note = "The prior's spread of a wind held from that far away, with a factor of one."
    return (
        Sentences("Stations on each other's winds", lines),
        Grid("Wind differences of stations", columns, rows, note),
    )


def _km(length_m: float) -> str:
    return f"{length_m / 1000:.1f} km" if length_m == length_m else "more than 15 km"
