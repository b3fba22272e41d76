"""The strict reader beside the floor: draining PyYAML's C event stream over the same bytes.

Run `python tests/benchmarks/bench_reader.py [rounds]`. The platforms are synthetic: no vehicle
has these numbers.
"""

from __future__ import annotations

import statistics
import sys
import time
from typing import TYPE_CHECKING

from yaml import StreamEndEvent
from yaml.cyaml import CParser

from gearrec.catalog.reader import read_text

if TYPE_CHECKING:
    from collections.abc import Callable

PLATFORM = """\
  - id: synthetic/platform-{n:04d}
    title: Synthetic platform {n}
    aliases: [synthetic/former-{n:04d}]
    notes: "Invented: number {n} of a row."
    curb_mass: {mass} lb
    gross_rating: {gross} lb
    combined_rating: {combined} lb
    front_share: "56.5 %"
    wheelbase: {wheelbase:.1f} in
    drag_area: "1.{area:03d} m^2"
    drive: part-time-four
    dual_rear_wheels: false
    speed_sensor: after-axle
    engine: synthetic/engine-{engine:02d}
    transmission: synthetic/gearbox-{transmission:02d}
    transfer_case: synthetic/transfer-{engine:02d}
    axle_ratings:
      front: 3900 lb
      rear: 6200 lb
    axles:
      front:
        id: synthetic/front-axle-{engine:02d}
        ring_gear: 206 mm
        gear_sets:
          - {{ring_teeth: 47, pinion_teeth: 14}}
          - {{ring_teeth: 47, pinion_teeth: 13}}
          - {{ring_teeth: 50, pinion_teeth: 13}}
      rear:
        id: synthetic/rear-axle-{engine:02d}
        ring_gear: 239 mm
        torque_rating: 5200 lbf*ft
        gear_sets:
          - {{ring_teeth: 47, pinion_teeth: 14}}
          - {{ring_teeth: 47, pinion_teeth: 13}}
          - {{ring_teeth: 50, pinion_teeth: 13}}
    factory:
      tire: "LT245/75R16 120/116S E"
      axle_ratio: 3.36
      pinion_teeth: 14
    road_load:
      constant: 44.{area:03d} lbf
      linear: "0.{area:03d} lbf/mph"
      square: 0.0276 lbf/mph^2
      test_mass: {mass} lb
    driveshaft:
      pieces: 2
      length: 61.5 in
      outer_diameter: 4.0 in
      wall: 0.083 in
      material: steel
    wheels:
      rim_diameter: 17 in
      rim_width: 7.5 in
    source:
      kind: invented
      citation: made up
      date: "2026-01-01"
      confidence: low
"""


def synthetic_platforms(count: int = 2_000) -> bytes:
    """A catalog file of `count` platforms of 58 lines each."""
    records = [
        PLATFORM.format(
            n=n,
            mass=4_000 + n,
            gross=6_500 + n,
            combined=12_000 + n,
            wheelbase=115 + n * 0.1,
            area=n % 1_000,
            engine=n % 40,
            transmission=n % 30,
        )
        for n in range(count)
    ]
    return ("kind: platform\nformat: 1\nrecords:\n" + "".join(records)).encode()


def drain(content: bytes) -> None:
    """The floor: every event of the C parser is made and thrown away."""
    parser = CParser(content)
    while not isinstance(parser.get_event(), StreamEndEvent):
        pass


def seconds(work: Callable[[], object]) -> float:
    """How long one call takes."""
    start = time.perf_counter()
    result = work()
    taken = time.perf_counter() - start
    del result  # what was read is kept by who reads it; the floor keeps nothing
    return taken


def main(rounds: int = 15) -> None:
    """Print the medians and the ratio; both sides are measured in turn."""
    content = synthetic_platforms()
    floors, readers = [], []
    for _ in range(rounds):
        floors.append(seconds(lambda: drain(content)))
        readers.append(seconds(lambda: read_text(content, file="synthetic.yaml")))
    ratios = [reader / floor for reader, floor in zip(readers, floors, strict=True)]
    lines = content.count(b"\n")
    print(f"{len(content) / 1e6:.2f} MB, {lines} lines, {rounds} rounds, medians")
    print(f"  drain the C events   {statistics.median(floors) * 1e3:7.1f} ms   1.00 x")
    print(
        f"  strict reader        {statistics.median(readers) * 1e3:7.1f} ms   "
        f"{statistics.median(ratios):.2f} x   (goal: at most 1.45 x)"
    )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]))
