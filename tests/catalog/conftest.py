"""Shared fixtures: small invented catalogs written to a folder."""

from __future__ import annotations

from textwrap import dedent
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

MANIFEST = """\
kind: catalog
format: 1
namespace: {namespace}
title: Invented
about: Invented for a test.
version: "1.0"
source: {{kind: invented, citation: made up for a test, confidence: low}}
"""

# Every kind that a platform stands on; invented, of the usual size.
PARTS: dict[str, str] = {
    "classes.yaml": """
        kind: engine-class
        format: 1
        records:
          - id: shop/diesel
            title: Invented diesel class
            aspiration: boosted
            fuel: {name: diesel, lower_heating_value: "42.7 MJ/kg", density: "836 kg/m^3"}
            friction:
              constant: "70 kPa"
              linear_per_1000rpm: "40 kPa"
              square_per_1000rpm: "4 kPa"
            indicated_efficiency: {low: "42 %", mid: "45 %", high: "48 %"}
            lug_speed: "1100 rpm"
            cruise:
              low: "1200 rpm"
              comfortable_low: "1500 rpm"
              comfortable_high: "2100 rpm"
              high: "2600 rpm"
            idle_fuel_pressure: "180 kPa"
            altitude: {flat_to: "2300 m", loss_per_100m: "1 %"}
        """,
    "engines.yaml": """
        kind: engine
        format: 1
        records:
          - id: shop/four
            title: Invented four
            engine_class: shop/diesel
            displacement: "1.72 L"
            torque_curve:
              - {speed: "800 rpm", torque: "200 N*m"}
              - {speed: "1800 rpm", torque: "450 N*m"}
              - {speed: "4000 rpm", torque: "300 N*m"}
            idle_speed: "700 rpm"
            governed_speed: "4200 rpm"
        """,
    "transmissions.yaml": """
        kind: transmission
        format: 1
        records:
          - id: shop/six
            title: Invented six
            type: manual
            gears: [4.2, 2.5, 1.6, 1.2, 0.9, 0.7]
        """,
    "axles.yaml": """
        kind: axle
        format: 1
        records:
          - id: shop/rear
            title: Invented rear axle
            position: rear
            ring_gear: "8.5 in"
            gear_sets:
              - {ring_teeth: 47, pinion_teeth: 14}
              - {ring_teeth: 50, pinion_teeth: 13}
          - id: shop/front
            title: Invented front axle
            position: front
            ring_gear: "8 in"
            gear_sets:
              - {ring_teeth: 47, pinion_teeth: 14}
        """,
    "tires.yaml": """
        kind: tire
        format: 1
        records:
          - id: shop/tall
            title: Invented tire
            size: 235/70R16 109T
        """,
    "platforms.yaml": """
        kind: platform
        format: 1
        records:
          - id: shop/pickup
            title: Invented pickup
            aliases: [shop/old-pickup]
            curb_mass: "2000 kg"
            gross_rating: "2800 kg"
            drive: rear
            speed_sensor: after-axle
            drag_area: "1.4 m^2"
            powertrains:
              - {engine: shop/four, transmission: shop/six}
            axles: {rear: shop/rear}
            factory: {tire: shop/tall, axle_ratio: 3.36}
        """,
}


@pytest.fixture
def write_catalog(tmp_path: Path) -> Callable[..., Path]:
    """Write a catalog folder: `write_catalog("shop", {"a.yaml": text})`; returns its path."""

    def write(namespace: str, files: Mapping[str, str] = {}, *, folder: str | None = None) -> Path:
        root = tmp_path / (folder or namespace)
        root.mkdir(exist_ok=True)
        (root / "catalog.yaml").write_text(MANIFEST.format(namespace=namespace), encoding="utf-8")
        for name, text in files.items():
            (root / name).write_text(dedent(text).lstrip(), encoding="utf-8")
        return root

    return write


@pytest.fixture
def shop(write_catalog: Callable[..., Path]) -> Path:
    """A small catalog with one platform and all that it stands on."""
    return write_catalog("shop", PARTS)
