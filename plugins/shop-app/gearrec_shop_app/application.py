"""The application: four addresses, one advisor that all requests share, no state."""

from __future__ import annotations

import json
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Route

from gearrec import Advisor, GearrecError, InputError, PluginError, UnknownRecordError
from gearrec.errors import Place, Problem
from gearrec.schema import schema
from gearrec_shop_app import bodies, models, openapi, problems
from gearrec_shop_app.limits import Limits, Workers, body_of
from gearrec_shop_app.problems import ProblemError, unusable

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from starlette.requests import Request

_HEADERS = {"X-Content-Type-Options": "nosniff", "Cache-Control": "no-store"}


def create_app(advisor: Advisor | None = None, *, limits: Limits | None = None) -> Starlette:
    """The application as ASGI.

    `advisor`: None for one with the built-in catalogs and all installed plugins. Raises what
    `Advisor` raises.
    """
    asked = Advisor() if advisor is None else advisor
    allowed = limits or Limits()
    workers = Workers(allowed)
    # Neither changes while the program runs.
    platforms = models.platforms(asked).model_dump_json()
    description = json.dumps(openapi.document())

    async def advice(request: Request) -> Response:
        bodies.check_media_type(request.headers)
        body = await body_of(request, allowed)
        text = await workers.run(lambda: _advice(asked, body))
        return Response(text, media_type=bodies.JSON, headers=_HEADERS)

    async def list_platforms(_: Request) -> Response:
        return Response(platforms, media_type=bodies.JSON)

    async def list_schemas(_: Request) -> Response:
        return Response(models.schemas().model_dump_json(), media_type=bodies.JSON)

    async def one_schema(request: Request) -> Response:
        try:
            made = schema(request.path_params["kind"], metrics=asked.metrics)
        except UnknownRecordError as error:
            raise ProblemError(404, str(error)) from None
        return Response(json.dumps(made), media_type=openapi.SCHEMA_JSON)

    async def describe(_: Request) -> Response:
        return Response(description, media_type=bodies.JSON)

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        try:
            yield
        finally:
            workers.close()

    app = Starlette(
        routes=[
            Route("/advice", advice, methods=["POST"]),
            Route("/platforms", list_platforms),
            Route("/schema", list_schemas),
            Route("/schema/{kind}", one_schema),
            Route("/openapi.json", describe),
        ],
        exception_handlers={
            ProblemError: problems.on_problem,
            HTTPException: problems.on_http_error,
            Exception: problems.on_failure,
        },
        lifespan=lifespan,
    )
    app.router.redirect_slashes = False
    return app


def _advice(advisor: Advisor, body: bytes) -> str:
    """The advice as JSON text. Raises ProblemError with what is wrong with the body or the job."""
    job = bodies.job_mapping(body)
    try:
        return advisor.advise(job).to_json()
    except InputError as error:
        raise unusable(422, error.problems) from error
    except PluginError:
        # An advisor that was made strict: a fault of the installation, not of the request.
        raise
    except GearrecError as error:
        raise unusable(422, [Problem(Place(), str(error))]) from error
