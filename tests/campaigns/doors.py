"""Readers of foreign bytes at the service's doors: routes, headers, parameters, forms, tokens.

The whole application is asked, for a price key too: an answer to one that holds a canary of the
shop's is a finding, and so is every answer of 500.
"""

from functools import cache
from typing import Any
from urllib.parse import parse_qs, urlencode

import msgspec

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Refused
from gramhour_service.comparing.asked import sought
from gramhour_service.comparing.evaluating import evaluate, evaluations
from gramhour_service.comparing.told import told
from gramhour_service.http.measurements import UNDERSTOOD, _file_sent
from gramhour_service.http.wire import media_type_sent, media_type_wanted, tags_sent
from gramhour_service.pages.desk.bench_form import REQUEST
from gramhour_service.pages.desk.forms import form_of
from gramhour_service.pages.desk.rows import with_row, without_row
from gramhour_service.pages.desk.sent import document_of
from gramhour_service.signing.keys import made_key
from gramhour_service.signing.tokens import signed, verified
from tests import demo
from tests.campaigns.altered import Reader, as_json, in_documents, of_documents
from tests.campaigns.in_process import Shop, request_of
from tests.cube import CUBE
from tests.http.door import NOW

MOST_EVALUATIONS = 300


def tokens() -> Reader:
    key = made_key()
    keys = {"a": key}
    good = [signed(b'{"iat":1}', "gramhour-price+jws", key), "e30.e30." + "A" * 86]
    good.append(signed(b"x", "other", key))

    def read(sent: bytes) -> None:
        text = sent.decode("latin-1")
        assert verified(text, "gramhour-price+jws", keys) == b'{"iat":1}', text

    return Reader(read, [each.encode() for each in good])


def headers() -> Reader:
    """Read headers, a line each: Accept, Content-Type, If-Match, If-None-Match, others."""
    names = (b"accept", b"content-type", b"if-match", b"if-none-match", b"authorization", b"cookie",
             b"accept-encoding", b"idempotency-key")  # fmt: skip
    shop = Shop()
    asked = (("GET", "/v1/prices", "price"), ("GET", "/v1/rates", "cost"),
             ("PUT", "/v1/products/x", "listings"), ("GET", "/v1/unit-price", None))  # fmt: skip

    def read(sent: bytes) -> None:
        given = list(zip(names, sent.split(b"\n"), strict=False))
        request = request_of(shop.app, given)
        for way in (
            lambda: media_type_wanted(request, ("application/json", "text/csv")),
            lambda: media_type_sent(request, UNDERSTOOD),
            lambda: tags_sent(request, "if-match"),
        ):
            try:
                way()
            except Refused:
                continue
        method, path, key = asked[len(sent) % len(asked)]
        shop.ask(method, path, key=key, query=b"channel=fair", headers=given, body=b"{}")

    good = b'application/json;q=0.5, text/*\napplication/json; charset="utf-8"\n"r1@2026-12-01"'
    more = b'\nW/"v1", *\nBearer x\ngramhour-desk=a; b="c"\ngzip;q=0\nonce'
    return Reader(read, [good + more, b"*/*\nmultipart/form-data; boundary=x\n*\n*"])


def queries() -> Reader:
    """Ask what takes parameters with them, told by the first byte; a price key sees no canary."""
    shop = Shop()
    asked = (
        ("/v1/unit-price", "price"), ("/v1/unit-price", "cost"), ("/v1/prices", "price"),
        ("/v1/listings", "cost"), ("/v1/products", "cost"), ("/v1/rates", "cost"),
        ("/v1/revisions", "cost"), ("/v1/repricings", "listings"), ("/", None),
        ("/desk/sign-in", None),
    )  # fmt: skip

    def read(sent: bytes) -> None:
        path, key = asked[sent[0] % len(asked)] if sent else asked[0]
        answer = shop.ask("GET", path, key=key, query=sent[1:])
        if key in ("price", None):
            shop.find_canaries(answer, sent)

    good = [
        (1, "material=stone&mass_g=42.5&machine=quetzal-left&print_min=95&channel=fair&quantity=10"
            "&breaks=1,5&decimal=comma&errors=text&again=1&view=price&from=2026-12-01T09:00:00Z"),
        (0, "sku=HP-2&quantity=4&view=price"),
        (2, "channel=fair&changed_since=1&limit=1&cursor=3.4&seal=false"),
        (2, "channel=fair&limit=1&cursor=3.HP-1"),
        (3, "limit=1&cursor=HP-1&channel=fair&uses=materials/stone&below_floor=true&product=x"),
        (4, "limit=5&cursor=x"),
        (5, "rates_revision=1&rates_on=2026-12-01"),
        (6, "limit=1&cursor=1"),
        (7, "limit=1&cursor=2026-12-01T09:00:00+00:00:0000000000000000"),
        (8, "sku=HP-2&quantity=4&by=2026-12-24"),
        (9, "next=/desk/bench?load=x&ended=true"),
    ]  # fmt: skip
    return Reader(read, [bytes([number]) + query.encode() for number, query in good])


def multipart() -> Reader:
    """Read a form with a file, as ``/v1/measurements`` and the page for own parts do."""
    shop = Shop()
    head = [(b"content-type", b"multipart/form-data; boundary=x")]

    def read(sent: bytes) -> None:
        if b".stl" not in sent.lower() and b".3mf" not in sent.lower():  # nothing to measure apart
            shop.ask("POST", "/own-part", key=None, headers=head, body=sent)
        shop.run(_file_of(request_of(shop.app, head, sent)))

    part = b'--x\r\nContent-Disposition: form-data; name="%s"%s\r\n%s\r\n%s\r\n'
    text = part % (b"quantity", b"", b"Content-Type: text/plain; charset=latin-1\r\n", b"2")
    file = part % (b"file", b'; filename="a.stl"', b"Content-Type: model/stl\r\n", CUBE[:50])
    return Reader(read, [text + file + b"--x--\r\n", text + b"--x--\r\n", b"--x--\r\n"])


async def _file_of(request: Any) -> None:
    kind, take_in = await _file_sent(request)
    assert kind in UNDERSTOOD
    await take_in()


def forms() -> Reader:
    """Read a form of the desk's bench into a document, and show it as a form again."""

    def read(sent: bytes) -> None:
        try:
            fields = parse_qs(sent.decode(), keep_blank_values=True, errors="strict")
        except ValueError:
            return
        document: Any = document_of(REQUEST, fields)
        whole = document if isinstance(document, dict) else {}
        for change, name in ((with_row, "add"), (without_row, "remove")):
            if name in fields:
                whole = change(whole, fields[name][0])
        form_of(REQUEST, whole, {})
        msgspec.json.encode(whole)

    fields = {
        "/quantity": "10", "/channel": "own-shop", "/breaks": "1, 5", "/aim/margin_pct": "40",
        "row": ["/product/pieces/0", "/product/pieces/0/feed/0"], "/product/name": "Pot",
        "/product/pieces/0/machine": "large", "/product/pieces/0/feed/0/mass_g": "4",
        "/product/hazards": "heat source", "/rate_overrides": "{}", "add": "/product/components",
        "remove": "/product/pieces/0", "/from": "2026-12-01T09:00:00Z", "/seal": "true",
    }  # fmt: skip
    return Reader(read, [urlencode(fields, doseq=True).encode()])


def _comparison(sent: Any) -> None:
    asked = sought(_find, NOW, sent)
    if evaluations(asked) > MOST_EVALUATIONS:
        return
    steps = evaluate(asked)
    while True:
        try:
            next(steps)
        except StopIteration as ended:
            msgspec.json.encode(told(asked, ended.value))
            return


def _find(revision: int | None, on: Any) -> Any:
    return _demo_store().app.state.shop.pinned(revision, on)


@cache
def _demo_store() -> Shop:
    return Shop(demo.sheet())


def comparisons() -> Reader:
    good = [parse_toml((demo.FOLDER / "shop" / "compare-nozzles.toml").read_bytes())]
    return of_documents(_comparison, good)


def bodies() -> Reader:
    """Send documents to the routes that take them, told by the first byte."""
    shop = Shop()
    pot = {"pieces": [{"machine": "quetzal-left", "print_min": "95",
                       "feed": [{"material": "stone", "mass_g": "42.5"}]}]}  # fmt: skip
    listing = {"product": "quetzal-planter", "channel": "fair", "breaks": [1, 2]}
    change = {"kind": "shop", "code": "price_per_kwh", "value": "0.4"}
    asked: list[tuple[str, str, str, Any]] = [
        ("POST", "/v1/rate-changes", "rates",
         {"based_on_revision": 1, "effective_from": "2027-01-05", "changes": [change]}),
        ("POST", "/v1/products", "listings", {"items": [{"code": "pot", "product": pot}]}),
        ("POST", "/v1/listings", "listings", {"items": [{"sku": "P-1", **listing}]}),
        ("POST", "/v1/seals/verify", "price", {"seal": "e30.e30." + "A" * 86}),
        ("POST", "/v1/quotes", "price", {"sku": "HP-2", "quantity": 4, "channel": "fair"}),
        ("POST", "/v1/quotes", "price",
         {"measurement": "x", "service": "own-parts", "material": "stone", "quantity": 2}),
        ("POST", "/v1/quotes/batch", "price", {"requests": [{"sku": "HP-2", "quantity": 4}]}),
        ("POST", "/v1/quotes", "cost", {"product": pot, "quantity": 2, "channel": "fair"}),
        ("PUT", "/v1/workload", "listings", {"machines": {"quetzal-left": {"queue_h": [1]}}}),
        ("PUT", "/v1/rates/materials/stone", "rates", {"price_per_kg": "20"}),
        ("PUT", "/v1/products/pot", "listings", {"product": pot}),
        ("PUT", "/v1/listings/P-2", "listings", listing),
    ]  # fmt: skip

    def read(sent: bytes) -> None:
        method, path, key, _ = asked[sent[0] % len(asked)] if sent else asked[0]
        query = b"trial=true" if path == "/v1/rate-changes" else b""
        headers = [(b"content-type", b"application/json"), (b"if-none-match", b"*")]
        answer = shop.ask(method, path, key=key, query=query, headers=headers, body=sent[1:])
        if key == "price":
            shop.find_canaries(answer, sent)

    good = [bytes([number]) + as_json(each[3]) for number, each in enumerate(asked)]
    return Reader(read, good, in_documents(parse_json, as_json, good, head=1))
