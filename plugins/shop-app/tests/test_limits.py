"""Size, time and load: each limit has its own answer, and none leaves anything behind."""

from __future__ import annotations

import asyncio
import threading

import pytest


def test_a_body_at_the_limit_and_one_byte_more(advisor, client_of, problem):
    client = client_of(advisor, body_bytes=1000)
    body = b'{"vehicle": "demo/fell"}'
    assert client.post(body + b" " * (1000 - len(body))).status_code == 200
    details = problem(client.post(body + b" " * (1001 - len(body))), 413)
    assert "1000 bytes" in details["detail"]


def test_a_body_of_unknown_size_is_counted(advisor, client_of, problem):
    read = []

    async def parts():
        for number in range(1000):
            read.append(number)
            yield b" " * 100

    problem(client_of(advisor, body_bytes=1000).post(parts()), 413)
    assert len(read) < 20


@pytest.mark.parametrize("length", ["9" * 400, "-1", "many"])
def test_a_size_that_is_a_lie(advisor, client_of, problem, length):
    client = client_of(advisor, body_bytes=1000)
    answer = client.post(b"{}", content_length=length)
    problem(answer, 413 if length.isdigit() else 422)


def test_a_body_that_does_not_arrive(advisor, client_of, problem):
    async def parts():
        yield b"{"
        await asyncio.sleep(30)

    problem(client_of(advisor, receive_seconds=0.05).post(parts()), 408)


class Held:
    """An advisor that answers when it is let go."""

    def __init__(self, real):
        self.real = real
        self.catalog = real.catalog
        self.let_go = threading.Event()
        self.working = 0

    def advise(self, job):
        self.working += 1
        self.let_go.wait(20)
        return self.real.advise(job)


@pytest.fixture
def held(advisor):
    made = Held(advisor)
    yield made
    made.let_go.set()


def test_work_that_takes_too_long(held, client_of, example, problem):
    client = client_of(held, work_seconds=0.05, threads=1, waiting=5)
    details = problem(client.advise(example), 504)
    assert "0.05 s" in details["detail"]
    # The thread is still busy, so the next request waits in vain.
    answer = client.advise(example)
    problem(answer, 503)
    assert answer.headers["retry-after"] == "1"
    assert held.working == 1


def test_too_many_requests_at_a_time(held, client_of, example, problem):
    client = client_of(held, work_seconds=0.2, threads=1, waiting=1)
    answers = client.many([("POST", "/advice", {"json": example})] * 4)
    assert sorted(answer.status_code for answer in answers) == [503, 503, 503, 504]
    assert held.working == 1


def test_after_the_rush_it_answers_again(held, client_of, example, problem):
    client = client_of(held, work_seconds=5.0, threads=1, waiting=0)
    problem(client_of(held, work_seconds=0.02, threads=1).advise(example), 504)
    held.let_go.set()
    for _ in range(3):
        assert client.advise(example).status_code == 200


def test_an_error_gives_its_thread_back(advisor, client_of, problem):
    client = client_of(advisor, threads=1, waiting=0)
    for _ in range(3):
        problem(client.advise({}), 422)
