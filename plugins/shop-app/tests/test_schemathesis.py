"""Requests made up from the description, good and bad: the answers are what it says."""

from __future__ import annotations

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.config import SchemathesisConfig
from schemathesis.generation.modes import GenerationMode

# A job that fits the schema may still name a record that there is not, or contradict itself.
CONFIG = {"checks": {"positive_data_acceptance": {"expected-statuses": ["2xx", "422"]}}}


@pytest.mark.parametrize(
    ("operation", "mode"),
    [
        ("POST /advice", GenerationMode.POSITIVE),
        ("POST /advice", GenerationMode.NEGATIVE),
        ("GET /platforms", GenerationMode.POSITIVE),
        ("GET /schema", GenerationMode.POSITIVE),
        ("GET /schema/{kind}", GenerationMode.POSITIVE),
        ("GET /schema/{kind}", GenerationMode.NEGATIVE),
        ("GET /openapi.json", GenerationMode.POSITIVE),
    ],
)
def test_made_up_requests_find_nothing(app, operation, mode):
    described = schemathesis.openapi.from_asgi(
        "/openapi.json", app, config=SchemathesisConfig.from_dict(CONFIG)
    )
    method, path = operation.split()
    target = described[path][method]
    found = []

    @given(case=target.as_strategy(generation_mode=mode))
    @settings(
        max_examples=25,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def run(case):
        found.append(case.call_and_validate().status_code)

    run()
    assert found
