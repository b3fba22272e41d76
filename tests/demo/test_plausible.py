"""The demo's invented records, held against what such things can be.

Sources
    EPA: US Environmental Protection Agency, "Data on Cars used for Testing Fuel Economy", engine
        turns per distance in top gear (N/V), 5 to 95 percent of the vehicles of a kind.
    Cars93: data set MASS::Cars93, 93 cars of 1993: the same for the 29 with engines up to 2 L.
    49 CFR 571.110 S4.2.2.2: a passenger tire on a truck carries its rating / 1.10.
    Shaft makers: a steel tube whirls at 4.705e6 sqrt(D^2 + d^2) / L^2 rpm (inches), an aluminum one
        2 % lower; industrial practice stays below 0.65 of it.
    Every other band: common practice, no source.
"""

from __future__ import annotations

import math
import re
from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest

import gearrec

CATALOG = gearrec.Advisor(plugins=(), cache="off").catalog
MAKERS = {"Varrick", "Tolm", "Ossel", "Brindt"}
NAMES = {
    *MAKERS,
    # Models, then places; what else a title may write with a capital are kinds of engine.
    *("Alder", "Barge", "Drumlin", "Fell", "Bannock", "Sprig", "Skep", "Stile", "Tarn"),
    *("Gorrow", "Hembrick", "Ostrel", "Ostrelford", "Pass", "Sallow", "Wood"),
    *("L", "V6", "V8"),
}
KINDS = (
    *("axle", "case", "engine", "platform", "terrain", "tire", "trailer"),
    *("transfer-case", "transmission", "use-profile"),
)

LB = 0.45359237
INCH = 0.0254
MPH = 0.44704
MILE = 1609.344
GRAVITY = 9.80665
# Rolling circumference / diameter of a radial tire (ETRTO Standards Manual, as quoted by others).
ROLLING = 3.05
# Rubber on dry pavement.
GRIP = 0.8


def ids(kind: str) -> list[str]:
    return [name for name in CATALOG.ids(kind) if name.startswith("demo/")]


def get(kind: str, name: str) -> Any:
    return CATALOG.get(kind, name)


def each(kind: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("name", ids(kind))


def engine_of(platform: Any) -> Any:
    return get("engine", platform.powertrains[0].engine)


def gearbox_of(platform: Any) -> Any:
    return get("transmission", platform.powertrains[0].transmission)


def tire_of(platform: Any) -> gearrec.tires.TireSize:
    return gearrec.tires.parse_size(get("tire", platform.factory.tire).size)


def axles_of(platform: Any) -> list[Any]:
    return [get("axle", one) for one in (platform.axles.rear, platform.axles.front) if one]


def ratios(axle: Any) -> list[float]:
    return sorted(one.ring_teeth / one.pinion_teeth for one in axle.gear_sets)


def factory_ratio(platform: Any) -> float:
    """The tooth ratio that the factory ratio names, to two decimals."""
    (found,) = (
        one
        for one in ratios(get("axle", platform.axles.rear))
        if round(one, 2) == platform.factory.axle_ratio
    )
    return found


def turns_per_mile(platform: Any) -> float:
    return MILE / (ROLLING * tire_of(platform).diameter_m)


# --- every record ---------------------------------------------------------------------------------


def test_there_are_records_of_every_kind() -> None:
    for kind in KINDS:
        assert ids(kind), kind


@pytest.mark.parametrize("kind", KINDS)
def test_every_record_says_that_it_is_invented(kind: str) -> None:
    for used in CATALOG.records_used((kind, name) for name in ids(kind)):
        assert used.source is not None, used.id
        assert used.source.kind == "invented", used.id


@pytest.mark.parametrize("kind", KINDS)
def test_titles_name_nobody_but_the_valley_s_own(kind: str) -> None:
    for name in ids(kind):
        words = re.findall(r"[A-Za-z0-9']+", get(kind, name).title)
        capitals = {word.removesuffix("'s") for word in words[1:] if word[0].isupper()}
        if kind == "tire":
            # Sizes have capitals; a tread's title is its type and its size, see below.
            capitals = {word for word in capitals if not re.search(r"\d|^[C-G]$", word)}
        assert capitals <= NAMES, (name, capitals - NAMES)


# --- engines --------------------------------------------------------------------------------------

# Kind of engine -> peak torque per liter [N*m/L], peak power per liter [kW/L]. Engines of before
# about 1990 reach the lower ends.
TORQUE_PER_LITER = {"natural": (75.0, 98.0), "boosted": (110.0, 200.0), "diesel": (130.0, 210.0)}
POWER_PER_LITER = {"natural": (30.0, 75.0), "boosted": (60.0, 110.0), "diesel": (30.0, 60.0)}


def kind_of_engine(engine: Any) -> str:
    engine_class = get("engine-class", engine.engine_class)
    if engine_class.fuel.name == "diesel":
        assert engine_class.aspiration == "boosted"
        return "diesel"
    return str(engine_class.aspiration)


def curve(engine: Any) -> tuple[np.ndarray, np.ndarray]:
    """Speed [rpm] and torque [N*m] in fine steps, straight between the points."""
    speeds = [point.speed for point in engine.torque_curve]
    torques = [point.torque for point in engine.torque_curve]
    fine = np.linspace(speeds[0], speeds[-1], 2001)
    return fine, np.interp(fine, speeds, torques)


@each("engine")
def test_an_engine_gives_what_its_size_can(name: str) -> None:
    engine = get("engine", name)
    liters = engine.displacement * 1000.0
    speed, torque = curve(engine)
    power_kw = torque * speed * math.pi / 30.0 / 1000.0
    kind = kind_of_engine(engine)
    low, high = TORQUE_PER_LITER[kind]
    assert low <= torque.max() / liters <= high
    low, high = POWER_PER_LITER[kind]
    assert low <= power_kw.max() / liters <= high
    # Mean pressure 4 pi T / V falls by some 10 to 20 percent from peak torque to peak power.
    pressure_bar = 4.0 * math.pi * torque / engine.displacement / 1e5
    assert 0.75 <= pressure_bar[power_kw.argmax()] / pressure_bar.max() <= 0.95
    assert pressure_bar.max() <= {"natural": 13.5, "boosted": 24.0, "diesel": 26.0}[kind]


@each("engine")
def test_a_torque_curve_rises_to_one_peak_and_falls_to_the_governor(name: str) -> None:
    engine = get("engine", name)
    points = engine.torque_curve
    assert points[0].speed <= engine.idle_speed
    assert points[-1].speed == engine.governed_speed
    assert 550.0 <= engine.idle_speed <= 850.0
    torques = [point.torque for point in points]
    highest = np.flatnonzero(np.equal(torques, max(torques)))
    first, last = highest[0], highest[-1]
    assert 0 < first <= last < len(points) - 1
    assert all(one < other for one, other in pairwise(torques[: first + 1]))
    assert all(one == other for one, other in pairwise(torques[first : last + 1]))
    assert all(one > other for one, other in pairwise(torques[last:]))
    speed, torque = curve(engine)
    peak = (torque * speed).argmax()
    assert points[last].speed < speed[peak] < engine.governed_speed
    if kind_of_engine(engine) == "natural":
        # Without a compressor the curve is one hill: each stretch is less steep than the last.
        slopes = [
            (other.torque - one.torque) / (other.speed - one.speed)
            for one, other in pairwise(points)
        ]
        assert all(other <= one for one, other in pairwise(slopes))
    # At idle an unboosted engine has most of its torque, a boosted one less than half or so.
    share = float(np.interp(engine.idle_speed, speed, torque)) / max(torques)
    low, high = (0.5, 0.8) if kind_of_engine(engine) == "natural" else (0.35, 0.55)
    assert low <= share <= high


@each("engine")
def test_an_engine_is_of_the_size_that_its_class_says(name: str) -> None:
    engine = get("engine", name)
    liters = engine.displacement * 1000.0
    assert f"{liters:.2f} L" in engine.title
    title = get("engine-class", engine.engine_class).title
    limits = {word: float(size) for word, size in re.findall(r"(up to|over|to) ([\d.]+) L", title)}
    if between := re.search(r"([\d.]+) to [\d.]+ L", title):
        limits["over"] = float(between[1])
    assert limits
    assert limits.get("over", 0.0) <= liters <= limits.get("up to", limits.get("to", math.inf))


# --- gearboxes ------------------------------------------------------------------------------------


@each("transmission")
def test_gears_close_up_toward_the_top(name: str) -> None:
    gearbox = get("transmission", name)
    steps = [one / other for one, other in pairwise(gearbox.gears)]
    assert min(steps) > 1.1
    assert max(steps) < 2.0
    assert all(other <= one * 1.02 for one, other in pairwise(steps))
    mean = (gearbox.gears[0] / gearbox.gears[-1]) ** (1.0 / len(steps))
    assert 1.25 <= mean <= 1.6
    assert 0.6 <= gearbox.reverse / gearbox.gears[0] <= 1.1


@each("transmission")
def test_a_converter_is_of_the_usual_kind(name: str) -> None:
    gearbox = get("transmission", name)
    if gearbox.type == "manual":
        assert gearbox.converter is None
        return
    assert 1700.0 <= gearbox.converter.stall_speed <= 2500.0
    assert 1.7 <= gearbox.converter.stall_torque_ratio <= 2.2
    assert 1 <= gearbox.converter.lockup_from_gear <= 3


@each("transfer-case")
def test_low_range_halves_the_speed_or_more(name: str) -> None:
    assert 2.0 <= get("transfer-case", name).low_range <= 4.5


# --- axles ----------------------------------------------------------------------------------------


@each("axle")
def test_gear_sets_of_an_axle_are_near_but_not_alike(name: str) -> None:
    found = ratios(get("axle", name))
    assert found[0] >= 2.9
    assert found[-1] <= 5.5
    for one, other in pairwise(found):
        assert 1.03 <= other / one <= 1.15


@each("axle")
def test_a_carrier_takes_all_sets_below_or_above_one_ratio(name: str) -> None:
    sets = get("axle", name).gear_sets
    carriers = {one.carrier for one in sets}
    assert carriers in ({"shallow", "deep"}, {None})
    shallow = [one.ratio for one in sets if one.carrier == "shallow"]
    deep = [one.ratio for one in sets if one.carrier == "deep"]
    assert max(shallow, default=0.0) < min(deep, default=math.inf)


# --- platforms ------------------------------------------------------------------------------------


def kind_of_truck(platform: Any) -> tuple[object, ...]:
    gearbox = gearbox_of(platform)
    return (
        engine_of(platform).engine_class,
        (gearbox.type, len(gearbox.gears)),
        (platform.drive, platform.dual_rear_wheels),
        # Light, compact, mid-size, full-size, heavy.
        int(np.digitize(platform.curb_mass / LB, [3000.0, 4000.0, 5000.0, 7000.0])),
    )


def test_the_trucks_are_many_and_of_different_kinds() -> None:
    kinds = {name: kind_of_truck(get("platform", name)) for name in ids("platform")}
    assert len(kinds) >= 8
    for (name, one), (other_name, other) in combinations(kinds.items(), 2):
        different = sum(mine != yours for mine, yours in zip(one, other, strict=True))
        assert different >= 2, (name, other_name)
    for place, least in enumerate((5, 6, 3, 5)):
        assert len({kind[place] for kind in kinds.values()}) >= least


@each("platform")
def test_a_truck_is_made_by_one_of_the_four_makers(name: str) -> None:
    maker, model = get("platform", name).title.split(",")[0].split()
    assert maker in MAKERS
    assert name == f"demo/{model.lower()}"


@each("platform")
def test_masses_and_ratings_add_up(name: str) -> None:
    platform = get("platform", name)
    # Four people and their bags at the least, as much again as the truck itself at the most.
    assert platform.gross_rating >= platform.curb_mass + 700.0 * LB
    assert platform.gross_rating <= 2.0 * platform.curb_mass
    assert platform.axle_rating_front + platform.axle_rating_rear >= platform.gross_rating
    assert platform.axle_rating_front >= platform.curb_mass * platform.front_share
    assert platform.axle_rating_rear >= platform.curb_mass * (1.0 - platform.front_share)
    assert 0.52 <= platform.front_share <= 0.59
    # A longer truck is a heavier one; a ladder frame and a body weigh so much.
    assert 1.3 <= platform.gross_rating / platform.curb_mass <= 1.75
    assert 25.0 <= (platform.curb_mass / LB) / (platform.wheelbase / INCH) <= 52.0


@each("platform")
def test_the_factory_s_tires_carry_the_axles(name: str) -> None:
    platform = get("platform", name)
    size = tire_of(platform)
    derate = 1.10 if size.service_type == "passenger" else 1.0
    assert size.capacity_kg is not None
    assert 2.0 * size.capacity_kg / derate >= platform.axle_rating_front
    rear = 2.0 * size.capacity_kg
    if platform.dual_rear_wheels:
        assert size.capacity_dual_kg is not None
        rear = 4.0 * size.capacity_dual_kg
    assert rear / derate >= platform.axle_rating_rear


@each("platform")
def test_the_rear_axle_stands_what_can_be_put_into_it(name: str) -> None:
    """The driveline in first gear and low range, or as much as tires on a full axle can hold."""
    platform = get("platform", name)
    gearbox, rear = gearbox_of(platform), get("axle", platform.axles.rear)
    torque = max(point.torque for point in engine_of(platform).torque_curve)
    stall = gearbox.converter.stall_torque_ratio if gearbox.converter else 1.0
    low = get("transfer-case", platform.transfer_case).low_range if platform.transfer_case else 1.0
    driveline = torque * stall * gearbox.gears[0] * low * factory_ratio(platform)
    radius = ROLLING * tire_of(platform).diameter_m / (2.0 * math.pi)
    held = GRIP * platform.axle_rating_rear * GRAVITY * radius
    assert min(driveline, held) <= rear.torque_rating <= 3.0 * held
    # What teeth carry goes with the cube of the ring gear.
    assert 0.16 <= rear.ring_gear <= 0.32
    assert 0.7e6 <= rear.torque_rating / rear.ring_gear**3 <= 1.35e6


@each("platform")
def test_the_axles_of_a_truck_go_together(name: str) -> None:
    platform = get("platform", name)
    axles = axles_of(platform)
    assert [axle.position for axle in axles] == ["rear", "front"][: len(axles)]
    assert (len(axles) == 2) == (platform.drive != "rear")
    assert (platform.transfer_case is not None) == (platform.drive != "rear")
    for axle in axles:
        named = [one for one in ratios(axle) if round(one, 2) == platform.factory.axle_ratio]
        assert len(named) == 1, axle.id
    assert len({axle.gear_sets for axle in axles}) == 1
    # The front axle has the smaller ring gear.
    assert [axle.ring_gear for axle in axles] == sorted(
        (axle.ring_gear for axle in axles), reverse=True
    )


def fastest_use() -> float:
    """Speed [mph] of the fastest leg that the core and demo uses have, and 10 mph to pass."""
    uses = [get("use-profile", name) for name in CATALOG.ids("use-profile")]
    return max(leg.speed for use in uses for leg in use.legs) / MPH + 10.0


@each("platform")
def test_the_driveshaft_is_far_from_whirling(name: str) -> None:
    platform = get("platform", name)
    shaft = platform.driveshaft
    outer, inner = shaft.outer_diameter / INCH, (shaft.outer_diameter - 2.0 * shaft.wall) / INCH
    constant = 4.705e6 * (1.0 if shaft.material == "steel" else 0.98)
    critical = constant * math.hypot(outer, inner) / (shaft.length / INCH) ** 2
    turns = turns_per_mile(platform) * fastest_use() / 60.0
    assert turns * factory_ratio(platform) < 0.65 * critical
    assert turns * ratios(get("axle", platform.axles.rear))[-1] < critical
    # All pieces fit between the axles.
    assert shaft.length * shaft.pieces < 0.75 * platform.wheelbase


@each("platform")
def test_a_truck_has_the_measures_of_its_kind(name: str) -> None:
    platform = get("platform", name)
    assert 90.0 <= platform.wheelbase / INCH <= 180.0
    assert 0.25 <= platform.hitch_overhang / platform.wheelbase <= 0.45
    # Drag coefficient 0.35 to 0.5 x 2.3 to 4.5 m^2 from a small pickup to a van or a wide truck.
    assert 0.8 <= platform.drag_area <= 2.2
    # A surface beside a mass: it goes with its power of two thirds; a van has the most of it.
    assert 0.007 <= platform.drag_area / platform.curb_mass ** (2.0 / 3.0) <= 0.011
    assert 25.0 <= tire_of(platform).diameter_m / INCH <= 34.0


# Engine turns per distance in top gear [rpm per mph]. EPA, model years 2017 to 2023, but for the
# two older ones: gasoline pickups of 2004 to 2009, and Cars93.
TURNS = {
    "gasoline pickup": (21.6, 31.2),
    "diesel pickup": (21.6, 26.3),
    "van": (18.8, 32.6),
    "older": (25.2, 37.5),
    "small engine": (37.7, 57.6),
}
KIND_BY_TURNS = {
    "demo/fell": "gasoline pickup",
    "demo/barge": "gasoline pickup",
    "demo/tarn": "gasoline pickup",
    "demo/bannock": "van",
    # Diesel pickups of the list are half as heavy; a heavy one is geared no lower than they are.
    "demo/drumlin": "diesel pickup",
    # The list's diesels have six gears and more. A manual of five ends lower, as it did before.
    "demo/skep": "older",
    # Four and five gears, as in those years; there is no list of the wagons and off-roaders.
    "demo/stile": "older",
    "demo/alder": "older",
    # No pickup of the list has so small an engine.
    "demo/sprig": "small engine",
}


@each("platform")
def test_top_gear_turns_the_engine_as_such_trucks_do(name: str) -> None:
    platform = get("platform", name)
    low, high = TURNS[KIND_BY_TURNS[name]]
    turns = turns_per_mile(platform) * factory_ratio(platform) * gearbox_of(platform).gears[-1]
    assert low <= turns / 60.0 <= high


# --- tires, trailers, roads -----------------------------------------------------------------------


@each("tire")
def test_a_tire_s_title_says_its_type_and_its_size(name: str) -> None:
    tire = get("tire", name)
    tread = {
        "core/highway": ("Road tread", "Van tread"),
        "core/all-terrain": ("All-terrain tread",),
        "core/mud-terrain": ("Mud-terrain tread",),
    }
    assert tire.title in [f"{words} {tire.size}" for words in tread[tire.type]]
    assert not gearrec.tires.parse_size(tire.size).assumptions


@each("tire")
def test_a_tire_stands_the_fastest_use(name: str) -> None:
    service = gearrec.tires.parse_size(get("tire", name).size).service
    assert service is not None
    assert service.speed_symbol is not None
    assert gearrec.tires.speed_symbol_mps(service.speed_symbol) / MPH >= fastest_use()


@each("trailer")
def test_a_trailer_has_the_measures_of_one(name: str) -> None:
    trailer = get("trailer", name)
    assert 500.0 <= trailer.mass / LB <= 16000.0
    assert 0.5 <= trailer.drag_area <= 4.0
    assert 0.008 <= trailer.rolling_coefficient <= 0.013
    assert 0.09 <= trailer.tongue_share <= 0.15


@each("use-profile")
def test_a_use_is_whole_and_slow_enough(name: str) -> None:
    legs = get("use-profile", name).legs
    assert sum(leg.share for leg in legs) == pytest.approx(1.0, abs=1e-9)
    for leg in legs:
        assert leg.speed <= 70.0 * MPH
        # Low range is for a walk's pace.
        assert (leg.range == "low") == (leg.speed < 10.0 * MPH)


@each("terrain")
def test_a_road_s_hills_are_those_of_a_valley(name: str) -> None:
    terrain = get("terrain", name)
    assert 0.005 <= terrain.grade_deviation <= 0.08
    assert 30.0 <= terrain.correlation_length <= 1000.0
