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

FULL = "LT215/85R16 115/112Q E"


def test_a_full_marking() -> None:
    size = parse_size(FULL)
    assert size.text == str(size) == FULL
    assert (size.family, size.prefix, size.construction) == ("metric", "LT", "radial")
    assert size.service_type == "light-truck"
    # 16 x 25.4 + 2 x 215 x 0.85 = 771.9; ISO 4000-1 formula (from memory), by hand.
    assert size.diameter_m == pytest.approx(0.7719)
    assert size.section_width_m == pytest.approx(0.215)
    assert size.section_height_m == pytest.approx(0.18275)
    assert size.rim_diameter_m == pytest.approx(0.4064)
    assert size.service == ServiceDescription(
        load_index_single=115, load_index_dual=112, speed_symbol="Q"
    )
    # Load indices 115 and 112: UN R54 Annex 4, quoted.
    assert (size.capacity_kg, size.capacity_dual_kg) == (1215.0, 1120.0)
    assert size.load_range == "E"
    assert size.assumptions == ()


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        *(
            (spoken, "LT215/85R16")
            for spoken in [
                *("lt215/85r16", "LT 215/85 R16", "LT-215/85R16", "LT215-85R16", "LT215/85-R16"),
                *("lt 215 / 85 r 16", "  LT215/85R16  ", "LT215/85 16", "215/85R16LT"),
                *("LT215\u201385R16", "LT\u00a0215/85\u00a0R16", "LT 215 85 16", "LT-215-85-16"),
            ]
        ),
        *(
            (spoken, "215/85R16")
            for spoken in ["215-85-16", "215 85 16", "215/85/16", "215-85-r16"]
        ),
        ("P225/75R16", "P225/75R16"),
        ("p 225/75r16 113s", "P225/75R16 113S"),
        ("235/70R16 109T", "235/70R16 109T"),
        ("235/70R16 109 t", "235/70R16 109T"),
        ("245/45ZR18", "245/45ZR18"),
        ("245/45 zr 18 (100y)", "245/45ZR18 100Y"),
        ("215/85-16", "215/85D16"),
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
        ("LT215/85R16 115/112", "LT215/85R16 115/112"),
        ("235/70R16 109T XL M+S", "235/70R16 109T XL"),
        ("225/75R16 standard load", "225/75R16 SL"),
        ("225/70R15C 112/110R", "225/70R15C 112/110R"),
        ("225/70 r15 c", "225/70R15C"),
        ("225/70R19.5 128/126N G", "225/70R19.5 128/126N G"),
        ("315/80R22.5 156/150L", "315/80R22.5 156/150L"),
        ("220/55R390", "220/55R390"),
        ("205R16", "205R16"),
        ("205 r16c 110/108s", "205R16C 110/108S"),
        ("34x10.50R16LT", "34x10.50R16LT"),
        ("34X10.5R16LT", "34x10.50R16LT"),
        ("LT34x10.50R16", "34x10.50R16LT"),
        ("34\u00d710.50R16 LT", "34x10.50R16LT"),
        ("34x10.50R16LT 121Q", "34x10.50R16LT 121Q"),
        ("34x10.50R16E", "34x10.50R16 E"),
        ("31x10.50R15 C", "31x10.50R15 C"),
        ("31.5x10.5r15", "31.5x10.50R15"),
        ("34x10.50x16", "34x10.50R16"),
        ("34 10.50 16", "34x10.50R16"),
        ("34-10.50-16", "34x10.50R16"),
        ("34/10.50R16", "34x10.50R16"),
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
        ("P225/75R16", "metric", "passenger", "radial"),
        ("235/70R16 109T", "metric", "passenger", "radial"),
        ("LT225/75R16", "metric", "light-truck", "radial"),
        ("225/75R16LT", "metric", "light-truck", "radial"),
        ("ST205/75D15", "metric", "special-trailer", "diagonal"),
        ("225/70R15C", "metric", "commercial", "radial"),
        ("225/75R16 121/120R", "metric", "commercial", "radial"),
        ("225/70R19.5", "metric", "commercial", "radial"),
        ("215/85-16", "metric", "passenger", "diagonal"),
        ("215-85-16", "metric", "passenger", "radial"),
        ("235/85B16", "metric", "passenger", "bias-belted"),
        ("205R16", "metric", "passenger", "radial"),
        ("34x10.50R16LT", "flotation", "light-truck", "radial"),
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
    assert parse_size("225/75R16").assumptions == ()
    assert "radial taken" in parse_size("235 70 16").assumptions[0]
    assert "80 taken" in parse_size("205R16").assumptions[0]
    assert "2 % less" in parse_size("34x10.50R16LT").assumptions[0]
    assert "7.50R16" in parse_size("7.50-16").assumptions[0]


def test_without_a_service_description_the_capacity_is_unknown() -> None:
    size = parse_size("LT215/85R16 E")
    assert (size.service, size.capacity_kg, size.capacity_dual_kg) == (None, None, None)
    single = parse_size("235/70R16 109T")
    # Load index 109: UN R30 Annex 4, quoted.
    assert (single.capacity_kg, single.capacity_dual_kg) == (1030.0, None)


def test_flotation_geometry() -> None:
    size = parse_size("34x10.50R16LT")
    # 34 in, 10.5 in and (34 - 16) / 2 in, by hand.
    assert size.diameter_m == pytest.approx(34 * 0.0254)
    assert size.section_width_m == pytest.approx(10.5 * 0.0254)
    assert size.section_height_m == pytest.approx(9 * 0.0254)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2155/85R16", ["section width 2155 mm", "125 to 455"]),
        ("215/850R17", ["aspect ratio 850", "25 to 105"]),
        ("215/8R16", ["aspect ratio 8"]),
        ("215/85R37", ["rim 37 in", "8 to 30"]),
        ("215/85R16.3", ["rim 16.3 in"]),
        ("220/55R200", ["rim 200 mm", "315 to 540"]),
        ("2155/8R37", ["section width", "aspect ratio", "rim 37"]),
        ("2155/85R16 50T", ["section width", "load index 50"]),
        ("34x10.50R33", ["rim 33"]),
        ("26x9R25", ["no room"]),
        ("20x22R8", ["less than the diameter"]),
        ("10.50x34R16", ["diameter 10.5 in", "width 34 in"]),
        ("28.7", ["bare 28.7", "width and rim", "34x10.50R16"]),
        ("28.7 in", ["bare 28.7"]),
        ('33"', ["bare 33"]),
        ("33s", ["bare 33"]),
        ("LR78-15", ["alphanumeric", "letter L names a load", "235 mm", "metric size"]),
        ("lr78-15", ["alphanumeric"]),
        ("H78-15", ["alphanumeric", "225 mm"]),
        ("G70-14", ["alphanumeric", "215 mm"]),
        ("N78-15", ["alphanumeric", "letter N"]),
        ("215/85", ["rim is missing"]),
        ("LT215/85R", ["rim is missing"]),
        ("34x10.50", ["rim is missing"]),
        ("215/16", ["aspect ratio is missing"]),
        ("33R17", ["width is missing"]),
        ("33-17", ["width is missing"]),
        ("85/215R16", ["swapped"]),
        ("T145/80D16", ["temporary spare"]),
        ("34x10,50R16", ["decimals after a point"]),
        ("", ["empty"]),
        ("   ", ["empty"]),
        ("R17", ["no tire size", "LT215/85R16"]),
        ("all-terrain", ["no tire size"]),
        ("225/75R16115T", ["no tire size"]),
        ("P34x10.50R16", ["no tire size"]),
        ("6.50R16", ["table", "7.50R16", "metric size"]),
        ("12.50R17", ["table", "11R22.5"]),
        ("LT215/85R16ST", ["both LT and ST"]),
        ("LT215/85R16 112/115Q", ["112/115", "never above"]),
        ("LT215/85R16 R", ["no load range", "115T"]),
        ("225/75R16 115X", ["no speed symbol"]),
        ("225/75R16 50T", ["load index 50", "60 to 170"]),
        ("225/75R16 115/50T", ["load index 50"]),
        ("235/70R16 109T 116T", ["two service descriptions"]),
        ("LT215/85R16 E D", ["disagrees"]),
        ("LT215/85R16 E 8PR", ["disagrees"]),
        ("LT215/85R16 7PR", ["ply rating 7", "4, 6, 8"]),
        ("LT215/85R16 spare", ["'SPARE'", "120/117R"]),
        ("LT215/85R16\x00", ["not understood"]),
        ("9" * 500, ["too long", "60 characters"]),
        (None, ["text, not NoneType"]),
        (28.7, ["text, not float"]),
        (["LT215/85R16"], ["text, not list"]),
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
            parse_size("2155/85R16")
        messages.append(str(caught.value))
    assert messages[0] == messages[1]


def test_geometry_takes_arrays_and_keeps_the_unknown() -> None:
    widths = np.array([0.215, 0.265, np.nan])
    plain = free_diameter_m(section_width_m=widths, aspect=0.85, rim_diameter_m=0.4064)
    rounded = standard_diameter_m(section_width_m=widths, aspect=0.85, rim_diameter_m=0.4064)
    assert plain[0] == pytest.approx(parse_size("215/85R16").diameter_m)
    assert rounded[0] == pytest.approx(parse_size("215/85R16").standard_diameter_m)
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
            ["LT", "215", "/", "85", "R", "16", " ", "-", "x", "10.50", "34", "115", "T", "E", "C"]
        ),
        max_size=12,
    )
)
def test_any_mixture_of_parts_is_read_or_refused(parts: list[str]) -> None:
    _read_or_refuse("".join(parts))


def test_a_size_and_its_parts_in_every_order() -> None:
    for parts in itertools.permutations(["LT", "215", "/", "85", "R16"]):
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
