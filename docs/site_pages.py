"""Pages and tables of the documentation that are made from the code and the catalogs.

mkdocs calls the `on_...` functions. A line `<!-- generated: NAME -->` of a page is replaced by the
table of that name in `TABLES`; each rule gets a page of its own below `rules/`.
"""

from __future__ import annotations

import os
import re
from functools import cache
from typing import TYPE_CHECKING, Any

from gearrec import Advisor, attributes, metrics, rule_pages, schema, units

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files

MARKER = re.compile(r"^<!-- generated: ([a-z-]+) -->$", re.MULTILINE)
RULES_IN_NAV = "Every rule"
PLUGINS_IN_NAV = "Plugins"
_COMMON = ("id", "title", "notes", "aliases", "deprecated", "extends", "source")
_FORMS = ("full", "overriding", "extending", "record")


@cache
def advisor() -> Advisor:
    """An advisor with nothing but what comes with the library."""
    return Advisor(plugins=())


def on_startup(**_: object) -> None:
    """Executed blocks show the library alone, whatever is installed beside it."""
    os.environ["GEARREC_PLUGINS"] = ""


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add the rules' pages, and put them and the plugins' pages into the navigation."""
    from mkdocs.structure.files import File

    pages = rule_files()
    for path, text in pages.items():
        files.append(File.generated(config, path, content=text))
    plugins = sorted(
        file.src_uri for file in files if re.fullmatch(r"plugins/[^/]+\.md", file.src_uri)
    )
    _fill(config.nav or [], {RULES_IN_NAV: list(pages), PLUGINS_IN_NAV: plugins})
    return files


def on_page_markdown(markdown: str, **_: object) -> str:
    """Put the generated tables in."""
    return with_tables(markdown)


def with_tables(markdown: str) -> str:
    """A page with its generated tables. Raises KeyError for one that does not exist."""
    return MARKER.sub(lambda found: TABLES[found[1]](), markdown)


def rule_files() -> dict[str, str]:
    """Path below docs -> text of the page, for every rule of the shipped catalogs."""
    by_name = metrics.by_name(advisor().metrics)
    return {
        rule_path(rule_id): rule_pages.page_markdown(
            rule, metrics=by_name, attributes=attributes.built_in()
        )
        for rule_id, rule in sorted(advisor().catalog.records("rule").items())
    }


def rule_path(rule_id: str) -> str:
    """Where the page of a rule is."""
    return f"rules/{rule_id.replace('/', '-')}.md"


def _fill(nav: list[Any], pages: Mapping[str, list[str]]) -> None:
    for entry in nav:
        for title, below in entry.items() if isinstance(entry, dict) else ():
            if isinstance(below, list):
                _fill(below, pages)
                listed = {path for item in below for path in _paths(item)}
                below += [path for path in pages.get(title, ()) if path not in listed]


def _paths(entry: Any) -> Iterator[str]:
    if isinstance(entry, str):
        yield entry
    else:
        yield from (path for path in entry.values() if isinstance(path, str))


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines: list[tuple[str, ...]] = [head, tuple("---" for _ in head), *rows]
    cells = ([cell.replace("|", "\\|") for cell in row] for row in lines)
    return "\n".join(f"| {' | '.join(row)} |" for row in cells)


def _metrics() -> str:
    rows = [
        (
            f"`{metric.name}`",
            metric.unit,
            "each leg" if metric.per_leg else "job",
            metric.definition,
            metric.source,
        )
        for metric in advisor().metrics
    ]
    return _table(("metric", "unit", "per", "definition", "source"), rows)


def _unknown() -> str:
    usual = metrics.Metric.__dataclass_fields__["unknown"].default
    rows = [
        (f"`{metric.name}`", metric.unknown)
        for metric in advisor().metrics
        if metric.unknown != usual
    ]
    return _table(("metric", "what it is unknown for"), rows)


def _attributes() -> str:
    rows = [
        (f"`{name}`", _attribute_kind(attribute), attribute.definition)
        for name, attribute in attributes.built_in().items()
    ]
    return _table(("attribute", "kind", "definition"), rows)


def _attribute_kind(attribute: attributes.Attribute) -> str:
    if attribute.words:
        return ", ".join(f"`{word}`" for word in attribute.words)
    if attribute.dimension:
        return attribute.dimension.replace("_", " ")
    return attribute.unit or {"flag": "yes or no"}.get(attribute.kind, attribute.kind)


def _rules() -> str:
    rows = [
        (f"[{rule.title}]({rule_path(rule_id)})", f"`{rule_id}`", rule.verdict, rule.source.kind)
        for rule_id, rule in sorted(advisor().catalog.records("rule").items())
    ]
    return _table(("rule", "id", "verdict", "source"), rows)


def _placeholders() -> str:
    from gearrec.catalog.rule_records import PLACEHOLDERS

    rows = [(f"`{{{name}}}`", meaning) for name, meaning in PLACEHOLDERS.items()]
    return _table(("placeholder", "stands for"), rows)


def _units() -> str:
    rows = [
        (name.replace("_", " "), ", ".join(f"`{unit}`" for unit in given if unit) or "bare number")
        for name, given in units.UNITS.items()
    ]
    return _table(("dimension", "units"), rows)


def _schemas() -> str:
    rows = []
    for kind in schema.KINDS + schema.OUTPUT_KINDS:
        about = schema.schema(kind)["description"].split("\n")[0]
        rows.append((f"[`{kind}`](schemas/{kind}.schema.json)", about))
    return _table(("kind", "what it describes"), rows)


def _commands() -> str:
    import click

    from gearrec import cli

    parts = []
    settings = cli.program.context_settings  # click remembers the first help option it makes
    context = click.Context(cli.program, info_name="gearrec", **settings)
    for name in sorted(cli.program.commands):
        command = cli.program.commands[name]
        text = command.get_help(click.Context(command, parent=context, info_name=name))
        parts.append(f"## gearrec {name}\n\n```text\n{text.rstrip()}\n```")
    return "\n\n".join(parts)


def _keys() -> str:
    """Every kind with its keys, and after them the parts that kinds share."""
    common = schema.schema("terrain")["$defs"]["full"]
    parts = [
        "## Keys of every record",
        _key_table({"required": ["id", "title"], "properties": _some(common, _COMMON)}),
    ]
    shared: dict[str, dict[str, Any]] = {}
    for kind in schema.KINDS:
        whole = schema.schema(kind)
        definitions = whole.get("$defs", {})
        record = definitions.get("full", whole)
        parts += [f"## {kind}", record["description"].replace("\n", " ")]
        if "full" in definitions:
            own = [key for key in record["properties"] if key not in _COMMON]
            record = {**record, "properties": _some(record, tuple(own))}
        parts.append(_key_table(record))
        shared |= {
            name: part
            for name, part in definitions.items()
            if name not in _FORMS and _part_title(name) not in schema.KINDS
        }
    parts += ["## Parts of records", "Mappings that stand inside the records above."]
    for name, part in sorted(shared.items()):
        mapping = _mapping(part)
        about = mapping.get("description", "").replace("\n", " ")
        parts += [f"### {_part_title(name)}", about, _key_table(mapping)]
    return "\n\n".join(part for part in parts if part)


def _some(record: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: part for name, part in record["properties"].items() if name in names}


def _mapping(part: dict[str, Any]) -> dict[str, Any]:
    """The form with keys of a part that may also be written shorter."""
    forms = [form for form in part.get("anyOf", ()) if "properties" in form]
    return forms[0] if forms else part


def _key_table(record: Mapping[str, Any]) -> str:
    needed = set(record.get("required", ()))
    rows = [
        (f"`{name}`", "yes" if name in needed else "", _value(part), _about(part))
        for name, part in record["properties"].items()
    ]
    return _table(("key", "needed", "value", "meaning"), rows)


def _about(part: Mapping[str, Any]) -> str:
    text: str = part.get("description", "").replace("\n", " ")
    example = part.get("examples", [None])[0]
    if example in (None, "...") or "enum" in part:
        return text
    shown = f'"{example}"' if isinstance(example, str) and "x-dimension" in part else str(example)
    return f"{text}; for example `{shown}`" if text else f"for example `{shown}`"


def _value(part: Mapping[str, Any]) -> str:
    if "$ref" in part:
        name = part["$ref"].rsplit("/", 1)[1]
        return f"[{_part_title(name)}](#{_part_title(name).replace(' ', '-')})"
    if "x-dimension" in part:
        return f"{part['x-dimension'].replace('_', ' ')}, {part['x-limits']}"
    if "const" in part:
        return f"`{part['const']}`"
    if "enum" in part:
        return " or ".join(f"`{word}`" for word in part["enum"])
    forms = part.get("oneOf") or part.get("anyOf")
    if forms and any("properties" in form or "$ref" in form or "type" in form for form in forms):
        return " or ".join(dict.fromkeys(_value(form) for form in forms))
    if part.get("type") == "array":
        return f"list of: {_value(part['items'])}"
    if part.get("type") == "object":
        return "mapping"
    if part.get("pattern", "").startswith("^[a-z][a-z0-9-]*/"):
        return "id"
    return _plain(part)


def _plain(part: Mapping[str, Any]) -> str:
    names = {"string": "text", "boolean": "true or false", "integer": "whole number"}
    text: str = names.get(part.get("type", ""), part.get("type", "anything"))
    low, high = part.get("minimum", part.get("exclusiveMinimum")), part.get("maximum")
    if low is not None and high is not None:
        return f"{text}, {low:g} to {high:g}"
    return text


def _part_title(name: str) -> str:
    """`GearSet` -> "gear set"."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name).lower()


TABLES: dict[str, Callable[[], str]] = {
    "attributes": _attributes,
    "commands": _commands,
    "keys": _keys,
    "metrics": _metrics,
    "placeholders": _placeholders,
    "rules": _rules,
    "schemas": _schemas,
    "units": _units,
    "unknown": _unknown,
}
