"""The plugin inside an advice: candidates taken out, cautions instead of failures, one reading."""

from __future__ import annotations

import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import gearrec_stock
import pytest
from gearrec_stock import demo
from gearrec_stock.__main__ import main
from gearrec_stock.database import Database
from gearrec_stock.shelf import Stock, StockError

from gearrec import Advisor


def named(advice, name):
    return next(item for item in advice.candidates if item.name == name)


def test_the_plugin_keeps_the_contract(check_plugin, shop, monkeypatch):
    shop.of("gear_set", position="front", ring_teeth=49).update(on_hand=0, lead_time_days=None)
    monkeypatch.setenv(gearrec_stock.URL_VARIABLE, shop.write())
    check_plugin(gearrec_stock, jobs=[shop.job, shop.job | {"axle_ratio": 3.62}])


def test_it_keeps_the_contract_without_a_database(check_plugin, shop, monkeypatch, tmp_path):
    monkeypatch.setenv(gearrec_stock.URL_VARIABLE, f"sqlite:///{tmp_path / 'none.db'}")
    check_plugin(gearrec_stock, jobs=[shop.job])


def test_it_is_found_by_its_entry_point(shop, monkeypatch):
    monkeypatch.setenv(gearrec_stock.URL_VARIABLE, shop.write())
    advisor = Advisor(plugins=["stock"], strict=True, cache="off")
    assert "stock" in advisor.plugins.names
    assert advisor.advise(shop.job).sections


def test_a_ratio_that_cannot_be_had_is_taken_out_with_a_reason(advise, shop):
    assert advise(wish=3.85).pick.name == "3.85"
    shop.of("gear_set", position="front", ring_teeth=50).update(on_hand=0, lead_time_days=None)
    advice = advise(wish=3.85)
    assert advice.pick.name != "3.85"
    out = named(advice, "3.85")
    assert out.verdict == "ruled-out"
    assert "front gear set 50/13" in out.ruled_out_by[0]
    assert "stock" in out.ruled_out_by[0]
    assert "front gear set 50/13" in advice.text()


def test_the_fitted_ratio_is_never_taken_out(advise, shop):
    shop.rows["gear_set"] = [row for row in shop.rows["gear_set"] if row["ring_teeth"] == 49]
    advice = advise()
    assert named(advice, "3.36").verdict != "ruled-out"
    assert [item.name for item in advice.candidates if item.verdict == "ruled-out"] == [
        "3.62",
        "3.85",
        "4.18",
    ]


def test_no_candidate_is_added(advise, plain_advisor, shop):
    plain = {item.axle_ratio for item in plain_advisor.advise(shop.job).candidates}
    assert {item.axle_ratio for item in advise().candidates} == plain


def test_metrics_are_untouched_and_a_full_shelf_changes_no_order(advise, plain_advisor, shop):
    plain, advice = plain_advisor.advise(shop.job), advise()
    assert [item.name for item in advice.candidates] == [item.name for item in plain.candidates]
    assert [item.metrics for item in advice.candidates] == [
        item.metrics for item in plain.candidates
    ]


def test_waiting_lowers_the_score_a_little(advise, shop):
    before = named(advise(), "3.85").score
    shop.of("gear_set", position="rear", ring_teeth=50).update(on_hand=0, lead_time_days=15)
    waiting = named(advise(), "3.85").score
    shop.of("gear_set", position="rear", ring_teeth=50).update(lead_time_days=300)
    longest = named(advise(), "3.85").score
    assert before > waiting > longest
    assert before - longest < 0.1


@pytest.mark.parametrize("url", ["sqlite:////no/such/folder/stock.db", "junk"])
def test_without_a_connection_the_advice_goes_on_with_a_caution(
    url, shop, stock_advisor, plain_advisor, monkeypatch
):
    monkeypatch.setenv(gearrec_stock.URL_VARIABLE, url)
    advice = stock_advisor.advise(shop.job)
    assert advice.pick.name == plain_advisor.advise(shop.job).pick.name
    assert advice.faults == ()
    assert advice.sections == ()
    (caution,) = advice.plugin_cautions
    assert caution.name == "stock/not-read"
    assert "could not be read" in caution.sentence
    assert caution.sentence in " ".join(advice.text().split())


def test_without_an_address_the_file_in_the_home_folder_is_read(monkeypatch, tmp_path):
    monkeypatch.delenv(gearrec_stock.URL_VARIABLE, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert gearrec_stock.database_url() == f"sqlite:///{tmp_path}/.gearrec/stock.db"


def test_an_entry_that_cannot_be_used_is_a_caution_too(advise, shop):
    shop.rows["carrier"][0]["on_hand"] = "a few"
    (caution,) = advise().plugin_cautions
    assert "table carrier" in caution.sentence
    assert "'a few'" in caution.sentence


def test_an_axle_that_is_not_listed_is_a_caution(advise, shop):
    shop.rows["gear_set"] = [row for row in shop.rows["gear_set"] if row["position"] == "rear"]
    advice = advise()
    assert [item.name for item in advice.plugin_cautions] == ["stock/front-axle-not-listed"]
    assert not any(item.verdict == "ruled-out" for item in advice.candidates)


def test_parts_found_by_the_ring_gear_alone_are_a_caution(advise, shop):
    for row in shop.rows["gear_set"]:
        if row["position"] == "rear":
            row.update(axle=None, ring_gear_mm=217.4)
        else:
            row.update(ring_gear_mm=None)
    assert [item.name for item in advise().plugin_cautions] == ["stock/rear-axle-by-ring-gear"]


def test_one_advice_stands_on_one_reading(advise, monkeypatch):
    readings = []
    real = Database.read

    def read(self, axles, *, fuel):
        readings.append(fuel)
        return real(self, axles, fuel=fuel)

    monkeypatch.setattr(Database, "read", read)
    advise()
    assert readings == ["gasoline"]
    advise()
    assert len(readings) == 2


def test_two_jobs_in_one_thread_do_not_share_a_reading(advise, resolved):
    other = advise(vehicle="demo/barge")
    assert not gearrec_stock._known(other.judgement.resolved).axle("rear").known
    known = gearrec_stock._known(resolved)
    assert isinstance(known, Stock)
    assert known.axle("rear").known
    assert gearrec_stock._reading.job() is resolved.job


def test_many_jobs_give_the_same_answers_as_one_by_one(advise, shop, stock_advisor):
    shop.of("gear_set", position="front", ring_teeth=50).update(on_hand=0, lead_time_days=None)
    one = advise()
    many = stock_advisor.advise_many([shop.job] * 3)
    assert set(many.pick) == {one.pick.axle_ratio}


def test_it_is_safe_between_threads(advise, shop, stock_advisor):
    expected = advise().to_json()
    with ThreadPoolExecutor(8) as pool:
        found = set(pool.map(lambda _: stock_advisor.advise(shop.job).to_json(), range(24)))
    assert found == {expected}


def test_nothing_of_sqlalchemy_is_imported_before_the_stock_is_asked():
    code = "import sys, gearrec_stock; print('sqlalchemy' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"


def test_the_demo_is_written_once_and_read(tmp_path, capsys, monkeypatch, stock_advisor, shop):
    file = tmp_path / "demo.db"
    assert main(["demo", str(file)]) == 0
    assert f"sqlite:///{file}" in capsys.readouterr().out
    assert main(["demo", str(file)]) == 1
    assert "exists already" in capsys.readouterr().err
    assert main(["demo", str(tmp_path / "no" / "demo.db")]) == 1
    assert "cannot be written" in capsys.readouterr().err
    monkeypatch.setenv(gearrec_stock.URL_VARIABLE, f"sqlite:///{file}")
    advice = stock_advisor.advise(shop.job)
    assert advice.plugin_cautions == ()
    (axle, ring, pinion) = ("demo/fell-front", 49, 11)
    assert (axle, ring, pinion) in demo.CANNOT_BE_HAD
    assert named(advice, "4.45").verdict == "ruled-out"


def test_the_demo_knows_what_the_bakery_asks_about(tmp_path, monkeypatch, stock_advisor):
    file = tmp_path / "demo.db"
    demo.write(file)
    monkeypatch.setenv(gearrec_stock.URL_VARIABLE, f"sqlite:///{file}")
    advice = stock_advisor.advise({"vehicle": "demo/bannock"})
    assert advice.plugin_cautions == ()
    assert [item.name for item in advice.candidates if item.verdict == "ruled-out"] == ["4.70"]
    shown = " ".join(advice.text().split())
    shown = re.sub(r" \((?:runner-up|the pick)\)", "", shown)
    assert "3.18: all parts here in 34 days: rear gear set 35/11 34 days." in shown


def test_the_demo_lists_every_axle_of_the_demo_catalog(tmp_path, plain_advisor):
    file = tmp_path / "demo.db"
    demo.write(file)
    database = Database(f"sqlite:///{file}")
    for axle in plain_advisor.catalog.records("axle").values():
        if axle.id.startswith("demo/"):
            key = gearrec_stock.shelf._key(axle)
            found = database.read([key], fuel="diesel").axle(axle.position)
            assert set(found.gear_sets) == {
                (item.ring_teeth, item.pinion_teeth) for item in axle.gear_sets
            }


def test_the_fault_is_an_answer_and_is_kept_for_the_rest_of_the_advice(resolved, monkeypatch):
    monkeypatch.setenv(gearrec_stock.URL_VARIABLE, "sqlite:////no/such/folder/stock.db")
    assert isinstance(gearrec_stock._read(resolved), StockError)
    assert gearrec_stock._known(resolved) is gearrec_stock._reading.result
