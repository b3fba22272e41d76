from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec.errors import TireSizeError
from gearrec.tire_load import ServiceDescription
from gearrec.tire_size import (
    TireSize,
    free_diameter_m,
    parse_size,
    standard_diameter_m,
)

FULL = "LT235/80R17 120/117R E"


def test_a_full_marking() -> None:
    size = parse_size(FULL)
    assert size.text == str(size) == FULL
    assert (size.family, size.prefix, size.construction) == ("metric", "LT", "radial")
    assert size.service_type == "light-truck"
    # 17 x 25.4 + 2 x 235 x 0.80 = 807.8; ISO 4000-1 formula (from memory), by hand.
    assert size.diameter_m == pytest.approx(0.8078)
    assert size.section_width_m == pytest.approx(0.235)
    assert size.section_height_m == pytest.approx(0.188)
    assert size.rim_diameter_m == pytest.approx(0.4318)
    assert size.service == ServiceDescription(
        load_index_single=120, load_index_dual=117, speed_symbol="R"
    )
    # Load indices 120 and 117: UN R54 Annex 4, quoted.
    assert (size.capacity_kg, size.capacity_dual_kg) == (1400.0, 1285.0)
    assert size.load_range == "E"
    assert size.assumptions == ()


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        *(
            (spoken, "LT235/80R17")
            for spoken in [
                *("lt235/80r17", "LT 235/80 R17", "LT-235/80R17", "LT235-80R17", "LT235/80-R17"),
                *("lt 235 / 80 r 17", "  LT235/80R17  ", "LT235/80 17", "235/80R17LT"),
                *("LT235\u201380R17", "LT\u00a0235/80\u00a0R17", "LT 235 80 17", "LT-235-80-17"),
            ]
        ),
        *(
            (spoken, "235/80R17")
            for spoken in ["235-80-17", "235 80 17", "235/80/17", "235-80-r17"]
        ),
        ("P265/70R17", "P265/70R17"),
        ("p 265/70r17 113s", "P265/70R17 113S"),
        ("265/70R17 115T", "265/70R17 115T"),
        ("265/70R17 115 t", "265/70R17 115T"),
        ("255/65ZR17", "255/65ZR17"),
        ("255/65 zr 17 (114y)", "255/65ZR17 114Y"),
        ("235/80-17", "235/80D17"),
        ("ST205/75D15", "ST205/75D15"),
        ("ST225/75R15 LRE", "ST225/75R15 E"),
        ("ST 225/75R15 10-ply", "ST225/75R15 E"),
        ("ST225/75R15 10PR", "ST225/75R15 E"),
        ("235/85B16", "235/85B16"),
        ("LT245/75R16/E", "LT245/75R16 E"),
        ("LT245/75R16-E", "LT245/75R16 E"),
        ("LT245/75R16E", "LT245/75R16 E"),
        ("LT245/75R16C", "LT245/75R16 C"),
        ("LT245/75R16 E 120/116S", "LT245/75R16 120/116S E"),
        ("LT245/75R16 load range E", "LT245/75R16 E"),
        ("LT235/80R17 120/117", "LT235/80R17 120/117"),
        ("265/70R17 115T XL M+S", "265/70R17 115T XL"),
        ("265/70R17 standard load", "265/70R17 SL"),
        ("225/70R15C 112/110R", "225/70R15C 112/110R"),
        ("225/70 r15 c", "225/70R15C"),
        ("225/70R19.5 128/126N G", "225/70R19.5 128/126N G"),
        ("315/80R22.5 156/150L", "315/80R22.5 156/150L"),
        ("220/55R390", "220/55R390"),
        ("205R16", "205R16"),
        ("205 r16c 110/108s", "205R16C 110/108S"),
        ("35x12.50R17LT", "35x12.50R17LT"),
        ("35X12.5R17LT", "35x12.50R17LT"),
        ("LT35x12.50R17", "35x12.50R17LT"),
        ("35\u00d712.50R17 LT", "35x12.50R17LT"),
        ("35x12.50R17LT 121Q", "35x12.50R17LT 121Q"),
        ("35x12.50R17E", "35x12.50R17 E"),
        ("31x10.50R15 C", "31x10.50R15 C"),
        ("31.5x10.5r15", "31.5x10.50R15"),
        ("35x12.50x17", "35x12.50R17"),
        ("35 12.50 17", "35x12.50R17"),
        ("35-12.50-17", "35x12.50R17"),
        ("35/12.50R17", "35x12.50R17"),
        ("33X10.5-15", "33x10.50-15"),
        ("33x12.50D15", "33x12.50-15"),
        ("7.50R16LT", "7.50R16LT"),
        ("7.5r16lt", "7.50R16LT"),
        ("7.50-16", "7.50-16"),
        ("7.00R16C", "7.00R16C"),
        ("11R22.5", "11R22.5"),
        ("11 r 22.5 146/143L", "11R22.5 146/143L"),
        ("11-22.5 146/143L", "11-22.5 146/143L"),
        ("10.00-20 14PR", "10.00-20 G"),
    ],
)
def test_marked_and_spoken_forms(text: str, canonical: str) -> None:
    size = parse_size(text)
    assert size.text == canonical
    again = parse_size(canonical)
    assert (again.diameter_m, again.construction, again.service, again.load_range) == (
        size.diameter_m,
        size.construction,
        size.service,
        size.load_range,
    )


@pytest.mark.parametrize(
    ("text", "family", "service_type", "construction"),
    [
        ("P265/70R17", "metric", "passenger", "radial"),
        ("265/70R17 115T", "metric", "passenger", "radial"),
        ("LT265/70R17", "metric", "light-truck", "radial"),
        ("265/70R17LT", "metric", "light-truck", "radial"),
        ("ST205/75D15", "metric", "special-trailer", "diagonal"),
        ("225/70R15C", "metric", "commercial", "radial"),
        ("225/75R16 121/120R", "metric", "commercial", "radial"),
        ("225/70R19.5", "metric", "commercial", "radial"),
        ("235/80-17", "metric", "passenger", "diagonal"),
        ("235-80-17", "metric", "passenger", "radial"),
        ("235/85B16", "metric", "passenger", "bias-belted"),
        ("205R16", "metric", "passenger", "radial"),
        ("35x12.50R17LT", "flotation", "light-truck", "radial"),
        ("33x10.5-15", "flotation", "light-truck", "diagonal"),
        ("7.50R16LT", "numeric", "light-truck", "radial"),
        ("11R22.5", "numeric", "commercial", "radial"),
        ("7.50-16", "numeric", "commercial", "diagonal"),
    ],
)
def test_kind(text: str, family: str, service_type: str, construction: str) -> None:
    size = parse_size(text)
    assert (size.family, size.service_type, size.construction) == (
        family,
        service_type,
        construction,
    )


def test_what_the_text_leaves_open_is_said() -> None:
    assert parse_size("265/70R17").assumptions == ()
    assert "radial taken" in parse_size("265 70 17").assumptions[0]
    assert "80 taken" in parse_size("205R16").assumptions[0]
    assert "2 % less" in parse_size("35x12.50R17LT").assumptions[0]
    assert "7.50R16" in parse_size("7.50-16").assumptions[0]


def test_without_a_service_description_the_capacity_is_unknown() -> None:
    size = parse_size("LT235/80R17 E")
    assert (size.service, size.capacity_kg, size.capacity_dual_kg) == (None, None, None)
    single = parse_size("265/70R17 115T")
    # Load index 115: UN R30 Annex 4, quoted.
    assert (single.capacity_kg, single.capacity_dual_kg) == (1215.0, None)


def test_flotation_geometry() -> None:
    size = parse_size("35x12.50R17LT")
    # 35 in, 12.5 in and (35 - 17) / 2 in, by hand.
    assert size.diameter_m == pytest.approx(35 * 0.0254)
    assert size.section_width_m == pytest.approx(12.5 * 0.0254)
    assert size.section_height_m == pytest.approx(9 * 0.0254)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2355/80R17", ["section width 2355 mm", "125 to 455"]),
        ("235/800R17", ["aspect ratio 800", "25 to 105"]),
        ("235/8R17", ["aspect ratio 8"]),
        ("235/80R37", ["rim 37 in", "8 to 30"]),
        ("235/80R17.3", ["rim 17.3 in"]),
        ("220/55R200", ["rim 200 mm", "315 to 540"]),
        ("2355/8R37", ["section width", "aspect ratio", "rim 37"]),
        ("2355/80R17 50T", ["section width", "load index 50"]),
        ("35x12.50R33", ["rim 33"]),
        ("26x9R25", ["no room"]),
        ("20x22R8", ["less than the diameter"]),
        ("12.50x35R17", ["diameter 12.5 in", "width 35 in"]),
        ("31.8", ["bare 31.8", "width and rim", "33x12.50R17"]),
        ("31.8 in", ["bare 31.8"]),
        ('33"', ["bare 33"]),
        ("33s", ["bare 33"]),
        ("LR78-15", ["alphanumeric", "letter L names a load", "235 mm", "metric size"]),
        ("lr78-15", ["alphanumeric"]),
        ("H78-15", ["alphanumeric", "225 mm"]),
        ("G70-14", ["alphanumeric", "215 mm"]),
        ("N78-15", ["alphanumeric", "letter N"]),
        ("235/80", ["rim is missing"]),
        ("LT235/80R", ["rim is missing"]),
        ("35x12.50", ["rim is missing"]),
        ("235/17", ["aspect ratio is missing"]),
        ("33R17", ["width is missing"]),
        ("33-17", ["width is missing"]),
        ("80/235R17", ["swapped"]),
        ("T145/80D16", ["temporary spare"]),
        ("35x12,50R17", ["decimals after a point"]),
        ("", ["empty"]),
        ("   ", ["empty"]),
        ("R17", ["no tire size", "LT235/80R17"]),
        ("all-terrain", ["no tire size"]),
        ("265/70R17115T", ["no tire size"]),
        ("P35x12.50R17", ["no tire size"]),
        ("6.50R16", ["table", "7.50R16", "metric size"]),
        ("12.50R17", ["table", "11R22.5"]),
        ("LT235/80R17ST", ["both LT and ST"]),
        ("LT235/80R17 117/120R", ["117/120", "never above"]),
        ("LT235/80R17 R", ["no load range", "115T"]),
        ("265/70R17 115X", ["no speed symbol"]),
        ("265/70R17 50T", ["load index 50", "60 to 170"]),
        ("265/70R17 115/50T", ["load index 50"]),
        ("265/70R17 115T 116T", ["two service descriptions"]),
        ("LT235/80R17 E D", ["disagrees"]),
        ("LT235/80R17 E 8PR", ["disagrees"]),
        ("LT235/80R17 7PR", ["ply rating 7", "4, 6, 8"]),
        ("LT235/80R17 spare", ["'SPARE'", "120/117R"]),
        ("LT235/80R17\x00", ["not understood"]),
        ("9" * 500, ["too long", "60 characters"]),
        (None, ["text, not NoneType"]),
        (31.8, ["text, not float"]),
        (["LT235/80R17"], ["text, not list"]),
    ],
)
def test_refusals_say_what_to_do(text: object, words: list[str]) -> None:
    with pytest.raises(TireSizeError) as caught:
        parse_size(text)
    for word in words:
        assert word in str(caught.value)
    assert len(str(caught.value)) < 600


def test_a_refusal_is_given_again() -> None:
    messages = []
    for _ in range(2):
        with pytest.raises(TireSizeError) as caught:
            parse_size("2355/80R17")
        messages.append(str(caught.value))
    assert messages[0] == messages[1]


def test_geometry_takes_arrays_and_keeps_the_unknown() -> None:
    widths = np.array([0.235, 0.265, np.nan])
    plain = free_diameter_m(section_width_m=widths, aspect=0.8, rim_diameter_m=0.4318)
    rounded = standard_diameter_m(section_width_m=widths, aspect=0.8, rim_diameter_m=0.4318)
    assert plain[0] == pytest.approx(parse_size("235/80R17").diameter_m)
    assert rounded[0] == pytest.approx(parse_size("235/80R17").standard_diameter_m)
    assert np.isnan(plain[2])
    assert np.isnan(rounded[2])


metric_sizes = st.builds(
    "{}{}/{}{}{}".format,
    st.sampled_from(["", "P", "LT", "ST"]),
    st.integers(25, 91).map(lambda fives: fives * 5),
    st.integers(5, 21).map(lambda fives: fives * 5),
    st.sampled_from(["R", "ZR", "D", "B"]),
    st.sampled_from([*range(8, 31), 16.5, 19.5, 22.5]),
)
details = st.sampled_from(["", " 115T", " 120/117R", " E", " 120/117R E", " 104H XL"])


@settings(max_examples=100)
@given(metric_sizes, details)
def test_every_metric_size_has_its_geometry(size: str, tail: str) -> None:
    found = parse_size(size + tail)
    assert found.text == size + tail
    assert parse_size((size + tail).lower()).diameter_m == found.diameter_m
    height = 2.0 * found.section_height_m
    assert found.diameter_m == pytest.approx(found.rim_diameter_m + height)
    assert abs(found.standard_diameter_m - found.diameter_m) <= 0.0015 + 1e-9


@settings(max_examples=100)
@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    _read_or_refuse(text)


@settings(max_examples=100)
@given(
    st.lists(
        st.sampled_from(
            ["LT", "235", "/", "80", "R", "17", " ", "-", "x", "12.50", "35", "115", "T", "E", "C"]
        ),
        max_size=12,
    )
)
def test_any_mixture_of_parts_is_read_or_refused(parts: list[str]) -> None:
    _read_or_refuse("".join(parts))


def test_a_size_and_its_parts_in_every_order() -> None:
    for parts in itertools.permutations(["LT", "235", "/", "80", "R17"]):
        _read_or_refuse("".join(parts))


def _read_or_refuse(text: str) -> None:
    try:
        found = parse_size(text)
    except TireSizeError:
        pass
    else:
        assert isinstance(found, TireSize)
        # Between a small trailer tire and the largest that any family allows.
        assert 0.2 < found.diameter_m < 1.8
        assert found.rim_diameter_m < found.diameter_m
        assert parse_size(found.text).text == found.text
