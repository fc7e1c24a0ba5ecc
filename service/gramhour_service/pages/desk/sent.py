"""A form as it was sent, read as the document that it was made of (``forms``)."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from gramhour.contract.leaves import THOUSANDS, WITH_COMMA, without_marks
from gramhour.contract.problem import pointer
from gramhour_service.pages.desk.forms import ABSENT
from gramhour_service.pages.desk.plan import Member

Sent = Mapping[str, Sequence[str]]
"""A form as it was sent: all values of each field."""

ROW = "row"
BETWEEN = re.compile(r"[,;\s]+")
BETWEEN_TEXTS = re.compile(r"[,;\n]+")
WHOLE = re.compile(r"-?[0-9]{1,18}")


def request_of(member: Member, sent: Sent, *, keep_empty: bool = False) -> dict[str, Any]:
    """Read the request that a whole form asks for; nothing typed is one without members."""
    document = document_of(member, sent, keep_empty=keep_empty)
    return {} if document is ABSENT else document


def document_of(member: Member, sent: Sent, at: str = "", *, keep_empty: bool = False) -> Any:
    """Read the document that a form was sent with; what is empty is left out."""
    if member.kind == "section":
        return _section(member, sent, at, keep_empty=keep_empty)
    if member.kind == "rows":
        return _rows(member, sent, at, keep_empty=keep_empty)
    texts = [text.strip() for text in sent.get(at, ()) if text.strip()]
    if not texts:
        return ABSENT
    return _value(member, texts)


def _section(member: Member, sent: Sent, at: str, *, keep_empty: bool) -> Any:
    inner = {
        each.name: value
        for each in member.within
        if (value := document_of(each, sent, at + pointer(each.name), keep_empty=keep_empty))
        is not ABSENT
    }
    return inner or ABSENT


def _rows(member: Member, sent: Sent, at: str, *, keep_empty: bool) -> Any:
    places = [
        place for place in sent.get(ROW, ()) if re.fullmatch(re.escape(at) + "/[0-9]{1,6}", place)
    ]
    rows = [_section(member, sent, place, keep_empty=keep_empty) for place in places]
    if keep_empty:
        rows = [{} if row is ABSENT else row for row in rows]
    return [row for row in rows if row is not ABSENT] or ABSENT


def _value(member: Member, texts: list[str]) -> Any:
    (text, *_) = texts
    match member.kind:
        case "amount":
            return with_point(text)
        case "whole":
            return _whole(text)
        case "flag" if text in member.choices:
            return text == "true"
        case "words":
            return texts
        case "numbers":
            return [_whole(each) for each in BETWEEN.split(text) if each]
        case "texts":
            return [each.strip() for each in BETWEEN_TEXTS.split(text) if each.strip()]
        case "document":
            try:
                return msgspec.json.decode(text)
            except msgspec.DecodeError:
                return text
    return text


def with_point(text: str) -> str:
    """Write an amount as a reader's country has it, such as 1.234,50, as the documents do.

    What could be read in two ways stays as it is typed, and is refused where it is read.
    """
    if plain := without_marks(text):
        return plain
    is_decimal = WITH_COMMA.fullmatch(text) and not THOUSANDS.fullmatch(text)
    return text.replace(",", ".") if is_decimal else text


def _whole(text: str) -> int | str:
    return int(text) if WHOLE.fullmatch(text) else text
