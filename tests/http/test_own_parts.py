"""A stranger's file becomes a price: measured for a service, signed, quoted; refused if edited."""

import base64
import json
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
import msgspec
import pytest

from gramhour_service.http.settings import Settings
from gramhour_service.http.wire import ODS
from gramhour_service.own_parts.signed import DAYS
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.seals.turning import distrust
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import open_store
from tests import demo
from tests.cube import CUBE
from tests.http.asking import change
from tests.http.door import NOW, Door, make_shop, opened, problem_of
from tests.measuring.shapes import block, stl_of
from tests.workbook.cells import cells_of

STL = {"Content-Type": "model/stl"}
OWN = {"service": "own-parts"}
SHEET: Any = msgspec.to_builtins(demo.sheet(), builtin_types=(Decimal,))
SERVICE, CHANNEL = SHEET["services"]["own-parts"], SHEET["channels"]["own-shop"]


def measured(door: Door, content: bytes = CUBE, key: str | None = "price", **about: str) -> Any:
    answer = door.ask(
        "POST", "/v1/measurements", key, content=content, headers=STL, params=about or OWN
    )
    assert answer.status_code == 200, answer.text
    return answer.json()


def quoted(door: Door, key: str | None, token: str, **more: Any) -> httpx.Response:
    query = more.pop("params", {})
    body = {"measurement": token, **OWN, "material": "pla-chalk", "quantity": 4, "breaks": []}
    return door.ask("POST", "/v1/quotes", key, json={**body, **more}, params=query)


@pytest.fixture
def token(shop: Door) -> str:
    return str(measured(shop)["measurement"])


def test_a_price_key_has_a_cube_measured_and_quoted_and_sees_no_cost(shop: Door) -> None:
    told = measured(shop)
    assert told["valid_until"] == (NOW + timedelta(days=DAYS)).isoformat().replace("+00:00", "Z")
    assert "estimates" not in told
    quote = quoted(shop, "price", told["measurement"]).json()
    assert set(quote) == {
        "currency", "valid_until", "at_quantity", "breaks", "lead_time", "basis", "cautions"
    }  # fmt: skip
    assert {each["pointer"] for each in quote["basis"] if each["basis"] == "estimated"} == {
        f"/measurement/{name}"
        for name in ("mass_g", "print_min", "per_build_min", "pieces_per_build")
    }
    assert all(
        set(each) == {"pointer", "basis"} for each in quote["basis"] if each["basis"] == "estimated"
    )


def test_a_measured_cube_costs_what_its_grams_minutes_work_and_packing_cost(
    shop: Door, token: str
) -> None:
    # By hand in costing.md 7: 3,594.45 mm³ by this very profile; 8 by 8 stand on 214 by 214 mm.
    volume, pieces = Decimal(laid_in(token)), 64
    assert round(volume, 2) == Decimal("3594.45")
    flow = Decimal("0.081416") * 90
    minutes = (volume * pieces / (flow * Decimal("0.82")) + 100 * Decimal("1.6")) / 60
    piece = {
        "machine": "small-1", "nozzle": "n04", "pieces_per_build": pieces,
        "print_min": str(round(minutes, 9)), "per_build_min": str(round(Decimal(160) / 60, 9)),
        "feed": [{"material": "pla-chalk", "mass_g": str(volume * pieces * Decimal("0.00124"))}],
    }  # fmt: skip
    product = {"pieces": [piece], "work": SERVICE["work"], "reject_pct": SERVICE["reject_pct"]}
    channel = {**CHANNEL, "packing": SERVICE["packing"]}
    described = {
        "product": product, "channel": "own-shop", "quantity": 70, "breaks": [1, 64],
        "rate_overrides": {"channels": {"own-shop": channel}},
    }  # fmt: skip
    plain = msgspec.json.decode(msgspec.json.encode(described))
    by_hand = shop.ask("POST", "/v1/quotes", "cost", json=plain).json()
    fresh = quoted(shop, "cost", token, quantity=70, breaks=[1, 64]).json()
    builds = [each for plan in by_hand["lead_time"]["machines"] for each in plan["builds"]]
    for each in builds:
        assert each["piece"] == "/product/pieces/0"
        each["piece"] = "/measurement"  # which is what the asker sent
    assert builds
    for name in ("at_quantity", "breaks", "lead_time"):
        assert fresh[name] == by_hand[name]


def test_whoever_sees_costs_sees_the_estimates_with_their_profile_and_the_working(
    shop: Door, token: str
) -> None:
    quote = quoted(shop, "cost", token, params={"explain": "true"}).json()
    estimated = {each["pointer"]: each for each in quote["basis"] if each["basis"] == "estimated"}
    assert estimated["/measurement/pieces_per_build"]["value"] == "64"
    assert {each["profile"] for each in estimated.values()} == {"fine-04"}
    assert not [each for each in quote["basis"] if each["pointer"].startswith("/product")]
    assert quote["at_quantity"]["explain"]
    seen = quoted(shop, "cost", token, params={"view": "price"}).json()
    assert seen == quoted(shop, "price", token).json()


def test_many_are_quoted_with_others(shop: Door, token: str) -> None:
    one = {"measurement": token, **OWN, "material": "petg-clear", "quantity": 2, "reference": "a"}
    wrong = {**one, "material": "asa-green", "reference": "b"}
    answer = shop.ask("POST", "/v1/quotes/batch", "price", json={"requests": [one, wrong]})
    good, bad = answer.json()["answers"]
    assert (good["reference"], "quote" in good) == ("a", True)
    assert bad["problem"]["errors"] == [
        {
            "pointer": "/material",
            "detail": "the service does not print in 'asa-green'; it prints in: pla-chalk, "
            "petg-clear",
        }
    ]


def test_a_sealed_price_of_a_part_is_for_that_file_made_so_and_in_that_material(
    shop: Door,
) -> None:
    told = measured(shop)
    for material in SERVICE["materials"]:
        asked = {"material": material, "seal": True}
        seal = quoted(shop, "price", told["measurement"], **asked).json()["seal"]
        verdict = shop.ask("POST", "/v1/seals/verify", json={"seal": seal}).json()
        offer = verdict["offer"]
        assert (verdict["status"], offer["file_sha256"]) == ("valid", told["digest"])
        assert (offer["service"], offer["material"]) == ("own-parts", material)


def test_a_part_that_is_packed_in_nothing_has_no_cautions_of_the_channels_packing(
    own_shop: Door,
) -> None:
    token = measured(own_shop)["measurement"]
    (packing, *_) = CHANNEL["packing"]
    component = {**SHEET["components"][packing["component"]], "hazards": ["food contact"]}
    overrides = {
        "components": {packing["component"]: component},
        "services": {"own-parts": {**SERVICE, "packing": []}},
    }
    plain = msgspec.json.decode(msgspec.json.encode(overrides))
    quote = quoted(own_shop, "cost", token, rate_overrides=plain).json()
    assert (quote["at_quantity"]["cost"]["packaging"], quote["cautions"]) == ("0.0000", [])


def laid_in(token: str) -> str:
    part = json.loads(base64.urlsafe_b64decode(token.split(".")[1] + "==="))
    ((volume, support, layers),) = part["laid"].values()
    assert (support, layers) == ("0.000", 100)
    return str(volume)


def edited(token: str) -> str:
    """The same token, of a part that takes a tenth."""
    head, payload, signature = token.split(".")
    part = json.loads(base64.urlsafe_b64decode(payload + "==="))
    part["laid"] = {by: ["359.445", "0", 100] for by in part["laid"]}
    smaller = base64.urlsafe_b64encode(json.dumps(part).encode()).rstrip(b"=").decode()
    return f"{head}.{smaller}.{signature}"


NOT_OURS = "is no measurement that was signed here, or it was changed since: measure the file again"


@pytest.mark.parametrize("key", ["price", "cost"])
def test_an_edited_or_foreign_or_expired_measurement_is_refused(
    shop: Door, token: str, key: str, tmp_path: Path
) -> None:
    with opened(Settings(store=make_shop(tmp_path / "other.sqlite"))) as other:
        foreign = measured(other)["measurement"]
    seal = quoted(shop, "price", token, seal=True).json()["seal"]
    for wrong in (edited(token), foreign, seal, "x", ""):
        answer = quoted(shop, key, wrong)
        assert (answer.status_code, problem_of(answer)) == (
            422,
            ("invalid-request", [{"pointer": "/measurement", "detail": NOT_OURS}]),
        )
    later = NOW + timedelta(days=DAYS)
    with opened(Settings(store=shop.app.state.shop.settings.store), lambda: later) as then:
        _, faults = problem_of(quoted(then, key, token))
    assert faults == [
        {"pointer": "/measurement", "detail": f"is older than {DAYS} days: measure the file again"}
    ]


def test_after_a_copy_of_the_store_is_gone_no_measurement_of_before_has_a_price(
    own_shop: Door,
) -> None:
    token = measured(own_shop)["measurement"]
    seal = quoted(own_shop, "price", token, seal=True).json()["seal"]
    (key,) = own_shop.ask("GET", "/.well-known/jwks.json").json()["keys"]
    store = open_store(own_shop.app.state.shop.settings.store)
    with closing(store):
        distrust(store, key["kid"], "a laptop is gone", Written("ada", NOW))
    _, faults = problem_of(quoted(own_shop, "price", token))
    assert faults == [{"pointer": "/measurement", "detail": NOT_OURS}]
    verdict = own_shop.ask("POST", "/v1/seals/verify", json={"seal": seal}).json()
    assert verdict == {"status": "not_genuine"}
    again = measured(own_shop)["measurement"]
    assert quoted(own_shop, "price", again, seal=True).status_code == 200


def test_a_profile_that_prints_otherwise_now_wants_the_file_measured_again(
    own_shop: Door,
) -> None:
    token = measured(own_shop)["measurement"]
    profile = {**SHEET["profiles"]["fine-04"], "speed_mm_s": 60}
    assert change(own_shop, _profile(profile)).status_code == 201
    assert quoted(own_shop, "price", token).status_code == 200  # speed lays nothing down
    assert change(own_shop, _profile({**profile, "fill_pct": 25}), based_on=2).status_code == 201
    _, faults = problem_of(quoted(own_shop, "price", token))
    assert faults == [
        {
            "pointer": "/measurement",
            "detail": "was not measured for this service as it prints today: measure the file "
            "again, with service=own-parts",
        }
    ]


def _profile(value: dict[str, Any]) -> dict[str, Any]:
    plain = msgspec.json.decode(msgspec.json.encode(value))
    return {"kind": "profiles", "code": "fine-04", "value": plain}


def test_what_does_not_fit_is_warned_of_and_refused_with_the_sizes(shop: Door) -> None:
    told = measured(shop, stl_of(block(201, 20, 20)))
    assert told["warnings"] == [
        {
            "warning": "larger_than_every_machine",
            "says": "201 × 20 × 20 mm is larger than the service takes (200 × 200 × 180 mm): "
            "split the part, or lay it down",
        }
    ]
    _, faults = problem_of(quoted(shop, "price", told["measurement"]))
    assert faults == [
        {
            "pointer": "/measurement",
            "detail": "the part is 201 × 20 × 20 mm, and the service takes up to "
            "200 × 200 × 180 mm: split it or lay it down; if the file is in another unit than mm, "
            "export it in mm",
        }
    ]


def test_a_file_in_micrometres_is_too_large_before_its_layers_are_counted(shop: Door) -> None:
    told = measured(shop, stl_of(block(40_000, 25_000, 10_000)))
    assert [each["says"] for each in told["warnings"]] == [
        "40,000 mm at most is very large; the format has no unit, and the numbers were taken as mm "
        "(were they micrometres?)",
        "40000 × 25000 × 10000 mm is larger than the service takes (200 × 200 × 180 mm): "
        "split the part, or lay it down",
    ]
    _, faults = problem_of(quoted(shop, "price", told["measurement"]))
    assert faults[0]["detail"].startswith("the part is 40000 × 25000 × 10000 mm, and the service ")


def test_a_file_in_metres_is_too_small_for_a_bead_and_has_no_price(shop: Door) -> None:
    told = measured(shop, stl_of(block(0.04, 0.025, 0.01)))
    says = (
        "0.04 × 0.025 × 0.01 mm is too small to be printed in beads 0.45 mm wide and 0.2 mm high: "
        "were its numbers in cm, inches or metres? Export it in mm"
    )
    assert told["warnings"][-1] == {"warning": "too_small_to_print", "says": says}
    _, faults = problem_of(quoted(shop, "price", told["measurement"]))
    assert faults == [{"pointer": "/measurement", "detail": says}]


def test_an_open_surface_has_no_price(shop: Door) -> None:
    cut = CUBE[:80] + (11).to_bytes(4, "little") + CUBE[84:-50]
    _, faults = problem_of(quoted(shop, "price", measured(shop, cut)["measurement"]))
    assert "its surface was open" in faults[0]["detail"]


@pytest.mark.parametrize(
    ("more", "place"),
    [({"service": "own-prts"}, "/service"), ({"channel": "trade"}, "/channel"),
     ({"material": "x"}, "/material"), ({"quantity": 0}, "/quantity")],
)  # fmt: skip
def test_what_is_wrong_is_told_in_its_place(
    shop: Door, token: str, more: dict[str, Any], place: str
) -> None:
    _, faults = problem_of(quoted(shop, "price", token, **more))
    assert [fault["pointer"] for fault in faults] == [place]


@pytest.mark.parametrize("name", ["aim", "discount_pct", "rates_revision", "rate_overrides"])
def test_a_price_key_may_not_ask_what_if(shop: Door, token: str, name: str) -> None:
    answer = quoted(shop, "price", token, **{name: 1})
    assert (answer.status_code, problem_of(answer)[0]) == (403, "member-not-allowed")


@pytest.fixture
def public(tmp_path: Path) -> Iterator[Door]:
    path = make_shop(tmp_path / "gramhour.sqlite")
    with opened(Settings(store=path, public_quotes=True)) as door:
        yield door


def test_without_a_key_only_public_services_of_public_channels_are_open(public: Door) -> None:
    token = measured(public, key=None)["measurement"]
    assert quoted(public, None, token).status_code == 200
    closed = msgspec.json.decode(msgspec.json.encode({**SERVICE, "public": False}))
    answer = change(public, {"kind": "services", "code": "own-parts", "value": closed})
    assert answer.status_code == 201, answer.text
    _, faults = problem_of(quoted(public, None, token))
    nothing_open = "there is no service 'own-parts' open to you; there are none"
    assert faults == [{"pointer": "/service", "detail": nothing_open}]
    answer = public.ask("POST", "/v1/measurements", content=CUBE, headers=STL, params=OWN)
    assert problem_of(answer)[1] == [{"parameter": "service", "detail": nothing_open}]


def test_a_profile_estimates_for_who_sees_costs_and_for_nobody_else(shop: Door) -> None:
    about = {"profile": "fine-04", "machine": "small-1", "nozzle": "n04", "material": "pla-chalk"}
    (told,) = measured(shop, CUBE, "cost", **about)["estimates"]
    assert told == {
        "basis": "estimated", **about, "volume_cm3": 3.5945, "support_cm3": 0.0, "layers": 100,
        "piece_g": 4.4571, "pieces_per_build": 64, "build_g": 285.2556, "print_min": 640.7761,
        "per_build_min": 2.6667,
    }  # fmt: skip
    for name, code in about.items():
        answer = shop.ask(
            "POST", "/v1/measurements", "price", content=CUBE, headers=STL, params={name: code}
        )  # fmt: skip
        kind, faults = problem_of(answer)
        assert (answer.status_code, kind, faults[0]["parameter"]) == (403, "key-may-not", name)


def test_codes_that_are_not_there_are_told_with_the_nearest(shop: Door) -> None:
    answer = shop.ask(
        "POST", "/v1/measurements", "cost", content=CUBE, headers=STL,
        params={"profile": "fine-05", "machine": "smal-1"},
    )  # fmt: skip
    assert problem_of(answer)[1] == [
        {
            "parameter": "profile",
            "detail": "the rates have no profile 'fine-05'; did you mean 'fine-04'?",
        },
        {
            "parameter": "machine",
            "detail": "the rates have no machine 'smal-1'; did you mean 'small-1'?",
        },
    ]


def shop_of(margin: int, times: int) -> Any:
    """A shop whose every rate is so many times as high, and whose margin is another."""
    return {
        "currency": "EUR", "labour_rate_per_hour": 11 * times, "price_per_kwh": times,
        "materials": {"m": {"price_per_kg": 13 * times, "density_g_cm3": "1.2"}},
        "nozzles": {"n": {"price": 3 * times, "life_kg": 5}},
        "machines": {"p": {"rate_per_hour": 2 * times, "power_w": 100,
                           "build_volume": {"x_mm": 200, "y_mm": 200, "z_mm": 200}}},
        "components": {"box": {"offers": [{"price": 7 * times}]}},
        "channels": {"c": {"prices_include_tax": True, "tax_rate_pct": 20,
                           "aim": {"margin_pct": margin}}},
        "profiles": {"f": {"layer_mm": "0.2", "bead_width_mm": "0.4", "outlines": 2,
                           "solid_layers": 3, "fill_pct": 20, "speed_mm_s": 50}},
        "services": {"own-parts": {"profile": "f", "machine": "p", "nozzle": "n",
                                   "materials": ["m"], "channel": "c",
                                   "work": {"order_min": 5, "unit_min": 2},
                                   "packing": [{"component": "box", "per": "order"}]}},
    }  # fmt: skip


def test_prices_of_parts_do_not_tell_what_of_them_is_cost_and_what_is_profit(
    tmp_path: Path,
) -> None:
    # Half of the price of one shop is profit, of the other all is cost: no buyer sees which.
    told = []
    for name, margin, times in (("half", 50, 1), ("none", 0, 2)):
        path = make_shop(tmp_path / f"{name}.sqlite", sound_sheet(shop_of(margin, times)))
        with opened(Settings(store=path)) as door:
            answers = []
            for content in (CUBE, stl_of(block(50, 40, 1)), stl_of(block(5, 5, 90))):
                token = measured(door, content)["measurement"]
                for quantity in (1, 7, 500):
                    answer = quoted(door, "price", token, material="m", quantity=quantity)
                    assert answer.status_code == 200
                    answers.append(Decimal(answer.json()["at_quantity"]["unit_price"]))
            told.append(answers)
    # Lines are rounded before they add up: a cent.
    assert all(abs(one - other) <= Decimal("0.01") for one, other in zip(*told, strict=True))


def test_whoever_sees_costs_gets_the_quote_of_a_file_as_a_workbook(shop: Door, token: str) -> None:
    body = {"measurement": token, **OWN, "material": "pla-chalk", "quantity": 4, "breaks": []}
    answer = shop.ask("POST", "/v1/quotes", "cost", json=body, headers={"Accept": ODS})
    assert (answer.status_code, answer.headers["content-type"]) == (200, ODS)
    price = Decimal(quoted(shop, "cost", token).json()["at_quantity"]["unit_price"])
    cells = cells_of(answer.content)
    row = next(each.row for each in cells if each.value == "Unit price")
    (shown,) = [each for each in cells if (each.sheet, each.row, each.column) == ("Quote", row, 1)]
    assert Decimal(shown.value) == price
    assert "/measurement/mass_g" in {each.value for each in cells if each.sheet == "Description"}


def test_a_form_whose_text_is_none_is_told_on_the_page(public: Door) -> None:
    head = {"Content-Type": "multipart/form-data; boundary=x"}
    text = b'--x\r\nContent-Disposition: form-data; name="quantity"\r\n\r\n\xff\r\n--x--\r\n'
    answer = public.ask("POST", "/own-part", content=text, headers=head)
    assert answer.status_code == 400
    assert "is no text of the charset that it names; send UTF-8" in answer.text
