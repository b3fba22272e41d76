"""One advisor for many threads, and for many requests: the answers are those of one alone."""

from __future__ import annotations

import sys
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest

from gearrec import Advisor, JobError

VEHICLES = ("demo/fell", "demo/barge", "demo/stile", "demo/drumlin")
TIRES = ("LT215/85R16 115/112Q E", "34x10.50R16LT 122Q E")


def jobs():
    return [
        {"vehicle": vehicle, "tires": {"planned": tire}} for vehicle in VEHICLES for tire in TIRES
    ]


def test_many_threads_hammer_one_advisor(advisor):
    alone = [advisor.advise(job).to_json() for job in jobs()]
    # Nothing is remembered yet, and threads change places often: the worst case for a race.
    shared = Advisor(plugins=(), cache="off")
    threads = 6
    start = Barrier(threads)
    interval = sys.getswitchinterval()

    def hammer(number):
        order = list(range(len(alone)))
        order = order[number:] + order[:number]
        start.wait(20)
        found = [""] * len(alone)
        for place in order:
            found[place] = shared.advise(jobs()[place]).to_json()
            with pytest.raises(JobError, match=f"demo/none-{number}"):
                shared.advise({"vehicle": f"demo/none-{number}"})
        return found

    sys.setswitchinterval(1e-5)
    try:
        with ThreadPoolExecutor(threads) as pool:
            answers = list(pool.map(hammer, range(threads)))
    finally:
        sys.setswitchinterval(interval)
    assert answers == [alone] * threads


def test_many_requests_at_a_time(advisor, client_of):
    alone = [advisor.advise(job).to_json() for job in jobs()]
    client = client_of(advisor, threads=4, waiting=100, work_seconds=60.0)
    answers = client.many([("POST", "/advice", {"json": job}) for job in jobs()] * 2)
    assert [answer.text for answer in answers] == alone * 2
