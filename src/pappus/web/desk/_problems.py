"""Every refusal in one shape, with what to do; nothing of the inside leaks out."""

from __future__ import annotations

import logging

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from pappus.errors import BadInput, PappusError
from pappus.web.desk._models import FindingAnswer, Problem

_log = logging.getLogger("pappus.web")
_WORDS = {404: ("There is nothing here", ""), 405: ("This cannot be done here", "")}


class Refused(Exception):
    """A request that is not served; the status says why to programs, the words to people."""

    def __init__(self, status: int, what: str, fix: str) -> None:
        self.status, self.what, self.fix = status, what, fix
        super().__init__(what)


def install(app: FastAPI) -> None:
    """Answer every error of a route with a ``Problem``."""
    app.add_exception_handler(Refused, _refused)
    app.add_exception_handler(PappusError, _pappus)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _inside)


def problem(status: int, what: str, fix: str, findings: list[FindingAnswer] | None = None) -> JSONResponse:
    """The answer itself."""
    return JSONResponse(Problem(status=status, what=what, fix=fix, findings=findings or []).model_dump(), status)


def _refused(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, Refused)
    return problem(error.status, error.what, error.fix)


def _pappus(_: Request, error: Exception) -> JSONResponse:
    if isinstance(error, BadInput):
        findings = [FindingAnswer.of(finding) for finding in error.findings]
        return problem(422, "Something given cannot be used", findings[0].fix if findings else "", findings)
    return problem(422, str(error), "Change the plan; nothing was saved.")


def _not_understood(_: Request, error: Exception) -> JSONResponse:
    """The body or an argument has the wrong form; what was sent is not sent back."""
    assert isinstance(error, RequestValidationError)
    findings = [
        FindingAnswer(field=".".join(str(part) for part in one["loc"]), value="", reason=str(one["msg"]), fix="")
        for one in error.errors()[:20]
    ]
    return problem(422, "The request was not understood", "Load the page again.", findings)


def _http(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    what, fix = _WORDS.get(error.status_code, (str(error.detail), ""))
    answer = problem(error.status_code, what, fix)
    answer.headers.update(error.headers or {})
    return answer


def _inside(_: Request, error: Exception) -> JSONResponse:
    _log.error("a request failed: %s", type(error).__name__)
    return problem(500, "pappus failed inside; nothing of yours is lost", "The terminal says more.")
