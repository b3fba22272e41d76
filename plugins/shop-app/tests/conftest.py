"""The application in-process: one advisor without plugins, shared as the application shares it."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import httpx
import pytest
from gearrec_shop_app import Limits, create_app
from gearrec_shop_app.openapi import EXAMPLE

from gearrec import Advisor


@pytest.fixture(scope="session")
def advisor():
    return Advisor(plugins=(), cache="off")


@pytest.fixture(scope="session")
def app(advisor):
    return create_app(advisor)


@pytest.fixture
def example():
    """An invented job."""
    return json.loads(json.dumps(EXAMPLE))


class Client:
    """Requests without a socket; `many` sends several at a time."""

    def __init__(self, app: Any) -> None:
        self.app = app

    def send(self, method: str, path: str, **options: Any) -> httpx.Response:
        return self.many([(method, path, options)])[0]

    def many(self, requests: list[tuple[str, str, dict[str, Any]]]) -> list[httpx.Response]:
        async def all_of_them() -> list[httpx.Response]:
            transport = httpx.ASGITransport(self.app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url="http://shop") as client:
                sent = (
                    client.request(method, path, **options) for method, path, options in requests
                )
                return list(await asyncio.gather(*sent))

        return asyncio.run(all_of_them())

    def get(self, path: str) -> httpx.Response:
        return self.send("GET", path)

    def advise(self, job: Any, **options: Any) -> httpx.Response:
        return self.send("POST", "/advice", json=job, **options)

    def post(self, content: Any, **headers: str) -> httpx.Response:
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.send(
            "POST",
            "/advice",
            content=content,
            headers={"content-type": "application/json"} | named,
        )


@pytest.fixture(scope="session")
def client(app):
    return Client(app)


@pytest.fixture
def client_of():
    """A client of an application with an advisor and limits of one's own."""

    def made(advisor: Any, **limits: Any) -> Client:
        return Client(create_app(advisor, limits=Limits(**limits)))

    return made


@pytest.fixture
def problem():
    """The problem details of a response, which must be of a status."""

    def read(response: httpx.Response, status: int) -> dict[str, Any]:
        assert response.status_code == status, response.text
        assert response.headers["content-type"] == "application/problem+json"
        details = response.json()
        assert details["status"] == status
        return details

    return read
