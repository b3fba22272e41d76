"""A metric-market catalog for gearrec: invented vehicles, their parts, uses, rules and cases."""

from __future__ import annotations

from pathlib import Path

from gearrec.extension import CatalogFolder
from gearrec.hooks import hookimpl

GEARREC_HOOK_API = 1

CATALOG = Path(__file__).parent / "catalog"


@hookimpl
def gearrec_catalogs() -> list[CatalogFolder]:
    """The catalog folder of this package."""
    return [CatalogFolder(name="metric-market", path=CATALOG)]
