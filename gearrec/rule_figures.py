"""Drawings of a rule's shape in plain text, with its numbers under the axis."""

from __future__ import annotations

from collections.abc import Callable, Sequence

WIDTH = 60
_ROWS = 5
_MARGIN = 0.12

Edges = Sequence[float | None]
Formatter = Callable[[float], str]


def shape_drawing(
    edges: Edges, *, text: Formatter, value: float | None = None, unit_note: str = ""
) -> str:
    """The score over the metric's value, as lines of text.

    edges: zero below, full from, full to, zero above; None where the shape has no such side.
    text: number -> text for the axis. value: a metric value to mark. unit_note: what the axis is.
    """
    known = [edge for edge in edges if edge is not None]
    low, high = _span(known, value)
    columns = [low + (high - low) * place / (WIDTH - 1) for place in range(WIDTH)]
    heights = [_score(edges, x) * _ROWS for x in columns]
    rows = []
    for row in range(_ROWS, 0, -1):
        cells = ["#" if height >= row - 0.5 else " " for height in heights]
        mark = "1 |" if row == _ROWS else "  |"
        rows.append((mark + "".join(cells)).rstrip())
    rows.append("0 +" + "-" * WIDTH)
    rows += _labels(known, value, low, high, text)
    if unit_note:
        rows.append(f"   {unit_note}")
    return "\n".join(rows)


def limit_drawing(limit: float, *, upwards: bool, words: tuple[str, str], text: Formatter) -> str:
    """A limit on an axis: `words` are what lies below and above it, `upwards` which of the two is
    drawn full."""
    half = WIDTH // 2
    left, right = ("-", "#") if upwards else ("#", "-")
    axis = "  |" + left * half + "|" + right * (WIDTH - half - 1)
    label = " " * (3 + half) + "^ " + text(limit)
    return "\n".join([axis, label, f"   {words[0]:<{half}} {words[1]}"])


def _span(known: Sequence[float], value: float | None) -> tuple[float, float]:
    shown = [*known] if value is None else [*known, value]
    low, high = min(shown), max(shown)
    room = (high - low) * _MARGIN or abs(high) * _MARGIN or 1.0
    return low - room, high + room


def _score(edges: Edges, x: float) -> float:
    a, b, c, d = edges
    rising = 1.0 if a is None or b is None else (x - a) / (b - a)
    falling = 1.0 if c is None or d is None else (d - x) / (d - c)
    return max(0.0, min(1.0, rising, falling))


def _labels(
    known: Sequence[float], value: float | None, low: float, high: float, text: Formatter
) -> list[str]:
    """Marks under the axis; labels that would collide go to the next line."""
    marks = [(edge, "^ " + text(edge)) for edge in dict.fromkeys(known)]
    if value is not None:
        marks.append((value, "* example: " + text(value)))
    lines: list[str] = []
    for number, label in sorted(marks):
        column = 3 + round((number - low) / (high - low) * (WIDTH - 1))
        for place, line in enumerate(lines):
            if len(line) + 2 <= column:
                lines[place] = line.ljust(column) + label
                break
        else:
            lines.append(" " * column + label)
    return lines
