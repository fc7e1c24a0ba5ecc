"""Every route asked in every wrong way, about a sheet of canaries."""

from collections.abc import Iterator
from typing import Any, NamedTuple

import msgspec

from gramhour_service.http.wire import ODS
from tests.cube import CUBE
from tests.cube_toolpath import CUBE_GCODE
from tests.http.door import JSON, NDJSON

GOOD: dict[str, Any] = {
    "product": {
        "pieces": [{"machine": "quetzal-left", "nozzle": "quetzal-n4", "print_min": 60,
                    "feed": [{"material": "quetzal-green", "mass_g": 50}]}],
        "components": [{"component": "quetzal-gauge"}],
        "work": {"unit_min": 3},
    },
    "channel": "quetzal-market", "quantity": 2,
}  # fmt: skip
PIECE: dict[str, Any] = {
    "material": "quetzal-green", "machine": "quetzal-left", "nozzle": "quetzal-n4", "mass_g": 50,
    "print_min": 60, "channel": "quetzal-market", "quantity": 2,
}  # fmt: skip
NEAR = {name: value.replace("quetzal", "quetza") for name, value in PIECE.items()
        if isinstance(value, str)}  # fmt: skip
"""Codes with a letter missing, so that whoever helps with the nearest one gives it away."""

SEALED = {**GOOD, "product": {**GOOD["product"], "name": "Pot"}, "channel": "fair"}

BODIES: dict[str, Any] = {
    "a good one": GOOD,
    "a sku": {"sku": "quetza-green", "quantity": 2, "channel": "quetza-market"},
    "a sku of a channel": {"sku": "HP-1", "quantity": 2},
    "a sku by a key of costs": {"sku": "HP-2", "quantity": 4, "aim": {"margin_pct": 0}},
    "a sku of few": {"sku": "HP-2", "quantity": 1, "breaks": [3, 2]},
    "codes nearly right": {
        **GOOD, "channel": "quetza-market",
        "product": {"pieces": [{**NEAR, "print_min": 1, "feed": [{**NEAR, "mass_g": 1}]}],
                    "components": [{"component": "quetza-gauge"}]}},
    "an aim out of reach": {**GOOD, "aim": {"margin_pct": "99.9"}},
    "a fraction of a cent": {**GOOD, "aim": {"unit_price": "1.001"}},
    "no multiple": {**GOOD, "quantity": 3, "breaks": [1, 5]},
    "an endless build": {
        **GOOD, "product": {"pieces": [{**GOOD["product"]["pieces"][0], "print_min": 9e7}]}},
    "a volume without density": {
        **GOOD, "product": {"pieces": [{**GOOD["product"]["pieces"][0], "feed": [
            {"material": "quetzal-plain", "volume_cm3": 1, "charge": "whole_packs"}]}]}},
    "too much money": {**GOOD, "quantity": 100_000, "product": {"work": {"unit_min": 10**9}}},
    "wrong numbers": {**GOOD, "quantity": "x", "breaks": [0], "discount_pct": 101},
    "unknown members": {**GOOD, "chanel": 1, "rate": 1, "quetza": 1},
    "a revision to come": {**GOOD, "rates_revision": 99},
    "a day before all": {**GOOD, "rates_on": "2020-01-01"},
    "queues of no machine": {**GOOD, "workload": {"machines": {"quetza-left": {"queue_h": [1]}}}},
    "an instant": {**GOOD, "from": "2026-12-01T09:00:00Z"},
    "more than can be scheduled": {**GOOD, "quantity": 99_998},
    "an override": {**GOOD, "rate_overrides": {"channels": {"quetza-market": {}}}},
    "a part that is none": {
        "measurement": "x", "service": "own-parts", "material": "stone", "quantity": 2},
    "a part of codes nearly right": {
        "measurement": "x", "service": "own-part", "material": "quetza-green", "quantity": 2,
        "channel": "quetza-market", "rate_overrides": {"channels": {"quetza-market": {}}}},
    "a sealed sku": {"sku": "HP-1", "quantity": 2, "seal": True},
    "a sealed sku of the fair": {"sku": "HP-2", "quantity": 4, "seal": True},
    "a sealed product": {**SEALED, "seal": True},
    "a seal with an aim": {**SEALED, "seal": True, "aim": {"margin_pct": "7.1938"}},
    "a seal of nothing": {**GOOD, "seal": True},
    "a seal in words": {"sku": "HP-1", "quantity": 2, "seal": "quetza"},
    "no object": ["quetza"],
    "nothing": None,
}  # fmt: skip
CELLS: dict[str, dict[str, Any]] = {
    "a good one": {},
    "a sku": {**dict.fromkeys(PIECE), "sku": "quetza-green", "quantity": 2},
    "a sku that is listed": {**dict.fromkeys(PIECE), "sku": "HP-1", "quantity": 2},
    "a sku of few": {**dict.fromkeys(PIECE), "sku": "HP-2", "quantity": 1},
    "codes nearly right": NEAR,
    "an aim out of reach": {"margin_pct": "99.9"},
    "a fraction of a cent": {"unit_price": "1.001"},
    "no multiple": {"quantity": 3, "breaks": "1,5"},
    "an endless build": {"print_min": "90000000"},
    "more than the build": {"per_build_g": 51, "per_build_min": 61},
    "a length without diameter": {"mass_g": None, "material": "quetzal-plain", "length_m": 3},
    "two ways": {"volume_cm3": 1},
    "too much money": {"quantity": 100_000, "unit_min": "1000000000"},
    "unknown parameters": {"quetza": 1, "labour": 1},
    "a revision to come": {"rates_revision": 99},
    "a day before all": {"rates_on": "2020-01-01"},
    "costs": {"view": "cost"},
    "nothing": dict.fromkeys(PIECE),
    "codes nearly right, in words": {**NEAR, "errors": "text"},
    "costs, in words": {"view": "cost", "errors": "text"},
    "an aim out of reach, in words": {"margin_pct": "99.9", "errors": "text"},
    "a comma": {"decimal": "comma", "again": 1},
}
RATES = ["", "/shop", "/machines", "/machines/quetzal-left", "/machines/quetza-left", "/quetza",
         "?rates_revision=99", "?rates_on=2020-01-01", "?rate_revision=1"]  # fmt: skip
REVISIONS = ["", "?limit=0", "?cursor=quetza", "/1", "/2", "/quetza", "/1/changes",
             "/1/changes?since=1", "/9/changes"]  # fmt: skip
OFFERED = [
    *(f"/v1/products{each}" for each in (
        "", "?limit=0", "?cursor=quetza", "/quetzal-planter", "/quetza-planter")),
    *(f"/v1/listings{each}" for each in (
        "", "?limit=0", "?channel=quetza-market", "?chanel=x", "?uses=materials/quetza-green",
        "?below_floor=true", "/HP-1", "/HP-1/prices", "/HP-9", "/HP-9/prices", "/quetza")),
    *(f"/v1/prices{each}" for each in (
        "", "?channel=fair", "?channel=fair&changed_since=1", "?channel=fair&seal=true",
        "?channel=fair&changed_since=1&seal=true", "?channel=fair&seal=quetza",
        "?channel=fair&changed_since=-1",
        "?channel=quetza-market", "?channel=fair&limit=1", "?chanel=quetza", "?cursor=quetza")),
    *(f"/v1/services{each}" for each in ("", "?limit=0", "?cursor=quetza", "?chanel=quetza")),
    *(f"/v1/comparisons/{each}" for each in ("0" * 16, "quetza")),
    *(f"/v1/repricings{each}" for each in (
        "", "?limit=0", f"/{'0' * 16}", f"/{'0' * 16}/lines", "/quetza", "/quetza/lines")),
]  # fmt: skip
OPEN = ["/health", "/openapi.json", "/docs", "/docs/start.js", "/docs/quetza", "/quetza", "/",
        "/.well-known/jwks.json", "/.well-known/jwks.json?quetza=1",
        "/metrics", "/quotation", "/own-part", "/own-part/quotation",
        "/assets/quetza/style.css", "/assets/quetza/quetza.css"]  # fmt: skip


class Question(NamedTuple):
    """What is asked, in words and for httpx."""

    says: str
    method: str
    path: str
    sent: dict[str, Any]


def about_quotes() -> Iterator[Question]:
    for says, body in BODIES.items():
        for query in ("", "?view=price", "?view=cost", "?explain=true", "?wiew=cost"):
            yield Question(f"{says}{query}", "POST", f"/v1/quotes{query}", {"json": body})
            sent = {"json": body, "headers": {"Accept": ODS}}
            yield Question(f"{says}{query}, a workbook", "POST", f"/v1/quotes{query}", sent)
    lines = [*map(msgspec.json.encode, BODIES.values()), b"{quetza", b"\xff"]
    for form, text in (
        (JSON, msgspec.json.encode({"requests": [*BODIES.values()]})),
        (NDJSON, b"\n".join(lines)),
    ):
        for accept in (JSON, NDJSON):
            headers = {"Content-Type": form, "Accept": accept}
            yield Question("all", "POST", "/v1/quotes/batch", {"content": text, "headers": headers})


def about_calibrations() -> Iterator[Question]:
    build = {"material": "quetza-green", "mass_g": 1, "layers": 1, "actual_min": 1}
    for profile in ("quetzal-fine", "quetza-fine"):
        asked = {"profile": profile, "machine": "quetza-left", "builds": [build]}
        yield Question("timed", "POST", "/v1/calibrations", {"json": asked})


def about_comparisons() -> Iterator[Question]:
    whole = {name: value for name, value in GOOD.items() if name != "quantity"}
    whole |= {"quantities": [2], "alternatives": [{"label": "quetza"}]}
    near = {"label": "b", "pieces": [{"piece": "quetza", "nozzle": "quetza-n4"}]}
    for more in (
        {},
        {"alternatives": [near, near]},
        {"up_to": 20, "criterion": "quetza"},
        {"aim": {"margin_pct": "99.9"}},
        {"quantities": [3], "rates_revision": 99},
    ):
        yield Question("ways", "POST", "/v1/comparisons", {"json": {**whole, **more}})


def about_files() -> Iterator[Question]:
    for content in (CUBE, CUBE[:-1], b"", b"quetza"):
        for media_type in ("model/stl", "model/3mf", "multipart/form-data", JSON):
            sent = {"content": content, "headers": {"Content-Type": media_type}}
            yield Question("a file", "POST", "/v1/measurements", sent)
    for about in (
        {"service": "own-parts"},
        {"service": "own-part"},
        {"profile": "quetzal-fine", "machine": "quetzal-left", "material": "quetzal-green"},
        {"profile": "quetza-fine", "nozzle": "quetza-n4"},
    ):
        stl = {"content": CUBE, "headers": {"Content-Type": "model/stl"}, "params": about}
        yield Question("a mesh", "POST", "/v1/measurements", stl)
    for content in (CUBE_GCODE, b"G1 X", b""):
        for asked in (
            {"machine": "quetzal-left", "material": "quetzal-green"},
            {"machine": "quetzal-right", "material": "quetzal-plain"},
            {"machine": "quetza-left", "material": "0:quetza-green,x:1"},
            {"rates_revision": 99, "rates_on": "2020-01-01"},
            {},
        ):
            raw = {"content": content, "headers": {"Content-Type": "text/x.gcode"}}
            form = {"files": {"file": ("a.gcode", content, "text/x.gcode")}}
            mesh = {"content": CUBE, "headers": {"Content-Type": "model/stl"}}
            for body in (raw, form, mesh):
                sent = {**body, "params": asked}
                yield Question("a toolpath", "POST", "/v1/measurements", sent)


def about_bad_bodies() -> Iterator[Question]:
    for path in (
        "/v1/quotes", "/v1/quotes/batch", "/v1/comparisons", "/v1/rate-changes", "/v1/products",
        "/v1/calibrations", "/v1/measurements", "/v1/listings", "/v1/seals/verify",
        "/v1/repricings", f"/v1/repricings/{'0' * 16}/apply",
    ):  # fmt: skip
        for content in (b"", b"{", b"\xff", b'{"quetza":' * 50_000, b"x" * 10_000_001):
            for media_type in (JSON, "text/csv"):
                headers = {"Content-Type": media_type}
                yield Question("bad", "POST", path, {"content": content, "headers": headers})
        yield Question("what may be done", "OPTIONS", path, {})
        yield Question("no form", "POST", path, {"json": {}, "headers": {"Accept": "image/png"}})


def about_cells() -> Iterator[Question]:
    for says, change in CELLS.items():
        query = {name: value for name, value in {**PIECE, **change}.items() if value is not None}
        for accept in ("text/plain", "text/csv", JSON, "image/png"):
            sent = {"params": query, "headers": {"Accept": accept}}
            for method in ("GET", "HEAD"):
                yield Question(says, method, "/v1/unit-price", sent)


def about_what_is_read() -> Iterator[Question]:
    read = [
        *(f"/v1/rates{each}" for each in RATES),
        *(f"/v1/revisions{each}" for each in REVISIONS),
        *OFFERED,
    ]
    for path in [*read, *OPEN, "/v1/unit-price", "/v1/workload", "/v1/workload?quetza=1"]:
        for method in ("GET", "HEAD", "OPTIONS", "DELETE", "PUT"):
            for headers in ({}, {"If-None-Match": "*"}, {"Accept": "image/png"}):
                yield Question("plain", method, path, {"headers": headers})


def about_pages() -> Iterator[Question]:
    wishes = ["", "?sku=HP-2&quantity=4", "?sku=HP-1&quantity=2&by=2026-12-24", "?sku=quetza",
              "?sku=quetza&quantity=1", "?sku=HP-2&quantity=3&by=quetza", "?quantity=quetza",
              "?sku=quetzal-planter&quantity=100000"]  # fmt: skip
    for page in ("/", "/quotation"):
        for wish in wishes:
            for accept in ("text/html", JSON):
                yield Question("a page", "GET", page + wish, {"headers": {"Accept": accept}})


def about_the_desk() -> Iterator[Question]:
    """Ask for the desk's pages without a sign-in, with a false one, and to be let in."""
    ours = {
        "Sec-Fetch-Site": "same-origin",
        "Accept": "text/html",
        "Cookie": "gramhour-desk=quetza",
    }
    form = {"headers": ours, "data": {"key": "price-secret-of-a-key-in-the-tests", "do": "save"}}
    for path in ("", "/sign-in", "/sign-out", "/bench", "/bench?load=HP-2", "/compare?load=HP-2",
                 "/compare", "/compare/0123456789abcdef", "/rates", "/rates/machines/quetza",
                 "/rates/shop/labour_rate_per_hour", "/revisions/1", "/repricings",
                 "/repricings/0123456789abcdef"):  # fmt: skip
        for method in ("GET", "HEAD", "OPTIONS"):
            yield Question("the desk", method, f"/desk{path}", {"headers": ours})
        yield Question("a form of the desk", "POST", f"/desk{path}", form)


def about_own_parts_on_pages() -> Iterator[Question]:
    file = {"file": ("quetza.stl", CUBE, "model/stl")}
    cut = {"file": ("quetza.stl", CUBE[:-1], "model/stl")}
    other = {"file": ("quetza.step", b"quetza", "application/octet-stream")}
    good = {"quantity": "2", "made": "own-parts:stone"}
    for path in ("/own-part", "/own-part/quotation"):
        for files in (file, cut, other, None):
            for data in (
                good,
                {**good, "quantity": "3", "by": "2026-12-24"},
                {**good, "made": "quetza:quetza", "measurement": "quetza", "name": "quetza"},
                {**good, "measurement": "quetza"},
                {"quantity": "quetza"},
            ):
                sent = {"data": data, "files": files, "headers": {"Accept": "text/html"}}
                yield Question("a part", "POST", path, sent)
        yield Question("no form", "POST", path, {"json": {}, "headers": {"Accept": "text/html"}})


def about_changes() -> Iterator[Question]:
    rates = ["machines/quetzal-left", "machines/quetza-left", "quetza/quetza", "shop/currency"]
    for path in (f"/v1/rates/{each}" for each in rates):
        for headers in (
            {},
            {"If-Match": '"r1@2026-12-01"'},
            {"If-Match": "*"},
            {"If-None-Match": "*"},
        ):
            for query in ("", "?effective_from=2020-01-01", "?quetza=1"):
                sent = {"json": {"usual_nozzle": "quetza-n4"}, "headers": headers}
                yield Question("a rate", "PUT", path + query, sent)
                yield Question("no rate", "DELETE", path + query, {"headers": headers})
    gone = {"kind": "nozzles", "code": "quetzal-n4", "value": None}
    near = {"kind": "nozzles", "code": "quetza-n4", "value": {"pric": 1}}
    for changes in ([gone], [near], [gone, near, near], [], None):
        for based_on in (1, 0, 99):
            body: dict[str, Any] = {"changes": changes, "based_on_revision": based_on}
            sent = {"json": body}
            yield Question("changes", "POST", "/v1/rate-changes", sent)
            yield Question("a trial", "POST", "/v1/rate-changes?trial=true", sent)


def about_the_workload() -> Iterator[Question]:
    for headers in ({}, {"If-Match": '"w0"'}, {"If-Match": "*"}):
        for machines in ({"quetza-left": {"queue_h": [1]}}, {"quetzal-left": {"queue": "x"}}, 1):
            sent = {"json": {"machines": machines}, "headers": headers}
            yield Question("queues", "PUT", "/v1/workload", sent)


def about_changes_of_what_is_offered() -> Iterator[Question]:
    sent: Any
    for path, sent in (
        ("/v1/products/quetzal-planter", {"product": {}, "variants": []}),
        ("/v1/products/quetza-planter", {"product": {"pieces": [PIECE]}}),
        ("/v1/listings/HP-1", {"product": "quetza-planter", "channel": "quetza-market"}),
        ("/v1/listings/quetza-1", {"product": "quetzal-planter", "channel": "fair"}),
    ):
        for headers in ({}, {"If-Match": '"v1"'}, {"If-Match": "*"}, {"If-None-Match": "*"}):
            yield Question("an entry", "PUT", path, {"json": sent, "headers": headers})
            yield Question("no entry", "DELETE", path, {"headers": headers})
    rows = [{"sku": "HP-1", "product": "quetza-planter", "channel": "fair"}, {"quetza": 1}]
    for query in ("", "?all_or_none=false", "?quetza=1"):
        for path in ("/v1/products", "/v1/listings"):
            yield Question("rows", "POST", path + query, {"json": {"items": rows}})
            for form in (NDJSON, "text/csv"):
                sent = {"content": b'{"sku": "HP-1"}\n\xff', "headers": {"Content-Type": form}}
                yield Question("lines", "POST", path + query, sent)
    for sent in ({}, {"over": "all"}, {"skus": ["HP-1", "quetza"]}, {"rates_revision": 99}):
        yield Question("a repricing", "POST", "/v1/repricings", {"json": sent})
        for name in ("0" * 16, "quetza"):
            path = f"/v1/repricings/{name}/apply"
            yield Question("an apply", "POST", path, {"json": {"except": ["HP-1"], **sent}})


def about_seals() -> Iterator[Question]:
    for seal in ("", "quetza", "e30.e30.e30", 1, None, "A" * 20_001):
        yield Question("a seal", "POST", "/v1/seals/verify", {"json": {"seal": seal}})
    yield Question("no seal", "POST", "/v1/seals/verify", {"json": {"quetza": 1}})


QUESTIONS = [
    *about_seals(),
    *about_the_workload(),
    *about_quotes(),
    *about_calibrations(),
    *about_comparisons(),
    *about_files(),
    *about_bad_bodies(),
    *about_cells(),
    *about_what_is_read(),
    *about_pages(),
    *about_the_desk(),
    *about_own_parts_on_pages(),
    *about_changes(),
    *about_changes_of_what_is_offered(),
]
