"""Shared: an advisor without plugins, and invented trucks that the trade has answers about."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

import gearrec

TRADE: dict[str, Any] = yaml.safe_load(
    (Path(__file__).parent / "data" / "trade-trucks.yaml").read_text(encoding="utf-8")
)
TRUCKS: dict[str, dict[str, Any]] = TRADE["trucks"]
OTHER_CLASSES: dict[str, dict[str, Any]] = TRADE["other_classes"]


@pytest.fixture(scope="session")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


@pytest.fixture(scope="session")
def trade() -> dict[str, Any]:
    """All of `data/trade-trucks.yaml`."""
    return TRADE


@pytest.fixture(params=["mid-size diesel", "mid-size gasoline six"])
def midsize(request: pytest.FixtureRequest) -> dict[str, Any]:
    return TRUCKS[request.param]


@pytest.fixture(params=TRADE["up_to_32_inches"])
def up_to_32_inches(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture(params=TRADE["above_32_inches"])
def above_32_inches(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture(params=OTHER_CLASSES)
def other_class(request: pytest.FixtureRequest) -> dict[str, Any]:
    return OTHER_CLASSES[request.param]


@pytest.fixture(params=[*TRUCKS, *OTHER_CLASSES])
def trade_truck(request: pytest.FixtureRequest) -> dict[str, Any]:
    return (TRUCKS | OTHER_CLASSES)[request.param]
