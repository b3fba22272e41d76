"""What a catalog file may look like: limits, characters, plain scalars, and the words of refusals.

The files are the part of YAML that every version of YAML reads alike:

- plain `true` and `false` are truth values; numbers are plain integers and decimals
  (`-12`, `3.85`); every other plain word is text, and a quoted one always is;
- a word that some version of YAML takes for something else (`off`, `012`, `1e3`, `4:10`, `~`,
  `2026-01-31`) is refused, and so is a key without a value: what is not known is left out;
- UTF-8 without a byte order mark; lines end in LF or CRLF; no tabs, no control characters.
"""

from __future__ import annotations

import re
from itertools import islice
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

BYTES_LIMIT = 8 * 2**20
DEPTH_LIMIT = 32
NODES_LIMIT = 300_000
TEXT_LIMIT = 65_536
NUMBER_LIMIT = 20
PROBLEMS_LIMIT = 100
REFUSED_CHARACTERS_LIMIT = 10_000

Scalar = str | int | float | bool


class Refusal(NamedTuple):
    """Why a plain scalar, or a character, cannot stand in a catalog file."""

    code: str
    message: str


def shown(text: str) -> str:
    """`text` in quotes for a message, shortened, with what cannot be seen escaped."""
    return ascii(text) if len(text) <= 60 else f"{text[:50]!a}... ({len(text)} characters)"


def bare(text: str) -> str:
    """`text` for a message as `shown` gives it, without the quotes."""
    return ascii(text)[1:-1] if len(text) <= 60 else f"{ascii(text[:50])[1:-1]}..."


# ---------------------------------------------------------------------------- plain scalars

_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(\.[0-9]+)?", re.ASCII).fullmatch

_TRUTH_WORDS = {"true", "yes", "on", "y"}
_SURPRISING_WORDS = _TRUTH_WORDS | {"false", "no", "off", "n"}
_RESERVED_WORDS = {"=", "<<"}
_NULL_WORDS = {"null", "Null", "NULL", "~"}

_DATE = re.compile(r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}(?:(?:[Tt]|[ \t]+)[0-9].*)?", re.ASCII)

# What YAML 1.1 or 1.2 takes for a number and a catalog does not, with what to write instead.
_SURPRISING_NUMBERS: tuple[tuple[re.Pattern[str], str, str], ...] = (
    (
        re.compile(r"[-+]?(?:\.inf|\.Inf|\.INF)|\.(?:nan|NaN|NAN)"),
        "number-infinite",
        "infinity and not-a-number are not values",
    ),
    (
        re.compile(r"[-+]?[0-9][0-9_]*(?::[0-9]+)+(?:\.[0-9_]*)?"),
        "number-sexagesimal",
        "some YAML readers take it for a number to base 60",
    ),
    (
        re.compile(r"[-+]?0(?:[xX][0-9a-fA-F_]+|[bB][01_]+|[oO][0-7_]+)"),
        "number-base",
        "numbers are written to base 10",
    ),
    (
        re.compile(r"[-+]?(?:[0-9][0-9_]*\.?[0-9_]*|\.[0-9][0-9_]*)[eE][-+]?[0-9]+"),
        "number-exponent",
        "numbers are written without an exponent, 1000 for 1e3",
    ),
    (
        re.compile(r"[-+]?0[0-9_]+(?:\.[0-9_]*)?"),
        "number-leading-zero",
        "a leading zero makes it octal for some YAML readers; write the number without it",
    ),
    (
        re.compile(r"[-+]?(?=[0-9._]*_)(?:[0-9][0-9_]*(?:\.[0-9_]*)?|\.[0-9_]*[0-9][0-9_]*)"),
        "number-underscore",
        "numbers are written without '_'",
    ),
    (
        re.compile(r"\+(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"),
        "number-plus",
        "write the number without '+'",
    ),
    (
        re.compile(r"-?\.[0-9]+"),
        "number-bare-point",
        "write a digit before the point, 0.5 for .5",
    ),
    (
        re.compile(r"-?[0-9]+\."),
        "number-bare-point",
        "write a digit after the point, 5.0 for 5.",
    ),
)


def plain_scalar(text: str) -> Scalar | Refusal:
    """The value of an unquoted scalar: a truth value, a number, or text; or why it is refused."""
    if not text:
        return Refusal(
            "empty-value",
            "there is no value here; write one, or leave the key (or the list item) out: "
            'what is not known is left out; an empty text is ""',
        )
    if len(text) > TEXT_LIMIT:
        return too_long(text)
    if text[0] in "0123456789-+.":
        return _number_or_text(text)
    if text == "true":
        return True
    if text == "false":
        return False
    if text in _NULL_WORDS:
        return Refusal(
            "null-value",
            f"found {text}, which means 'no value'; leave the key out, "
            f'or write "{text}" in quotes when it is text',
        )
    if len(text) <= 5 and text.lower() in _SURPRISING_WORDS:
        truth = "true" if text.lower() in _TRUTH_WORDS else "false"
        return Refusal(
            "truth-word",
            f"found {text}, which some YAML readers take for a truth value; allowed: true, false; "
            f'write {truth}, or "{text}" in quotes when it is text',
        )
    if text in _RESERVED_WORDS:
        return Refusal(
            "reserved-word",
            f'found {text}, which has a meaning of its own in YAML; write "{text}" in quotes',
        )
    return text


def _number_or_text(text: str) -> Scalar | Refusal:
    if " " in text and not _DATE.fullmatch(text):  # '28.7 in', the most common by far
        return text
    number = _NUMBER(text)
    if number:
        if len(text) > NUMBER_LIMIT:
            return Refusal(
                "number-too-long",
                f"found a number of {len(text)} characters; allowed: at most {NUMBER_LIMIT}; "
                "round it, or put it in quotes when it is text",
            )
        return float(text) if number[1] else int(text)
    if _DATE.fullmatch(text):
        return Refusal(
            "date-unquoted",
            f"found the date {bare(text)} without quotes, which some YAML readers turn "
            f'into something else than text; write "{bare(text)}"',
        )
    for pattern, code, advice in _SURPRISING_NUMBERS:
        if pattern.fullmatch(text):
            return Refusal(
                code,
                f"found {bare(text)}: {advice}; allowed: whole numbers and decimals such as "
                "12, -3, 3.85; put it in quotes when it is text",
            )
    return text


def quoted_scalar(text: str) -> str | Refusal:
    """The text of a quoted or block scalar, or why it is refused."""
    if len(text) > TEXT_LIMIT:
        return too_long(text)
    found = None if text.isprintable() else _REFUSED_CHARACTERS.search(text.replace("\t", " "))
    if found:
        return Refusal(
            "control-character",
            f"the text holds the character U+{ord(found.group()):04X}; take its escape out; "
            "allowed escapes of this sort: \\n, \\t",
        )
    return text


def too_long(text: str) -> Refusal:
    """The refusal of a text above the limit."""
    return Refusal(
        "text-too-long",
        f"a text of {len(text)} characters; allowed: at most {TEXT_LIMIT}; shorten it",
    )


# ------------------------------------------------------------------------------- characters

# C0 but LF and CRLF, DEL, C1 with NEL, the Unicode line ends, byte order marks, what turns the
# direction of writing round (a file must read as it looks), lone surrogates = bytes not UTF-8.
_REFUSED_CHARACTERS = re.compile(
    "[\x00-\x09\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff"
    "\u202a-\u202e\u2066-\u2069\ud800-\udfff]|\r(?!\n)"
)


def may_hold_refused_characters(data: bytes) -> bool:
    """A quick look that misses ASCII control characters only: those the YAML parser refuses."""
    if b"\t" in data or not data.isascii():
        return True
    return b"\r" in data and data.count(b"\r") != data.count(b"\r\n")


def refused_characters(text: str) -> Iterator[tuple[int, Refusal]]:
    """Index and refusal of refused characters; `text` was decoded with `surrogateescape`.

    Each kind is told once for a line: a file in another encoding has hundreds of them.
    """
    line_end = -1
    told: set[str] = set()
    for found in _REFUSED_CHARACTERS.finditer(text):
        index = found.start()
        refusal = _character_refusal(found.group(), at_start=index == 0)
        if index > line_end:
            line_end = text.find("\n", index) % (len(text) + 1)
            told = set()
        if refusal.code not in told:
            told.add(refusal.code)
            yield index, refusal


def too_many_refused_characters(text: str) -> bool:
    """Whether there are so many that looking at each is no use: the file is no text."""
    found = _REFUSED_CHARACTERS.finditer(text)
    return next(islice(found, REFUSED_CHARACTERS_LIMIT, None), None) is not None


def without_refused_characters(text: str) -> str:
    """`text` with something harmless for each refused character, to look for more problems."""

    def harmless(found: re.Match[str]) -> str:
        character = found.group()
        if character == "\r":
            return "\n"
        return " " if character in "\t\x85\u2028\u2029" else "\ufffd"

    return _REFUSED_CHARACTERS.sub(harmless, text.removeprefix("\ufeff"))


class Lines:
    """Tells line and column of a character; quick when asked in the order of the text."""

    __slots__ = ("_index", "_line", "_text")

    def __init__(self, text: str) -> None:
        self._text = text
        self._index = 0
        self._line = 1

    def line_and_column(self, index: int) -> tuple[int, int]:
        """Line and column, both from 1, of the character at `index`."""
        if index < self._index:
            self._index, self._line = 0, 1
        self._line += self._text.count("\n", self._index, index)
        self._index = index
        return self._line, index - self._text.rfind("\n", 0, index)


def _character_refusal(character: str, *, at_start: bool) -> Refusal:
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:
        return Refusal(
            "not-utf-8",
            f"the byte 0x{code - 0xDC00:02X} is not UTF-8 text; save the file as UTF-8",
        )
    if character == "\t":
        return Refusal("tab", 'a tab; indent and separate with blanks, and write "\\t" in a text')
    if character == "\r":
        return Refusal("carriage-return", "a lone carriage return; end lines with LF or CRLF")
    if character == "\0":
        return Refusal("nul", "a NUL character; catalog files are text, saved as UTF-8")
    if character == "\ufeff":
        where = "the file starts with" if at_start else "the text holds"
        return Refusal(
            "byte-order-mark",
            f"{where} a byte order mark (U+FEFF); save the file as UTF-8 without it",
        )
    if character in "\x85\u2028\u2029":
        return Refusal(
            "line-separator",
            f"the line separator U+{code:04X}, which some YAML readers take for a line end; "
            "end lines with LF or CRLF",
        )
    if 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069:
        return Refusal(
            "direction-character",
            f"U+{code:04X}, which turns the direction of writing round; take it out",
        )
    return Refusal("control-character", f"the control character U+{code:04X}; take it out")


# --------------------------------------------------------------------- what the parser says

_ADVICE: tuple[tuple[str, str], ...] = (
    (
        "mapping values are not allowed",
        "': ' stands where it cannot; put a text that holds ': ' in quotes, "
        "and check the indentation of this line",
    ),
    (
        "cannot start any token",
        "a plain text cannot begin with this character; put the text in quotes",
    ),
    ("found unexpected end of stream", "the file ends before a quote is closed; close it"),
    (
        "found unexpected document indicator",
        "a document ends before a quote is closed; close the quote",
    ),
    ("could not find expected ':'", "a key without ': ' and a value; write 'key: value'"),
    (
        "did not find expected key",
        "this line does not go on with the mapping; check its indentation and the quotes before it",
    ),
    (
        "did not find expected '-' indicator",
        "this line does not go on with the list; check its indentation and the '-' before it",
    ),
    (
        "block sequence entries are not allowed",
        "a list item stands where it cannot; put the list on its own lines below the key",
    ),
    ("did not find expected ',' or ']'", "a list in [ ] is not closed, or a ',' is missing"),
    ("did not find expected ',' or '}'", "a mapping in { } is not closed, or a ',' is missing"),
    ("did not find expected node content", "a value is missing, or a bracket is not closed"),
    ("found unknown escape character", "write \\\\ for a backslash, or use single quotes"),
    ("did not find expected <document start>", "only one document may stand in the file"),
    ("exceeded maximum nesting depth", f"nested too deep; allowed: {DEPTH_LIMIT} levels"),
)


def parser_message(problem: str, context: str) -> str:
    """What the YAML parser found, in words that say what to do."""
    details = f"{problem} {context}".strip()
    for fragment, advice in _ADVICE:
        if fragment in problem:
            return f"not YAML: {advice} ({details})"
    return f"not YAML: {details}"
