"""Signed tokens: what comes back as it was signed is known again, whatever else is not."""

import base64
import json
from collections.abc import Callable
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from joserfc import jws
from joserfc.errors import SecurityWarning
from joserfc.jwk import OctKey, OKPKey, RSAKey

from gramhour_service.signing.keys import id_of, made_key, public_member, read_key, secret_text
from gramhour_service.signing.tokens import LONGEST, NotGenuine, signed, verified

TYP = "gramhour-test+jws"
PAYLOAD = b'{"price":"16.90"}'
KEY = made_key()
OTHER = made_key()
KEYS = {id_of(KEY): KEY, id_of(OTHER): OTHER}
TOKEN = signed(PAYLOAD, TYP, KEY)


def in_base64(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def from_base64(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def with_header(header: str | dict[str, Any], key: OKPKey = KEY) -> str:
    """Sign by hand, under a header of any kind."""
    text = header if isinstance(header, str) else json.dumps(header)
    said = f"{in_base64(text.encode())}.{in_base64(PAYLOAD)}"
    assert key.private_key is not None
    raw: Any = key.private_key
    return f"{said}.{in_base64(raw.sign(said.encode()))}"


OURS = {"alg": "Ed25519", "kid": id_of(KEY), "typ": TYP}


def test_what_was_signed_is_known_again_by_any_key_of_ours() -> None:
    assert verified(TOKEN, TYP, KEYS) == PAYLOAD
    assert verified(signed(PAYLOAD, TYP, OTHER), TYP, KEYS) == PAYLOAD
    assert verified(with_header(OURS), TYP, KEYS) == PAYLOAD


def test_another_program_finds_the_signature_good() -> None:
    said, _, signature = TOKEN.rpartition(".")
    header, payload = (from_base64(part) for part in said.split("."))
    assert json.loads(header) == OURS
    assert payload == PAYLOAD
    public = Ed25519PublicKey.from_public_bytes(from_base64(public_member(KEY)["x"]))
    public.verify(from_base64(signature), said.encode())


def test_public_key_says_all_that_a_verifier_needs_and_not_the_secret() -> None:
    secret = json.loads(secret_text(KEY))["d"]
    told = public_member(read_key(secret_text(KEY)))
    assert sorted(told) == ["alg", "crv", "kid", "kty", "use", "x"]
    assert secret not in json.dumps(told)
    assert secret not in repr(KEY)


REFUSED: dict[str, Callable[[], str]] = {
    "the payload edited": lambda: TOKEN.replace(in_base64(PAYLOAD), in_base64(b'{"price":"1.90"}')),
    "a letter of the signature": lambda: (
        TOKEN[:-3] + ("A" if TOKEN[-3] != "A" else "B") + TOKEN[-2:]
    ),
    "another spelling of the signature": lambda: TOKEN[:-1] + chr(ord(TOKEN[-1]) + 1),
    "the signature cut": lambda: TOKEN[:-4],
    "no signature": lambda: TOKEN.rpartition(".")[0] + ".",
    "a part missing": lambda: TOKEN.rpartition(".")[0],
    "a part too many": lambda: TOKEN + ".AAAA",
    "the payload detached": lambda: TOKEN.split(".")[0] + ".." + TOKEN.split(".")[2],
    "padding": lambda: TOKEN + "==",
    "a line end": lambda: TOKEN + "\n",
    "a blank before": lambda: " " + TOKEN,
    "letters that decoders skip": lambda: TOKEN[:-5] + "!" + TOKEN[-5:],
    "letters of other scripts": lambda: TOKEN.replace("e", "е"),  # noqa: RUF001 (Cyrillic)
    "nothing": lambda: "",
    "words": lambda: "not a token",
    "half of a surrogate pair": lambda: "\ud800",
    "far too long": lambda: "A" * LONGEST + TOKEN,
    "a key that is not ours": lambda: signed(PAYLOAD, TYP, made_key()),
    "another's signature under our key's name": lambda: with_header(OURS, OTHER),
    "another kind of token": lambda: signed(PAYLOAD, "other+jws", KEY),
    "the usual kind of token": lambda: with_header({**OURS, "typ": "JWT"}),
    "no kind": lambda: with_header({"alg": "Ed25519", "kid": id_of(KEY)}),
    "no key id": lambda: with_header({"alg": "Ed25519", "typ": TYP}),
    "a key id that is a list": lambda: with_header({**OURS, "kid": [id_of(KEY)]}),
    "no algorithm": lambda: with_header({"kid": id_of(KEY), "typ": TYP}),
    "algorithm none": lambda: with_header({**OURS, "alg": "none"}),
    "algorithm none in other letters": lambda: with_header({**OURS, "alg": "nOnE"}),
    "algorithm EdDSA, which leaves the curve open": lambda: with_header({**OURS, "alg": "EdDSA"}),
    "something critical": lambda: with_header({**OURS, "crit": ["exp"], "exp": 1}),
    "a payload that is not encoded": lambda: with_header({**OURS, "crit": ["b64"], "b64": False}),
    "a key that it brings along": lambda: with_header({**OURS, "jwk": public_member(OTHER)}, OTHER),
    "a place to get a key from": lambda: with_header({**OURS, "jku": "https://example.org"}),
    "a member more": lambda: with_header({**OURS, "cty": "x"}),
    "a header that is a list": lambda: with_header("[1]"),
    "a header that is text": lambda: with_header('"alg"'),
    "a header that is no JSON": lambda: with_header("{"),
    "a header that is not UTF-8": lambda: TOKEN.replace(TOKEN.split(".")[0], in_base64(b'{"\xff')),
    "a header deep in brackets": lambda: with_header("[" * 300),
}


@pytest.mark.parametrize("token", REFUSED.values(), ids=REFUSED.keys())
def test_what_was_not_signed_here_as_such_is_refused(token: Callable[[], str]) -> None:
    with pytest.raises(NotGenuine):
        verified(token(), TYP, KEYS)


@pytest.mark.parametrize("algorithm", ["HS256", "RS256"])
def test_keys_of_other_kinds_are_not_taken_for_ours(algorithm: str) -> None:
    """A public key used as a shared secret is the classical confusion (RFC 8725, 2.1)."""
    x = from_base64(public_member(KEY)["x"])
    key = OctKey.import_key(x) if algorithm == "HS256" else RSAKey.generate_key(2048)
    header = {**OURS, "alg": algorithm}
    token = jws.serialize_compact(header, PAYLOAD, key, algorithms=[algorithm])
    with pytest.raises(NotGenuine):
        verified(token, TYP, KEYS)


def test_of_a_member_twice_in_the_header_neither_is_believed_unless_ours_counts() -> None:
    """The signature covers the header as it stands, so only who has our key can write one."""
    twice = f'{{"alg":"none","alg":"Ed25519","kid":"{id_of(KEY)}","typ":"{TYP}"}}'
    with pytest.raises(NotGenuine):
        verified(with_header(twice, OTHER), TYP, KEYS)
    with pytest.raises(NotGenuine):
        verified(
            with_header(twice.replace('"none","alg":"Ed25519"', '"Ed25519","alg":"none"')),
            TYP,
            KEYS,
        )


# RFC 8037, appendix A: the keys of A.1 and A.2, the thumbprint of A.3, the signature of A.4.
A1 = (
    '{"kty":"OKP","crv":"Ed25519","d":"nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A",'
    '"x":"11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"}'
)
A4 = (
    "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc."
    "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
)


def test_key_of_the_standard_has_the_id_that_the_standard_prints() -> None:
    assert id_of(read_key(A1)) == "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
    assert public_member(read_key(A1))["x"] == "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"


def test_key_of_the_standard_signs_what_the_standard_prints() -> None:
    """RFC 8037 names the algorithm EdDSA, which RFC 9864 has replaced since; the bytes agree."""
    said = A4.rpartition(".")[0]
    raw: Any = read_key(A1).private_key
    assert f"{said}.{in_base64(raw.sign(said.encode()))}" == A4
    with pytest.warns(SecurityWarning, match="RFC 9864"):
        found = jws.deserialize_compact(A4, read_key(A1), algorithms=["EdDSA"])
    assert found.payload == b"Example of Ed25519 signing"
