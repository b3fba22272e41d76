"""Plugins from fake distributions: each kind of fault, lists, order, clashes, threads."""

from __future__ import annotations

import itertools
import random
import subprocess
import sys
import textwrap
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import numpy as np
import pytest

from gearrec import builtin, plugins
from gearrec.errors import PluginError
from gearrec.extension import CandidateAddition, CandidateRemoval, CatalogFolder, Caution
from gearrec.hooks import hookimpl
from gearrec.metrics import Metric, evaluate
from gearrec.plugin_results import name_of
from gearrec.testing import sample_lanes

_numbers = itertools.count()

HEAD = """
from gearrec.extension import *
from gearrec.hooks import hookimpl
from gearrec.metrics import Metric, evaluate
from gearrec.plugin_results import name_of
from gearrec.testing import sample_lanes
GEARREC_HOOK_API = 1
"""
GOOD = """
@hookimpl
def gearrec_cautions(job):
    return [Caution(name="NAME/note", sentence="Look at the axle tag.", source="invented")]
"""


@pytest.fixture
def install(tmp_path, monkeypatch):
    """Write a distribution with one module and its entry points into a folder on the path."""
    monkeypatch.syspath_prepend(tmp_path)

    def write(name, code=GOOD, *, head=HEAD, distribution=None, entry="{name} = {module}"):
        module = f"invented_plugin_{next(_numbers)}"
        text = textwrap.dedent(head) + textwrap.dedent(code).replace("NAME", name)
        (tmp_path / f"{module}.py").write_text(text, encoding="utf-8")
        folder = tmp_path / f"{distribution or module}-1.2.dist-info"
        folder.mkdir()
        line = entry.format(name=name, module=module)
        (folder / "entry_points.txt").write_text(f"[gearrec]\n{line}\n", encoding="utf-8")
        return module

    return write


@pytest.fixture
def load(tmp_path):
    """Load plugins from the fake distributions alone, with an empty environment."""

    def call(**arguments):
        return plugins.load(**{"path": [str(tmp_path)], "environment": {}, **arguments})

    return call


def fault_of(loaded, plugin):
    (fault,) = (fault for fault in loaded.faults if fault.plugin == plugin)
    return fault


def names(contributions):
    return [(entry.plugin, name_of(entry.record)) for entry in contributions]


def plugin(**functions):
    """A plugin given as an object."""
    marked = {name: hookimpl(function) for name, function in functions.items()}
    return SimpleNamespace(GEARREC_HOOK_API=1, **marked)


def caution(name):
    return Caution(name=name, sentence="Look at the axle tag.", source="invented")


def test_a_good_plugin_answers_beside_the_built_in_one(install, load):
    install("shop")
    loaded = load()
    assert loaded.faults == ()
    assert loaded.names == ("builtin", "shop")
    assert names(loaded.call("gearrec_cautions", job=1, advice=2)) == [("shop", "shop/note")]
    (entry,) = loaded.installed
    assert (entry.name, entry.version, entry.state) == ("shop", "1.2", "active")
    assert entry.hooks == ("gearrec_cautions",)


HOOK = "gearrec_cautions"
BROKEN = {
    "import error": ("import a_module_that_is_not_there", "", "imported", "ModuleNotFoundError"),
    "exit on import": ("raise SystemExit(3)", "", "imported", "SystemExit: 3"),
    "syntax error": ("def broken(:", "", "imported", "SyntaxError"),
    "odd exception on import": (
        "class Odd(BaseException): pass\nraise Odd('x')", "", "imported", "Odd: x",
    ),
    "exception without a text": (
        "class Odd(Exception):\n    def __str__(self): raise ValueError\nraise Odd",
        "", "imported", "Odd",
    ),
    "no version": ("del GEARREC_HOOK_API" + GOOD, "", "GEARREC_HOOK_API = 1", "no version"),
    "other version": ("GEARREC_HOOK_API = 2" + GOOD, "", "GEARREC_HOOK_API = 1", "int 2"),
    "version as text": ("GEARREC_HOOK_API = '1'" + GOOD, "", "GEARREC_HOOK_API = 1", "str '1'"),
    "no hooks": ("", "", "at least one hook", "no function"),
    "mistyped": (
        "@hookimpl\ndef gearrec_caution(job): pass",
        "gearrec_caution", "did you mean 'gearrec_cautions'", "'gearrec_caution'",
    ),
    "mistyped and unmarked": (
        "def gearrec_metricks(): pass" + GOOD,
        "gearrec_metricks", "did you mean 'gearrec_metrics'", "'gearrec_metricks'",
    ),
    "mistyped prefix": (
        "def gearec_metrics(): pass" + GOOD, "gearec_metrics", "the name of a hook", "gearec",
    ),
    "not marked": ("def gearrec_cautions(job): pass", HOOK, "marked with", "no mark"),
    "not a function": ("gearrec_cautions = 3", HOOK, "a function", "int 3"),
    "default": (
        "@hookimpl\ndef gearrec_cautions(job=None): pass", HOOK, "without defaults", "job=None",
    ),
    "wrong argument": (
        "@hookimpl\ndef gearrec_cautions(jobs): pass", HOOK, "arguments job, advice", "'jobs'",
    ),
    "argument where none is": (
        "@hookimpl\ndef gearrec_metrics(job): pass", "gearrec_metrics", "no arguments", "'job'",
    ),
    "keyword only": (
        "@hookimpl\ndef gearrec_cautions(*, job): pass", HOOK, "each plain", "keyword-only",
    ),
    "any arguments": (
        "@hookimpl\ndef gearrec_cautions(**rest): pass", HOOK, "each plain", "**rest",
    ),
    "async": ("@hookimpl\nasync def gearrec_cautions(job): pass", HOOK, "plain", "async"),
    "order asked for": (
        "@hookimpl(tryfirst=True)\ndef gearrec_cautions(job): pass",
        HOOK, "without options", "tryfirst",
    ),
    "exception on load": (
        "@hookimpl\ndef gearrec_metrics(): return 1 / 0",
        "gearrec_metrics", "without an exception", "ZeroDivisionError: division by zero",
    ),
    "exit on load": (
        "import sys\n@hookimpl\ndef gearrec_metrics(): sys.exit('bye')",
        "gearrec_metrics", "without an exception", "SystemExit: bye",
    ),
    "wrong metric": (
        "@hookimpl\ndef gearrec_metrics(): return ['tire_growth']",
        "gearrec_metrics", "Metric", "str 'tire_growth'",
    ),
    "catalog that is not there": (
        "from pathlib import Path\n@hookimpl\ndef gearrec_catalogs(): "
        "return [CatalogFolder(name='shop', path=Path('/nowhere'))]",
        "gearrec_catalogs", "catalog.yaml", "nowhere",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", BROKEN)
def test_a_broken_plugin_is_left_out_with_a_fault(kind, install, load):
    code, hook, expected, found = BROKEN[kind]
    install("broken", code)
    install("good")
    loaded = load()
    fault = fault_of(loaded, "broken")
    assert fault.hook == hook
    assert expected in fault.expected
    assert found in fault.found
    assert loaded.names == ("builtin", "good")
    assert {entry.name: entry.state for entry in loaded.installed} == {
        "broken": "left out",
        "good": "active",
    }
    with pytest.raises(PluginError, match="plugin 'broken'"):
        load(strict=True)


def test_strict_names_every_fault_and_keeps_the_cause(install, load):
    install("first", "raise LookupError('shelf')")
    install("second", "GEARREC_HOOK_API = 9")
    with pytest.raises(PluginError, match=r"(?s)plugin 'first'.*plugin 'second'") as caught:
        load(strict=True)
    assert isinstance(caught.value.__cause__, LookupError)


def test_interrupting_is_not_a_fault(install, load):
    install("stop", "raise KeyboardInterrupt")
    with pytest.raises(KeyboardInterrupt):
        load()


@pytest.mark.parametrize(
    ("line", "found"),
    [("shop", "'shop'"), ("shop = ", "'shop ='"), ("shop = a b", "'shop = a b'")],
)
def test_an_entry_point_that_cannot_be_read(line, found, install, load):
    install("shop", entry=line)
    assert found in fault_of(load(), "shop").found


def test_an_entry_point_may_name_an_object(install, load):
    code = """
    class Shelf:
        GEARREC_HOOK_API = 1
        @hookimpl
        def gearrec_cautions(self, job):
            return [Caution(name="shelf", sentence=f"Job {job}.", source="invented")]
    class Store:
        shelf = Shelf()
    """
    install("shop", code, entry="shop = {module}:Store.shelf")
    (entry,) = load().call("gearrec_cautions", job=7, advice=2)
    assert entry.record.sentence == "Job 7."


def test_a_duplicate_entry_point_name_leaves_out_both(install, load):
    install("shop", distribution="first_shop")
    install("shop", distribution="second_shop")
    loaded = load()
    assert loaded.names == ("builtin",)
    found = fault_of(loaded, "shop").found
    assert "'first-shop'" in found
    assert "'second-shop'" in found


def test_the_name_of_the_built_in_plugin_cannot_be_taken(install, load):
    install("builtin")
    loaded = load()
    assert loaded.names == ("builtin",)
    assert "gearrec itself" in fault_of(loaded, "builtin").found
    assert [entry.state for entry in loaded.installed] == ["left out"]

    with pytest.raises(ValueError, match="the library's own"):
        load(extra={"builtin": plugin(gearrec_cautions=lambda: None)})


LISTS = {
    "argument": ({"allow": ["a"]}, {}, {"a"}),
    "none by argument": ({"allow": []}, {}, set()),
    "environment": ({}, {"GEARREC_PLUGINS": " a , c"}, {"a", "c"}),
    "empty environment": ({}, {"GEARREC_PLUGINS": ""}, set()),
    "argument before environment": ({"allow": ["b"]}, {"GEARREC_PLUGINS": "a"}, {"b"}),
    "block by argument": ({"block": ["a"]}, {}, {"b", "c"}),
    "block by both": ({"block": ["a"]}, {"GEARREC_BLOCK_PLUGINS": "b"}, {"c"}),
    "block before allow": ({"allow": ["a", "b"], "block": ["a"]}, {}, {"b"}),
    "neither": ({}, {}, {"a", "b", "c"}),
}


@pytest.mark.parametrize("kind", LISTS)
def test_lists_choose_what_is_loaded(kind, install, load):
    arguments, environment, expected = LISTS[kind]
    modules = {name: install(name) for name in "abc"}
    loaded = load(environment=environment, **arguments)
    assert set(loaded.names) - {"builtin"} == expected
    assert loaded.faults == ()
    assert {name for name, module in modules.items() if module in sys.modules} == expected


def test_an_allowed_plugin_that_is_not_installed_is_a_fault(install, load):
    install("shop")
    fault = fault_of(load(allow=["ship"]), "ship")
    assert fault.found == "none of that name; installed: shop"


def exploding(**_):
    raise ValueError("the shelf fell over")


def endless(job):
    return (caution(f"note-{number}") for number in itertools.count())


ANSWERS = {
    "exception": (lambda job: exploding(), "without an exception", "ValueError: the shelf fell"),
    "exception on the way": (
        lambda job: (1 / zero for zero in [0]), "without an exception", "ZeroDivisionError",
    ),
    "exit": (lambda job: sys.exit(4), "without an exception", "SystemExit: 4"),
    "endless": (endless, "at most 10000 records", "without end"),
    "text": (lambda job: "Look out.", "a list", "str 'Look out.'"),
    "one record": (lambda job: caution("note"), "a list", "Caution"),
    "mapping": (lambda job: {"note": caution("note")}, "a list", "dict"),
    "wrong record": (lambda job: [CandidateAddition(3.85, "a", "b")], "Caution", "CandidateAdd"),
    "wrong field": (
        lambda job: [Caution(name="a", sentence=4, source="invented")], "sentence: a text", "int 4",
    ),
    "endless text": (
        lambda job: [Caution(name="a", sentence="a" * 5000, source="b")], "4000", "5000",
    ),
    "control characters": (
        lambda job: [Caution(name="a", sentence="\x1b[2J", source="b")], "control", "x1b",
    ),
    "twice": (lambda job: [caution("a"), caution("a")], "each name once", "'a' more than once"),
}  # fmt: skip


@pytest.mark.parametrize("kind", ANSWERS)
def test_a_wrong_answer_is_a_fault_and_the_others_go_on(kind, load):
    function, expected, found = ANSWERS[kind]

    def answer(job):
        return function(job)

    good = plugin(gearrec_cautions=lambda: [caution("good")])
    extra = {"wrong": plugin(gearrec_cautions=answer), "good": good}
    loaded = load(extra=extra)
    assert loaded.faults == ()
    assert names(loaded.call(HOOK, job=1, advice=2)) == [("good", "good")]
    fault = fault_of(loaded, "wrong")
    assert fault.hook == HOOK
    assert expected in fault.expected
    assert found in fault.found
    with pytest.raises(PluginError, match="plugin 'wrong', gearrec_cautions: expected"):
        load(extra=extra, strict=True).call(HOOK, job=1, advice=2)


def test_strict_keeps_the_exception_of_a_hook_as_the_cause(load):
    loaded = load(extra={"wrong": plugin(gearrec_cautions=lambda: exploding())}, strict=True)
    with pytest.raises(PluginError) as caught:
        loaded.call(HOOK, job=1, advice=2)
    assert isinstance(caught.value.__cause__, ValueError)


def test_nothing_to_say_is_no_fault(load):
    loaded = load(extra={"quiet": plugin(gearrec_cautions=lambda: None)})
    assert loaded.call(HOOK, job=1, advice=2) == ()
    assert loaded.faults == ()


def test_a_hook_is_called_with_its_own_arguments_only(load):
    with pytest.raises(TypeError, match="gearrec_cautions"):
        load().call(HOOK, job=1)
    with pytest.raises(TypeError, match="gearrec_nothing"):
        load().call("gearrec_nothing")


def test_a_clash_names_both_plugins_and_leaves_out_both(load):
    def one():
        return [caution("note")]

    both = {name: plugin(gearrec_cautions=one) for name in ("first", "second")}
    third = plugin(gearrec_cautions=lambda: [caution("other")])
    loaded = load(extra={**both, "third": third})
    assert names(loaded.call(HOOK, job=1, advice=2)) == [("third", "other")]
    assert "'note', also from plugin 'second'" in fault_of(loaded, "first").found
    assert "'note', also from plugin 'first'" in fault_of(loaded, "second").found


def test_candidates_may_agree_but_not_contradict(load):
    def adds():
        return [CandidateAddition(3.85, "Found on the shelf.", "invented")]

    def removes():
        return [CandidateRemoval(3.85, "Out of production.", "invented")]

    agreeing = load(
        extra={name: plugin(gearrec_candidates=removes) for name in ("first", "second")}
    )
    found = agreeing.call("gearrec_candidates", job=1, candidates=(3.85,))
    assert [entry.plugin for entry in found] == ["first", "second"]
    assert agreeing.faults == ()
    against = load(
        extra={
            "first": plugin(gearrec_candidates=removes),
            "second": plugin(gearrec_candidates=adds),
        }
    )
    assert against.call("gearrec_candidates", job=1, candidates=(3.85,)) == ()
    assert "axle ratio 3.85" in fault_of(against, "first").found
    assert "'first'" in fault_of(against, "second").found


def test_a_clash_with_a_built_in_metric_leaves_out_the_plugin_alone(load):
    metric = load().call("gearrec_metrics")[0].record
    loaded = load(extra={"copy": plugin(gearrec_metrics=lambda: [metric])})
    assert loaded.names == ("builtin",)
    assert f"'{metric.name}', also from plugin 'builtin'" in fault_of(loaded, "copy").found
    assert metric in [entry.record for entry in loaded.call("gearrec_metrics")]


def test_results_do_not_depend_on_load_order(load):
    clash = {name: plugin(gearrec_cautions=lambda: [caution("same")]) for name in ("e", "f")}
    extra = {
        "a": plugin(gearrec_cautions=lambda: [caution("z"), caution("m")]),
        "b": plugin(gearrec_cautions=lambda: [caution("a")]),
        "c": plugin(gearrec_cautions=lambda: exploding()),
        "d": plugin(gearrec_cautions=lambda: [caution("k")]),
        **clash,
    }
    shuffled = list(extra)
    results = []
    for seed in range(12):
        random.Random(seed).shuffle(shuffled)
        loaded = load(extra={name: extra[name] for name in shuffled})
        results.append((loaded.call(HOOK, job=1, advice=2), loaded.faults, loaded.names))
    assert all(result == results[0] for result in results)
    assert names(results[0][0]) == [("b", "a"), ("d", "k"), ("a", "m"), ("a", "z")]


def test_a_session_leaves_out_a_plugin_after_its_first_fault(load):
    wrong = plugin(
        gearrec_candidates=lambda: exploding(), gearrec_cautions=lambda: [caution("wrong/note")]
    )
    loaded = load(extra={"wrong": wrong})
    session = loaded.session()
    assert session.call("gearrec_candidates", job=1, candidates=()) == ()
    assert session.call(HOOK, job=1, advice=2) == ()
    assert [fault.plugin for fault in session.faults] == ["wrong"]
    again = loaded.session()
    assert names(again.call(HOOK, job=1, advice=2)) == [("wrong", "wrong/note")]
    assert again.faults == ()
    assert loaded.faults == session.faults


def test_a_metric_that_fails_is_a_fault_of_its_plugin(load):
    metric = Metric(
        name="shop_number",
        dimension="",
        unit="1",
        definition="invented",
        source="invented",
        compute=lambda at: "many",
    )
    extra = {"shop": plugin(gearrec_metrics=lambda: [metric])}
    loaded = load(extra=extra)
    assert loaded.faults == ()
    session = loaded.session()
    metrics = [entry.record for entry in session.call("gearrec_metrics")]
    columns = evaluate(sample_lanes(), metrics=metrics, on_fault=session.metric_fault)
    assert "failed" in columns.unknown_reason["shop_number"]
    assert not np.isnan(columns["tire_growth"]).any()
    (fault,) = session.faults
    assert (fault.plugin, fault.hook) == ("shop", "gearrec_metrics")
    assert (fault.expected, fault.found) == (
        "an array of float64 from 'shop_number'",
        "str 'many'",
    )
    assert "shop" not in {entry.plugin for entry in session.call("gearrec_metrics")}
    strict = load(extra=extra, strict=True).session()
    with pytest.raises(PluginError, match="plugin 'shop', gearrec_metrics"):
        evaluate(sample_lanes(), metrics=metrics, on_fault=strict.metric_fault)


def test_a_built_in_metric_that_fails_is_no_fault_of_a_plugin(load):
    session = load().session()
    metric = session.call("gearrec_metrics")[0].record
    with pytest.raises(ZeroDivisionError):
        session.metric_fault(metric, ZeroDivisionError())
    assert session.faults == ()


def test_faults_are_kept_once_and_bounded(load):
    numbers = itertools.count()

    def changing():
        raise ValueError(f"number {next(numbers)}")

    loaded = load(
        extra={
            "same": plugin(gearrec_cautions=lambda: exploding()),
            "changing": plugin(gearrec_cautions=changing),
        }
    )
    for _ in range(1100):
        loaded.call(HOOK, job=1, advice=2)
    assert len(loaded.faults) == 1000
    assert [fault.plugin for fault in loaded.faults].count("same") == 1


def test_plugins_are_safe_to_share_between_threads(load):
    def answer(job):
        if job % 3 == 0:
            raise ValueError("every third")
        return [caution(f"job-{job}")]

    loaded = load(extra={"shop": plugin(gearrec_cautions=answer)})

    def work(job):
        session = loaded.session()
        return names(session.call(HOOK, job=job, advice=2)), len(session.faults)

    with ThreadPoolExecutor(8) as pool:
        results = list(pool.map(work, range(600)))
    for job, (found, faults) in enumerate(results):
        assert found == ([] if job % 3 == 0 else [("shop", f"job-{job}")])
        assert faults == (1 if job % 3 == 0 else 0)
    assert len(loaded.faults) == 1


def test_no_plugin_code_runs_when_the_library_is_imported(install, tmp_path):
    module = install("shop", "raise SystemExit('ran')")
    code = f"import sys, gearrec; assert {module!r} not in sys.modules; print('quiet')"
    result = subprocess.run(
        [sys.executable, "-c", code],
        env={"PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert result.stdout == "quiet\n"


def test_built_in_catalogs_are_the_lowest_layers(load, tmp_path):
    (tmp_path / "catalog.yaml").write_text("kind: catalog\n", encoding="utf-8")

    def early():
        return [CatalogFolder(name="aaa", path=tmp_path)]

    found = load(extra={"early": plugin(gearrec_catalogs=early)}).call("gearrec_catalogs")
    own = [record.name for record in builtin.gearrec_catalogs()]
    assert "core" in own
    assert [entry.record.name for entry in found] == [*own, "aaa"]
