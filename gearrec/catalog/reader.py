"""Reads one catalog file strictly: text to values, with every problem found in one pass.

The event stream of PyYAML's C parser is built into dicts, lists and scalars directly. Beside them
grows an array with the position of each key and value in the text, in the order of the text, from
which the line and column of anything can be told later without a second parse. What a file may
look like is in `gearrec.catalog.syntax`.
"""

from __future__ import annotations

import gc
import threading
from array import array
from contextlib import contextmanager
from itertools import repeat, starmap
from typing import TYPE_CHECKING, Any

import yaml
from yaml import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamEndEvent,
    YAMLError,
)

from gearrec.catalog import syntax
from gearrec.catalog.document import Document, dotted, ordinal
from gearrec.errors import CatalogError, Place, Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Document", "collector_paused", "dotted", "read_text"]

_MEMO_LIMIT = 16_384
_MEMO_TEXT_LIMIT = 64
_KEYS_LOOKED_THROUGH = 10_000
_DEPTH_OF_RECORDS = 2

# Texts seen before: keys by their text (which also makes them one object each), plain scalars with
# their values. Filled and emptied by any thread; a lost entry only costs time.
_known_keys: dict[str, str] = {}
_known_scalars: dict[str, syntax.Scalar] = {}


def read_text(data: bytes, *, file: str) -> Document:
    """Read the content of one catalog file.

    Parameters: `data`, the bytes of the file; `file`, its name for the places of problems.
    Returns: the document. Raises: CatalogError with every problem of the text that one pass finds.
    """
    if len(data) > syntax.BYTES_LIMIT:
        message = f"{len(data)} bytes; allowed: at most {syntax.BYTES_LIMIT}; split the file"
        raise CatalogError([Problem(Place(file), message, "file-too-large")])
    if syntax.may_hold_refused_characters(data):
        return _read_refused_characters(data, file=file)
    builder = _Builder(data, file=file)
    with collector_paused():
        if not builder.build():
            return _read_refused_characters(data, file=file)
    return builder.document()


def _read_refused_characters(data: bytes, *, file: str) -> Document:
    """Read a file that may hold characters which are refused: tell of each, then read the rest."""
    text = data.decode("utf-8", "surrogateescape")
    lines = syntax.Lines(text)
    hopeless = syntax.too_many_refused_characters(text)
    problems: list[Problem] = []
    for index, refusal in syntax.refused_characters(text):
        place = Place(file, *lines.line_and_column(index))
        problems.append(Problem(place, refusal.message, refusal.code))
        if len(problems) == syntax.PROBLEMS_LIMIT or hopeless:
            raise CatalogError([*problems, _too_many(place)])
    cleaned = syntax.without_refused_characters(text) if problems else text
    builder = _Builder(cleaned.encode(), file=file)
    with collector_paused():
        readable = builder.build()
    if not problems and readable:
        return builder.document()
    # A refused character mostly causes what the YAML parser says later: one problem, told once.
    found = [problem for problem in builder.problems if not problems or problem.code != "not-yaml"]
    if not problems and not readable:
        found.append(Problem(Place(file), "not text that can be read", "not-yaml"))
    raise CatalogError([*problems, *found])


def _too_many(last: Place) -> Problem:
    place = Place(last.file, last.line, last.column + 1)
    return Problem(place, "too many problems; the rest of the file was not read", "not-all-read")


# ---------------------------------------------------------------------- garbage collector

_pause_lock = threading.Lock()
_pauses = 0
_collector_was_on = False


@contextmanager
def collector_paused() -> Iterator[None]:
    """No garbage collection inside: nothing built here is garbage, and looking at it costs most.

    Threads may overlap: the first to come pauses the collector, the last to go sets it back.
    """
    global _pauses, _collector_was_on
    with _pause_lock:
        if _pauses == 0:
            _collector_was_on = gc.isenabled()
            gc.disable()
        _pauses += 1
    try:
        yield
    finally:
        with _pause_lock:
            _pauses -= 1
            if _pauses == 0 and _collector_was_on:
                gc.enable()


# -------------------------------------------------------------------------------- building


_MAPPING = "allowed: a mapping of keys to values, with 'kind: ...' in its first line"
_EMPTY = f"the file is empty; {_MAPPING}"


class _Stop(Exception):  # noqa: N818 - not an error but the way out of the recursion
    """Reading ends here; the problem that ends it is on the list."""


def _parser(data: bytes) -> Any:
    """PyYAML's C parser, or its slower pure one where PyYAML was built without libyaml."""
    if yaml.__with_libyaml__:
        from yaml._yaml import CParser

        return CParser(data)
    return yaml.SafeLoader(data)


class _Builder:
    """Builds the values of one text; methods consume the events of what they are named after."""

    __slots__ = (
        "add_mark",
        "data",
        "events",
        "file",
        "get_event",
        "keys_above",
        "marks",
        "problems",
        "sizes",
        "starts",
        "text",
        "value",
    )

    def __init__(self, data: bytes, *, file: str) -> None:
        self.data = data
        self.file = file
        self.problems: list[Problem] = []
        self.keys_above: list[str | int] = []
        self.value: dict[str, Any] = {}
        self.sizes: dict[int, int] = {}
        self.starts: dict[int, int] = {}
        self.text: str | None = None
        self.marks = array("L")
        self.add_mark = self.marks.append
        try:
            self.get_event = _parser(data).get_event
        except YAMLError:  # the pure parser looks at the first characters at once
            self.get_event = None
            return
        # Each turn of a loop over `events` takes one event; the number of turns is the limit of
        # nodes, kept without a comparison in the loops.
        self.events = starmap(self.get_event, repeat((), syntax.NODES_LIMIT))

    def build(self) -> bool:
        """Build all; False when the text holds characters that the YAML parser cannot read."""
        if self.get_event is None:
            return False
        try:
            self._document()
        except _Stop:
            pass
        except yaml.reader.ReaderError:
            return False
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            context = error.context or ""
            if error.context_mark and error.context_mark.line != getattr(mark, "line", 0):
                context += f" that begins in line {error.context_mark.line + 1}"
            message = syntax.parser_message(error.problem or "", context)
            if error.context_mark and "unexpected end of stream" in message:
                mark = error.context_mark
            self.problems.append(
                Problem(
                    Place(self.file, mark.line + 1, mark.column + 1) if mark else Place(self.file),
                    message,
                    "not-yaml",
                )
            )
        return True

    def document(self) -> Document:
        """What was built. Raises: CatalogError with the problems that were found on the way."""
        if self.problems:
            raise CatalogError(self.problems)
        return Document(
            file=self.file,
            value=self.value,
            marks=self.marks,
            starts=self.starts,
            text=self.data,
        )

    def _document(self) -> None:
        get_event = self.get_event
        get_event()
        start = get_event()
        if type(start) is StreamEndEvent:
            self._refuse(start.start_mark, "empty-file", _EMPTY)
            return
        if start.version or start.tags:
            self._refuse(start.start_mark, "directive", "a YAML directive ('%'); take it out")
        root = get_event()
        if type(root) is MappingStartEvent:
            if root.anchor is not None or root.tag is not None:
                self._refuse_decoration(root)
            self.value = self._mapping(root.start_mark)
        elif type(root) is ScalarEvent and not root.value and not root.style:
            self._refuse(root.start_mark, "empty-file", _EMPTY)
        else:
            found = "a list" if type(root) is SequenceStartEvent else "a single value"
            self._refuse(root.start_mark, "not-a-mapping", f"the file holds {found}; {_MAPPING}")
            if type(root) is SequenceStartEvent:
                self._sequence(root.start_mark)
        get_event()
        following = get_event()
        if type(following) is DocumentStartEvent:
            self._refuse(
                following.start_mark,
                "several-documents",
                "a second document ('---'); allowed: one in a file; put it in a file of its own",
            )

    def _mapping(self, mark: Any) -> dict[Any, Any]:
        get_event = self.get_event
        known_keys = _known_keys
        known_scalars = _known_scalars
        limit = syntax.TEXT_LIMIT
        value: dict[Any, Any] = {}
        add_mark = self.add_mark
        at = self._begin(value, mark)
        for event in self.events:
            kind = type(event)
            if kind is ScalarEvent:
                key: Any = known_keys.get(event.value)
                if key is None or key in value or event.tag is not None or event.anchor is not None:
                    key = self._key(event, value, at)
            elif kind is MappingEndEvent:
                return value
            else:
                key = self._key(event, value, at)
            add_mark(event.start_mark.index)
            event = get_event()
            kind = type(event)
            if kind is ScalarEvent:
                text = event.value
                if event.style:
                    scalar = text if len(text) <= limit and text.isprintable() else None
                else:
                    scalar = known_scalars.get(text)
                if scalar is None or event.tag is not None or event.anchor is not None:
                    scalar = self._scalar(event, key)
                value[key] = scalar
                add_mark(event.start_mark.index)
            else:
                value[key] = self._inner(event, key)
        raise self._too_many_nodes(mark)

    def _sequence(self, mark: Any) -> list[Any]:
        known_scalars = _known_scalars
        limit = syntax.TEXT_LIMIT
        value: list[Any] = []
        add_value = value.append
        add_mark = self.add_mark
        self._begin(value, mark)
        for event in self.events:
            kind = type(event)
            if kind is ScalarEvent:
                text = event.value
                if event.style:
                    scalar = text if len(text) <= limit and text.isprintable() else None
                else:
                    scalar = known_scalars.get(text)
                if scalar is None or event.tag is not None or event.anchor is not None:
                    scalar = self._scalar(event, len(value))
                add_value(scalar)
                add_mark(event.start_mark.index)
            elif kind is SequenceEndEvent:
                return value
            else:
                add_value(self._inner(event, len(value)))
        raise self._too_many_nodes(mark)

    def _begin(self, value: dict[Any, Any] | list[Any], mark: Any) -> int:
        """Note the place of a dict or list, and look at the depth."""
        at = len(self.marks)
        self.add_mark(mark.index)
        depth = len(self.keys_above)
        if depth <= _DEPTH_OF_RECORDS:
            self.starts[id(value)] = at
        elif depth >= syntax.DEPTH_LIMIT:
            self._too_deep(mark)
        return at

    def _inner(self, event: Any, step: Any) -> Any:
        """The dict or list that begins with `event`, at `step` of what is being built."""
        kind = type(event)
        mark = event.start_mark
        self.keys_above.append(step)
        result: Any = None
        if kind is AliasEvent:
            self.add_mark(mark.index)
            self._refuse(
                mark,
                "alias",
                f"the alias *{syntax.bare(event.anchor)}; repeat the value in its place",
            )
        else:
            if event.anchor is not None or event.tag is not None:
                self._refuse_decoration(event)
            result = self._mapping(mark) if kind is MappingStartEvent else self._sequence(mark)
        self.keys_above.pop()
        return result

    def _scalar(self, event: Any, step: Any) -> Any:
        """The value of a scalar that is not known yet, or that cannot be accepted."""
        text = event.value
        if event.anchor is not None or event.tag is not None:
            self._refuse_decoration(event, step)
        found = syntax.quoted_scalar(text) if event.style else syntax.plain_scalar(text)
        if isinstance(found, syntax.Refusal):
            self._refuse(event.start_mark, found.code, found.message, step)
            return None
        if not event.style:
            _remember(_known_scalars, text, found)
        return found

    def _key(self, event: Any, value: dict[Any, Any], at: int) -> Any:
        """The key of an event that is not a known key; a stand-in where it cannot be accepted."""
        mark = event.start_mark
        kind = type(event)
        if kind is not ScalarEvent:
            if kind is AliasEvent:
                found = f"the alias *{syntax.bare(event.anchor)}"
            else:
                found = "a list or a mapping"
                before = len(self.marks)
                self._inner(event, "?")
                del self.marks[before:]
            self._refuse(mark, "key-not-text", f"{found} is used as a key; allowed: text")
            return _StandIn()
        text = event.value
        if event.anchor is not None or event.tag is not None:
            self._refuse_decoration(event)
        if text in value:
            self._refuse(
                mark,
                "duplicate-key",
                f"the key {syntax.shown(text)} stands here a second time; it was first given "
                f"{self._place_of_first(value, at, text)}; keep one of the two",
            )
            return _StandIn()
        problem = _key_problem(text, quoted=bool(event.style))
        if problem:
            self._refuse(mark, problem.code, problem.message)
            return _StandIn()
        if not event.style:
            _remember(_known_keys, text, text)
        return text

    def _place_of_first(self, value: dict[Any, Any], at: int, key: str) -> str:
        if len(value) > _KEYS_LOOKED_THROUGH:
            return "above"
        if self.text is None:
            self.text = self.data.decode()
        index = self.marks[ordinal(value, at, key, self.sizes)]
        line, _ = syntax.Lines(self.text).line_and_column(index)
        return f"in line {line}"

    def _refuse(self, mark: Any, code: str, message: str, *steps: Any) -> None:
        path = ["?" if isinstance(step, _StandIn) else step for step in (*self.keys_above, *steps)]
        place = Place(self.file, mark.line + 1, mark.column + 1, dotted(path))
        self.problems.append(Problem(place, message, code))
        if len(self.problems) >= syntax.PROBLEMS_LIMIT:
            self.problems.append(_too_many(place))
            raise _Stop

    def _refuse_decoration(self, event: Any, *steps: Any) -> None:
        if event.anchor is not None:
            name = syntax.bare(event.anchor)
            message = f"the anchor &{name}; take it out, and write values out where they are needed"
            self._refuse(event.start_mark, "anchor", message, *steps)
        if event.tag is not None:
            tag = syntax.bare(event.tag)
            message = f"the tag {tag}; take it out: quotes make text, plain numbers are numbers"
            self._refuse(event.start_mark, "tag", message, *steps)

    def _too_deep(self, mark: Any) -> None:
        self._refuse(
            mark,
            "too-deep",
            f"nested too deep; allowed: {syntax.DEPTH_LIMIT} levels; the rest was not read",
        )
        raise _Stop

    def _too_many_nodes(self, mark: Any) -> _Stop:
        self._refuse(
            mark,
            "too-many-values",
            f"more than {syntax.NODES_LIMIT} keys and values in one file; split the file",
        )
        return _Stop()


class _StandIn:
    """Takes the place of a key that is refused, so that its value is looked at all the same."""

    __slots__ = ()


def _key_problem(text: str, *, quoted: bool) -> syntax.Refusal | None:
    if quoted:
        found = syntax.quoted_scalar(text)
        return found if isinstance(found, syntax.Refusal) else None
    if not text:
        return syntax.Refusal("key-not-text", "a key is missing before ':'; allowed: text")
    if text == "<<":
        message = "the merge key '<<'; write the keys out where they are needed"
        return syntax.Refusal("merge-key", message)
    value = syntax.plain_scalar(text)
    if isinstance(value, syntax.Refusal):
        return syntax.Refusal("key-not-text", f"a key that is not plain text: {value.message}")
    if not isinstance(value, str):
        message = f'the key {text} is not text; allowed: text; write "{text}" when it is meant so'
        return syntax.Refusal("key-not-text", message)
    return None


def _remember(memo: dict[str, Any], text: str, value: Any) -> None:
    if len(text) <= _MEMO_TEXT_LIMIT:
        if len(memo) >= _MEMO_LIMIT:
            memo.clear()
        memo[text] = value
