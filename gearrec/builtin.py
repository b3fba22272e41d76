"""The catalogs and metrics that come with the library, offered through the hooks of any plugin."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from gearrec.extension import CatalogFolder
from gearrec.hooks import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gearrec.metrics import Metric

GEARREC_HOOK_API = 1


def catalogs_folder() -> Path:
    """The folder with the built-in catalogs: inside an installed wheel, else in the checkout.

    Raises: FileNotFoundError when neither is there.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / "_catalogs", package.parent / "catalogs"):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the built-in catalogs are missing beside {package}; reinstall")


@hookimpl
def gearrec_catalogs() -> Iterable[CatalogFolder]:
    """Every folder below the built-in ones that is a catalog."""
    return [
        CatalogFolder(name=folder.name, path=folder)
        for folder in sorted(catalogs_folder().iterdir())
        if (folder / "catalog.yaml").is_file()
    ]


@hookimpl
def gearrec_metrics() -> Iterable[Metric]:
    """The metrics of `gearrec.metrics`."""
    from gearrec.metrics import BUILT_IN

    return BUILT_IN
