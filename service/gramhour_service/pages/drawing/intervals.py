"""From which quantity on which way is the best: a bead for each stretch."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from markupsafe import Markup

from gramhour_service.pages.drawing.scale import Scale, apart
from gramhour_service.pages.drawing.svg import drawing, element, line, text

WIDTH, HEAD, ROW, END = 760, 40, 52, 12
BETWEEN_BEADS = 6
LETTERS = 40


def intervals(comparison: Mapping[str, Any]) -> Markup:
    """Draw the stretches of quantity of a comparison that looked at each quantity."""
    stretches = comparison["intervals"]
    labels = [each["label"] for each in comparison["alternatives"]]
    first, last = stretches[0]["from_quantity"], stretches[-1]["to_quantity"]
    scale = Scale(first, last + 1, END, WIDTH - END)
    height = HEAD + len(labels) * ROW
    parts = []
    for n, label in enumerate(labels):
        y = HEAD + n * ROW
        parts.append(text(END, y + 8, label, "ink"))
        for each in stretches:
            if each["label"] == label:
                left, right = scale.at(each["from_quantity"]), scale.at(each["to_quantity"] + 1)
                stroke = [(left, y + 26), (max(right - BETWEEN_BEADS, left + 0.5), y + 26)]
                told = f"{label}: best from {each['from_quantity']} to {each['to_quantity']}"
                parts.append(element("g", element("title", told), line(stroke, "bead asked")))
    turns = [later["from_quantity"] for _, later in pairwise(stretches)]
    ends = [first, *turns, last]
    places = [scale.at(each) for each in ends]
    for each, x, is_told in zip(ends, places, apart(places, LETTERS), strict=True):
        if is_told:
            anchor = "start" if each == first else "end" if each == last else "middle"
            parts.append(text(x, 16, str(each), "", anchor))
    parts += [line([(x, 24), (x, height - 8)], "hair") for x in places[1:-1]]
    says = "; ".join(
        f"{each['label'] or 'none'} from {each['from_quantity']} to {each['to_quantity']}"
        for each in stretches
    )
    return drawing("Which is the best from which quantity on", f"{says}.", (WIDTH, height), *parts)
