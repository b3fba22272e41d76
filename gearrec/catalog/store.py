"""The catalog that the rest of the library reads: records by kind and id, made when asked for.

What was checked once is kept in compiled form (see `compiled`) and found again by the content of
the files, so that neither YAML nor checks are needed until a file changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from gearrec import __version__
from gearrec.catalog import cache as kept_files
from gearrec.catalog import files
from gearrec.catalog.cache import DamagedError
from gearrec.catalog.compiled import Compiled
from gearrec.catalog.compiling import ready
from gearrec.catalog.kinds import RECORD_KINDS, model
from gearrec.catalog.trees import Tree, list_tree, read_contents, read_layers
from gearrec.errors import Place, Problem, UnknownRecordError, allowed_words, nearest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from gearrec.catalog.compiled import Found
    from gearrec.catalog.record_base import Source


@dataclass(frozen=True, slots=True, order=True)
class RecordUse:
    """A record that an advice stands on, and where its figures come from."""

    kind: str
    id: str
    title: str
    source: Source | None = field(compare=False)
    place: Place = field(compare=False)
    overridden_by: tuple[str, ...] = field(default=(), compare=False)

    @property
    def invented(self) -> bool:
        """Whether the figures are made up, for a demonstration."""
        return self.source is not None and self.source.kind == "invented"


class _Shelf:
    """The compiled catalog; made anew when the file it is read from turns out to be damaged."""

    __slots__ = ("_remake", "compiled")

    def __init__(self, compiled: Compiled, remake: Callable[[], Compiled] | None = None) -> None:
        self.compiled = compiled
        self._remake = remake

    def find(self, kind: str, record_id: str) -> Found | None:
        try:
            return self.compiled.find(kind, record_id)
        except ValueError:
            self._make_anew()
            return self.compiled.find(kind, record_id)

    def ids(self, kind: str) -> tuple[str, ...]:
        try:
            return self.compiled.ids(kind)
        except ValueError:
            self._make_anew()
            return self.compiled.ids(kind)

    def _make_anew(self) -> None:
        if self._remake is None:
            raise DamagedError("the compiled catalog is damaged")
        self.compiled, self._remake = self._remake(), None


@dataclass(frozen=True, slots=True)
class Catalog:
    """Everything that was loaded. Records are checked already; each is built when first asked for.

    Safe to share between threads.
    """

    _shelf: _Shelf
    _built: dict[tuple[str, str], Any] = field(default_factory=dict, repr=False, compare=False)

    def get(self, kind: str, record_id: str) -> Any:
        """The record of an id or an alias. Raises UnknownRecordError with the nearest spelling."""
        built = self._built.get((kind, record_id))
        if built is not None:
            return built
        found = self._shelf.find(kind, record_id)
        if found is None:
            raise UnknownRecordError(self._unknown(kind, record_id))
        record = ready(model(kind)).__pydantic_validator__.validate_python(found.value)
        # Two threads may build the same record; all get the one that was first.
        record = self._built.setdefault((kind, record.id), record)
        return self._built.setdefault((kind, record_id), record)

    def has(self, kind: str, record_id: str) -> bool:
        """Whether an id or an alias finds a record of the kind."""
        return (kind, record_id) in self._built or self._shelf.find(kind, record_id) is not None

    def ids(self, kind: str) -> tuple[str, ...]:
        """Ids of all records of a kind, in the order of the files."""
        return self._shelf.ids(kind)

    def records(self, kind: str) -> Mapping[str, Any]:
        """All records of a kind by id; each is built when it is looked up."""
        return _Records(self, kind, self.ids(kind))

    @property
    def namespaces(self) -> tuple[str, ...]:
        """Namespaces of the catalogs in their order; later ones may override earlier ones."""
        return self._shelf.compiled.layers

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """What was found in the files that does not make them unusable."""
        return self._shelf.compiled.warnings()

    def place(self, kind: str, record_id: str, dotted: str = "") -> Place:
        """Where a record, or one of its keys, was written; unknown places are empty."""
        found = self._shelf.find(kind, record_id)
        if found is None:
            return Place(dotted=f"{record_id}: {dotted}" if dotted else record_id)
        key = dotted.partition(".")[0].partition("[")[0]
        at = found.keys.get(key, found.place)
        name = f"{record_id}: {dotted}" if dotted else record_id
        return Place(at.file, at.line, at.column, name)

    def records_used(self, used: Iterable[tuple[str, str]]) -> tuple[RecordUse, ...]:
        """What the records of (kind, id) are and stand on, those they extend included; sorted."""
        found: dict[tuple[str, str], RecordUse] = {}
        waiting = list(used)
        while waiting:
            kind, record_id = waiting.pop()
            record = self.get(kind, record_id)
            if (kind, record.id) in found:
                continue
            compiled = self._shelf.find(kind, record.id)
            found[kind, record.id] = RecordUse(
                kind=kind,
                id=record.id,
                title=record.title,
                source=record.source,
                place=compiled.place if compiled is not None else Place(),
                overridden_by=compiled.overridden_by if compiled is not None else (),
            )
            if record.extends is not None:
                waiting.append((kind, record.extends))
        return tuple(sorted(found.values()))

    def deprecations(self, used: Iterable[tuple[str, str]]) -> tuple[str, ...]:
        """A sentence for each of the (kind, id) that should no longer be used, or has a new id."""
        sentences = []
        for kind, record_id in sorted(set(used)):
            record = self.get(kind, record_id)
            if record.id != record_id:
                sentences.append(f"{record_id} was renamed; write {record.id}.")
            if record.deprecated is not None:
                instead = f" Use {record.deprecated.use}." if record.deprecated.use else ""
                sentences.append(
                    f"{record.id} is deprecated since {record.deprecated.since}: "
                    f"{record.deprecated.why}{instead}"
                )
        return tuple(sentences)

    def _unknown(self, kind: str, record_id: str) -> str:
        if kind not in RECORD_KINDS:
            return f"no kind {kind!r}; {allowed_words(sorted(RECORD_KINDS), kind)}"
        for other in RECORD_KINDS:
            if other != kind and self.has(other, record_id):
                return f"{record_id!r} is of the kind {other}; a record of kind {kind} is due"
        ids = self.ids(kind)
        words = f"there is no record {record_id!r} of the kind {kind}"
        guess = nearest(record_id, ids)
        if guess:
            return f"{words}; did you mean '{guess}'?"
        namespace, sign, _ = record_id.partition("/")
        known = {one.partition("/")[0] for other in RECORD_KINDS for one in self.ids(other)}
        if sign and namespace not in known:
            return (
                f"{words}: no catalog of the namespace {namespace!r} is loaded; give its folder "
                f"with --catalog, in Python with Advisor([folder]); {allowed_words(sorted(known))}"
            )
        if len(ids) <= 20:
            return f"{words}; {allowed_words(sorted(ids))}" if ids else f"{words}; none is loaded"
        return f"{words}; {len(ids)} are loaded"


class _Records(Mapping[str, Any]):
    """The records of one kind; a mapping that builds what is looked up."""

    __slots__ = ("_catalog", "_ids", "_kind", "_set")

    def __init__(self, catalog: Catalog, kind: str, ids: tuple[str, ...]) -> None:
        self._catalog, self._kind, self._ids = catalog, kind, ids
        self._set = frozenset(ids)

    def __getitem__(self, record_id: str) -> Any:
        try:
            return self._catalog.get(self._kind, record_id)
        except UnknownRecordError:
            raise KeyError(record_id) from None

    def __contains__(self, record_id: object) -> bool:
        return record_id in self._set

    def __iter__(self) -> Iterator[str]:
        return iter(self._ids)

    def __len__(self) -> int:
        return len(self._ids)


def load(paths: Sequence[Path | str], *, cache: str | None = None) -> Catalog:
    """Load catalogs in the order given: later ones may override records of earlier ones.

    Parameters: `paths`, folders that each hold a `catalog.yaml`; `cache`, a folder for compiled
    catalogs, or "off"; default: as `cache.cache_folder` says. Raises: CatalogError with every
    problem of every file.
    """
    tree = list_tree(paths)
    stamp = files.stamp(tree.files)
    if stamp is not None:
        # The same files below other folders are other catalogs.
        stamp = "\0".join((__version__, *map(str, paths), "")).encode() + stamp
        name = kept_files.recall(stamp, setting=cache)
        found = _look(name, cache) if name is not None else None
        if found is not None:
            return Catalog(_Shelf(found, lambda: _make(tree)))
    contents, problems = read_contents(tree)
    name = kept_files.content_name("catalog", _identity(paths, contents))
    found = None if problems else _look(name, cache)
    if found is None:
        data = _packed(tree, contents, problems)
        kept_files.keep(name, data, setting=cache)
        found = Compiled(data)
    if stamp is not None:
        kept_files.remember(stamp, name, setting=cache)
    return Catalog(_Shelf(found, lambda: _make(tree)))


def _look(name: str, cache: str | None) -> Compiled | None:
    try:
        found = kept_files.look(name, setting=cache)
        return None if found is None else Compiled(found)
    except ValueError:  # damaged, or no name at all
        return None


def _identity(paths: Sequence[Path | str], contents: Mapping[str, bytes]) -> Iterator[bytes]:
    """Everything that the compiled form depends on, file names included: places show them."""
    yield __version__.encode()
    for path in paths:
        yield str(path).encode("utf-8", "surrogateescape")
    for file, data in contents.items():
        yield file.encode("utf-8", "surrogateescape")
        yield data


def _make(tree: Tree) -> Compiled:
    contents, problems = read_contents(tree)
    return Compiled(_packed(tree, contents, problems))


def _packed(tree: Tree, contents: Mapping[str, bytes], problems: Sequence[Problem]) -> bytes:
    from gearrec.catalog.reader import collector_paused

    # All that was read is gone before the collector could look at it.
    with collector_paused():
        return _checked_and_packed(tree, contents, problems)


def _checked_and_packed(
    tree: Tree, contents: Mapping[str, bytes], problems: Sequence[Problem]
) -> bytes:
    from gearrec.catalog.compiled import pack
    from gearrec.catalog.validation import check_layers

    layers, found = read_layers(tree, contents)
    merged, _, warnings = check_layers(layers, problems=[*problems, *found])
    return pack(merged, layers=[layer.namespace for layer in layers], warnings=warnings)
