"""A document as a form.

A field is called by the RFC 6901 pointer of the member it holds, the same that a fault names, so
each fault finds its field. What was typed stays as it was typed, whatever is wrong with it.
"""

import re
from collections.abc import Collection, Iterable, Mapping
from typing import Any, NamedTuple

import msgspec
from msgspec import structs

from gramhour.contract.problem import Fault, pointer
from gramhour_service.pages.desk.places import in_words
from gramhour_service.pages.desk.plan import Member

Codes = Mapping[str, Mapping[str, str]]
"""The codes that may be chosen, of each kind, with their names."""
ABSENT: Any = object()
"""What stands in a field in which nothing does."""
USUAL = frozenset(
    """name nozzle print_min mass_g pieces_per_build component count pieces components work
    feed order_min build_min unit_min margin_pct markup_pct unit_price aim breaks
    price_per_kg quantity channel price usual_nozzle tax_rate_pct offers piece machine
    material label alternatives quantities criterion market_price up_to variant from_packs
    pack_quantity cost charged""".split()  # noqa: SIM905 (words, read as words)
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
    told = (structs.replace(each, detail=in_words(member, each.detail)) for each in faults)
    return _field(member, at, document, codes, tuple(told))


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
        beside = {each.name for each in member.within}
        shown = tuple(field for field in fields if _is_shown(field, beside))
        more = tuple(field for field in fields if not _is_shown(field, beside))
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


def _is_shown(field: Field, beside: Collection[str]) -> bool:
    """Say whether a field is seen at once.

    A piece has filaments; a material of its own goes with a shape only, and looks like one of them.
    """
    member = field.member
    is_usual = member.name in USUAL and not (member.name == "material" and "feed" in beside)
    return bool(
        member.is_required
        or field.is_filled
        or field.error
        or is_usual
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
