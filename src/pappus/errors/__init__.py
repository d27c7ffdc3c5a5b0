"""Every error that pappus raises on purpose.

::

    PappusError
    |-- OutOfRange          a formula was asked for a value outside the range its source covers
    |-- NoSolution          a physical question that has no answer (a fill that cannot lift the train ...)
    `-- BadInput            something a person gave us cannot be used; carries Findings; the command line exits with 2
        |-- BadPlan         the flight plan file
        |-- BadFile         a sounding, a forecast, a map
        `-- OutsideCoverage the winds do not hold what the flight needs (place, time or height)

A ``Finding`` names the field, the value, the reason and the way to mend it, so that a tired person can act on it.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BadFile", "BadInput", "BadPlan", "Finding", "NoSolution", "OutOfRange", "OutsideCoverage", "PappusError"]


class PappusError(Exception):
    """Base of every error that pappus raises on purpose."""


class OutOfRange(PappusError):
    """A formula was asked for a value outside the range that its source covers."""

    def __init__(self, quantity: str, value: object, low: float, high: float, unit: str) -> None:
        self.quantity, self.value, self.low, self.high, self.unit = quantity, value, low, high, unit
        super().__init__(f"{quantity} is {value} {unit}; valid from {low:g} to {high:g} {unit}")


class NoSolution(PappusError):
    """A physical question that has no answer; the message says why and what would give one."""


@dataclass(frozen=True)
class Finding:
    """One thing wrong with an input: where, what was given, why it cannot be used, how to mend it."""

    field: str
    value: str
    reason: str
    fix: str

    def __str__(self) -> str:
        given = f" = {self.value}" if self.value else ""
        return f"{self.field}{given}: {self.reason}. {self.fix}".rstrip()


class BadInput(PappusError):
    """Something a person gave us cannot be used."""

    def __init__(self, *findings: Finding) -> None:
        self.findings = findings
        super().__init__("\n".join(str(finding) for finding in findings))


class BadPlan(BadInput):
    """The flight plan file cannot be used."""


class BadFile(BadInput):
    """A sounding, forecast or map file cannot be used."""


class OutsideCoverage(BadInput):
    """The winds do not hold what the flight needs: the field names place, time or height."""
