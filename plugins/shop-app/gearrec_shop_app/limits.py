"""What one request may take: bytes, seconds, and a share of the threads that work."""

from __future__ import annotations

import asyncio
import os
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, TypeVar

from gearrec_shop_app.problems import ProblemError

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request

_Result = TypeVar("_Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits of the application.

    body_bytes: of one request. receive_seconds: for its body to arrive. work_seconds: for its
    answer, the wait for a free thread included. threads: that work at a time. waiting: how many
    requests may wait for one of them.
    """

    body_bytes: int = 64 * 1024
    receive_seconds: float = 10.0
    work_seconds: float = 10.0
    threads: int = min(4, os.cpu_count() or 1)
    waiting: int = 32


async def body_of(request: Request, limits: Limits) -> bytes:
    """The body of a request. Raises ProblemError: 413 when it is too large, 408 when too slow."""
    said = request.headers.get("content-length", "")
    if said.isascii() and said.isdigit() and int(said[:20]) > limits.body_bytes:
        raise _too_large(limits)
    body = bytearray()
    try:
        async with asyncio.timeout(limits.receive_seconds):
            async for chunk in request.stream():
                body += chunk
                if len(body) > limits.body_bytes:
                    raise _too_large(limits)
    except TimeoutError:
        detail = f"the body did not arrive within {limits.receive_seconds:g} s; send it again"
        raise ProblemError(408, detail) from None
    return bytes(body)


def _too_large(limits: Limits) -> ProblemError:
    return ProblemError(
        413,
        f"the body is larger than {limits.body_bytes} bytes; allowed: at most that; send one job",
    )


class Workers:
    """Threads that work for requests, and a bound on how many requests wait for them.

    Python cannot stop a thread. Work that is over time is answered with an error and its thread
    counts as busy until it comes to an end, so that abandoned work cannot pile up.
    """

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._pool: ThreadPoolExecutor | None = None
        self._lock = Lock()
        self._taken = 0

    async def run(self, work: Callable[[], _Result]) -> _Result:
        """What `work` returns, run in a thread.

        Raises: ProblemError 503 when too many wait, or no thread came free in time; 504 when the
        work itself takes too long; whatever `work` raises.
        """
        with self._lock:
            if self._taken >= self._limits.threads + self._limits.waiting:
                raise _busy()
            if self._pool is None:
                self._pool = ThreadPoolExecutor(self._limits.threads, thread_name_prefix="advice")
            future = self._pool.submit(work)
            self._taken += 1
        future.add_done_callback(self._given_back)
        waiting = asyncio.wrap_future(future)
        done, _ = await asyncio.wait([waiting], timeout=self._limits.work_seconds)
        if done:
            return waiting.result()
        if future.cancel():
            raise _busy()
        # What it comes to later interests nobody, an exception included.
        waiting.cancel()
        raise ProblemError(
            504, f"the answer took longer than {self._limits.work_seconds:g} s; try a simpler job"
        )

    def close(self) -> None:
        """Give the threads back; they start again when there is work."""
        with self._lock:
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)

    def _given_back(self, _: Future[_Result]) -> None:
        with self._lock:
            self._taken -= 1


def _busy() -> ProblemError:
    return ProblemError(
        503, "too many requests at a time; try again in a second", headers={"Retry-After": "1"}
    )
