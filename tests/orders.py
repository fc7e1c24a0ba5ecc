"""Orders drawn widely over all members of the contract, with an independent program's answers."""

import copy
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from gramhour.contract import answer
from gramhour.contract.documents import parse_json
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.resolve.sheet import sound_sheet

FILE = Path(__file__).parent / "worked" / "drawn-widely.ndjson"
ORDERS: list[Any] = [parse_json(line) for line in FILE.read_bytes().splitlines()]


@st.composite
def orders(draw: st.DrawFn) -> Any:
    """Draw an order: rates and request, with a quantity and breaks of its own."""
    order = copy.deepcopy(draw(st.sampled_from(ORDERS)))
    del order["answer"]
    channel = order["rates"]["channels"]["shop"]
    multiple = channel.get("multiple_of", 1)
    sizes = st.integers(1, 400).map(lambda n: n * multiple)
    order["request"]["quantity"] = draw(sizes)
    order["request"]["breaks"] = draw(st.lists(sizes, max_size=3))
    for piece in order["request"]["product"]["pieces"]:
        piece["pieces_per_build"] = draw(st.integers(1, 30))
    return order


def price(order: Any, *, explain: bool = False) -> answer.Quote:
    return answer_quote(order["request"], sound_sheet(order["rates"]), explain=explain)


def all_breaks(quote: answer.Quote) -> list[answer.Break]:
    return [quote.at_quantity, *quote.breaks]
