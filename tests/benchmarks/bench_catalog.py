"""Loading catalogs: cold beside draining the parser, warm beside a plain read, held in memory."""

from __future__ import annotations

import gc
import tempfile
import tracemalloc
from pathlib import Path

from bench_reader import drain
from measure import in_turn, line

from gearrec.catalog import store

COUNT = 2_000

MANIFEST = """\
kind: catalog
format: 1
namespace: synthetic
title: Synthetic platforms
about: Made up for a benchmark.
version: "1"
source: {kind: invented, citation: made up, confidence: low}
"""

PLATFORM = """\
kind: platform
format: 1
records:
  - id: synthetic/platform-{n:04d}
    title: Synthetic platform {n}
    aliases: [synthetic/former-{n:04d}]
    notes: "Invented: number {n} of a row."
    curb_mass: "{mass} lb"
    gross_rating: "{gross} lb"
    gross_combined_rating: "{combined} lb"
    axle_rating_front: 3900 lb
    axle_rating_rear: 6200 lb
    front_share: "56.5 %"
    payload_on_rear: "85 %"
    wheelbase: {wheelbase:.1f} in
    hitch_overhang: 48 in
    drive: part-time-four
    dual_rear_wheels: false
    speed_sensor: after-axle
    road_load:
      a: 44.{area:03d} lbf
      b: 0.{area:03d} lbf/mph
      c: 0.0276 lbf/mph^2
      test_mass: {mass} lb
      includes_driveline: true
    driveshaft:
      length: 61.5 in
      outer_diameter: 4.0 in
      wall: 0.083 in
      material: steel
      pieces: 2
    powertrains:
      - engine: demo/skep-diesel
        transmission: demo/skep-five
      - engine: demo/fell-six
        transmission: demo/fell-seven
      - engine: demo/barge-eight
        transmission: demo/barge-six
      - engine: demo/tarn-boosted-six
        transmission: demo/tarn-nine
    axles:
      rear: demo/barge-rear
      front: demo/barge-front
    transfer_case: demo/two-range
    factory:
      tire: demo/barge-road
      axle_ratio: 3.38
    source:
      kind: invented
      citation: >-
        made up; no such vehicle exists, and none of the figures was
        measured, published or asked for anywhere by anybody
      date: "2026-01-01"
      confidence: low
"""


def synthetic_catalog(folder: Path) -> list[Path]:
    """A catalog of 2,000 platforms, a file each."""
    (folder / "catalog.yaml").write_text(MANIFEST)
    files = []
    for n in range(COUNT):
        file = folder / f"platform-{n:04d}.yaml"
        file.write_text(
            PLATFORM.format(
                n=n,
                mass=4_000 + n,
                gross=6_500 + n,
                combined=12_000 + n,
                wheelbase=115 + n * 0.01,
                area=n % 1_000,
            )
        )
        files.append(file)
    return files


def main() -> None:
    """Print the rows."""
    built_in = Path(__file__).parents[2] / "catalogs"
    base = [built_in / "core", built_in / "demo"]
    with tempfile.TemporaryDirectory() as folder:
        files = synthetic_catalog(Path(folder))
        yaml_bytes = sum(file.stat().st_size for file in files)
        layers = [*base, Path(folder)]
        everything = [*files, *(file for one in base for file in sorted(one.rglob("*.yaml")))]

        def drained() -> None:
            for file in everything:
                drain(file.read_bytes())

        number = iter(range(1_000_000))
        with tempfile.TemporaryDirectory() as caches:

            def cold() -> object:
                return store.load(layers, cache=f"{caches}/{next(number)}")

            floor, work, ratio = in_turn(drained, cold, rounds=11)
        figure = f"{ratio:.2f} x ({work * 1e3:.0f} ms / {floor * 1e3:.0f} ms)"
        line("2,000 platforms, cold / draining the parser", figure, "2.0 x", met=ratio <= 2.0)
        _warm(layers, files)
        _held(layers, yaml_bytes)


def _warm(layers: list[Path], files: list[Path]) -> None:
    with tempfile.TemporaryDirectory() as cache:
        store.load(layers, cache=cache)

        def one() -> object:
            return store.load(layers, cache=cache).get("platform", "synthetic/platform-1234")

        def plain() -> object:
            return [file.read_bytes() for file in files]

        one()
        floor, work, ratio = in_turn(plain, one, rounds=21)
    figure = f"{ratio:.2f} x ({work * 1e3:.1f} ms / {floor * 1e3:.1f} ms)"
    line("one platform, warm / plain read of the YAML", figure, "1.0 x", met=ratio <= 1.0)


def _held(layers: list[Path], yaml_bytes: int) -> None:
    with tempfile.TemporaryDirectory() as cache:
        gc.collect()
        tracemalloc.start()
        kept = store.load(layers, cache=cache)
        kept.get("platform", "synthetic/platform-1234")
        gc.collect()
        held, _ = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        del kept
    ratio = held / yaml_bytes
    line("held after loading / bytes of YAML", f"{ratio:.2f} x", "3.0 x", met=ratio <= 3.0)


if __name__ == "__main__":
    main()
