"""Writes commented skeletons for what people add: records of a catalog, and plugins.

What is to be filled in is marked. In YAML the mark is `[FILL IN]`: a list where none is allowed, so
that `gearrec check` reports every place that was forgotten.
"""

from __future__ import annotations

import errno
import os
import re
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec.catalog import files
from gearrec.catalog.compiling import UNFILLED
from gearrec.catalog.reader import read_text
from gearrec.catalog.record_base import ID_PATTERN, NAMESPACE_PATTERN
from gearrec.catalog.trees import MANIFEST
from gearrec.errors import GearrecError, allowed_words

if TYPE_CHECKING:
    from collections.abc import Mapping
    from importlib.resources.abc import Traversable

MARK = UNFILLED
"""What stands where something is to be written."""

_PLATFORM = ("platform", "engine", "transmission", "transfer-case", "axles", "tire", "cases")
# Template -> file, below the folder that is written to.
_FILES: Mapping[str, Mapping[str, str]] = {
    "platform": {f"platform/{part}.yaml": f"{{{{name}}}}/{part}.yaml" for part in _PLATFORM},
    "rule-set": {
        "rule-set/rule-set.yaml": "{{name}}/rule-set.yaml",
        "rule-set/rules.yaml": "{{name}}/rules.yaml",
    },
    "use-profile": {"use-profile/use-profile.yaml": "{{name}}.yaml"},
    "cases": {"cases/cases.yaml": "{{name}}.yaml"},
    "plugin": {
        "plugin/pyproject.toml": "{{distribution}}/pyproject.toml",
        "plugin/README.md": "{{distribution}}/README.md",
        "plugin/gitignore": "{{distribution}}/.gitignore",
        "plugin/module.py": "{{distribution}}/{{module}}/__init__.py",
        "plugin/conftest.py": "{{distribution}}/tests/conftest.py",
        "plugin/test_module.py": "{{distribution}}/tests/test_{{module}}.py",
    },
}
KINDS = tuple(_FILES)
"""Kinds of skeleton."""

_PLUGIN_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", re.ASCII)


def write(kind: str, name: str, folder: Path | str) -> list[Path]:
    """Write the skeleton of a kind, and return the files that were written.

    Parameters
        kind: platform, rule-set, use-profile, cases or plugin.
        name: of the record, with or without its namespace ("ridge", "shop/ridge"); or of the
            plugin ("shop"), whose distribution becomes `gearrec-shop`.
        folder: where to write. For records: in a catalog, or where one shall begin; then the name
            needs its namespace, and a `catalog.yaml` is written as well.

    Raises
        GearrecError: an unknown kind, or a name that cannot be used.
        FileExistsError: one of the files exists. Then none is written.
    """
    if kind not in _FILES:
        raise GearrecError(f"no skeleton of the kind {kind!r}; {allowed_words(KINDS, kind)}")
    home = Path(folder)
    wanted = dict(_FILES[kind])
    if kind == "plugin":
        words = _plugin_words(name)
    else:
        words, begins = _record_words(name, home)
        if begins:
            wanted = {"catalog.yaml": MANIFEST, **wanted}
    contents = {
        home / _filled(file, words): _template(template, words) for template, file in wanted.items()
    }
    for path in contents:
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    return _write_all(contents)


def _write_all(contents: Mapping[Path, str]) -> list[Path]:
    """Write every file or, where that fails, leave none."""
    written: list[Path] = []
    try:
        for path, text in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("x", encoding="utf-8", newline="\n") as stream:
                written.append(path)
                stream.write(text)
    except OSError:
        for path in written:
            path.unlink(missing_ok=True)
        raise
    return written


def _plugin_words(name: str) -> dict[str, str]:
    if not _PLUGIN_NAME.fullmatch(name) or len(name) > 40:
        raise GearrecError(
            f"found the name {name!r}; allowed: lower-case letters, digits and single hyphens, "
            "such as shop or shop-stock"
        )
    if name == "builtin":
        raise GearrecError("the name 'builtin' is the library's own; use another")
    distribution = name if name.startswith("gearrec-") else f"gearrec-{name}"
    return {"name": name, "distribution": distribution, "module": distribution.replace("-", "_")}


def _record_words(name: str, home: Path) -> tuple[dict[str, str], bool]:
    """The words of a record's templates, and whether a catalog begins with it."""
    given, _, bare = name.rpartition("/")
    manifest = _manifest_above(home)
    namespace = given if manifest is None else _namespace(manifest)
    if not namespace:
        raise GearrecError(
            f"there is no {MANIFEST} in {home} or above it; write the name with the namespace of "
            f"the catalog that begins here, such as yourshop/{bare or 'name'}, or choose another "
            "folder"
        )
    if given and given != namespace:
        raise GearrecError(
            f"found the namespace {given!r}; {manifest} says {namespace!r}: leave it out, or "
            "choose another folder"
        )
    record_id = f"{namespace}/{bare}"
    if manifest is None and not 2 <= len(namespace) <= 40:
        raise GearrecError(f"found the namespace {namespace!r}; allowed: 2 to 40 characters")
    if not re.fullmatch(ID_PATTERN, record_id) or len(record_id) > 80:
        raise GearrecError(
            f"found the name {name!r}; allowed: lower-case letters, digits, hyphens and points, "
            "such as parcel-van or yourshop/parcel-van"
        )
    return {"id": record_id, "name": bare, "namespace": namespace}, manifest is None


def _manifest_above(home: Path) -> Path | None:
    inner = home.resolve()
    for folder in (inner, *inner.parents):
        if (folder / MANIFEST).is_file():
            return folder / MANIFEST
    return None


def _namespace(manifest: Path) -> str:
    """The namespace that a manifest states. Raises CatalogError for a file that is no YAML."""
    value = read_text(files.read_file(manifest), file=str(manifest)).value.get("namespace")
    if not isinstance(value, str) or not re.fullmatch(NAMESPACE_PATTERN, value):
        raise GearrecError(f"{manifest} states no namespace; run `gearrec check` on it first")
    return value


def _template(name: str, words: Mapping[str, str]) -> str:
    source: Traversable = resources.files("gearrec") / "templates"
    for part in f"{name}.template".split("/"):
        source = source / part
    return _filled(source.read_text(encoding="utf-8"), words)


def _filled(text: str, words: Mapping[str, str]) -> str:
    for name, word in words.items():
        text = text.replace("{{" + name + "}}", word)
    return text
