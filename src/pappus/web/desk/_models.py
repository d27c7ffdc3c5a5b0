"""What several pages are told: the parts that every answer of the desk is made of."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from pappus.errors import Finding


class Answer(BaseModel):
    """Base of every answer: frozen, no field that was not declared."""

    model_config = ConfigDict(frozen=True, extra="forbid", ser_json_inf_nan="null")


class Asked(BaseModel):
    """Base of every body that a page sends."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_max_length=2000)


class FindingAnswer(Answer):
    """One thing wrong with an input: where, what was given, why it cannot be used, how to mend it."""

    field: str
    value: str
    reason: str
    fix: str

    @classmethod
    def of(cls, finding: Finding) -> FindingAnswer:
        """The same for a page."""
        return cls(field=finding.field, value=finding.value, reason=finding.reason, fix=finding.fix)


class Problem(Answer):
    """The one shape of every refusal: what happened, what to do, and the findings where there are any."""

    status: int
    what: str
    fix: str
    findings: list[FindingAnswer] = Field(default_factory=list)


class JobAnswer(Answer):
    """How far a piece of heavy work is; the event ``job`` carries the same."""

    kind: str
    key: str
    state: Literal["waiting", "running", "done", "failed"]
    step: str
    seconds: float
    findings: list[FindingAnswer]
