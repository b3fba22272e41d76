"""One advice, and many, beside a scalar C kernel compiled and run in the same run."""

from __future__ import annotations

import random
import shutil
import subprocess
import tempfile
import tracemalloc
from pathlib import Path

from measure import line, seconds

import gearrec

KERNEL = Path(__file__).parent / "kernel.c"
SIZES = ("LT215/85R16", "225/75R16", "LT255/85R16", "LT245/75R16", "235/70R16 109T")


def kernel_us() -> float | None:
    """Microseconds per job of the C kernel; None without a compiler."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "kernel"
        subprocess.run([compiler, "-O3", "-o", program, KERNEL, "-lm"], check=True)
        out = subprocess.run([program, "2000", "11"], check=True, capture_output=True, text=True)
    return float(out.stdout.split()[0])


def jobs(advisor: gearrec.Advisor, count: int) -> list[gearrec.Job]:
    """Mixed jobs over all demo platforms and core uses."""
    chance = random.Random(1)
    platforms = [name for name in advisor.catalog.ids("platform") if name.startswith("demo/")]
    uses = [name for name in advisor.catalog.ids("use-profile") if name.startswith("core/")]
    return [
        advisor.job(
            {
                "vehicle": chance.choice(platforms),
                "tires": {"planned": chance.choice(SIZES)},
                "trailer": "demo/horses",
                "use": chance.choice(uses),
                "load": {"payload": f"{chance.randint(0, 800)} lb"},
            }
        )
        for _ in range(count)
    ]


def main() -> None:
    """Print the rows."""
    kernel = kernel_us()
    advisor = gearrec.Advisor(plugins=())
    some = jobs(advisor, 20_000)
    for job in some[:20]:
        _ = advisor.advise(job).confidence
    once = sorted(seconds(lambda: advisor.advise(some[0]).pick) for _ in range(101))[50]
    line("one warm advise", f"{once * 1e3:.2f} ms", "3 ms", met=once <= 0.003)
    sampled = sorted(seconds(lambda: advisor.advise(some[0]).confidence) for _ in range(51))[25]
    figure = f"{sampled * 1e3:.2f} ms"
    line("  with the 256 samples of its confidence", figure, "5 ms", met=sampled <= 0.005)
    per_job = {}
    for count in (1_000, 10_000, 100_000):
        batch = (some * (count // len(some) + 1))[:count]
        per_job[count] = (
            min(
                seconds(lambda batch=batch: advisor.advise_many(batch))  # type: ignore[misc]
                for _ in range(3 if count > 20_000 else 5)
            )
            / count
        )
    us = per_job[10_000] * 1e6
    if kernel is None:
        print("  no C compiler: the batch has no floor here")
        print(f"  advise_many, 10,000 jobs, per job: {us:.1f} us")
    else:
        figure = f"{us / kernel:.1f} x ({us:.1f} us / {kernel:.2f} us)"
        line("advise_many per job / C kernel", figure, "10 x", met=us <= 10 * kernel)
    flat = max(per_job[10_000], per_job[100_000]) / per_job[1_000]
    figure = ", ".join(f"{value * 1e6:.1f}" for value in per_job.values()) + " us"
    line("  per job at 1,000, 10,000, 100,000", figure, "flat", met=flat <= 1.15)
    _memory(advisor, some)


def _memory(advisor: gearrec.Advisor, some: list[gearrec.Job]) -> None:
    """Work arrays of a batch: what stands at the peak beyond what is given back."""
    peaks = []
    for count in (2_000, 20_000):
        tracemalloc.start()
        kept = advisor.advise_many(some[:count])
        now, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        peaks.append((peak - now) / 2**20)
        del kept
    figure = f"{peaks[0]:.1f} MiB at 2,000, {peaks[1]:.1f} at 20,000"
    line("  work memory of a batch", figure, "16 MiB", met=max(peaks) <= 16.0)


if __name__ == "__main__":
    main()
