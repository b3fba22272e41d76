"""Lets the site read the library's docstrings: their sections have no colon, their tables no fence.

A block that is indented below a line of text is one of three things: a section of a known name, an
equation, or a list that must keep its lines.
"""

from __future__ import annotations

import re
import textwrap
from typing import Any

import griffe

_SECTIONS = {"Parameters": "Parameters", "Returns": "Returns", "Raises": "Raises"}
_SECTIONS |= {"Fields": "Attributes"}
_BLOCK = re.compile(r"^(?P<title>\S.*)\n(?P<body>(?: +\S.*(?:\n|\Z)|\n(?= +\S))+)", re.MULTILINE)


class Sections(griffe.Extension):
    """Puts in what the site needs."""

    def on_object(self, *, obj: griffe.Object, **_: Any) -> None:
        """Called for every object that was read."""
        if obj.docstring is not None:
            obj.docstring.value = _BLOCK.sub(_readable, obj.docstring.value)


def _readable(block: re.Match[str]) -> str:
    title, body = block["title"].rstrip(": "), block["body"]
    if title in _SECTIONS:
        return f"{_SECTIONS[title]}:\n{body}"
    shown = f"**{title}**" if title in ("Equation", "Equations") else block["title"]
    return f"{shown}\n\n{textwrap.indent(textwrap.dedent(body), ' ' * 4)}"
