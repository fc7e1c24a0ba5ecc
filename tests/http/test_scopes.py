"""Who may do what: every route for a key of each scope, against the contract's tables."""

from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
from litestar import Litestar, get
from litestar.datastructures import State

from gramhour_service.http.app import HANDLERS
from gramhour_service.http.asking import admit
from gramhour_service.http.problems import answer_refusal
from gramhour_service.http.settings import Settings
from gramhour_service.http.shop import Shop
from tests.cube_toolpath import CUBE_GCODE
from tests.http.door import NOW, SCOPES, Door, problem_type
from tests.http.routes import NEEDS, OPENS, ROUTES, WITHOUT_HARM, ask

REFUSED = ("key-needed", "key-may-not")


def served() -> set[tuple[str, str]]:
    return {
        (str(method), path.replace(":str}", "}"))
        for handler in HANDLERS
        for method in handler.http_methods
        for path in handler.paths
    }


def test_every_route_that_is_served_stands_in_the_contracts_table() -> None:
    assert served() == set(ROUTES)


@pytest.mark.parametrize(
    "handler",
    HANDLERS,
    ids=lambda handler: "{} {}".format(min(handler.http_methods), *handler.paths),
)
def test_every_route_declares_the_scope_of_the_contracts_table(handler: Any) -> None:
    (path,) = handler.paths
    (method,) = {str(method) for method in handler.http_methods} - {"HEAD"}
    assert handler.opt["scope"] == NEEDS[method, path.replace(":str}", "}")]


@pytest.mark.parametrize("key", SCOPES)
@pytest.mark.parametrize("route", ROUTES, ids=" ".join)
def test_a_key_opens_what_its_scope_opens_and_nothing_else(
    shop: Door, route: tuple[str, str], key: str
) -> None:
    needs = NEEDS.get(route) or NEEDS.get(("GET", route[1]))
    answer = ask(shop, route, key)
    if needs is None or needs in OPENS[key]:
        assert answer.status_code in WITHOUT_HARM.get(route, (200, 404))
        assert problem_type_of(answer) not in REFUSED
    else:
        assert answer.status_code == 403


@pytest.mark.parametrize("key", SCOPES)
def test_a_toolpath_is_measured_for_keys_that_see_costs_alone(shop: Door, key: str) -> None:
    """The same route measures meshes for prices; a toolpath may claim any speed."""
    sent: dict[str, Any] = {"content": CUBE_GCODE, "headers": {"Content-Type": "text/x.gcode"}}
    asked = {"machine": "large", "material": "asa-green"}
    answer = shop.ask("POST", "/v1/measurements", key, params=asked, **sent)
    assert answer.status_code == (200 if "cost" in OPENS[key] else 403)


@pytest.mark.parametrize("route", ROUTES, ids=" ".join)
def test_without_a_key_only_what_needs_none_is_open(shop: Door, route: tuple[str, str]) -> None:
    needs = NEEDS.get(route) or NEEDS.get(("GET", route[1]))
    answer = ask(shop, route)
    assert answer.status_code == (200 if needs is None else 401)
    assert ("www-authenticate" in answer.headers) == (needs is not None)


def problem_type_of(answer: httpx.Response) -> str | None:
    return problem_type(answer) if answer.content else None


def test_a_route_that_declares_no_scope_lets_nobody_in(shop_path: Path) -> None:
    @get("/forgotten", sync_to_thread=False)
    def forgotten() -> str:
        return "costs"

    app = Litestar(
        [forgotten],
        guards=[admit],
        exception_handlers={Exception: answer_refusal},
        state=State({"shop": Shop(Settings(store=shop_path), lambda: NOW)}),
        openapi_config=None,
        logging_config=None,
    )
    with closing(Door(app)) as door:
        for key in (None, *SCOPES):
            answer = door.ask("GET", "/forgotten", key)
            assert answer.status_code == 500
            assert "costs" not in answer.text
