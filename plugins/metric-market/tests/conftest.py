"""Advisors for the tests."""

from __future__ import annotations

import gearrec_metric_market
import pytest

from gearrec import Advisor
from gearrec.testing import check_plugin

# Imported rather than named in `pytest_plugins`, which pytest allows in a top-level conftest only.
__all__ = ["check_plugin"]


@pytest.fixture(scope="session")
def market_advisor() -> Advisor:
    """With this plugin alone and its rules; any fault raises."""
    return Advisor(
        plugins=(),
        extra={"metric-market": gearrec_metric_market},
        strict=True,
        rule_set="metric-market/default",
        cache="off",
    )
