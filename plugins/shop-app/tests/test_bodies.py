"""Bodies that are not what they should be, and those that want to be more than a job."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize(
    "content_type",
    ["", "text/plain", "application/yaml", "application/x-www-form-urlencoded", "json",
     "application/json; charset=latin-1", "application/problem+json"],
)  # fmt: skip
def test_another_media_type(client, problem, content_type):
    answer = client.post(b"{}", content_type=content_type)
    assert "application/json" in problem(answer, 415)["detail"]
    assert answer.headers["accept"] == "application/json"


@pytest.mark.parametrize("content_type", ["application/json", "Application/JSON; charset=UTF-8"])
def test_the_right_media_type(client, problem, content_type):
    problem(client.post(b"{}", content_type=content_type), 422)


def test_a_compressed_body_is_not_read(client, problem):
    assert "gzip" in problem(client.post(b"{}", content_encoding="gzip"), 415)["detail"]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "this is no JSON"),
        (b"\x00", "this is no JSON"),
        (b"\xff\xfe", "is not UTF-8"),
        (b"{'vehicle': 1}", "this is no JSON"),
        (b"vehicle: demo/fell", "this is no JSON"),
        (b'{"axle_ratio": NaN}', "found NaN"),
        (b'{"axle_ratio": -Infinity}', "found -Infinity"),
        (b'{"title": "a", "title": "b"}', "'title' stands twice"),
        (b'{"title": "\\ud800"}', "half a surrogate pair"),
        (b'{"\\udfff": 1}', "half a surrogate pair"),
        (b'{"axle_ratio": ' + b"4" * 5000 + b"}", "a number too long"),
        (b'{"load": ' * 40 + b"1" + b"}" * 40, "nested deeper"),
        (b"[" * 30_000, "nested too deeply"),
    ],
)  # fmt: skip
def test_what_is_no_json_is_malformed(client, problem, body, words):
    details = problem(client.post(body), 400)
    assert words in details["detail"]
    assert words in details["problems"][0]["message"]


def test_the_place_of_a_slip_is_told(client, problem):
    (only,) = problem(client.post(b'{\n  "vehicle": oops}'), 400)["problems"]
    # By hand: the first letter of `oops` is the 14th character of line 2.
    assert (only["line"], only["column"]) == (2, 14)


@pytest.mark.parametrize(
    ("body", "found"),
    [
        (b"[]", "a list"),
        (b"3.85", "a number"),
        (b"true", "true or false"),
        (b"null", "null"),
        (b'"/etc/hostname"', "text"),
        (b'"job.yaml"', "text"),
    ],
)
def test_only_a_mapping_is_a_job_and_a_text_is_no_file_name(client, problem, body, found):
    (only,) = problem(client.post(body), 422)["problems"]
    assert only["message"] == f"found {found}; allowed: a mapping"


def test_a_number_that_is_no_number_of_the_machine(client, problem):
    answer = client.post(b'{"vehicle": "demo/fell", "axle_ratio": 1e999}')
    assert problem(answer, 422)["problems"][0]["place"] == "axle_ratio"


def test_control_characters_come_back_as_text(client, problem):
    answer = client.post(b'{"vehicle": "demo/fell", "\\u0000\\u001b[2J": 1}')
    problem(answer, 422)
    assert b"\x1b" not in answer.content
