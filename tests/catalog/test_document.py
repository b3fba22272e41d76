"""Places of what was read: most is in test_reader, beside what reads it."""

from __future__ import annotations

from array import array

from gearrec.catalog.document import Document
from gearrec.errors import Place


def test_a_place_is_told_from_the_order_of_keys_and_values() -> None:
    """Marks counted by hand: the mapping; a, its list, two items; b, its value."""
    document = Document(
        file="f",
        value={"a": [1, 2], "b": "c"},
        marks=array("L", [0, 0, 5, 7, 11, 14, 17]),
        starts={},
        text=b"a:\n  [ 1,\n 2]\nb: c\n",
    )
    assert document.place(("a",)) == Place("f", 2, 3, "a")
    assert document.place(("a", 1)) == Place("f", 3, 2, "a[1]")
    assert document.place(("b",)) == Place("f", 4, 4, "b")
    assert document.place(("b",), key=True) == Place("f", 4, 1, "b")
