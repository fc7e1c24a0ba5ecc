"""Every example in the contract's document works as it stands, with the demo's rates."""

from typing import Any
from urllib.parse import quote

import msgspec
import pytest

from gramhour_service.http.app import HANDLERS
from gramhour_service.http.document import document_of
from tests.http.door import Door

DOCUMENT: Any = msgspec.json.decode(document_of(HANDLERS))
OPERATIONS = [
    (method, path, operation)
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
]
POSTED = [
    (path, operation["requestBody"]["content"])
    for method, path, operation in OPERATIONS
    if method == "post"
]
BODIES = [
    pytest.param(path, body["value"], id=f"{path} {name}")
    for path, content in POSTED
    if "application/json" in content
    for name, body in content["application/json"]["examples"].items()
]
OF_FILES = {"/v1/measurements"}
"""What takes files, which no JSON document can show; they have tests of their own."""


def test_every_operation_has_a_summary_and_every_post_an_example() -> None:
    assert all(operation["summary"] for _, _, operation in OPERATIONS)
    assert {path for path, _ in POSTED} - OF_FILES == {param.values[0] for param in BODIES}


@pytest.mark.parametrize(("path", "body"), BODIES)
def test_a_body_that_is_an_example_is_answered(own_shop: Door, path: str, body: Any) -> None:
    answer = own_shop.ask("POST", path, "rates", json=body)
    assert answer.status_code in (200, 201), answer.text
    assert "/problems/" not in answer.text


@pytest.mark.parametrize(
    ("method", "path", "operation"),
    [
        pytest.param(*each, id=f"{each[0]} {each[1]}")
        for each in OPERATIONS
        if each[0] in ("get", "head")
    ],
)
def test_parameters_that_are_examples_are_answered(
    shop: Door, method: str, path: str, operation: Any
) -> None:
    examples = {
        (parameter["in"], parameter["name"]): str(parameter["example"])
        for parameter in operation["parameters"]
        if "example" in parameter
    }
    needed = [p for p in operation["parameters"] if p.get("required")]
    assert all((p["in"], p["name"]) in examples for p in needed)
    for (place, name), value in examples.items():
        if place == "path":
            path = path.replace(f"{{{name}}}", quote(value))
    asked = {name: value for (place, name), value in examples.items() if place == "query"}
    answer = shop.ask(method.upper(), path, "cost", params=asked)
    assert answer.status_code == 200, answer.text


def test_the_example_of_a_rate_to_put_is_taken(own_shop: Door) -> None:
    path = "/v1/rates/materials/asa-green"
    put = DOCUMENT["paths"]["/v1/rates/{kind}/{code}"]["put"]
    (example,) = put["requestBody"]["content"]["application/json"]["examples"].values()
    tag = own_shop.ask("GET", path, "rates").headers["etag"]
    answer = own_shop.ask("PUT", path, "rates", json=example["value"], headers={"If-Match": tag})
    assert (answer.status_code, answer.json()["value"]) == (200, example["value"])
