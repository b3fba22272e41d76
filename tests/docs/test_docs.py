"""The documentation: blocks run, pages and links exist, generated tables are complete."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import re
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import yaml

from gearrec import metrics, schema
from gearrec.builtin import catalogs_folder

if TYPE_CHECKING:
    from types import ModuleType

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
TEXTS = [ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")]
PAGES = sorted(DOCS.rglob("*.md"))
BLOCK = re.compile(r"^( *)```python(?P<options>.*)\n(?P<code>(?:.*\n)*?)\1```$", re.MULTILINE)
FENCE = re.compile(r"^( *)```.*\n(?:.*\n)*?\1```$", re.MULTILINE)
LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")
# The blocks of this page make up one plugin, which tests/test_hooks.py runs.
RUN_ELSEWHERE = {DOCS / "hooks.md"}
WITH_BLOCKS = [page for page in PAGES if "```python" in page.read_text(encoding="utf-8")]


@pytest.fixture(scope="module")
def site() -> ModuleType:
    """The module that makes pages and tables of the site."""
    spec = importlib.util.spec_from_file_location("site_pages", DOCS / "site_pages.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(autouse=True)
def _as_on_the_site(monkeypatch: pytest.MonkeyPatch) -> None:
    """In the checkout and without other plugins, as when the site is built."""
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("GEARREC_PLUGINS", "")


def name(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def blocks(page: Path) -> list[str]:
    text = page.read_text(encoding="utf-8")
    return [textwrap.dedent(found["code"]) for found in BLOCK.finditer(text)]


def printed(codes: list[str], where: str) -> str:
    """What the blocks print, run in order as one program."""
    output, names = io.StringIO(), {"__name__": where}
    with contextlib.redirect_stdout(output):
        for code in codes:
            exec(compile(code, where, "exec", dont_inherit=True), names)
    return output.getvalue()


def slug(heading: str) -> str:
    plain = re.sub(r"[^\w\s-]", "", re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading)).strip()
    return re.sub(r"[\s-]+", "-", plain.lower())


def anchors(text: str) -> set[str]:
    return {slug(found) for found in re.findall(r"^#+ +(.*)$", FENCE.sub("", text), re.MULTILINE)}


# --- blocks ---------------------------------------------------------------------------------------


def test_the_readme_prints_what_it_says():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (code,) = blocks(ROOT / "README.md")
    said = re.search(r"^```text\n((?:.*\n)*?)```$", text, re.MULTILINE)
    assert said is not None
    assert printed([code], "README.md") == said[1]
    assert len(code.splitlines()) <= 10


@pytest.mark.parametrize(
    "page", [page for page in WITH_BLOCKS if page not in RUN_ELSEWHERE], ids=name
)
def test_the_blocks_of_a_page_run(page):
    codes = blocks(page)
    assert len(codes) == page.read_text(encoding="utf-8").count("```python")
    printed(codes, name(page))


def test_what_blocks_print_is_shown():
    for page in WITH_BLOCKS:
        for found in BLOCK.finditer(page.read_text(encoding="utf-8")):
            shown = 'exec="1"' in found["options"] and "result=" in found["options"]
            assert shown or "print(" not in found["code"], f"{name(page)}: {found['code'][:60]}"


def test_each_job_of_the_examples_has_a_page():
    jobs = {path.stem for path in (DOCS / "examples").glob("*.yaml")}
    assert len(jobs) >= 4
    assert jobs <= {path.stem for path in (DOCS / "examples").glob("*.md")}


def test_the_catalog_of_the_documentation_has_no_problems():
    from gearrec import checking

    report = checking.check([DOCS / "examples" / "yourshop"], run_cases=True)
    assert [str(problem) for problem in report.problems] == []


# --- pages and links ------------------------------------------------------------------------------


def test_the_readme_names_both_commands_in_blocks_of_their_own():
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    assert "    make test" in lines
    assert "    make demo" in lines
    assert any("invented" in line.lower() for line in lines)


def nav_pages(entry: object) -> list[str]:
    if isinstance(entry, str):
        return [entry]
    below = entry.values() if isinstance(entry, dict) else entry
    assert isinstance(below, list) or isinstance(entry, dict)
    return [page for inner in below for page in nav_pages(inner)]


def configuration() -> dict[str, object]:
    text = (ROOT / "mkdocs.yml").read_text(encoding="utf-8")
    loaded = yaml.safe_load(text)
    assert isinstance(loaded, dict)
    return loaded


def test_every_page_is_in_the_navigation():
    listed = nav_pages(configuration()["nav"])
    assert len(listed) == len(set(listed))
    found = {page.relative_to(DOCS).as_posix() for page in PAGES}
    # Those of plugins are put in when the site is built.
    assert set(listed) == {page for page in found if not page.startswith("plugins/")}


def test_the_generated_pages_get_into_the_navigation(site):
    nav = configuration()["nav"]
    pages = {site.RULES_IN_NAV: ["rules/a.md"], site.PLUGINS_IN_NAV: ["hooks.md", "plugins/b.md"]}
    site._fill(nav, pages)
    listed = nav_pages(nav)
    assert {"rules/a.md", "plugins/b.md"} <= set(listed)
    assert len(listed) == len(set(listed))


@pytest.mark.parametrize("page", [*TEXTS, *PAGES], ids=name)
def test_links_lead_somewhere(page, site):
    text = page.read_text(encoding="utf-8")
    generated = set(site.rule_files())
    whole = site.with_tables(text)
    for target in LINK.findall(FENCE.sub("", whole)):
        if re.match(r"[a-z]+:", target):
            raise AssertionError(f"{name(page)} leads to another site: {target}")
        path, _, anchor = target.partition("#")
        other = (page.parent / path).resolve() if path else page
        if path in generated:
            continue
        assert other.exists(), f"{name(page)}: {target}"
        if anchor:
            there = whole if other == page else site.with_tables(other.read_text(encoding="utf-8"))
            assert anchor in anchors(there), f"{name(page)}: {target}"


def test_no_page_asks_another_server():
    for page in [*PAGES, ROOT / "mkdocs.yml"]:
        for address in re.findall(r"https?://[^\s\"'`)]+", page.read_text(encoding="utf-8")):
            assert re.match(r"https?://(127\.0\.0\.1|localhost)\b", address), f"{page}: {address}"
    theme = configuration()["theme"]
    assert isinstance(theme, dict)
    assert theme["font"] is False


# --- completeness ---------------------------------------------------------------------------------


def modules() -> set[str]:
    package = ROOT / "gearrec"
    found = {path.relative_to(package).as_posix() for path in package.rglob("*.py")}
    return {
        "gearrec" if path == "__init__.py" else path.removesuffix("/__init__.py") for path in found
    }


def test_the_map_names_every_module_once():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = re.search(r"^## Map of the code\n(.*?)^## ", text, re.MULTILINE | re.DOTALL)
    assert section is not None
    rows = re.findall(r"^\| `([^`]+)` \| (.+) \|$", section[1], re.MULTILINE)
    listed = [module for module, _ in rows]
    assert sorted(listed) == sorted(modules())
    assert all(words.strip() for _, words in rows)


def test_every_rule_has_a_complete_page(site):
    pages = site.rule_files()
    files = sorted(catalogs_folder().rglob("rules/*.yaml"))
    assert len(pages) >= len(files) > 0
    for path, text in pages.items():
        for title in ("What", "Why", "Shape", "Example", "When to doubt it", "Source", "Since"):
            assert f"\n## {title}\n" in text, f"{path}: {title}"
        assert "does not agree" not in text, path


def test_every_table_is_shown_on_a_page(site):
    asked = [
        table for page in PAGES for table in site.MARKER.findall(page.read_text(encoding="utf-8"))
    ]
    assert sorted(asked) == sorted(site.TABLES)


def test_the_tables_hold_everything(site):
    cells = [line.strip("| ").split(" | ") for line in site.TABLES["metrics"]().splitlines()]
    rows = {row[0]: len([cell for cell in row if cell.strip()]) for row in cells}
    for metric in metrics.BUILT_IN:
        assert rows[f"`{metric.name}`"] == 5, metric.name
    keys = site.TABLES["keys"]()
    for kind in schema.KINDS:
        assert f"\n## {kind}\n" in keys
        assert f"schemas/{kind}.schema.json" in site.TABLES["schemas"]()
    for key in schema.schema("platform")["$defs"]["full"]["properties"]:
        assert f"| `{key}` |" in keys


def test_an_unknown_table_is_an_error(site):
    with pytest.raises(KeyError, match="no-such-table"):
        site.with_tables("<!-- generated: no-such-table -->")
