"""What lies under the flights and the airspace that they enter, as tables."""

from __future__ import annotations

from collections.abc import Iterator

from pappus.airspace import VolumeEntry
from pappus.export import Grid, Rows, Section, Sentences
from pappus.hazard import NASA_ENERGY_J, BranchHazard, Chance, GroundHazard
from pappus.landing import Quantiles, Share
from pappus.units import say_distance, say_duration, say_height, say_speed

_GROUND = (
    ("acceptable", "on ground that is acceptable"), ("wet", "in water or at sea"), ("built_up", "among buildings"),
    ("road", "on a road"), ("rail", "on a railway"), ("power_line", "near a power line"), ("steep", "on steep ground"),
    ("keep_out", "in a keep-out zone"), ("permitted", "in a permitted landing zone"),
    ("leaves_permit_area", "leaves the permit area"), ("abroad", "abroad"),
)  # fmt: skip
_OTHERS = {
    "water": "in water", "sea": "at sea", "slope_deg": "how steep it is", "casualties": "expected casualties",
    "retrieval": "how they are fetched", "landing_height_msl_m": "height of the ground",
}  # fmt: skip
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_NOT_SAID = "Not shown here"


def ground_sections(hazard: GroundHazard, volumes: tuple[VolumeEntry, ...]) -> tuple[Section, ...]:
    """Chances by ground, zone and country, how hard the flights land, how they are fetched, and airspace."""
    return tuple(_sections(hazard, volumes))


def _sections(hazard: GroundHazard, volumes: tuple[VolumeEntry, ...]) -> Iterator[Section]:
    known = [(words, getattr(hazard, name)) for name, words in _GROUND if getattr(hazard, name) is not None]
    rows = [_chance_row(words, chance) for words, chance in known]
    rows += [_chance_row(_in_zone(zone.role, zone.name), chance) for zone, chance in hazard.zones]
    rows += [_chance_row(f"in {name}", chance) for name, chance in hazard.countries]
    if rows:
        yield Grid("Where flights come down", ("", "chance", "95 %", "cannot tell"), tuple(rows))
    yield from _surface(hazard)
    if hazard.branches:
        yield Grid(
            "How hard they land", ("", "share", "speed", "energy", f"above {NASA_ENERGY_J:.0f} J"),
            tuple(_branch_row(one) for one in hazard.branches),
            "Middle of each branch; speeds of the sink, energies with the wind near the ground where it is known.",
        )  # fmt: skip
    if hazard.casualties is not None:
        people = hazard.casualties
        sizes = [
            (name, f"{_tens(one.value)} ({_tens(one.low)} to {_tens(one.high)})")
            for name, one in (("a person as 0.36 m²", people.nasa), ("a person as a disc of 0.3 m", people.rcc))
        ]
        yield Rows("Expected casualties of one flight", (*sizes, ("stands on", people.assumptions)))
    if volumes:
        yield Grid(
            "Airspace", ("", "floor to ceiling", "up", "down", "either", "cannot tell", "first, after release"),
            tuple(_volume_row(one) for one in volumes),
        )  # fmt: skip
    if hazard.why_not:
        told = dict(_GROUND) | _OTHERS
        yield Sentences(_NOT_SAID, tuple(f"{told.get(name, name)}: {why}." for name, why in hazard.why_not.items()))


def _tens(value: float) -> str:
    """``"4.5 × 10⁻⁶"``"""
    if value <= 0.0:
        return "0"
    digits, power = f"{value:.1e}".split("e")
    return f"{digits} × 10{str(int(power)).translate(_RAISED)}"


def _surface(hazard: GroundHazard) -> Iterator[Section]:
    rows = []
    if hazard.landing_height_msl_m is not None:
        rows.append(("height of the ground", _between(hazard.landing_height_msl_m, say_height)))
    if hazard.slope_deg is not None:
        rows.append(("slope", _between(hazard.slope_deg, lambda value: f"{value:.0f}°")))
    fetched = hazard.retrieval
    if fetched is not None and fetched.road_m is not None:
        rows.append(("to the nearest road", _between(fetched.road_m, say_distance)))
    if fetched is not None and fetched.drive_time_s is not None:
        rows.append(("drive, legal speeds on empty roads", _between(fetched.drive_time_s, say_duration)))
    if rows:
        yield Rows("The ground and the way to it (5, 50 and 95 %)", tuple(rows))


def _between(values: Quantiles, say: object) -> str:
    assert callable(say)
    return ", ".join(str(say(value)) for value in values.values)


def _in_zone(role: str, name: str) -> str:
    """Zone files often name the role themselves."""
    return f"in {name}" if name.lower().startswith(role) else f"in {role} {name}"


def _chance_row(words: str, chance: Chance) -> tuple[str, ...]:
    return words, _percent(chance.share), _interval(chance.share), _percent(chance.unknown)


def _branch_row(branch: BranchHazard) -> tuple[str, ...]:
    speed = "–" if branch.touchdown_m_s is None else say_speed(branch.touchdown_m_s.values[1])
    energy = "–" if branch.energy_j is None else f"{branch.energy_j.values[1]:.0f} J"
    over = "–" if branch.over_j is None else _percent(branch.over_j[1])
    return branch.branch.text, _percent(branch.chance), speed, energy, over


def _volume_row(entry: VolumeEntry) -> tuple[str, ...]:
    volume = entry.volume
    limits = f"{volume.floor.text} to {volume.ceiling.text}"
    first = "–" if entry.first_time_s is None else say_duration(entry.first_time_s[1])
    shares = (_percent(one) for one in (entry.up, entry.down, entry.any, entry.undecided))
    return f"{volume.name} ({volume.kind})", limits, *shares, first


def _percent(share: Share) -> str:
    """Never a plain zero or one where flights cannot tell it from a little."""
    p = 100.0 * share.p
    if 0.0 < p < 0.05:
        return "< 0.1 %"
    if 99.95 <= p < 100.0:
        return "> 99.9 %"
    return f"{p:.1f} %" if 0.0 < p < 10.0 or 90.0 < p < 100.0 else f"{p:.0f} %"


def _interval(share: Share) -> str:
    return f"{100.0 * share.low:.1f} to {100.0 * share.high:.1f} %"
