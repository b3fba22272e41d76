"""The addresses and what they answer, beside what the library answers to the same job."""

from __future__ import annotations

import json

import gearrec_stock
import pytest
from gearrec_shop_app import create_app
from gearrec_shop_app.models import schema_kinds
from gearrec_stock import demo

from gearrec import Advisor, JobError
from gearrec.errors import GearrecError
from gearrec.schema import schema


def test_advice_is_the_librarys_own(client, advisor, example):
    answer = client.advise(example)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.text == advisor.advise(example).to_json()
    assert answer.json()["kind"] == "advice"


def test_every_problem_has_the_place_and_words_of_the_library(client, advisor, problem):
    job = {
        "vehicle": "demo/fel",
        "tires": {"planned": "round ones", "colour": "black"},
        "load": {"payload": 400},
        "axle_ratio": "3.36",
    }
    with pytest.raises(JobError) as caught:
        advisor.advise(job)
    details = problem(client.advise(job), 422)
    assert details["type"] == "urn:gearrec:problem:unusable-job"
    assert details["detail"] == str(caught.value)
    assert [(item["place"], item["message"]) for item in details["problems"]] == [
        (item.place.dotted, item.message) for item in caught.value.problems
    ]
    assert len(details["problems"]) >= 3


def test_records_that_there_are_not_are_told_with_the_nearest_spelling(client, problem):
    (only,) = problem(client.advise({"vehicle": "demo/fel"}), 422)["problems"]
    assert only["place"] == "vehicle"
    assert "did you mean 'demo/fell'" in only["message"]


def test_a_rule_set_that_there_is_not(client, example, problem):
    details = problem(client.advise(example | {"rule_set": "core/other"}), 422)
    assert "core/other" in details["problems"][0]["message"]


def test_platforms_can_each_be_named_in_a_job(client, advisor):
    found = client.get("/platforms").json()["platforms"]
    ids = [item["id"] for item in found]
    assert ids == sorted(advisor.catalog.ids("platform"))
    assert all(item["invented"] for item in found if item["id"].startswith("demo/"))
    for name in ids:
        assert client.advise({"vehicle": name}).status_code == 200


def test_schemas(client, advisor):
    listed = client.get("/schema").json()["schemas"]
    assert [item["kind"] for item in listed] == list(schema_kinds())
    assert {"job", "advice", "platform"} <= {item["kind"] for item in listed}
    for item in listed:
        answer = client.get(item["href"])
        assert answer.headers["content-type"] == "application/schema+json"
        assert answer.json() == json.loads(
            json.dumps(schema(item["kind"], metrics=advisor.metrics))
        )


def test_a_kind_without_schema(client, problem):
    details = problem(client.get("/schema/jobb"), 404)
    assert "did you mean 'job'" in details["detail"]


@pytest.mark.parametrize("path", ["/", "/advice/", "/platforms/1", "/schema/", "/docs"])
def test_other_addresses(client, problem, path):
    assert problem(client.get(path), 404)["type"] == "urn:gearrec:problem:not-found"


@pytest.mark.parametrize(
    ("method", "path", "allowed"),
    [("GET", "/advice", {"POST"}), ("POST", "/platforms", {"GET", "HEAD"})],
)
def test_other_methods(client, problem, method, path, allowed):
    answer = client.send(method, path)
    problem(answer, 405)
    assert set(answer.headers["allow"].split(", ")) == allowed


class Broken:
    """An advisor whose code is at fault."""

    def __init__(self, real, error):
        self.catalog = real.catalog
        self.error = error

    def advise(self, job):
        raise self.error


def test_a_fault_of_the_program_is_told_without_its_words(advisor, client_of, example, problem):
    client = client_of(Broken(advisor, RuntimeError("secret words")))
    answer = client.advise(example)
    assert problem(answer, 500)["problems"] == []
    assert "secret" not in answer.text


def test_an_error_of_the_library_without_a_place(advisor, client_of, example, problem):
    client = client_of(Broken(advisor, GearrecError("no such thing")))
    (only,) = problem(client.advise(example), 422)["problems"]
    assert (only["place"], only["message"]) == ("", "no such thing")


def test_plugins_speak_through_it(tmp_path, monkeypatch, client_of, example):
    file = tmp_path / "stock.db"
    demo.write(file)
    monkeypatch.setenv(gearrec_stock.URL_VARIABLE, f"sqlite:///{file}")
    advisor = Advisor(plugins=(), extra={"stock": gearrec_stock}, strict=True, cache="off")
    answer = client_of(advisor).advise(example).json()
    assert {item["name"] for item in answer["sections"]} == {
        "stock/availability",
        "stock/cost",
        "stock/payback",
    }


def test_without_an_advisor_it_makes_its_own(monkeypatch):
    monkeypatch.setenv("GEARREC_PLUGINS", "")
    assert create_app().routes
