"""The strict reader: each bad file beside the words its error must contain; places; fallbacks."""

from __future__ import annotations

import gc
import threading
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec.catalog import reader, syntax
from gearrec.catalog.reader import Document, dotted, read_text
from gearrec.errors import CatalogError, Place, Problem

CATALOGS = Path(__file__).parents[2] / "catalogs"

SAMPLE = b"""\
kind: axle  # an invented record
format: 1
records:
  - id: demo/rear
    title: "Rear axle: two carriers"
    ring_gear: 231 mm
    locking: false
    notes: |
      Two lines
      of text.
    gear_sets:
      - {ring_teeth: 47, pinion_teeth: 13}
      - ring_teeth: 50
        pinion_teeth: 13
    'limits': [1, -2.5, "3", four]
"""


def problems_of(data: bytes) -> tuple[Problem, ...]:
    with pytest.raises(CatalogError) as caught:
        read_text(data, file="bad.yaml")
    return caught.value.problems


# --------------------------------------------------------------------------- what is accepted


def test_values_are_read_with_their_types() -> None:
    document = read_text(SAMPLE, file="good.yaml")
    assert document.file == "good.yaml"
    assert document.value == {
        "kind": "axle",
        "format": 1,
        "records": [
            {
                "id": "demo/rear",
                "title": "Rear axle: two carriers",
                "ring_gear": "231 mm",
                "locking": False,
                "notes": "Two lines\nof text.\n",
                "gear_sets": [
                    {"ring_teeth": 47, "pinion_teeth": 13},
                    {"ring_teeth": 50, "pinion_teeth": 13},
                ],
                "limits": [1, -2.5, "3", "four"],
            }
        ],
    }


@pytest.mark.parametrize(
    "data",
    [
        b"a: 1\r\nb: 2\r\n",
        b"---\na: 1\nb: 2\n...\n",
        b"# before\na: 1\n\nb: 2 # after",
        b"{a: 1, b: 2}",
        b'{"a": 1, "b": 2}',
        b"? a\n: 1\n? b\n: 2\n",
    ],
)
def test_other_forms_of_the_same_mapping(data: bytes) -> None:
    assert read_text(data, file="good.yaml").value == {"a": 1, "b": 2}


def test_text_beyond_ascii_and_allowed_escapes() -> None:
    document = read_text('a: "tab\\t, é"\nü: 漢字 😀\n'.encode(), file="good.yaml")
    assert document.value == {"a": "tab\t, é", "ü": "漢字 😀"}


def test_words_of_yaml_are_text_in_quotes() -> None:
    data = b"a: 'on'\nb: \"~\"\n'no': '012'\n\"<<\": '2026-01-31'\n"
    expected = {"a": "on", "b": "~", "no": "012", "<<": "2026-01-31"}
    assert read_text(data, file="good.yaml").value == expected


# ---------------------------------------------------------------------------- what is refused

BAD = [
    # bytes and characters
    ("byte order mark", b"\xef\xbb\xbfa: 1\n", "1:1", ["byte order mark", "UTF-8 without it"]),
    ("a later mark", "a: b\ufeffc\n".encode(), "1:5", ["byte order mark", "U+FEFF"]),
    ("tab to indent", b"a:\n\tb: 1\n", "2:1", ["a tab", "blanks"]),
    ("tab to separate", b"a:\t1\n", "1:3", ["a tab", "blanks"]),
    ("lone carriage return", b"a: 1\rb: 2\n", "1:5", ["carriage return", "LF or CRLF"]),
    ("not UTF-8", b"a: 1\nb: caf\xe9\n", "2:7", ["0xE9", "UTF-8"]),
    ("half a character", b"a: \xe2\x82\n", "1:4", ["0xE2", "UTF-8"]),
    ("an encoded surrogate", b"a: \xed\xa0\x80\n", "1:4", ["0xED", "UTF-8"]),
    ("UTF-16", "a: 1\n".encode("utf-16"), "1:1", ["UTF-8"]),
    ("NUL", b"a: b\x00c\n", "1:5", ["NUL"]),
    ("control character", b"a: \x1b[31m\n", "1:4", ["control character", "U+001B"]),
    ("delete", b"a: b\x7f\n", "1:5", ["control character", "U+007F"]),
    ("next line", "a: b\x85c\n".encode(), "1:5", ["U+0085", "line"]),
    ("line separator", "a: b\u2028c\n".encode(), "1:5", ["U+2028", "line"]),
    ("turned writing", "a: b\u202ec\n".encode(), "1:5", ["U+202E", "direction"]),
    ("escaped control", b'a:\n  b: "\\e[31m"\n', "2:6", ["U+001B", "escape"]),
    ("escaped NUL in a key", b'"a\\0": 1\n', "1:1", ["U+0000", "escape"]),
    # the file as a whole
    ("nothing", b"", "1:1", ["empty", "mapping"]),
    ("blanks only", b" \n\n", "3:1", ["empty"]),
    ("comment only", b"# a: 1\n", "2:1", ["empty", "mapping"]),
    ("document without value", b"---\n", "2:1", ["empty", "mapping"]),
    ("a list", b"- a\n- b\n", "1:1", ["a list", "allowed: a mapping"]),
    ("a single value", b"text\n", "1:1", ["a single value", "allowed: a mapping"]),
    ("several documents", b"a: 1\n---\nb: 2\n", "2:1", ["second document", "allowed: one"]),
    ("a version directive", b"%YAML 1.1\n---\na: 1\n", "1:1", ["directive", "take it out"]),
    ("a tag directive", b"%TAG ! x:\n---\na: 1\n", "1:1", ["directive", "take it out"]),
    ("too large", b"#" * (syntax.BYTES_LIMIT + 1), "", ["8388609 bytes", "at most 8388608"]),
    # what YAML has and catalogs have not
    ("anchor", b"a: &x 1\n", "1:4", ["anchor &x", "take it out"]),
    ("anchored mapping", b"a: &x {b: 1}\n", "1:4", ["anchor &x"]),
    ("anchored list", b"a: &x [1]\n", "1:4", ["anchor &x"]),
    ("anchored key", b"&x a: 1\n", "1:1", ["anchor &x"]),
    ("anchored file", b"&x\na: 1\n", "1:1", ["anchor &x"]),
    ("alias", b"a: 1\nb: *x\n", "2:4", ["alias *x", "repeat the value"]),
    ("alias in a list", b"a: [1, *x]\n", "1:8", ["alias *x"]),
    ("alias as a key", b"*x : 1\n", "1:1", ["alias *x", "key"]),
    ("merge key", b"a:\n  <<: {b: 1}\n", "2:3", ["merge key '<<'", "write the keys out"]),
    ("tag", b"a: !!str 1\n", "1:4", ["tag", "take it out"]),
    ("private tag", b"a: !thing {b: 1}\n", "1:4", ["tag !thing", "take it out"]),
    ("bare tag", b"a: ! 1\n", "1:4", ["tag !", "take it out"]),
    ("tagged key", b"!!str a: 1\n", "1:1", ["tag", "take it out"]),
    ("python tag", b"a: !!python/object/apply:os.getcwd []\n", "1:4", ["tag", "take it out"]),
    # keys
    ("duplicate key", b"a: 1\nb: 2\na: 3\n", "3:1", ["'a'", "second time", "in line 1"]),
    ("duplicate after depth", b"a: {x: [1, {y: 2}]}\nb: 2\nb: 3\n", "3:1", ["'b'", "in line 2"]),
    ("duplicate in quotes", b"a: 1\n'a': 3\n", "2:1", ["'a'", "in line 1"]),
    ("inner duplicate", b"r:\n- a: 1\n  b: 2\n  b: 3\n", "4:3", ["'b'", "in line 3"]),
    ("number as a key", b"1: a\n", "1:1", ["the key 1 is not text", '"1"']),
    ("decimal as a key", b"3.85: a\n", "1:1", ["the key 3.85 is not text", '"3.85"']),
    ("truth value as a key", b"true: a\n", "1:1", ["the key true is not text"]),
    ("surprise as a key", b"on: a\n", "1:1", ["key", "on", "quotes"]),
    ("null as a key", b"~: a\n", "1:1", ["key", "~"]),
    ("missing key", b"?\n: a\n", "1:2", ["a key is missing"]),
    ("list as a key", b"? [a, b]\n: 1\n", "1:3", ["list or a mapping is used as a key", "text"]),
    ("mapping as a key", b"{a: 1}: 1\n", "1:1", ["list or a mapping is used as a key", "text"]),
    # values
    ("no value", b"a:\nb: 1\n", "1:3", ["no value here", "leave the key"]),
    ("no list item", b"a:\n  -\n  - 1\n", "2:4", ["no value here", "list item"]),
    ("flow without value", b"a: {b, c: 1}\n", "1:6", ["no value here"]),
    ("null", b"a: null\n", "1:4", ["null", "leave the key out"]),
    ("off", b"a: off\n", "1:4", ["off", "true, false"]),
    ("no", b"a: [no]\n", "1:5", ["no", "true, false"]),
    ("sexagesimal", b"a: 4:10\n", "1:4", ["4:10", "base 60"]),
    ("exponent", b"a: 1e3\n", "1:4", ["1e3", "exponent"]),
    ("leading zero", b"a: 012\n", "1:4", ["012", "leading zero"]),
    ("date", b"a: 2026-01-31\n", "1:4", ["2026-01-31", "date", "quotes"]),
    ("not a number", b"a: .nan\n", "1:4", ["not-a-number"]),
    ("long plain text", b"a: " + b"x" * 65_537, "1:4", ["65537 characters", "at most 65536"]),
    ("long quoted text", b"a: '" + b"x" * 65_537 + b"'", "1:4", ["65537 characters"]),
    ("long block", b"a:\n- |\n  " + b"x" * 65_537, "2:3", ["65537 characters"]),
    ("long number", b"a: " + b"9" * 5_000, "1:4", ["5000 characters", "at most 20"]),
    # limits of the whole
    ("deep lists", b"a: " + b"[" * 40 + b"]" * 40, "1:35", ["too deep", "32 levels"]),
    ("deep mappings", b"{a: " * 40 + b"1" + b"}" * 40, "1:129", ["too deep", "32 levels"]),
    (
        "many values",
        b"a: [" + b"b," * 300_001 + b"]",
        "1:4",
        ["more than 300000 keys and values", "split"],
    ),
    ("many pairs", b"a: {" + b"b: c," * 300_001 + b"}", "", ["too many problems"]),
    # what is not YAML at all
    ("open list", b"a: [1, 2\nb: 3\n", "2:2", ["not closed", "begins in line 1"]),
    ("open mapping", b"a: {b: 1\n", "2:1", ["not closed"]),
    ("open quote", b"a: 1\nb: 'x\n\n", "2:4", ["quote", "close it"]),
    ("colon in text", b"a: b: c\n", "1:5", ["': '", "quotes"]),
    ("bad indentation", b"a:\n    b: 1\n  c: 1\n", "3:3", ["indentation", "begins in line 1"]),
    ("key without colon", b"a: 1\nb\n", "3:1", ["key: value"]),
    ("list under a value", b"a: - 1\n", "1:4", ["list", "own lines"]),
    ("list ends early", b"a:\n- 1\n-2\n", "4:1", ["key: value"]),
    ("mixed", b"- a\nb: c\n", "2:1", ["list", "indentation"]),
    ("reserved character", b"a: @b\n", "1:4", ["character", "quotes"]),
    ("unknown escape", b'a: "\\q"\n', "1:5", ["backslash", "single quotes"]),
    ("stray bracket", b"a: ]\n", "1:4", ["bracket"]),
    ("unknown directive", b"%X\n---\na: 1\n", "1:3", ["directive"]),
]


@pytest.mark.parametrize(("data", "at", "words"), [row[1:] for row in BAD], ids=[r[0] for r in BAD])
def test_bad_file_is_refused_with_place_and_words(data: bytes, at: str, words: list[str]) -> None:
    problems = problems_of(data)
    if at:
        assert any(
            f"{problem.place.line}:{problem.place.column}" == at
            and all(word in problem.message for word in words)
            for problem in problems
        ), [str(problem) for problem in problems]
    else:
        assert any(all(word in str(problem) for word in words) for problem in problems)
    for problem in problems:
        assert problem.place.file == "bad.yaml"
        assert problem.code
        assert not problem.warning


def test_all_problems_come_in_one_pass_and_in_order() -> None:
    data = b"""\
a: on
a: 1
b: &x 012
c:
  - *x
  - {d: 1e3, 2: !!int 3, <<: {e: ~}}
? [f]
: {g: 4:10}
h:
i: "fine"
"""
    found = [
        (problem.place.line, problem.place.column, problem.code, problem.place.dotted)
        for problem in problems_of(data)
    ]
    assert found == [
        (1, 4, "truth-word", "a"),
        (2, 1, "duplicate-key", ""),
        (3, 4, "number-leading-zero", "b"),
        (3, 4, "anchor", "b"),
        (5, 5, "alias", "c[0]"),
        (6, 9, "number-exponent", "c[1].d"),
        (6, 14, "key-not-text", "c[1]"),
        (6, 17, "tag", "c[1].?"),
        (6, 26, "merge-key", "c[1]"),
        (6, 34, "null-value", "c[1].?.e"),
        (7, 3, "key-not-text", ""),
        (8, 7, "number-sexagesimal", "?.g"),
        (9, 3, "empty-value", "h"),
    ]


def test_problems_before_the_place_where_the_parser_gives_up_are_told_too() -> None:
    codes = [problem.code for problem in problems_of(b"a: on\nb: *x\nc: [1, 2\nd: 3\n")]
    assert codes == ["truth-word", "alias", "not-yaml"]


def test_refused_characters_do_not_hide_other_problems() -> None:
    codes = [problem.code for problem in problems_of(b"a: b\xff\nc: on\nd: e\x00\xfe\nf: 012\n")]
    assert codes == ["not-utf-8", "truth-word", "nul", "not-utf-8", "number-leading-zero"]


def test_each_kind_of_refused_character_is_told_once_for_a_line() -> None:
    problems = problems_of(b"a:\t\t1\t\nb:\t2\n")
    assert [(problem.place.line, problem.code) for problem in problems] == [(1, "tab"), (2, "tab")]


def test_triple_keys_all_name_the_first() -> None:
    problems = problems_of(b"b: 0\na: 1\na: 2\na: 3\nb: 4\n")
    assert [("line 2" in p.message, "line 1" in p.message) for p in problems] == [
        (True, False),
        (True, False),
        (False, True),
    ]


def test_the_number_of_problems_is_bounded() -> None:
    problems = problems_of(b"a: [" + b"*b, " * 1_000 + b"]")
    assert len(problems) == syntax.PROBLEMS_LIMIT + 1
    assert "too many problems" in problems[-1].message
    problems = problems_of(b"a: b\xff\n" * 1_000)
    assert len(problems) == syntax.PROBLEMS_LIMIT + 1
    assert "too many problems" in problems[-1].message


def test_a_file_of_nothing_but_refused_characters_is_not_gone_through() -> None:
    problems = problems_of(b"\x00" * 50_000)
    assert [problem.code for problem in problems] == ["nul", "not-all-read"]


def test_duplicates_in_a_huge_mapping_do_not_look_for_the_first() -> None:
    keys = b"".join(b"k%d: 1\n" % number for number in range(10_001))
    (problem,) = problems_of(keys + b"k5: 2\n")
    assert "first given above" in problem.message


# --------------------------------------------------------------------------------------- places


@pytest.mark.parametrize(
    ("path", "value_at", "key_at"),
    [
        ((), (1, 1), (1, 1)),
        (("kind",), (1, 7), (1, 1)),
        (("format",), (2, 9), (2, 1)),
        (("records",), (4, 3), (3, 1)),
        (("records", 0), (4, 5), (4, 5)),
        (("records", 0, "id"), (4, 9), (4, 5)),
        (("records", 0, "notes"), (8, 12), (8, 5)),
        (("records", 0, "gear_sets"), (12, 7), (11, 5)),
        (("records", 0, "gear_sets", 0), (12, 9), (12, 9)),
        (("records", 0, "gear_sets", 0, "pinion_teeth"), (12, 40), (12, 26)),
        (("records", 0, "gear_sets", 1, "pinion_teeth"), (14, 23), (14, 9)),
        (("records", 0, "limits", 2), (15, 25), (15, 25)),
        # what does not exist is told by what is around it
        (("nothing",), (1, 1), (1, 1)),
        (("records", 7), (4, 3), (3, 1)),
        (("records", 0, "gear_sets", 1, "carrier"), (13, 9), (13, 9)),
        (("records", "x"), (4, 3), (3, 1)),
        (("kind", "x"), (1, 7), (1, 1)),
    ],
)
def test_place_of_a_path(
    path: tuple[str | int, ...], value_at: tuple[int, int], key_at: tuple[int, int]
) -> None:
    """Lines and columns counted by hand in SAMPLE."""
    document = read_text(SAMPLE, file="good.yaml")
    name = dotted(path)
    assert document.place(path) == Place("good.yaml", *value_at, name)
    assert document.place(path, key=True) == Place("good.yaml", *key_at, name)


def test_places_count_characters_not_bytes_and_survive_crlf() -> None:
    document = read_text("é: 漢字\r\nb: [ü, {c: d}]\r\n".encode(), file="f")
    assert document.place(("é",)) == Place("f", 1, 4, "é")
    assert document.place(("b", 1, "c")) == Place("f", 2, 12, "b[1].c")


def test_dotted_paths_show_strange_keys_escaped() -> None:
    assert dotted(("records", 3, "axles", "rear")) == "records[3].axles.rear"
    assert dotted(("a\x1b",)) == "'a\\x1b'"


VALUES = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(10**15), 10**15),
        st.decimals(-1000, 1000, places=3).map(float).filter(lambda x: abs(x) >= 0.001 or x == 0),
        # without the texts that PyYAML writes in plain form and this reader refuses, such as y, 1e3
        st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=8).filter(
            lambda text: isinstance(syntax.plain_scalar(text), str)
        ),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.sampled_from(["a", "b-c", "kind", "on", "x y", "1"]), inner, max_size=4),
    ),
    max_leaves=12,
)


def all_paths(value: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    steps = enumerate(value) if isinstance(value, list) else ()
    if isinstance(value, dict):
        steps = value.items()  # type: ignore[assignment]
    return [path, *(found for step, inner in steps for found in all_paths(inner, (*path, step)))]


@settings(max_examples=60, deadline=None)
@given(st.dictionaries(st.sampled_from(["a", "b", "c d", "no"]), VALUES, min_size=1), st.booleans())
def test_what_pyyaml_writes_is_read_back_with_growing_places(
    value: dict[str, object], flow: bool
) -> None:
    text = yaml.safe_dump(value, sort_keys=False, default_flow_style=flow)
    document = read_text(text.encode(), file="f")
    assert document.value == value
    places = [document.place(path) for path in all_paths(value)]
    where = [(place.line, place.column) for place in places]
    assert where == sorted(where)
    # the same composed by PyYAML: an independent reading of the same text
    node = yaml.compose(text)
    for path, place in zip(all_paths(value), places, strict=True):
        mark = node_at(node, path).start_mark
        assert (place.line, place.column) == (mark.line + 1, mark.column + 1)


def node_at(node: yaml.Node, path: tuple[str | int, ...]) -> yaml.Node:
    for step in path:
        if isinstance(node, yaml.MappingNode):
            node = next(value for key, value in node.value if key.value == step)
        else:
            node = node.value[step]
    return node


# ---------------------------------------------------------------- mutations of real files

HOSTILE_PIECES = [
    b"&a ", b"*a ", b"!!str ", b"<<: ", b"\t", b"\r", b"\x00", b"\xff", b"\xef\xbb\xbf", b"---\n",
    b"...\n", b"%YAML 1.1\n", b"{", b"}", b"[", b"]", b"? ", b": ", b"- ", b"|", b">", b'"', b"'",
    b"#", b"~", b"012", b"1e999", b"on", b"\xe2\x80\xa8", b"\\", b"@", b"\n", b"  ", b"=",
]  # fmt: skip


def shipped_files() -> list[bytes]:
    return [SAMPLE, *(path.read_bytes() for path in sorted(CATALOGS.rglob("*.yaml")))]


@st.composite
def mutated(draw: st.DrawFn) -> bytes:
    files = shipped_files()
    data = draw(st.sampled_from(files))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data)))
        match draw(st.sampled_from(["insert", "delete", "repeat", "flip", "splice"])):
            case "insert":
                piece = draw(st.one_of(st.sampled_from(HOSTILE_PIECES), st.binary(max_size=4)))
                data = data[:at] + piece + data[at:]
            case "delete":
                data = data[:at] + data[at + draw(st.integers(1, 40)) :]
            case "repeat":
                data = data[:at] + data[max(0, at - draw(st.integers(1, 200))) :]
            case "flip":
                data = data[:at] + bytes([draw(st.integers(0, 255))]) + data[at + 1 :]
            case "splice":
                other = draw(st.sampled_from(files))
                data = data[:at] + other[draw(st.integers(0, len(other))) :]
    return data


def check_any_bytes(data: bytes) -> Document | None:
    """Only the library's own error comes out; what is accepted means the same to PyYAML."""
    try:
        document = read_text(data, file="any.yaml")
    except CatalogError as error:
        problems = error.problems
    else:
        problems = ()
    if problems:
        assert all(problem.message and problem.code for problem in problems)
        "\n".join(map(str, problems)).encode()
        return None
    assert document.value == yaml.load(data, yaml.CSafeLoader)
    for path in all_paths(document.value)[:50]:
        assert document.place(path).line > 0
    return document


@settings(max_examples=100, deadline=None)
@given(mutated())
def test_mutations_of_shipped_files_raise_nothing_but_the_librarys_error(data: bytes) -> None:
    check_any_bytes(data)


@settings(max_examples=100, deadline=None)
@given(st.one_of(st.binary(max_size=60), st.lists(st.sampled_from(HOSTILE_PIECES)).map(b"".join)))
def test_any_bytes_raise_nothing_but_the_librarys_error(data: bytes) -> None:
    check_any_bytes(data)


@pytest.mark.parametrize("path", sorted(CATALOGS.rglob("*.yaml")), ids=lambda path: path.name)
def test_shipped_files_are_read(path: Path) -> None:
    assert check_any_bytes(path.read_bytes()) is not None


# ------------------------------------------------------------------- memory, threads, fallback


def test_the_same_key_is_one_object_and_the_memo_is_bounded() -> None:
    document = read_text(b"r: [{spec-key: 1}, {spec-key: 2}]\n", file="f")
    first, second = (next(iter(inner)) for inner in document.value["r"])
    assert first is second
    many = b"".join(b"key-%d: value-%d\n" % (n, n) for n in range(20_000))
    assert len(read_text(many, file="f").value) == 20_000
    assert len(reader._known_keys) <= 16_384
    assert len(reader._known_scalars) <= 16_384


def test_the_collector_is_set_back_as_it_was() -> None:
    assert gc.isenabled()
    with reader.collector_paused():
        assert not gc.isenabled()
        with reader.collector_paused():
            assert not gc.isenabled()
        assert not gc.isenabled()
    assert gc.isenabled()
    problems_of(b"a: *b\n")
    assert gc.isenabled()
    gc.disable()
    try:
        read_text(SAMPLE, file="f")
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_threads_may_read_at_once() -> None:
    failures: list[object] = []
    start = threading.Barrier(4)

    def work() -> None:
        start.wait()
        for _ in range(50):
            value = read_text(SAMPLE, file="f").value
            if value["records"][0]["id"] != "demo/rear":
                failures.append(value)
            try:
                read_text(b"a: *b\n", file="f")
            except CatalogError:
                continue
            failures.append("accepted")

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures
    assert gc.isenabled()


def test_without_libyaml_the_pure_parser_reads_and_refuses_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(yaml, "__with_libyaml__", False)
    document = read_text(SAMPLE, file="f")
    assert document.value["records"][0]["limits"] == [1, -2.5, "3", "four"]
    assert document.place(("records", 0, "limits", 2)) == Place("f", 15, 25, "records[0].limits[2]")
    for data in (
        b"a: on\nb: *x\na: 1\n",
        b"a: \x00\n",
        b"a: 'x\n",
        b"a: b\xff\n",
        b"",
        b"a: b: c\n",
    ):
        assert problems_of(data)
