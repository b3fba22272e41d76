"""Checks for authors of plugins, and a pytest fixture that runs them all.

A plugin's own tests say `pytest_plugins = "gearrec.testing"` in their `conftest.py` and call
`check_plugin(my_module, jobs=[...])`. Each check raises with words that say what to do. A plugin
given here need not be installed, and installed ones do not take part.

PYTEST_DONT_REWRITE: there is no assert statement here, and pytest warns, where warnings are errors
for good, of a plugin that something imported before it could rewrite it.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import pytest

from gearrec import plugins as plugin_loading
from gearrec.errors import CatalogError
from gearrec.extension import Caution, Preference
from gearrec.hooks import HOOK_API_VERSION, hookimpl
from gearrec.lanes import Lanes, field_names, field_shape, take
from gearrec.metrics import by_name, evaluate
from gearrec.plugin_calls import BUILTIN

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from gearrec.api import Advisor
    from gearrec.plugins import Plugins

# An invented half-ton pickup with a trailer on the second leg, in the units of `Lanes`.
_SAMPLE_VALUES: Mapping[str, Sequence[float] | float] = {
    "axle_ratio": (3.36, 3.62, 3.85),
    "front_ratio": (3.36, 3.62, 3.85),
    "factory_ratio": 3.36,
    "diameter_factory_m": 0.78,
    "diameter_now_m": 0.79,
    "diameter_planned_m": 0.84,
    "circumference_factory_m": 2.38,
    "circumference_planned_m": 2.56,
    "tire_capacity_front_kg": 2200,
    "tire_capacity_rear_kg": 2200,
    "axle_load_front_kg": 1400,
    "axle_load_rear_kg": 1500,
    "gear_ratio": (4.0, 2.4, 1.5, 1.0, 0.7),
    "gear_efficiency": (0.96, 0.96, 0.96, 0.97, 0.96),
    "reverse_ratio": 3.3,
    "low_range_ratio": 2.7,
    "transfer_high_efficiency": 0.97,
    "transfer_low_efficiency": 0.94,
    "axle_efficiency": 0.96,
    "drag_torque_nm": 20,
    "stall_torque_ratio": 1.9,
    "stall_speed_rpm": 2000,
    "torque_reserve": 0.1,
    "driveshaft_critical_rpm": 6000,
    "axle_torque_rating_nm": 9000,
    "torque_nm": 500,
    "torque_start_rpm": 600,
    "torque_step_rpm": 100,
    "torque_factor": (1.0, 0.9),
    "idle_rpm": 650,
    "governed_rpm": 4000,
    "lug_rpm": 1300,
    "light_lug_rpm": 1000,
    "displacement_m3": 0.0035,
    "friction_0_pa": 100e3,
    "friction_1_pa_per_rpm": 15,
    "friction_2_pa_per_rpm2": 0.004,
    "indicated_efficiency": 0.4,
    "fuel_factor_low": 0.9,
    "fuel_factor_high": 1.1,
    "lower_heating_value_j_per_kg": 43e6,
    "fuel_density_kg_per_m3": 750,
    "idle_fuel_kg_per_s": 0.0003,
    "engine_inertia_kg_m2": 0.3,
    "wheel_inertia_kg_m2": 8,
    "leg_share": (0.7, 0.3),
    "leg_speed_mps": (29, 25),
    "leg_grade_deviation": (0.015, 0.025),
    "leg_grade_correlation_m": (800, 600),
    "leg_stops_per_m": (0.0, 0.0001),
    "leg_standing_share": (0.0, 0.05),
    "leg_air_density_kg_per_m3": (1.2, 1.1),
    "mass_kg": (2600, 4800),
    "force_constant_n": (280, 560),
    "force_linear_n_per_mps": (1, 2),
    "force_square_n_per_mps2": (0.85, 1.5),
    "driven_load_kg": 1500,
    "friction_coefficient": 0.8,
    "reference_grade": 0.06,
    "passing_margin_mps": 4,
}
_SAMPLE_MASKS: Mapping[str, Sequence[bool]] = {
    "candidate_known": (True, True, True),
    "gear_locked": (False, True, True, True, True),
    "is_automatic": (True,),
    "speed_sensor_before_axle": (True,),
    "leg_known": (True, True),
    "leg_low_range": (False, False),
    "leg_towing": (False, True),
}
_SAMPLE_UNKNOWN = (
    "front_ratio",
    "tire_capacity_front_kg",
    "tire_capacity_rear_kg",
    "axle_load_front_kg",
    "axle_load_rear_kg",
    "reverse_ratio",
    "driveshaft_critical_rpm",
    "axle_torque_rating_nm",
)


class CheckPlugin(Protocol):
    """What the fixture `check_plugin` gives."""

    def __call__(self, plugin: object, *, jobs: Sequence[Mapping[str, Any] | Path]) -> None: ...


@pytest.fixture
def check_plugin() -> CheckPlugin:
    """All checks of this module on one plugin, with the jobs that it is to be tried on."""

    def check(plugin: object, *, jobs: Sequence[Mapping[str, Any] | Path]) -> None:
        check_hooks(plugin)
        check_catalogs(plugin)
        check_metrics_vectorised(plugin)
        check_cases(plugin)
        check_order_free(plugin, jobs=jobs)
        check_pure(plugin, jobs=jobs)

    return check


def check_hooks(plugin: object, *, name: str = "plugin") -> Plugins:
    """That the plugin loads beside the built-in one, with right names, arguments and answers.

    Raises: PluginError with every fault.
    """
    return plugin_loading.load(allow=(), extra={name: plugin}, strict=True, environment={})


def check_catalogs(plugin: object) -> None:
    """That the plugin's catalogs load on top of the built-in ones, rules and all.

    Every rule set of its own is compiled, and every rule worked on its own example.
    Raises: CatalogError with every problem and its place.
    """
    from gearrec import attributes
    from gearrec.api import Advisor
    from gearrec.rule_examples import check_examples

    advisor, own = _advisor({"plugin": plugin}), _own_records(plugin)
    for rule_set in advisor.catalog.ids("rule-set"):
        if rule_set.startswith(own):
            Advisor(plugins=advisor.plugins, rule_set=rule_set)
    problems = check_examples(
        [rule for name, rule in advisor.catalog.records("rule").items() if name.startswith(own)],
        metrics=by_name(advisor.metrics),
        attributes=attributes.built_in(),
        place_of=lambda record, dotted: advisor.catalog.place("rule", record, dotted),
    )
    if problems:
        raise CatalogError(problems)


def check_cases(plugin: object) -> None:
    """That every case of the plugin's own catalogs comes out as it says.

    Raises: AssertionError with what each failing case expected and what came out.
    """
    from gearrec.cases import run_cases

    advisor, own = _advisor({"plugin": plugin}), _own_records(plugin)
    names = [name for name in advisor.catalog.ids("case") if name.startswith(own)]
    failing = [str(case) for case in run_cases(advisor, only=names) if not case.passed]
    if failing:
        raise AssertionError("\n".join(failing))


def check_metrics_vectorised(plugin: object, *, lanes: Lanes | None = None) -> None:
    """That each metric gives one lane the same numbers alone and among others, and writes nowhere.

    `lanes`: the batch to try; by default `sample_lanes()`.
    Raises: AssertionError; PluginError when a metric fails or has another shape or type.
    """
    lanes = sample_lanes() if lanes is None else lanes
    own = [
        entry for entry in check_hooks(plugin).call("gearrec_metrics") if entry.plugin != BUILTIN
    ]
    metrics = [entry.record for entry in own]
    before = take(lanes, range(lanes.size))
    together = evaluate(lanes, metrics=metrics)
    for field in field_names():
        if not np.array_equal(getattr(lanes, field), getattr(before, field), equal_nan=True):
            raise AssertionError(f"a metric changes the array '{field}' that it is given; copy it")
    for lane in range(lanes.size):
        alone = evaluate(take(lanes, [lane]), metrics=metrics)
        for name, values in together.items():
            if not np.allclose(values[..., lane], alone[name][..., 0], 1e-12, 0.0, equal_nan=True):
                raise AssertionError(
                    f"metric '{name}' gives lane {lane} other numbers alone than in a batch; "
                    "lanes are the last axis and must not depend on each other"
                )


def check_order_free(plugin: object, *, jobs: Sequence[Mapping[str, Any] | Path]) -> None:
    """That the advice is the same whichever of two plugins is loaded first.

    Raises: AssertionError; PluginError when the plugin breaks the contract of a hook.
    """
    orders = (("plugin", "companion"), ("companion", "plugin"))
    both = {"plugin": plugin, "companion": _Companion()}
    first, second = (_advisor({name: both[name] for name in order}) for order in orders)
    for job in jobs:
        if first.advise(job).to_json() != second.advise(job).to_json():
            raise AssertionError(
                f"{_title(job)}: the advice depends on the order in which plugins are loaded; a "
                "hook may use its arguments only, and nothing that other plugins leave behind"
            )


def check_pure(plugin: object, *, jobs: Sequence[Mapping[str, Any] | Path]) -> None:
    """That each hook answers the same twice, and changes nothing that it is given.

    Raises: AssertionError; PluginError when the plugin breaks the contract of a hook.
    """
    loaded = check_hooks(plugin)
    for hook in ("gearrec_catalogs", "gearrec_metrics"):
        function = getattr(plugin, hook, None)
        if function is not None and tuple(function() or ()) != tuple(function() or ()):
            raise AssertionError(f"{hook} answers differently when it is called again")
    for job in jobs:
        companion = _Companion()
        _advisor({**_records_and_metrics(plugin), "companion": companion}).advise(job)
        for hook, arguments in companion.seen.items():
            before = _snapshot(arguments)
            same = loaded.call(hook, **arguments) == loaded.call(hook, **arguments)
            if not same:
                raise AssertionError(
                    f"{_title(job)}: {hook} answers differently when it is called again"
                )
            if _snapshot(arguments) != before:
                raise AssertionError(f"{_title(job)}: {hook} changes what it is given")


def sample_lanes(*, size: int = 5, seed: int = 1) -> Lanes:
    """Invented vehicles for tests of metrics: 3 candidates, 2 legs, 5 gears, `size` lanes.

    All numbers differ from lane to lane, so that a metric that mixes up lanes is found out; the
    last lane has unknown (NaN) inputs wherever they may be unknown.
    """
    draw = np.random.default_rng(seed)
    shape = {"candidates": 3, "legs": 2, "gears": 5, "grid": 41, "size": size}

    arrays: dict[str, Any] = {}
    for name in field_names():
        wanted = field_shape(name, **shape)
        values = _SAMPLE_MASKS[name] if name in _SAMPLE_MASKS else _SAMPLE_VALUES[name]
        column = np.atleast_1d(np.asarray(values))
        spread = np.broadcast_to(column.reshape(-1, 1) if len(wanted) > 1 else column, wanted)
        varied = spread if name in _SAMPLE_MASKS else spread * draw.uniform(0.98, 1.02, size)
        arrays[name] = np.ascontiguousarray(varied)
    speeds = np.linspace(0.0, 1.0, 41).reshape(-1, 1)
    arrays["torque_nm"] = arrays["torque_nm"] * (0.6 + 1.6 * speeds - 1.5 * speeds**2)
    arrays["leg_share"] = arrays["leg_share"] / arrays["leg_share"].sum(axis=0)
    for name in _SAMPLE_UNKNOWN:
        arrays[name][..., -1] = np.nan
    return Lanes(**arrays)


class _Companion:
    """A second plugin that says little and keeps what its hooks were given."""

    GEARREC_HOOK_API = HOOK_API_VERSION

    def __init__(self) -> None:
        self.seen: dict[str, dict[str, Any]] = {}

    @hookimpl
    def gearrec_candidates(self, job: Any, candidates: Any) -> None:
        self.seen["gearrec_candidates"] = {"job": job, "candidates": candidates}

    @hookimpl
    def gearrec_preferences(self, job: Any, evaluation: Any) -> list[Preference]:
        self.seen["gearrec_preferences"] = {"job": job, "evaluation": evaluation}
        return [
            Preference(
                name="companion/middle",
                weight=0.5,
                scores=dict.fromkeys(evaluation.axle_ratios, 0.5),
                sentence="The companion of a test likes all ratios alike.",
                source="invented",
            )
        ]

    @hookimpl
    def gearrec_cautions(self, job: Any, advice: Any) -> list[Caution]:
        self.seen["gearrec_cautions"] = {"job": job, "advice": advice}
        return [Caution("companion/present", "The companion of a test was here.", "invented")]

    @hookimpl
    def gearrec_report_sections(self, job: Any, advice: Any) -> None:
        self.seen["gearrec_report_sections"] = {"job": job, "advice": advice}


def _own_records(plugin: object) -> tuple[str, ...]:
    """What the ids of the plugin's own records start with."""
    folders = check_hooks(plugin).call("gearrec_catalogs")
    return tuple(f"{entry.record.name}/" for entry in folders if entry.plugin != BUILTIN)


def _records_and_metrics(plugin: object) -> dict[str, object]:
    """The plugin without the hooks that are called for a job, if anything of it is left.

    A job may need its records, but none of its hooks may see the arguments before they are kept.
    """
    hooks = ("gearrec_catalogs", "gearrec_metrics")
    kept = {name: getattr(plugin, name) for name in hooks if hasattr(plugin, name)}
    return {"plugin": SimpleNamespace(GEARREC_HOOK_API=HOOK_API_VERSION, **kept)} if kept else {}


def _advisor(extra: Mapping[str, object]) -> Advisor:
    from gearrec.api import Advisor

    loaded = plugin_loading.load(allow=(), extra=extra, strict=True, environment={})
    return Advisor(plugins=loaded)


def _title(job: Mapping[str, Any] | Path) -> str:
    return str(job.get("title", "job")) if not hasattr(job, "name") else str(job.name)


def _snapshot(arguments: Mapping[str, Any]) -> list[str]:
    """Text of everything a hook is given, to compare before and after."""
    return [
        value.to_json() if hasattr(value, "to_json") else repr(value)
        for value in arguments.values()
    ]
