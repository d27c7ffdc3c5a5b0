"""A rule profile: one of those that come with pappus, by its name, or a TOML file of the crew."""

from __future__ import annotations

import tomllib
from importlib import resources
from math import isfinite
from pathlib import Path
from typing import Any, get_args

from pappus.errors import BadFile, Finding
from pappus.rules import Base, Certainty, FlagFact, MeasuredFact, Requirement, RuleProfile
from pappus.units import Dimension, UnitError, parse_quantity

_CERTAINTIES, _BASES = get_args(Certainty), get_args(Base)
_CLASSES = ("small", "light", "medium", "heavy", "part 101", "exempt")
_KINDS = ("authorisation", "question")
_DIMENSION: dict[str, Dimension] = {"m3": "volume", "kg": "mass", "m": "length"}
_TOP = {"name", "base", "certainty", "text_date", "source", "note", "lead", "limits", "requirement"}
_LEAD = {"days", "working_days", "certainty", "source"}
_LIMITS = {"casualty_expectation_most": 1e-4, "chance_most": 0.01}
_WORDS = ("name", "paragraph", "title", "kind", "who", "when", "certainty", "text_date")
_REQUIREMENT = {*_WORDS, "over_fact", "over", "only_if", "classes", "done_by"}
_MOST_DAYS = 366


def rule_profile_names() -> tuple[str, ...]:
    """Names of the profiles that come with pappus."""
    folder = resources.files("pappus.sources") / "rulebook"
    return tuple(sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml")))


def read_rule_profile(profile: str | Path) -> RuleProfile:
    """The profile of that name, or in that file; a text that ends in ``.toml`` is a file.

    The key of a profile from a file is the name of the file without its ending, and its rule ids begin with it.
    Raises BadFile with one finding for each entry that is missing, unknown or not understood; nothing is filled in.
    """
    text, key = _text(profile)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadFile(Finding(f"rule profile {key}", "", f"not a TOML file: {error}", _START)) from error
    reading = _Reading(key)
    found = reading.profile(data)
    if reading.findings:
        raise BadFile(*reading.findings)
    return found


_START = 'Start from a copy of one that comes with pappus, such as "icao".'


def _text(profile: str | Path) -> tuple[str, str]:
    if isinstance(profile, str) and not profile.endswith(".toml"):
        if profile not in rule_profile_names():
            fix = f"Name one of {', '.join(rule_profile_names())}, or a TOML file of your own."
            raise BadFile(Finding("rule profile", profile[:60], "no profile of this name comes with pappus", fix))
        return (resources.files("pappus.sources") / "rulebook" / f"{profile}.toml").read_text("utf-8"), profile
    path = Path(profile)
    try:
        return path.read_text("utf-8"), path.stem
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(Finding("rule profile", str(profile), f"cannot be read: {error}", _START)) from error


class _Reading:
    """Collects what is wrong while it builds the profile."""

    def __init__(self, key: str) -> None:
        self.key = key
        self.findings: list[Finding] = []

    def profile(self, data: dict[str, Any]) -> RuleProfile:
        self.unknown(data, _TOP, "")
        lead, limits = self.table(data, "lead"), self.table(data, "limits")
        self.unknown(lead, _LEAD, "lead.")
        self.unknown(limits, set(_LIMITS), "limits.")
        requirements = data.get("requirement", [])
        if not isinstance(requirements, list):
            self.wrong("requirement", requirements, "not a list of tables", "Write [[requirement]].")
            requirements = []
        read = tuple(self.requirement(entry, f"requirement[{index}].") for index, entry in enumerate(requirements))
        names = [requirement.name for requirement in read]
        for name in sorted({name for name in names if names.count(name) > 1}):
            self.wrong("requirement.name", name, "stands twice", "Give each requirement a name of its own.")
        return RuleProfile(
            key=self.key,
            name=self.word(data, "name", ""),
            base=self.one_of(data, "base", "", _BASES),
            certainty=self.one_of(data, "certainty", "", _CERTAINTIES),
            text_date=self.word(data, "text_date", ""),
            source=self.word(data, "source", ""),
            requirements=read,
            lead_time_days=self.days(lead),
            lead_in_working_days=self.flag(lead, "working_days", "lead."),
            lead_certainty=self.one_of(lead, "certainty", "lead.", _CERTAINTIES) if lead else "common practice",
            lead_source=self.word(lead, "source", "lead.") if lead else "",
            note=self.word(data, "note", "") if "note" in data else "",
            **{name: self.share(limits, name, default) for name, default in _LIMITS.items()},
        )

    def requirement(self, entry: Any, where: str) -> Requirement:
        if not isinstance(entry, dict):
            self.wrong(where[:-1], entry, "not a table", "Write [[requirement]].")
            entry = {}
        self.unknown(entry, _REQUIREMENT, where)
        over_fact = self.one_of(entry, "over_fact", where, get_args(MeasuredFact)) if "over_fact" in entry else None
        if ("over" in entry) != (over_fact is not None):
            self.wrong(f"{where}over", entry.get("over", ""), "over_fact and over go together", "Write both or none.")
        classes = entry.get("classes", [])
        if not isinstance(classes, list) or not all(name in _CLASSES for name in classes):
            self.wrong(f"{where}classes", classes, "not a list of classes", f"Use {', '.join(_CLASSES)}.")
            classes = []
        words = {name: self.word(entry, name, where) for name in _WORDS if name not in ("kind", "certainty")}
        if "." in words["name"] or " " in words["name"]:
            self.wrong(f"{where}name", words["name"], "has a dot or a space", "Use letters and underscores.")
        return Requirement(
            **words,
            kind=self.one_of(entry, "kind", where, _KINDS),
            certainty=self.one_of(entry, "certainty", where, _CERTAINTIES),
            over_fact=over_fact,
            over=self.threshold(entry, over_fact, where),
            over_text=str(entry.get("over", "")),
            only_if=self.one_of(entry, "only_if", where, get_args(FlagFact)) if "only_if" in entry else None,
            classes=tuple(classes),
            done_by=self.one_of(entry, "done_by", where, ("owner_marked",)) if "done_by" in entry else None,
        )

    def threshold(self, entry: dict[str, Any], fact: str | None, where: str) -> float:
        """In the unit of the law, so that the text of the file can be held against the law."""
        text = entry.get("over")
        if text is None or fact is None:
            return 0.0
        try:
            if not isinstance(text, str):
                raise UnitError("not a text", 'Write for example "5 kg"')
            return parse_quantity(text, _DIMENSION[fact.rsplit("_", 1)[1]])
        except UnitError as error:
            self.wrong(f"{where}over", text, error.reason, error.fix)
            return 0.0

    def table(self, data: dict[str, Any], name: str) -> dict[str, Any]:
        found = data.get(name, {})
        if isinstance(found, dict):
            return found
        self.wrong(name, found, "not a table", f"Write [{name}].")
        return {}

    def days(self, lead: dict[str, Any]) -> int | None:
        if not lead:
            return None
        days = lead.get("days")
        if isinstance(days, bool) or not isinstance(days, int) or not 0 <= days <= _MOST_DAYS:
            fix = f"Write a whole number from 0 to {_MOST_DAYS}, or leave [lead] out when it is not known."
            self.wrong("lead.days", days, "missing or not a number of days", fix)
            return None
        return days

    def share(self, limits: dict[str, Any], name: str, default: float) -> float:
        value = limits.get(name, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value) or not 0 <= value <= 1:
            self.wrong(f"limits.{name}", value, "not a number from 0 to 1", f"Leave it out for {default:g}.")
            return default
        return float(value)

    def flag(self, entry: dict[str, Any], name: str, where: str) -> bool:
        value = entry.get(name, False)
        if not isinstance(value, bool):
            self.wrong(f"{where}{name}", value, "neither true nor false", "Write true or false.")
        return value is True

    def word(self, entry: dict[str, Any], name: str, where: str) -> str:
        value = entry.get(name)
        if not isinstance(value, str) or not value.strip():
            self.wrong(f"{where}{name}", value, "missing or not a text", 'Write a text; "not known" is one.')
            return ""
        return value.strip()

    def one_of(self, entry: dict[str, Any], name: str, where: str, allowed: tuple[str, ...]) -> Any:
        value = entry.get(name)
        if value not in allowed:
            self.wrong(f"{where}{name}", value, "missing or unknown", f"Use one of: {', '.join(allowed)}.")
            return allowed[0]
        return value

    def unknown(self, entry: dict[str, Any], known: set[str], where: str) -> None:
        for name in sorted(set(entry) - known):
            self.wrong(f"{where}{name}", entry[name], "unknown", "Take it out, or look for a slip of the pen.")

    def wrong(self, field: str, value: Any, reason: str, fix: str) -> None:
        given = "" if value is None else str(value)[:40]
        self.findings.append(Finding(f"rule profile {self.key}: {field}", given, reason, fix))
