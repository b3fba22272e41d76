"""For all tests, the plugins' own included: steady examples, and nothing written to the home."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

# The same examples in every run: what passes here passes in every clone. `make fuzz` looks further.
settings.register_profile("steady", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("steady")


@pytest.fixture(scope="session", autouse=True)
def _cache_of_its_own() -> Iterator[None]:
    """Compiled catalogs go to a folder that ends with the session."""
    before = os.environ.get("GEARREC_CACHE")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["GEARREC_CACHE"] = folder
        yield
        if before is None:
            del os.environ["GEARREC_CACHE"]
        else:
            os.environ["GEARREC_CACHE"] = before
