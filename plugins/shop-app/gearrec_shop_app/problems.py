"""Errors as RFC 9457 problem details, with the places and the words of the library."""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException
from starlette.responses import Response

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from starlette.requests import Request

    from gearrec.errors import Problem

MEDIA_TYPE = "application/problem+json"
_log = logging.getLogger("gearrec_shop_app")

TITLES: Mapping[int, tuple[str, str]] = {
    400: ("malformed-request", "The request is not well-formed"),
    404: ("not-found", "There is nothing here"),
    405: ("method-not-allowed", "This method is not for this address"),
    408: ("request-too-slow", "The request arrived too slowly"),
    413: ("request-too-large", "The request is too large"),
    415: ("unsupported-media-type", "The request is in a format that is not read here"),
    422: ("unusable-job", "The job cannot be used"),
    500: ("internal-error", "Something went wrong here"),
    503: ("busy", "The service is busy"),
    504: ("too-slow", "The answer took too long"),
}


class ProblemEntry(BaseModel):
    """One thing that is wrong with the request, as the library says it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    place: str = Field(
        description="where it stands, such as tires.planned; empty: the request as a whole",
        examples=["tires.planned"],
    )
    line: int | None = Field(description="line of the body, from 1; null: not known")
    column: int | None = Field(description="column of the body, from 1; null: not known")
    code: str = Field(description="permanent name of the kind of problem", examples=["tire-size"])
    message: str = Field(description="what was found, what is allowed, what to do")


class ProblemDetails(BaseModel):
    """An error, after RFC 9457."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    type: str = Field(description="permanent name of the kind of error, a URI")
    title: str = Field(description="the kind of error in words")
    status: int = Field(description="the HTTP status")
    detail: str = Field(description="this error in words; the problems, one a line, if any")
    problems: list[ProblemEntry] = Field(description="all that is wrong, sorted by place")


class ProblemError(Exception):
    """An answer that is an error."""

    def __init__(
        self,
        status: int,
        detail: str,
        *,
        problems: Sequence[Problem] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.status = status
        self.detail = detail
        self.problems = tuple(problems)
        self.headers = dict(headers or {})


def unusable(status: int, problems: Sequence[Problem]) -> ProblemError:
    """An error that carries problems of the library."""
    return ProblemError(status, "\n".join(str(problem) for problem in problems), problems=problems)


def respond(error: ProblemError) -> Response:
    """The response that tells of an error."""
    name, title = TITLES[error.status]
    details = ProblemDetails(
        type=f"urn:gearrec:problem:{name}",
        title=title,
        status=error.status,
        detail=error.detail,
        problems=[_entry(problem) for problem in error.problems],
    )
    return Response(
        details.model_dump_json(), error.status, headers=error.headers, media_type=MEDIA_TYPE
    )


def _entry(problem: Problem) -> ProblemEntry:
    place = problem.place
    return ProblemEntry(
        place=place.dotted,
        line=place.line or None,
        column=place.column or None,
        code=problem.code,
        message=problem.message,
    )


async def on_problem(_: Request, error: Exception) -> Response:
    """Answer a ProblemError."""
    assert isinstance(error, ProblemError)  # noqa: S101 - registered for it alone
    return respond(error)


async def on_http_error(request: Request, error: Exception) -> Response:
    """Answer what the framework refuses: addresses and methods that there are not."""
    assert isinstance(error, HTTPException)  # noqa: S101 - registered for it alone
    status = error.status_code if error.status_code in TITLES else 400
    words = {
        404: "no such address; see /openapi.json",
        405: f"{request.method} is not for this address; "
        f"allowed: {(error.headers or {}).get('Allow', 'none')}",
    }
    phrase = HTTPStatus(error.status_code).phrase
    return respond(ProblemError(status, words.get(status, phrase), headers=error.headers))


async def on_failure(_: Request, error: Exception) -> Response:
    """Answer a fault of this program: the words go to the log, not to the client."""
    _log.error("a request failed", exc_info=error)
    return respond(ProblemError(500, "an unexpected error; it is in the log of the service"))
