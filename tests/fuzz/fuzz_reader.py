"""Coverage-guided mutation of catalog files: only the library's own error may come out.

`python tests/fuzz/fuzz_reader.py -max_total_time=60` starts from the shipped catalogs; what is
accepted is compared with PyYAML's reading of the same bytes. A finding is written to `crash-...`.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["gearrec", "yaml"]):
    import yaml

    from gearrec.catalog.reader import read_text
    from gearrec.errors import CatalogError

CATALOGS = Path(__file__).parents[2] / "catalogs"

WORDS = r"""
&a
*a
!!str
<<:
---
...
%YAML\x201.1
?\x20
:\x20
|
>
~
on
012
1e3
0x1F
1_000
4:10
.5
.inf
2026-01-31
kind:
records:
\"\\x1b\"
\x00
\xff
\xef\xbb\xbf
\xe2\x80\xa8
\x09
\x0d
"""

SEEDS = (
    b"kind: tire\nformat: 1\nrecords:\n  - id: demo/a\n    size: '31x10.50R15'\n    n: [1, -2.5]\n",
    b'a: "text\\n"\nb: |\n  block\nc: >-\n  folded\nd: {e: f, g: [h]}\n',
)


def one_input(data: bytes) -> None:
    """Read any bytes; whatever is not a CatalogError is a finding."""
    try:
        document = read_text(data, file="fuzz.yaml")
    except CatalogError as error:
        if not error.problems or not all(problem.message for problem in error.problems):
            raise AssertionError("an error without words") from error
        "\n".join(str(problem) for problem in error.problems).encode()
        return
    expected = yaml.load(data, yaml.CSafeLoader)
    if document.value != expected:
        raise AssertionError(f"read {document.value!r}, PyYAML reads {expected!r}")
    visit(document.value, (), document.place)


def visit(value: object, path: tuple[str | int, ...], place: object) -> None:
    """Ask for the place of everything that was read."""
    found = place(path)  # type: ignore[operator]
    if found.line < 1 or found.column < 1:
        raise AssertionError(f"{found} is no place")
    if isinstance(value, dict):
        for key, inner in value.items():
            visit(inner, (*path, key), place)
    elif isinstance(value, list):
        for position, inner in enumerate(value):
            visit(inner, (*path, position), place)


def main() -> None:
    """Fuzz from a corpus of shipped files, in a folder that goes away afterwards."""
    # libFuzzer ends the process itself, so the folder is left to the system's cleaning.
    corpus = Path(tempfile.mkdtemp(prefix="gearrec-fuzz-"))
    seeds = [*SEEDS, *(path.read_bytes() for path in sorted(CATALOGS.rglob("*.yaml")))]
    for number, seed in enumerate(seeds):
        (corpus / f"seed-{number}").write_bytes(seed)
    dictionary = corpus.with_suffix(".dict")
    dictionary.write_text("".join(f'"{word}"\n' for word in WORDS.split()))
    arguments = [
        sys.argv[0],
        f"-dict={dictionary}",
        f"-artifact_prefix={corpus}/crash-",
        "-max_len=20000",
        "-timeout=10",
        *sys.argv[1:],
        str(corpus),
    ]
    print(f"corpus and findings: {corpus}")
    atheris.Setup(arguments, one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
