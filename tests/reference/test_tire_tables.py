"""Tire diameters, rolling circumference, load and speed tables from outside the project.

Each figure carries its source and its confidence: *read* in the source, *quoted* by a second
source, *from memory*, *derived* by arithmetic from inputs that have one of the others.
"""

from __future__ import annotations

import math

import pytest

from gearrec import tire_load, tires

EU_TOOL = "EU tool for the CO2 of heavy vehicles, wheel table with update Q4/2022; read"
ETRTO_RULE = "ETRTO and UN design diameter, rim and section height in whole mm; derived"
UN_ANNEX_4 = "UN Regulations 30 and 54, Annex 4; quoted"
MEMORY = "from memory"


@pytest.mark.parametrize(
    ("size", "diameter_mm", "source"),
    [
        ("LT265/75R16", 804, EU_TOOL),
        ("LT245/70R17", 776, EU_TOOL),
        ("275/70R22.5", 958, EU_TOOL),
        ("245/70R19.5", 839, EU_TOOL),
        ("225/70R19.5", 811, EU_TOOL),
        ("315/80R22.5", 1076, EU_TOOL),
        ("385/65R22.5", 1072, EU_TOOL),
        ("255/100R16", 916, EU_TOOL),
        ("285/55R16C", 720, EU_TOOL),
    ],
)
def test_metric_diameter(size: str, diameter_mm: float, source: str) -> None:
    found = tires.parse_size(size)
    assert round(found.standard_diameter_m * 1000.0, 6) == diameter_mm, source
    # The plain formula may differ from the standards' rounding by 0.25 %.
    assert found.diameter_m * 1000.0 == pytest.approx(diameter_mm, rel=0.0025), source


@pytest.mark.parametrize(
    ("rim", "whole_mm", "source"),
    [
        ("15", 381, ETRTO_RULE),
        ("16", 406, ETRTO_RULE),
        ("17", 432, ETRTO_RULE),
        ("17.5", 445, ETRTO_RULE),
        ("19.5", 495, ETRTO_RULE),
        ("20", 508, ETRTO_RULE),
        ("22.5", 572, ETRTO_RULE),
    ],
)
def test_rim_in_whole_millimeters(rim: str, whole_mm: int, source: str) -> None:
    size = tires.parse_size(f"200/50R{rim}")
    assert round(size.standard_diameter_m * 1000.0, 6) == whole_mm + 200, source


@pytest.mark.parametrize(
    ("size", "diameter_mm", "source"),
    [
        ("6.00R9", 540, EU_TOOL),
        ("7.00R16C", 778, EU_TOOL),
        ("7.50R15", 772, EU_TOOL),
        ("7.50R16C", 802, EU_TOOL),
        ("7.50R16", 806, EU_TOOL),
        ("8.25R15", 836, EU_TOOL),
        ("8.25R16C", 860, EU_TOOL),
        ("9.00R20", 1018, EU_TOOL),
        ("10.00R20", 1052, EU_TOOL),
        ("11.00R16", 980, EU_TOOL),
        ("11.00R20", 1082, EU_TOOL),
        ("12.00R20", 1122, EU_TOOL),
        ("12.00R24", 1226, EU_TOOL),
        ("13.00R20", 1176, EU_TOOL),
        ("14.00R20", 1238, EU_TOOL),
        ("16.00R20", 1343, EU_TOOL),
        ("8R17.5", 784, EU_TOOL),
        ("8.5R17.5", 802, EU_TOOL),
        ("9R22.5", 970, EU_TOOL),
        ("9.5R17.5", 842, EU_TOOL),
        ("10R17.5", 858, EU_TOOL),
        ("10R22.5", 1020, EU_TOOL),
        ("11R22.5", 1050, EU_TOOL),
        ("12R22.5", 1084, EU_TOOL),
        ("13R22.5", 1124, EU_TOOL),
    ],
)
def test_numeric_diameter(size: str, diameter_mm: float, source: str) -> None:
    assert tires.parse_size(size).diameter_m * 1000.0 == pytest.approx(diameter_mm), source


@pytest.mark.parametrize(
    ("size", "diameter_mm", "tolerance", "source"),
    [
        ("220/55R390", 632.0, 0.0005, f"millimetric rim; {MEMORY}"),
        ("205R16C", 736.0, 0.015, f"no aspect printed, about 80 within 1.5 %; {MEMORY}"),
        ("7.50-16", 808.0, 0.005, f"old diagonal 7.50-16; {MEMORY}"),
        ("35x12.50R20LT", 889.0, 1e-9, f"the first figure is the diameter in inches; {MEMORY}"),
    ],
)
def test_other_diameter(size: str, diameter_mm: float, tolerance: float, source: str) -> None:
    found_mm = tires.parse_size(size).diameter_m * 1000.0
    assert found_mm == pytest.approx(diameter_mm, rel=tolerance), source


def test_a_mid_size_diesels_tire() -> None:
    size = tires.parse_size("LT235/80R17")
    source = "nearly 32 in tall, about 9 in wide: common practice, no source"
    assert 31.5 < size.diameter_m / 0.0254 < 32.0, source
    assert 8.8 < size.section_width_m / 0.0254 < 9.5, source


@pytest.mark.parametrize(
    ("construction", "factor", "source"),
    [
        ("radial", 3.05, "ETRTO Standards Manual, general section; quoted"),
        ("diagonal", 2.99, f"ETRTO; {MEMORY}"),
    ],
)
def test_rolling_circumference(construction: str, factor: float, source: str) -> None:
    found = tires.rolling_circumference_m(diameter_m=1.0, construction=construction)
    assert found == pytest.approx(factor), source


@pytest.mark.parametrize(
    ("size", "factor", "source"),
    [("LT265/75R16", 3.05, EU_TOOL), ("LT245/70R17", 3.03, EU_TOOL)],
)
def test_rolling_circumference_of_sizes(size: str, factor: float, source: str) -> None:
    # Sources spread by 1 % about 3.05.
    tire = tires.parse_size(size)
    found = tires.rolling_circumference_m(
        diameter_m=tire.diameter_m, construction=tire.construction
    )
    assert found == pytest.approx(factor * tire.standard_diameter_m, rel=0.01), source


def test_nominal_plus_three_percent() -> None:
    source = "20,168 / D(in) x 1.030 revs per mile, the trade's form of 3.05 D; derived"
    circumference = tires.rolling_circumference_m(diameter_m=31.6 * 0.0254)
    found = tires.revs_per_mile(circumference_m=circumference)
    assert found == pytest.approx(20_168 / 31.6 * 1.030, rel=1e-4), source


def test_rolling_radius_from_revs_per_mile() -> None:
    source = "801 revs per mile is a radius of 12.59 in; Gillespie ch. 2 ex. 1, from memory"
    circumference = tires.rolling_circumference_from_revs(revs_per_mile=801.0)
    assert circumference / (2.0 * math.pi) / 0.0254 == pytest.approx(12.59, abs=0.005), source


def test_wear() -> None:
    source = "12/32 in off a 35 in tire: -2.1 % diameter, +2.2 % revs; derived"
    new_m = 35.0 * 0.0254
    worn_m = tires.worn_diameter_m(diameter_m=new_m, tread_worn_m=12.0 / 32.0 * 0.0254)
    assert worn_m / new_m - 1.0 == pytest.approx(-0.021, abs=0.0005), source
    assert new_m / worn_m - 1.0 == pytest.approx(0.022, abs=0.0005), source


@pytest.mark.parametrize(
    ("first", "capacities_kg", "source"),
    [
        (60, [250, 257, 265, 272, 280, 290, 300, 307, 315, 325], MEMORY),
        (80, [450, 462, 475, 487, 500, 515, 530, 545, 560, 580], UN_ANNEX_4),
        (90, [600, 615, 630, 650, 670, 690, 710, 730, 750, 775], UN_ANNEX_4),
        (100, [800, 825, 850, 875, 900, 925, 950, 975, 1000, 1030], UN_ANNEX_4),
        (110, [1060, 1090, 1120, 1150, 1180, 1215, 1250, 1285, 1320, 1360], UN_ANNEX_4),
        (120, [1400, 1450, 1500, 1550], UN_ANNEX_4),
        (124, [1600, 1650, 1700, 1750, 1800, 1850, 1900], MEMORY),
        (140, [2500, 2575, 2650, 2725, 2800, 2900, 3000, 3075, 3150, 3250, 3350], MEMORY),
    ],
)
def test_load_index(first: int, capacities_kg: list[float], source: str) -> None:
    found = [tires.load_index_kg(first + step) for step in range(len(capacities_kg))]
    assert found == capacities_kg, source


@pytest.mark.parametrize("index", range(tire_load.FIRST_LOAD_INDEX, tire_load.LAST_LOAD_INDEX + 1))
def test_load_index_follows_its_geometric_series(index: int) -> None:
    # The quoted entries of UN Annex 4 themselves lie up to 1.8 % from the series (at 113 to 120).
    source = "about 450 kg x 10^((index - 80) / 80); derived"
    series = 450.0 * 10.0 ** ((index - 80) / 80.0)
    assert tires.load_index_kg(index) == pytest.approx(series, rel=0.02), source


@pytest.mark.parametrize(
    ("symbol", "kmh", "source"),
    [
        *((symbol, kmh, MEMORY) for symbol, kmh in [("F", 80), ("G", 90), ("J", 100), ("K", 110)]),
        *(
            (symbol, kmh, UN_ANNEX_4)
            for symbol, kmh in [
                *(("L", 120), ("M", 130), ("N", 140), ("P", 150), ("Q", 160), ("R", 170)),
                *(("S", 180), ("T", 190), ("U", 200), ("H", 210), ("V", 240), ("W", 270)),
                ("Y", 300),
            ]
        ),
    ],
)
def test_speed_symbol(symbol: str, kmh: float, source: str) -> None:
    assert tires.speed_symbol_mps(symbol) * 3.6 == pytest.approx(kmh), source


@pytest.mark.parametrize(
    ("load_range", "plies"),
    [
        *(("B", 4), ("C", 6), ("D", 8), ("E", 10), ("F", 12), ("G", 14)),
        *(("H", 16), ("J", 18), ("L", 20), ("M", 22), ("N", 24)),
    ],
)
def test_ply_rating(load_range: str, plies: int) -> None:
    assert tires.ply_rating(load_range) == plies, MEMORY


def test_passenger_tires_on_trucks_are_derated() -> None:
    source = "49 CFR 571.110 S4.2.2.2 (2015), divide by 1.10; read"
    assert tires.derated_kg(capacity_kg=1210.0) == pytest.approx(1100.0), source
