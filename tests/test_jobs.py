"""Resolving jobs: what is found, what is assumed, and every way a job can be wrong."""

from __future__ import annotations

from typing import Any

import pytest

import gearrec
from gearrec.errors import JobError


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def job(**changes: Any) -> dict[str, Any]:
    return {"vehicle": "demo/fell", **changes}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"vehicle": "demo/fel"}, ["vehicle", "did you mean 'demo/fell'"]),
        ({"vehicle": "shop/van"}, ["no catalog of the namespace 'shop' is loaded", "--catalog"]),
        ({"vehicle": 7}, ["vehicle"]),
        ({"vehicle": "barge"}, ["vehicle", "write NAMESPACE/barge"]),
        ({"vehicle": "Ossel Barge"}, ["vehicle", "lower-case letters"]),
        ({"vehicel": "x"}, ["unknown key 'vehicel'", "did you mean 'vehicle'"]),
        ({"tires": {"planned": "2355/70R16"}}, ["tires.planned", "2355"]),
        ({"tires": {"planned": "28.7"}}, ["tires.planned"]),
        ({"tires": {"planned": "LR78-15"}}, ["tires.planned", "LR78"]),
        ({"tires": {"planned": "demo/no-such-tire"}}, ["tires.planned", "no record"]),
        ({"load": {"payload": 300}}, ["load.payload", "lb"]),
        ({"load": {"payload": "300 rpm"}}, ["load.payload", "allowed"]),
        ({"use": "core/some-towing"}, ["trailer", "tows on 30%"]),
        ({"use": "core/somtowing", "trailer": "demo/hives"}, ["use", "did you mean"]),
        ({"trailer": "demo/hivs"}, ["trailer", "did you mean 'demo/hives'"]),
        ({"axle_ratio": "3.85"}, ["axle_ratio"]),
        ({"axle_ratio": 41.0}, ["axle_ratio"]),
        ({"transmission": "demo/fell-sevn"}, ["transmission", "no record"]),
        ({"goals": {"economy": 1}}, ["goals.economy", "%"]),
    ],
)
def test_a_wrong_job_says_where_and_what(
    advisor: gearrec.Advisor, changes: dict[str, Any], words: list[str]
) -> None:
    with pytest.raises(JobError) as caught:
        advisor.advise(job(**changes))
    for word in words:
        assert word in str(caught.value)


def test_all_errors_come_at_once(advisor: gearrec.Advisor) -> None:
    with pytest.raises(JobError) as caught:
        advisor.advise(
            job(
                vehicle="demo/nothing",
                trailer="demo/nothing",
                tires={"now": "demo/nothing", "planned": "2355/70R16"},
            )
        )
    places = {problem.place.dotted for problem in caught.value.problems}
    assert places == {"vehicle", "trailer", "tires.now", "tires.planned"}


def test_a_wrong_part_is_placed_in_each_job_that_has_it(advisor: gearrec.Advisor) -> None:
    for _ in range(2):
        with pytest.raises(JobError, match=r"tires\.planned"):
            advisor.advise(job(tires={"planned": "demo/nothing"}))
        with pytest.raises(JobError, match=r"tires\.now"):
            advisor.advise(job(tires={"now": "demo/nothing"}))


def test_every_default_taken_is_named(advisor: gearrec.Advisor) -> None:
    bare = {item.name for item in advisor.advise(job()).assumptions}
    assert {"use", "payload", "driver_and_tools", "axle_efficiency", "altitude"} <= bare
    given = job(use="core/mixed", load={"payload": "100 lb"})
    told = {item.name for item in advisor.advise(given).assumptions}
    assert bare - told == {"use", "payload"}


def test_a_trailer_that_is_never_towed_is_said_to_be(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(job(use="core/mixed", trailer="demo/hives"))
    assert "trailer_not_towed" in {item.name for item in advice.assumptions}


def test_a_job_can_carry_its_whole_vehicle(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise("docs/examples/own-truck.yaml")
    assert advice.vehicle == "Hand-built ferry tender (invented)"
    assert {item.name for item in advice.candidates} == {"3.13", "3.36", "3.62", "3.85"}
    assert not any(item.kind == "platform" for item in advice.records)


def test_a_curve_that_ends_below_the_governed_speed_is_refused(advisor: gearrec.Advisor) -> None:
    record = advisor.job("docs/examples/own-truck.yaml")
    vehicle = record.vehicle
    assert not isinstance(vehicle, str)
    assert not isinstance(vehicle.engine, str)
    short = vehicle.engine.model_copy(update={"governed_speed": 6000.0})
    changed = record.model_copy(update={"vehicle": vehicle.model_copy(update={"engine": short})})
    with pytest.raises(JobError, match=r"vehicle\.engine\.torque_curve.*ends at 5300 rpm"):
        advisor.advise(changed)


def test_the_transmission_can_be_chosen(advisor: gearrec.Advisor) -> None:
    manual = advisor.advise({"vehicle": "demo/stile", "transmission": "demo/stile-six-manual"})
    automatic = advisor.advise({"vehicle": "demo/stile"})
    crawl = [item.fitted.metrics["crawl_ratio"] for item in (manual, automatic)]
    # First gears 4.61 and 3.44 of the demo transmissions: arithmetic.
    assert crawl[0] is not None
    assert crawl[1] is not None
    assert crawl[0] / crawl[1] == pytest.approx(4.61 / 3.44)


def test_a_low_range_that_is_missing_is_said_to_be(advisor: gearrec.Advisor) -> None:
    without = advisor.advise(job(vehicle="demo/sprig", use="core/trail"))
    assert "low_range_missing" in {item.name for item in without.assumptions}
    assert "low range: the vehicle has none" in " ".join(without.text().split())
    having = advisor.advise(job(use="core/trail"))
    assert "low_range_missing" not in {item.name for item in having.assumptions}


def test_a_converter_that_never_locks_costs_fuel_in_every_use(advisor: gearrec.Advisor) -> None:
    """Slip turns work into heat: conservation of energy."""

    def fuel(lockup: object) -> float:
        gearbox = {
            "type": "automatic",
            "gears": [2.6, 1.5, 1.0],
            "converter": {
                "stall_speed": "1800 rpm",
                "stall_torque_ratio": 2.0,
                "lockup_from_gear": lockup,
            },
        }
        found = advisor.advise(job(transmission=gearbox, candidates=[3.36]))
        value = found.fitted.metrics["fuel_rate_mix"]
        assert value is not None
        return value

    assert fuel("never") > 1.01 * fuel(3)
