"""Where a number of a reason comes from, for people: a field of the bench, or a rate."""

from typing import NamedTuple

from gramhour.contract.rates import KINDS
from gramhour_service.pages.desk.bench_form import REQUEST
from gramhour_service.pages.desk.forms import key_of
from gramhour_service.pages.desk.places import place_said, unit_at
from gramhour_service.pages.desk.rate_form import SHOP, rate_form
from gramhour_service.pages.desk.rate_shown import rate_called

RATES, PRODUCT = "/rates/", "/product"
AS_DOCUMENTS = ("/rate_overrides", "/workload")
"""What the bench takes as a document has no field for each of its members."""


class Source(NamedTuple):
    """What it is called, its unit, and the link to where it can be changed, if there is one."""

    says: str
    unit: str
    place: str


def source_of(pointer: str) -> Source:
    """Say where a pointer of a reason leads."""
    if pointer.startswith(RATES):
        return _of_a_rate(pointer.removeprefix(RATES))
    says = place_said(REQUEST, pointer)
    if pointer.startswith(PRODUCT):
        says = says.partition(", ")[2] or says
    place = "" if pointer.startswith(AS_DOCUMENTS) else f"#{key_of(pointer)}"
    return Source(says, unit_at(REQUEST, pointer), place)


def _of_a_rate(path: str) -> Source:
    kind, *steps = path.split("/")
    if kind not in KINDS:
        kind, steps = SHOP, [kind, *steps]
    code, *within = steps
    form, place = rate_form(kind, code), "".join(f"/{step}" for step in within)
    said = ", ".join(filter(None, (rate_called(kind, code), place_said(form, place))))
    return Source(said, unit_at(form, place), f"/desk/rates/{kind}/{code}")
