"""A small shop application around gearrec: advice over HTTP, without state."""

from __future__ import annotations

from gearrec_shop_app.application import create_app
from gearrec_shop_app.limits import Limits

__all__ = ["Limits", "create_app"]
