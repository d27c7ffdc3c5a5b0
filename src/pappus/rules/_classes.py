"""Which class a balloon is in, and whether US Part 101 holds, from masses, smallest faces and the weakest link.

Everything below the neck counts into the combined mass: the laws do not name canopy, line and reflector, so the
stricter way is taken (common practice). The limits per package count packages alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from pappus.rules._facts import PackageFact
from pappus.rules._limits import (
    icao_dense_package_kg,
    icao_density_kg_m2,
    icao_heavy_kg,
    icao_heavy_package_kg,
    icao_light_kg,
    icao_separation_n,
    us_dense_package_kg,
    us_density_kg_m2,
    us_package_kg,
    us_payload_kg,
    us_separation_n,
)
from pappus.rules._verdict import at_least, either, every, more_than

BalloonClass = Literal["small", "light", "medium", "heavy"]
Packages = tuple[PackageFact, ...]
_Passes = Callable[[float, float], bool]

_HEAVY: frozenset[BalloonClass] = frozenset({"heavy"})
CONSERVATIVE = "Everything below the neck is counted into the combined mass."


@dataclass(frozen=True)
class Classification:
    """Class of a balloon under ICAO Annex 2 Appendix 5, SERA Appendix 2 or CASR 101.E."""

    name: BalloonClass | None
    """None: cannot tell."""
    possible: frozenset[BalloonClass]
    """Every class that the known numbers leave open."""
    heavy_criteria: tuple[str, ...]
    """``c1`` combined mass, ``c2`` a heavy package, ``c3`` a dense package, ``c4`` the force that parts it."""
    undecided: tuple[str, ...]
    """Criteria that a missing number leaves open."""
    combined_kg: float | None
    why: str


@dataclass(frozen=True)
class Part101:
    """Whether 14 CFR Part 101 holds for a free balloon; 101.7 holds always."""

    applies: bool | None
    criteria: tuple[str, ...]
    """``i`` dense package, ``ii`` heavy package, ``iii`` two or more packages, ``iv`` the force that parts it."""
    undecided: tuple[str, ...]
    combined_kg: float | None
    why: str
    hazard_rule_applies: bool = True


def us_part_101_applies(
    packages: Packages | None, separation_force_n: float | None, rest_mass_kg: float | None = 0.0
) -> Part101:
    """14 CFR 101.1(a)(4): every limit is passed by *more than* 4, 6 or 12 lb, 3 oz/in2 and 50 lbf.

    :param packages: None when not known.
    :param separation_force_n: impact force that parts payload and balloon; None when not known.
    :param rest_mass_kg: what hangs below the neck outside packages; counts into (iii) only.
    """
    combined, floor = _combined(packages, rest_mass_kg)
    several = None if packages is None else len(packages) >= 2
    found = {
        "i": _any_dense(packages, us_dense_package_kg, us_density_kg_m2, more_than),
        "ii": _any_package(packages, us_package_kg, more_than),
        "iii": every(several, _over(combined, floor, us_payload_kg, more_than)),
        "iv": None if separation_force_n is None else more_than(separation_force_n, us_separation_n),
    }
    criteria, undecided = _sorted_out(found)
    applies = either(*found.values())
    if applies:
        why = f"criterion {', '.join(criteria)} of 101.1(a)(4) is passed"
    elif applies is None:
        why = f"criterion {', '.join(undecided)} cannot be told"
    else:
        why = "no criterion of 101.1(a)(4) is passed; 101.7 holds all the same"
    return Part101(applies, criteria, undecided, combined, f"{why}. {CONSERVATIVE}")


def classify_icao(
    packages: Packages | None, separation_force_n: float | None, rest_mass_kg: float | None = 0.0
) -> Classification:
    """ICAO Annex 2 Appendix 5 (SERA Appendix 2), 1.1.

    Heavy at 6 kg combined *or more* (c1), a package of 3 kg *or more* (c2), a package of 2 kg or more with *more than*
    13 g/cm2 on its smallest face (c3), or 230 N *or more* to part it (c4). Else light below 4 kg combined, and medium
    from there. A single package of 4 kg is heavy by c2; where only canopy and lines lift the sum to 4 kg the text has
    no class, and medium is taken as the stricter of the two.

    Source: consolidated text of (EU) No 923/2012, Appendix 2, 1.1.
    """
    combined, floor = _combined(packages, rest_mass_kg)
    found = {
        "c1": _over(combined, floor, icao_heavy_kg, at_least),
        "c2": _any_package(packages, icao_heavy_package_kg, at_least),
        "c3": _any_dense(packages, icao_dense_package_kg, icao_density_kg_m2, at_least),
        "c4": None if separation_force_n is None else at_least(separation_force_n, icao_separation_n),
    }
    criteria, undecided = _sorted_out(found)
    if criteria:
        why = f"heavy by {', '.join(criteria)}"
        return Classification("heavy", _HEAVY, criteria, undecided, combined, f"{why}. {CONSERVATIVE}")
    middle = _over(combined, floor, icao_light_kg, at_least)
    base: frozenset[BalloonClass] = frozenset({"light", "medium"})
    if middle is not None:
        base = frozenset({"medium" if middle else "light"})
    possible = base | _HEAVY if undecided else base
    name = next(iter(possible)) if len(possible) == 1 else None
    why = f"{name} by combined mass" if name else f"not told: {', '.join(undecided) or 'combined mass'}"
    if middle and packages is not None and len(packages) < 2:
        why += ", counted as medium: the text has no class for one package whose canopy and lines make it 4 kg"
    return Classification(name, possible, criteria, undecided, combined, f"{why}. {CONSERVATIVE}")


def classify_australia(
    packages: Packages | None,
    separation_force_n: float | None,
    rest_mass_kg: float | None,
    envelope_diameter_m: float | None,
) -> Classification:
    """CASR 101.145: small up to 2 m across at launch with up to 50 g; light, medium and heavy nearly as ICAO.

    What a heavy package is was taken over from ICAO, from memory.
    """
    icao = classify_icao(packages, separation_force_n, rest_mass_kg)
    if "light" not in icao.possible:
        return icao
    _, floor = _combined(packages, rest_mass_kg)
    fits = None if envelope_diameter_m is None else not more_than(envelope_diameter_m, 2.0)
    over_50_g = _over(icao.combined_kg, floor, 0.05, more_than)
    small = every(fits, None if over_50_g is None else not over_50_g)
    if small is False:
        return icao
    possible: frozenset[BalloonClass] = (
        icao.possible | {"small"} if small is None else icao.possible - {"light"} | {"small"}
    )
    name = next(iter(possible)) if len(possible) == 1 else None
    why = "small: up to 2 m across and up to 50 g" if name else "not told: whether it is small"
    return Classification(
        name, possible, icao.heavy_criteria, icao.undecided, icao.combined_kg, f"{why}. {CONSERVATIVE}"
    )


def _combined(packages: Packages | None, rest_mass_kg: float | None) -> tuple[float | None, float]:
    """The sum, and what it is at least."""
    masses = [None] if packages is None else [package.mass_kg for package in packages]
    parts = [*masses, rest_mass_kg]
    floor = sum(part for part in parts if part is not None)
    return (None if None in parts else floor), floor


def _over(combined: float | None, floor: float, limit: float, passes: _Passes) -> bool | None:
    if passes(floor, limit):
        return True
    return None if combined is None else False


def _any_package(packages: Packages | None, limit_kg: float, passes: _Passes) -> bool | None:
    if packages is None:
        return None
    return either(*(None if package.mass_kg is None else passes(package.mass_kg, limit_kg) for package in packages))


def _any_dense(packages: Packages | None, mass_kg: float, density_kg_m2: float, passes: _Passes) -> bool | None:
    """Whether one package passes the mass limit and has more than the density on its smallest face."""
    if packages is None:
        return None
    return either(*(_dense(package, mass_kg, density_kg_m2, passes) for package in packages))


def _dense(package: PackageFact, mass_kg: float, density_kg_m2: float, passes: _Passes) -> bool | None:
    if package.mass_kg is None:
        return None
    if not passes(package.mass_kg, mass_kg):
        return False
    return (
        None
        if package.smallest_face_m2 is None
        else more_than(package.mass_kg / package.smallest_face_m2, density_kg_m2)
    )


def _sorted_out(found: dict[str, bool | None]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return (
        tuple(name for name, answer in found.items() if answer),
        tuple(name for name, answer in found.items() if answer is None),
    )
