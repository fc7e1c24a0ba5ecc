"""Every error of the library below is one of ours, and each says what is to be known."""

import asyncio
import pickle

import httpx
import msgspec
import pytest
from msgspec import UNSET

import gramhour
from gramhour import (
    AsyncClient,
    BatchAnswer,
    Client,
    Fault,
    GramhourError,
    Problem,
    Refusal,
    Resume,
    Retries,
    UnexpectedAnswer,
    Unreachable,
    beside,
)
from tests.client.demand import PLANTER
from tests.client.misbehaving import misbehaving, says

REQUEST = httpx.Request("GET", "http://shop.test/health")
OF_HTTPX = sorted(
    {
        found
        for found in vars(httpx).values()
        if isinstance(found, type) and issubclass(found, Exception)
    },
    key=lambda kind: kind.__name__,
)


def an_error(kind: type[Exception]) -> Exception:
    if kind is httpx.HTTPStatusError:
        return httpx.HTTPStatusError("no", request=REQUEST, response=httpx.Response(418))
    if kind in (httpx.StreamConsumed, httpx.StreamClosed):
        return kind()
    if kind in (httpx.ResponseNotRead, httpx.RequestNotRead):
        return kind()
    return kind("no")


def test_httpx_has_the_errors_that_we_know_of() -> None:
    assert len(OF_HTTPX) == 28


@pytest.mark.parametrize("kind", OF_HTTPX, ids=lambda kind: kind.__name__)
def test_every_error_of_httpx_is_one_of_ours(kind: type[Exception]) -> None:
    error = an_error(kind)

    def fail(_: httpx.Request) -> httpx.Response:
        raise error

    async def ask() -> None:
        http = httpx.AsyncClient(transport=httpx.MockTransport(fail))
        async with http, AsyncClient(http=http, retries=Retries(attempts=1)) as client:
            await client.health()

    http = httpx.Client(transport=httpx.MockTransport(fail))
    with (
        http,
        Client(http=http, retries=Retries(attempts=1)) as client,
        pytest.raises(GramhourError) as ours,
    ):
        client.health()
    assert ours.value.__cause__ is error
    with pytest.raises(type(ours.value)):
        asyncio.run(ask())
    is_transport = issubclass(kind, httpx.TransportError | httpx.InvalidURL)
    assert type(ours.value) is (Unreachable if is_transport else UnexpectedAnswer)


def test_the_errors_are_a_tree_of_one_root() -> None:
    assert Unreachable.__bases__ == Refusal.__bases__ == UnexpectedAnswer.__bases__
    assert Refusal.__bases__ == (GramhourError,)


def test_a_refusal_tells_every_fault_beside_the_request(shop: Client) -> None:
    sent = {**PLANTER, "quantity": 0, "channel": "own-shp", "a/b~c": [1]}
    with pytest.raises(Refusal) as refused:
        shop.quote(sent)
    assert (refused.value.type, refused.value.status) == ("invalid-request", 422)
    assert [fault.pointer for fault in refused.value.faults] == [
        "/quantity",
        "/channel",
        "/a~1b~0c",
    ]
    assert refused.value.beside_request() == (
        "The request has faults (422 invalid-request)\n"
        "/quantity: 0\n"
        "    must be from 1 to 100000, not 0\n"
        '/channel: "own-shp"\n'
        "    unknown code 'own-shp': the sheet has none such in channels; "
        "did you mean 'own-shop'?\n"
        "/a~1b~0c: [1]\n"
        "    unknown member 'a/b~c'; remove or move it"
    )
    assert str(refused.value).startswith("422 invalid-request: /quantity: must be from 1")


def test_faults_of_parameters_stand_beside_what_they_were(shop: Client) -> None:
    with pytest.raises(Refusal) as refused:
        shop.unit_price(quantity=0, material="asa-green", machine="large", channel="own-shop")
    told = refused.value.beside_request().splitlines()
    assert '?quantity: "0"' in told
    assert "?print_min" in told


def test_problems_of_a_batch_are_told_the_same_way(shop: Client) -> None:
    sent = PLANTER | {"quantity": -1}
    (answer,) = shop.quote_many([sent])
    assert answer.problem
    assert "/quantity: -1\n" in beside(answer.problem, sent)


@pytest.mark.parametrize(
    ("body", "status", "media_type", "says_what"),
    [
        pytest.param(b"<p>hello", 200, "text/html", "text/html", id="another program's page"),
        pytest.param(b"{", 200, "application/json", "cannot be read", id="not JSON"),
        pytest.param(b'{"status":1}', 200, "application/json", "cannot be read", id="other types"),
        pytest.param(b"{}", 422, "application/problem+json", "refusal", id="not our problem"),
        pytest.param(b"", 302, "text/html", "text/html", id="leads elsewhere"),
    ],
)
def test_what_is_no_answer_of_the_service_is_unexpected(
    body: bytes, status: int, media_type: str, says_what: str
) -> None:
    with (
        misbehaving(says(body, status, media_type)) as server,
        Client(url=server.url) as client,
        pytest.raises(UnexpectedAnswer, match=says_what) as unexpected,
    ):
        client.health()
    assert unexpected.value.status == status
    assert unexpected.value.body == body.decode()


def test_errors_can_be_sent_to_another_process(shop: Client) -> None:
    with pytest.raises(Refusal) as refused:
        shop.quote({})
    refused.value.resume = Resume(3, {5: BatchAnswer(reference="x")})
    again = pickle.loads(pickle.dumps(refused.value))
    for name in ("problem", "sent", "retry_after", "resume"):
        assert getattr(again, name) == getattr(refused.value, name)
    assert str(again) == str(refused.value)
    unexpected = pickle.loads(pickle.dumps(UnexpectedAnswer("no", 500, b"body")))
    assert len(pickle.loads(pickle.dumps(UnexpectedAnswer("no", 500, b"\xff" * 500))).body) == 500
    assert (str(unexpected), unexpected.body) == ("no (status 500); it begins with 'body'", "body")


def test_a_key_is_in_no_text_that_the_client_writes() -> None:
    client = Client(key="very-secret")
    assert "very-secret" not in repr(client) + repr(client._caller)
    client.close()


@pytest.mark.parametrize(
    "wrong",
    [
        *({"key": key} for key in ("a\nb", "sch-lüssel", "", " ", " x ", "a b")),
        *({"url": url} for url in ("shop.test", "ftp://shop.test", "http://", "http://[::1")),
        *({"url": f"http://shop.test{rest}"} for rest in (":port", ":99999", ":0", "/?x=1", "/#x")),
        *({"url": f"http://{host}"} for host in ("a..b", "..", "xn--a", "a b", "\0", "a" * 300)),
    ],
    ids=str,
)
def test_what_could_never_be_sent_is_refused_when_the_client_is_made(wrong: dict[str, str]) -> None:
    with pytest.raises(ValueError, match=r"url|key"):
        gramhour.Client(**wrong)  # type: ignore[arg-type]


def test_faults_in_lists_are_found_by_their_place(shop: Client) -> None:
    feed = [{"material": "asa-green", "mass_g": "1"}, {"material": "asa-gren", "mass_g": "1"}]
    piece = {"machine": "large", "print_min": 1, "feed": feed}
    sent = {**PLANTER, "product": {"pieces": [piece]}}
    with pytest.raises(Refusal) as refused:
        shop.quote(sent)
    told = refused.value.beside_request()
    assert '\n/product/pieces/0/feed/1/material: "asa-gren"\n' in told


def test_a_fault_whose_place_is_not_in_the_request_is_told_without_a_value() -> None:
    problem = Problem(
        type="/problems/x",
        title="No",
        status=422,
        detail="no",
        errors=[Fault("/a/7/b", "one"), Fault("/a/x", "two"), Fault("", "three"), Fault("/c", "")],
    )
    told = beside(problem, {"a": [1], "c": "x" * 100})
    assert told.splitlines() == [
        "No (422 x)",
        *("/a/7/b", "    one", "/a/x", "    two", "/", "    three"),
        *('/c: "' + "x" * 58 + "…", "    "),
    ]


@pytest.mark.parametrize(
    "told", [b"26,90", b"NaN", b"sNaN", b"Infinity", b"1E+999999", b"-5", b"1_0", b"", b".5"]
)
def test_a_price_that_is_no_number_is_unexpected(told: bytes) -> None:
    with (
        misbehaving(says(told, media_type="text/plain")) as server,
        Client(url=server.url) as client,
        pytest.raises(UnexpectedAnswer, match="not a number"),
    ):
        client.unit_price(quantity=1)


def test_a_fault_of_a_line_and_one_of_no_place_are_read() -> None:
    told = b'{"type":"/problems/x","title":"x","status":400,"detail":"x","errors":[%s]}'
    problem = msgspec.json.decode(
        told % b'{"detail":"one","line":3},{"detail":"two"}', type=Problem
    )
    assert problem.errors == [Fault(UNSET, "one", line=3), Fault(UNSET, "two")]
