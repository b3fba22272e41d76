"""Measuring: both sides in turn in one run and medians of ratios, against a noisy machine."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


def seconds(work: Callable[[], object]) -> float:
    """How long one call takes."""
    start = time.perf_counter()
    kept = work()
    taken = time.perf_counter() - start
    del kept
    return taken


def in_turn(
    floor: Callable[[], object], work: Callable[[], object], *, rounds: int = 11
) -> tuple[float, float, float]:
    """Median seconds of the floor and of the work, and the median of their ratios."""
    floors, works = [], []
    for _ in range(rounds):
        floors.append(seconds(floor))
        works.append(seconds(work))
    ratios = [one / other for one, other in zip(works, floors, strict=True)]
    return statistics.median(floors), statistics.median(works), statistics.median(ratios)


def environment(**changes: str) -> dict[str, str]:
    """The environment of measured processes: byte code kept, one thread."""
    found = dict(os.environ)
    for name in ("PYTHONDONTWRITEBYTECODE", "OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE"):
        found.pop(name, None)
    return {**found, "OPENBLAS_NUM_THREADS": "1", **changes}


def process(arguments: Sequence[str], **changes: str) -> Callable[[], object]:
    """A call that runs a process to its end."""
    surroundings = environment(**changes)

    def run() -> object:
        return subprocess.run(arguments, check=True, capture_output=True, env=surroundings)

    return run


def python(code: str, **changes: str) -> Callable[[], object]:
    """A call that runs Python code in a process of its own."""
    return process([sys.executable, "-c", code], **changes)


def line(what: str, figure: str, goal: str, *, met: bool) -> None:
    """Print one row: what, figure, goal, and whether it was met here."""
    print(f"  {what:<46} {figure:<34} goal {goal:<10} {'met' if met else 'NOT MET'}")
