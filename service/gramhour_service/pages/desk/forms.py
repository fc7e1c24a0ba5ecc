"""A document as a form, and a form as a document.

A field is called by the RFC 6901 pointer of the member it holds, the same that a fault names, so
each fault finds its field. What was typed stays as it was typed, whatever is wrong with it. A row
may be added and removed without any script: those are buttons of the form.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import msgspec

from gramhour.contract.problem import Fault, pointer
from gramhour_service.pages.desk.plan import Member

Codes = Mapping[str, Mapping[str, str]]
"""The codes that may be chosen, of each kind, with their names."""
Sent = Mapping[str, Sequence[str]]
"""A form as it was sent: all values of each field."""

ROW = "row"
BETWEEN = re.compile(r"[,;\s]+")
BETWEEN_TEXTS = re.compile(r"[,;\n]+")
WHOLE = re.compile(r"-?[0-9]{1,18}")
ABSENT: Any = object()
USUAL = frozenset(
    """name nozzle mass_g pieces_per_build component count pieces components work feed order_min
    build_min unit_min margin_pct markup_pct unit_price aim breaks price_per_kg quantity channel
    price usual_nozzle tax_rate_pct offers piece machine material label alternatives quantities
    criterion market_price up_to variant from_packs pack_quantity cost charged""".split()  # noqa: SIM905 (words, read as words)
)
"""Members that are shown though nothing stands in them yet; others wait behind "more"."""


class Field(NamedTuple):
    """A place in a form: a value, or what holds further ones."""

    member: Member
    pointer: str
    key: str
    value: Any
    error: str
    options: tuple[tuple[str, str], ...] = ()
    shown: tuple["Field", ...] = ()
    more: tuple["Field", ...] = ()
    rows: tuple["Field", ...] = ()
    number: int = 0

    @property
    def is_filled(self) -> bool:
        """Say whether anything stands in it."""
        return self.value is not ABSENT

    @property
    def is_new(self) -> bool:
        """Say whether it is a row in which nothing stands yet: all of it is to be seen."""
        return self.number > 0 and self.value == {}

    @property
    def by_name(self) -> dict[str, "Field"]:
        """Find the fields of a section by the names of their members."""
        return {field.member.name: field for field in (*self.shown, *self.more)}

    @property
    def described_by(self) -> str:
        """Name the elements that say what it means and what is wrong with it."""
        told = (("help", self.member.says), ("fault", self.error))
        return " ".join(f"{self.key}-{name}" for name, text in told if text)


def form_of(
    member: Member, document: Any, codes: Codes, faults: Iterable[Fault] = (), at: str = ""
) -> Field:
    """Make a form of a document, with each fault at its field."""
    return _field(member, at, document, codes, tuple(faults))


def _field(
    member: Member, at: str, value: Any, codes: Codes, faults: tuple[Fault, ...], number: int = 0
) -> Field:
    errors = tuple(fault for fault in faults if is_within(at, fault))
    shown: tuple[Field, ...] = ()
    more: tuple[Field, ...] = ()
    rows: tuple[Field, ...] = ()
    if member.kind == "section" or number:
        inner = value if isinstance(value, dict) else {}
        fields = [
            _field(each, at + pointer(each.name), inner.get(each.name, ABSENT), codes, errors)
            for each in member.within
        ]
        shown = tuple(field for field in fields if _is_shown(field))
        more = tuple(field for field in fields if not _is_shown(field))
    elif member.kind == "rows":
        entries = value if isinstance(value, list) else []
        rows = tuple(
            _field(member, f"{at}/{place}", entry, codes, errors, place + 1)
            for place, entry in enumerate(entries)
        )
    is_whole = not (shown or more or rows)
    own = errors if is_whole else tuple(fault for fault in errors if fault.pointer == at)
    return Field(
        member,
        at,
        key_of(at),
        value if is_whole and value is ABSENT else _written(member, value, is_whole=is_whole),
        "; ".join(dict.fromkeys(fault.detail for fault in own)),
        _options(member, value, codes),
        shown,
        more,
        rows,
        number,
    )


def is_within(at: str, fault: Fault) -> bool:
    """Say whether a fault stands at a place or within it."""
    where = fault.pointer
    return isinstance(where, str) and (where == at or where.startswith(f"{at}/"))


def key_of(at: str) -> str:
    """Make the identifier of a field's element."""
    return "at" + re.sub(r"[^A-Za-z0-9]+", "-", at)


def _is_shown(field: Field) -> bool:
    member = field.member
    return bool(
        member.is_required
        or field.is_filled
        or field.error
        or member.name in USUAL
        or any(each.error for each in (*field.shown, *field.more, *field.rows))
    )


def _options(member: Member, value: Any, codes: Codes) -> tuple[tuple[str, str], ...]:
    """List what may be chosen; what stands there already may be, whatever it is."""
    if member.kind == "code":
        known = dict(codes.get(member.refers_to, {}))
    else:
        known = {choice: choice.replace("_", " ") for choice in member.choices}
    if member.kind in ("code", "word") and isinstance(value, str):
        known.setdefault(value, value)
    return tuple(known.items())


def _written(member: Member, value: Any, *, is_whole: bool) -> Any:
    if not is_whole or member.kind == "words":
        return value
    match value:
        case bool():
            return str(value).lower()
        case list() if member.kind in ("numbers", "texts"):
            return ", ".join(map(str, value))
        case str():
            return value
        case dict() | list():
            return msgspec.json.format(msgspec.json.encode(value), indent=2).decode()
    return str(value)


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


def _whole(text: str) -> int | str:
    return int(text) if WHOLE.fullmatch(text) else text


def without_empty(value: Any) -> Any:
    """Leave out rows in which nothing stands yet."""
    match value:
        case dict():
            return {key: without_empty(each) for key, each in value.items()}
        case list():
            return [without_empty(each) for each in value if each != {}]
    return value


def with_row(document: Any, at: str) -> Any:
    """Add an empty row at a place; where none can be, the document stays as it is."""
    holder, last = _holder(document, at)
    if isinstance(holder, dict) and last:
        holder.setdefault(last, [])
    rows = _within(holder, last)
    if isinstance(rows, list):
        rows.append({})
    return document


def without_row(document: Any, at: str) -> Any:
    """Take a row away; where there is none, the document stays as it is."""
    holder, last = _holder(document, at)
    if isinstance(holder, list) and _within(holder, last) is not None:
        del holder[int(last)]
    return document


def _holder(document: Any, at: str) -> tuple[Any, str]:
    """Find what holds a place, made where it is missing, and the last step to the place."""
    *steps, last = at.split("/")[1:] or [""]
    for step in steps:
        if isinstance(document, dict):
            document.setdefault(step, {})
        document = _within(document, step)
    return document, last


def _within(holder: Any, step: str) -> Any:
    match holder:
        case dict():
            return holder.get(step)
        case list() if step.isdecimal() and int(step) < len(holder):
            return holder[int(step)]
    return None
