"""The contract's document and the service agree: schemathesis with all its checks, for every key.

``tests/run --long`` gives each operation 1,000 examples instead of 2, and those of the coverage
phase, which are hundreds for each operation and are made before the first test. A 422 to a body
that fits the schema is no fault here: codes that the shop lacks, or amounts that contradict each
other, are "well-formed but wrong". Neither are 409, 412 and 428, which depend on a state and its
tag.
"""

import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import schemathesis
import tomli_w
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from schemathesis.specs.openapi.checks import negative_data_rejection

from gramhour_service.http.app import create_app
from gramhour_service.http.settings import Settings
from tests.cube import CUBE
from tests.http.door import NOW, make_shop, secret

LONG = settings.get_current_profile_name() == "long"
EXAMPLES = 1_000 if LONG else 2
ACCEPTED = ["2xx", "3xx", "401", "403", "404", "409", "412", "422", "428"]


FOLDER = TemporaryDirectory()
"""Stays until this module is gone: the tests are made of the document when it is read."""
APP = create_app(Settings(store=make_shop(Path(FOLDER.name) / "gramhour.sqlite")), lambda: NOW)
CONTRACT = schemathesis.openapi.from_asgi("/openapi.json", APP)
CONTRACT.config.phases.coverage.enabled = LONG
CONTRACT.config.checks.positive_data_acceptance.expected_statuses = ACCEPTED


@schemathesis.serializer("application/x-ndjson")
def _as_line(_: Any, value: Any) -> bytes:
    """Write one line, whatever it says: it is answered on its own."""
    return json.dumps(value).encode()


@schemathesis.serializer("application/toml")
def _as_toml(_: Any, value: Any) -> bytes:
    """Write a request as TOML; what TOML cannot say is sent as it is, to be refused."""
    try:
        return tomli_w.dumps(value).encode()
    except (AttributeError, TypeError, ValueError):
        return repr(value).encode("utf-8", "replace")


for kind in ("model/stl", "model/3mf"):
    schemathesis.openapi.media_type(kind, st.just(CUBE) | st.binary(max_size=200))


def agreement(key: str | None) -> Any:
    """Make the test of all operations for the key of a name, or for none."""

    @CONTRACT.parametrize()
    @settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
    def test(case: Any) -> None:
        headers = {} if key is None else {"Authorization": f"Bearer {secret(key)}"}
        in_words = (case.query or {}).get("errors") == "text"  # a refusal is a 200 then
        case.call_and_validate(
            headers=headers, excluded_checks=[negative_data_rejection] if in_words else None
        )

    return test


test_the_document_tells_a_price_key_the_truth = agreement("price")
test_the_document_tells_a_cost_key_the_truth = agreement("cost")
test_the_document_tells_a_rates_key_the_truth = agreement("rates")
test_the_document_tells_a_listings_key_the_truth = agreement("listings")
test_the_document_tells_an_operate_key_the_truth = agreement("operate")
test_the_document_tells_a_caller_without_a_key_the_truth = agreement(None)
