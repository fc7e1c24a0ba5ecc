"""Every example in the contract's document works as it stands, with the demo's rates."""

from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import msgspec
import pytest

from gramhour_service.http.app import HANDLERS
from gramhour_service.http.document import document_of
from gramhour_service.http.settings import Settings
from tests.client.demand import MANY_WAYS
from tests.http.asking import plain
from tests.http.door import Door, make_shop, opened
from tests.http.repriced import finished

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


BODY_OF: dict[Any, Any] = {param.values[0]: param.values[1] for param in BODIES}


def key_of(path: str) -> str:
    """Name a key that may do all that can be done there."""
    if path == "/metrics":
        return "operate"
    return "rates" if path.startswith(("/v1/rate", "/v1/revisions")) else "listings"


def offered(door: Door) -> Door:
    """Put in the products and listings of the examples."""
    for path in ("/v1/products", "/v1/listings"):
        answer = door.ask("POST", path, "listings", json=BODY_OF[path])
        assert [row["done"] for row in answer.json()["rows"]] == ["added"]
    return door


def repriced(door: Door) -> str:
    """Reprice what is listed, to the end; say the name of that."""
    answer = door.ask("POST", "/v1/repricings", "listings", json={"over": "all"})
    name: str = finished(door, answer)["id"]
    return name


def large_comparison(door: Door) -> str:
    """Compare more than is answered at once; say the name of that."""
    answer = door.ask("POST", "/v1/comparisons", "cost", json=plain(MANY_WAYS))
    name: str = answer.json()["id"]
    return name


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Door, str]]:
    """A shop with what the examples name, and the name of a repricing of it."""
    path = make_shop(tmp_path_factory.mktemp("stocked") / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        yield offered(door), repriced(door)


@pytest.mark.parametrize(("path", "body"), BODIES)
def test_a_body_that_is_an_example_is_answered(own_shop: Door, path: str, body: Any) -> None:
    if path == "/v1/listings":
        own_shop.ask("POST", "/v1/products", "listings", json=BODY_OF["/v1/products"])
    if path.startswith("/v1/repricings"):
        offered(own_shop)
    if "{name}" in path:
        path = path.format(name=repriced(own_shop))
    answer = own_shop.ask("POST", path, key_of(path), json=body)
    assert answer.status_code in (200, 201, 202), answer.text
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
    stocked: tuple[Door, str], method: str, path: str, operation: Any
) -> None:
    examples = {
        (parameter["in"], parameter["name"]): str(parameter["example"])
        for parameter in operation["parameters"]
        if "example" in parameter
    }
    door, name_of_repricing = stocked
    if path.startswith("/v1/repricings/"):
        examples["path", "name"] = name_of_repricing
    if path.startswith("/v1/comparisons/"):
        examples["path", "name"] = large_comparison(door)
    needed = [p for p in operation["parameters"] if p.get("required")]
    assert all((p["in"], p["name"]) in examples for p in needed)
    for (place, name), value in examples.items():
        if place == "path":
            path = path.replace(f"{{{name}}}", quote(value))
    asked = {name: value for (place, name), value in examples.items() if place == "query"}
    answer = door.ask(method.upper(), path, key_of(path), params=asked)
    assert answer.status_code == 200, answer.text


def test_the_example_of_a_rate_to_put_is_taken(own_shop: Door) -> None:
    path = "/v1/rates/materials/asa-green"
    put = DOCUMENT["paths"]["/v1/rates/{kind}/{code}"]["put"]
    (example,) = put["requestBody"]["content"]["application/json"]["examples"].values()
    tag = own_shop.ask("GET", path, "rates").headers["etag"]
    answer = own_shop.ask("PUT", path, "rates", json=example["value"], headers={"If-Match": tag})
    assert (answer.status_code, answer.json()["value"]) == (200, example["value"])


@pytest.mark.parametrize(
    ("place", "path"),
    [("/v1/products/{code}", "/v1/products/new"), ("/v1/listings/{sku}", "/v1/listings/New")],
)
def test_the_example_of_an_entry_to_put_is_taken(
    stocked: tuple[Door, str], place: str, path: str
) -> None:
    put = DOCUMENT["paths"][place]["put"]
    (example,) = put["requestBody"]["content"]["application/json"]["examples"].values()
    new = {"If-None-Match": "*"}
    answer = stocked[0].ask("PUT", path, "listings", json=example["value"], headers=new)
    assert answer.status_code == 201, answer.text
