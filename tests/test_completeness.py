"""Every hook has a plugin that uses it, a test and a documented signature, or the build fails."""

from __future__ import annotations

import ast
import inspect
import tomllib
from pathlib import Path

import pytest

from gearrec import hooks
from gearrec.plugin_interface import ARGUMENTS

ROOT = Path(__file__).parent.parent
PLUGINS = [
    folder
    for folder in sorted((ROOT / "plugins").iterdir())
    if (folder / "pyproject.toml").is_file()
    and "gearrec"
    in tomllib.loads((folder / "pyproject.toml").read_text(encoding="utf-8"))["project"].get(
        "entry-points", {}
    )
]
# A plugin's own tests say what a hook is good for; those of the core treat all hooks alike.
TESTS = sorted(ROOT.glob("plugins/*/tests/**/test_*.py"))


def implemented(file):
    """Names of the functions of one file that are marked with `hookimpl`."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    return {
        node.name
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        and any(ast.unparse(mark).split(".")[-1] == "hookimpl" for mark in node.decorator_list)
    }


def named(file):
    """Hooks that one test file calls by attribute, defines, or names in a text of its own."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute):
            found.add(node.attr)
        elif isinstance(node, ast.keyword):
            found.add(node.arg)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            found.add(node.value)
    return found & set(ARGUMENTS)


def test_there_are_plugins():
    assert len(PLUGINS) >= 3


@pytest.mark.parametrize("hook", ARGUMENTS)
def test_a_plugin_uses_the_hook(hook):
    sources = [
        file for folder in PLUGINS for file in folder.rglob("*.py") if "tests" not in file.parts
    ]
    assert hook in set().union(*(implemented(file) for file in sources))


@pytest.mark.parametrize("hook", ARGUMENTS)
def test_a_test_covers_the_hook(hook):
    assert any(hook in named(file) for file in TESTS), f"no test of a plugin calls {hook}"


@pytest.mark.parametrize("hook", ARGUMENTS)
def test_the_page_documents_the_signature(hook):
    page = (ROOT / "docs" / "hooks.md").read_text(encoding="utf-8")
    signature = str(inspect.signature(getattr(hooks, hook))).replace("'", "")
    assert f"\n## {hook}\n" in page
    assert f"\n{hook}{signature}\n" in page


@pytest.mark.parametrize("folder", PLUGINS, ids=lambda folder: folder.name)
def test_a_plugin_is_a_whole_distribution(folder):
    name = tomllib.loads((folder / "pyproject.toml").read_text(encoding="utf-8"))["project"]["name"]
    assert (folder / "README.md").read_text(encoding="utf-8").strip()
    tests = sorted(folder.rglob("test_*.py"))
    assert any("gearrec.testing" in file.read_text(encoding="utf-8") for file in
               [*tests, *folder.rglob("conftest.py")])  # fmt: skip
    assert tests
    pages = [file.read_text(encoding="utf-8") for file in (ROOT / "docs").rglob("*.md")]
    assert any(name in page for page in pages)
