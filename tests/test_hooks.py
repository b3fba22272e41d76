"""The hook specifications: what they hold, and that their documentation says the same."""

from __future__ import annotations

import ast
import inspect
import re
import types
from pathlib import Path

import pluggy
import pytest

from gearrec import hooks, plugins
from gearrec.candidates import Candidate
from gearrec.extension import JobMetrics
from gearrec.plugin_interface import ARGUMENTS

PAGE = Path(__file__).parent.parent / "docs" / "hooks.md"
HOOKS = {name: value for name, value in vars(hooks).items() if name.startswith("gearrec_")}


def test_the_hooks_are_those_promised():
    assert ARGUMENTS == {
        "gearrec_candidates": ("job", "candidates"),
        "gearrec_catalogs": (),
        "gearrec_cautions": ("job", "advice"),
        "gearrec_metrics": (),
        "gearrec_preferences": ("job", "evaluation"),
        "gearrec_report_sections": ("job", "advice"),
    }
    assert hooks.HOOK_API_VERSION == 1


def test_the_module_holds_only_specifications():
    manager = pluggy.PluginManager("gearrec")
    manager.add_hookspecs(hooks)
    assert set(HOOKS) == set(ARGUMENTS)
    tree = ast.parse(inspect.getsource(hooks))
    functions = [node for node in tree.body if isinstance(node, ast.FunctionDef)]
    assert {function.name for function in functions} == set(HOOKS)
    for function in functions:
        assert hasattr(manager.hook, function.name)
        assert len(function.body) == 1, f"{function.name} holds more than its docstring"
        assert ast.get_docstring(function)
        assert function.returns is not None
        assert all(argument.annotation is not None for argument in function.args.args)
        assert not function.args.defaults


@pytest.mark.parametrize("name", HOOKS)
def test_the_page_gives_each_hook_with_its_signature(name):
    signature = str(inspect.signature(HOOKS[name])).replace("'", "")
    section = _section(name)
    assert f"```text\n{name}{signature}\n```" in section


@pytest.mark.parametrize("name", HOOKS)
def test_the_page_shows_an_example_of_each_hook(name):
    assert f"@hookimpl\ndef {name}(" in _section(name)


def test_the_examples_of_the_page_are_one_plugin_without_faults(tmp_path):
    blocks = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    code = "\n".join(block for block in blocks if "hookimpl" in block)
    (tmp_path / "catalog").mkdir()
    (tmp_path / "catalog" / "catalog.yaml").write_text("kind: catalog\n", encoding="utf-8")
    shop = types.ModuleType("shop")
    shop.__file__ = str(tmp_path / "shop.py")
    exec(compile(code, "docs/hooks.md", "exec", dont_inherit=True), vars(shop))
    loaded = plugins.load(allow=(), extra={"shop": shop}, strict=True)
    evaluation = JobMetrics(axle_ratios=(3.62, 3.85, 4.45), metrics={}, leg_metrics={})
    arguments = {
        "job": None,
        "advice": None,
        "candidates": tuple(Candidate(ratio=ratio) for ratio in (3.62, 3.85, 4.45)),
        "evaluation": evaluation,
    }
    for hook, names in ARGUMENTS.items():
        answers = loaded.call(hook, **{name: arguments[name] for name in names})
        assert "shop" in {entry.plugin for entry in answers}, hook


def _section(name):
    parts = re.split(r"^## ", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    (section,) = (part for part in parts if part.startswith(f"{name}\n"))
    return section
