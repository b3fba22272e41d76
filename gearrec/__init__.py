"""Which axle ratio for this truck, these tires, this load: rules-driven, with plugin catalogs.

Everything public is reachable from here. Nothing is imported before it is used, so that
`import gearrec` costs next to nothing.
"""

TYPE_CHECKING = False  # the name that type checkers know; `typing` costs half a start of Python
if TYPE_CHECKING:
    from gearrec import driveline, errors, gearing, road_load, tires, units
    from gearrec.advice import Advice
    from gearrec.api import Advisor
    from gearrec.catalog.job_records import Job
    from gearrec.errors import (
        CatalogError,
        GearrecError,
        InputError,
        JobError,
        PluginError,
        QuantityError,
        TireSizeError,
        UnknownRecordError,
    )

__version__ = "0.1.0"

__all__ = [
    "Advice",
    "Advisor",
    "CatalogError",
    "GearrecError",
    "InputError",
    "Job",
    "JobError",
    "PluginError",
    "QuantityError",
    "TireSizeError",
    "UnknownRecordError",
    "__version__",
    "driveline",
    "errors",
    "gearing",
    "road_load",
    "tires",
    "units",
]

_HOMES = {
    "Advice": "gearrec.advice",
    "Advisor": "gearrec.api",
    "Job": "gearrec.catalog.job_records",
}
_MODULES = frozenset({"driveline", "errors", "gearing", "road_load", "tires", "units"})


def __getattr__(name: str) -> object:
    from importlib import import_module

    if name in _MODULES:
        return import_module(f"gearrec.{name}")
    if name not in __all__:
        raise AttributeError(f"module 'gearrec' has no attribute {name!r}")
    return getattr(import_module(_HOMES.get(name, "gearrec.errors")), name)


def __dir__() -> list[str]:
    return list(__all__)
