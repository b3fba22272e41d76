"""What differs between the records of two catalogs, and catalogs in which one record is swapped."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from gearrec import plugins as plugin_loading
from gearrec.api import Advisor
from gearrec.catalog.kinds import RECORD_KINDS
from gearrec.catalog.reader import read_text
from gearrec.catalog.trees import MANIFEST
from gearrec.errors import CatalogError, Place, Problem
from gearrec.extension import CatalogFolder
from gearrec.plugin_calls import Contribution
from gearrec.plugins import Plugins

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from gearrec.catalog.store import Catalog

How = Literal["added", "removed", "changed"]

# Where a whole revision was exported: the checkout's catalogs, or those inside a built wheel.
_USUAL_PLACES = ("catalogs", "gearrec/_catalogs")
# Keys that say something to people and change no number.
_WORDS = frozenset(
    {"title", "notes", "source", "aliases", "deprecated", "since", "about", "purpose", "reasons"}
    | {"what", "why", "when_to_doubt", "example", "says", "extends"}
)


@dataclass(frozen=True, slots=True, order=True)
class RecordChange:
    """A record that is not the same in two catalogs; `keys` are the top-level ones that differ.

    `words_only`: nothing but texts differs, so that no figure of any advice can.
    """

    kind: str
    id: str
    how: How
    keys: tuple[str, ...]
    place: Place

    @property
    def words_only(self) -> bool:
        """Whether only keys for people differ."""
        return self.how == "changed" and _WORDS.issuperset(self.keys)

    def __str__(self) -> str:
        keys = f" ({', '.join(self.keys)})" if self.keys else ""
        return f"{self.kind} {self.id} {self.how}{keys}"


def revision(
    folder: Path | str, *, plugins: Iterable[str] | Plugins | None = None, cache: str | None = None
) -> Advisor:
    """An advisor on the catalogs of one revision.

    folder: a catalog, a folder of several, or an exported revision of a project with the folder
    `catalogs`. The built-in catalogs lie below; one of the same namespace gives way. plugins: as
    for `Advisor`; only their catalogs and metrics take part, because what they say of each job may
    depend on the day. Raises CatalogError with every problem.
    """
    loaded = plugins if isinstance(plugins, Plugins) else plugin_loading.load(allow=plugins)
    named = {_namespace(inner): inner for inner in _catalogs(Path(folder))}
    entries = loaded.call("gearrec_catalogs")
    below = [
        Contribution(
            entry.plugin,
            CatalogFolder(entry.record.name, named.pop(entry.record.name, entry.record.path)),
        )
        for entry in entries
    ]
    layered = Plugins(
        loaded=(),
        installed=loaded.installed,
        kept={**loaded._kept, "gearrec_catalogs": tuple(below)},
        faults=loaded.faults,
        strict=loaded.strict,
    )
    return Advisor([named[name] for name in sorted(named)], plugins=layered, cache=cache)


def record_changes(old: Catalog, new: Catalog) -> tuple[RecordChange, ...]:
    """Every record that differs, cases left out: they are questions, and change no advice."""
    return tuple(sorted(_changes(old, new)))


@dataclass(frozen=True, slots=True)
class Swapped:
    """A catalog with some of its records taken from another; as much of one as jobs look at."""

    base: Catalog
    other: Catalog
    swapped: frozenset[tuple[str, str]]

    def get(self, kind: str, record_id: str) -> Any:
        """As `Catalog.get`."""
        return self._of(kind, record_id).get(kind, record_id)

    def has(self, kind: str, record_id: str) -> bool:
        """As `Catalog.has`."""
        return self._of(kind, record_id).has(kind, record_id)

    def _of(self, kind: str, record_id: str) -> Catalog:
        for catalog in (self.base, self.other):
            if catalog.has(kind, record_id):
                current = catalog.get(kind, record_id).id
                return self.other if (kind, current) in self.swapped else self.base
        return self.base


def _changes(old: Catalog, new: Catalog) -> Iterator[RecordChange]:
    for kind in RECORD_KINDS:
        if kind == "case":
            continue
        before, after = old.records(kind), new.records(kind)
        for name in sorted({*before, *after}):
            if name not in after:
                yield RecordChange(kind, name, "removed", (), old.place(kind, name))
            elif name not in before:
                yield RecordChange(kind, name, "added", (), new.place(kind, name))
            elif keys := _differing(before[name], after[name]):
                place = new.place(kind, name, keys[0] if len(keys) == 1 else "")
                yield RecordChange(kind, name, "changed", keys, place)


def _differing(before: Any, after: Any) -> tuple[str, ...]:
    if before == after:
        return ()
    return tuple(
        key for key in type(after).model_fields if getattr(before, key) != getattr(after, key)
    )


def _catalogs(folder: Path) -> Sequence[Path]:
    """The catalogs of a revision, by name."""
    if (folder / MANIFEST).is_file():
        return [folder]
    for inner in (folder, *(folder / place for place in _USUAL_PLACES)):
        if inner.is_dir():
            found = sorted(one for one in inner.iterdir() if (one / MANIFEST).is_file())
            if found:
                return found
    message = (
        f"there is no catalog; allowed: a folder with {MANIFEST} at its top, a folder whose "
        f"folders have one, or an exported revision with the folder {_USUAL_PLACES[0]}"
    )
    raise CatalogError([Problem(Place(str(folder)), message, "no-manifest")])


def _namespace(folder: Path) -> str:
    """The namespace of a catalog; the folder's name where the manifest does not give one."""
    from gearrec.catalog import files

    manifest = folder / MANIFEST
    value: Mapping[str, Any] = read_text(files.read_file(manifest), file=str(manifest)).value
    found = value.get("namespace")
    return found if isinstance(found, str) else folder.name
