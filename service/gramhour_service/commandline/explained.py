"""How each figure of the asked quantity came about: its rule, its working, its numbers."""

import re
from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal

from msgspec import UNSET
from rich.console import Console

from gramhour.contract.explanation import Explanation, Input, Step
from gramhour_service.answer.words import figure_name
from gramhour_service.commandline.files import shown
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.remarks import assumed
from gramhour_service.commandline.screen import aligned, heading, money, paragraph, show_places
from gramhour_service.commandline.words import counted

DIGITS_TO_READ = 8
INPUTS_TO_REPEAT = 6
NOTHING_ASKED = re.compile(r"cost\.|fees\.|use\.|order_postage|order_tax")
ROUNDED = re.compile(r"(round|round_half_up)\((?P<what>.*), (?P<decimals>\d+)\)")


def show_explanations(console: Console, quoted: Quoted) -> None:
    """Explain each figure of the asked quantity that is not zero, and list what was assumed."""
    asked = quoted.answer.at_quantity
    explanations = [] if asked.explain is UNSET else asked.explain
    heading(console, f"How the figures of {counted(asked.quantity, 'unit')} came about")
    if quoted.sheet_file is not None:
        paragraph(
            console,
            f"Numbers under /rates are those of {shown(quoted.sheet_file)}, all others the "
            "request's, unless marked as default.",
        )
    seen: set[str] = set()
    defaults = frozenset(each.pointer for each in assumed(quoted.answer))
    for each in explanations:
        if not _is_nothing(each):
            _show(console, each, seen, defaults)
    nothing = [figure_name(each.figure).lower() for each in explanations if _is_nothing(each)]
    if nothing:
        console.print()
        paragraph(
            console,
            f"Not explained, for nothing was asked of them: {', '.join(nothing)}.",
        )
    _show_assumed(console, quoted)


def _show_assumed(console: Console, quoted: Quoted) -> None:
    defaults = assumed(quoted.answer)
    if defaults:
        heading(console, "Not given, so taken by default")
        values = [str(each.value) for each in defaults]
        longest = max(map(len, values))
        padded = [value.ljust(longest) for value in values]
        show_places(console, padded, [each.pointer for each in defaults])


def _is_nothing(each: Explanation) -> bool:
    return not each.value and NOTHING_ASKED.match(each.figure) is not None


def _show(console: Console, each: Explanation, seen: set[str], defaults: frozenset[str]) -> None:
    """Show one figure; ``seen`` are the steps and members that stood in an earlier one."""
    heading(console, f"{figure_name(each.figure)}: {money(each.value)}")
    paragraph(console, each.rule, first="  ", others="  ")
    reads = each.reads if each.formula is UNSET else each.formula
    paragraph(console, f"= {on_screen(reads, console.encoding)}", first="  ", others="    ")
    new = [step for step in each.where if step.name not in seen]
    for step in new:
        _show_step(console, step)
    if known := [step.name for step in each.where if step.name in seen]:
        paragraph(console, f"{', '.join(known)}: see above", first="  ", others="    ")
    _show_inputs(console, each.inputs, seen, defaults)
    seen |= {step.name for step in each.where} | {given.pointer for given in each.inputs}


def _show_step(console: Console, step: Step) -> None:
    paragraph(console, f"{step.name}: {readable(step.value)}", first="  ", others="  ")
    reads = step.expression if step.formula is UNSET else step.formula
    paragraph(console, f"= {on_screen(reads, console.encoding)}", first="    ", others="      ")


def _show_inputs(
    console: Console, inputs: Sequence[Input], seen: set[str], defaults: frozenset[str]
) -> None:
    """List the members that gave the numbers; many that stood above are only counted."""
    new = [given for given in inputs if given.pointer not in seen]
    listed = list(inputs) if len(inputs) <= INPUTS_TO_REPEAT else new
    if listed:
        values = aligned([money(given.value) for given in listed])
        marks = ["  (default)" if given.pointer in defaults else "" for given in listed]
        places = [given.pointer + mark for given, mark in zip(listed, marks, strict=True)]
        show_places(console, values, places)
    if unlisted := len(inputs) - len(listed):
        paragraph(console, f"and {counted(unlisted, 'number')} listed above", first="    ")


def on_screen(expression: str, encoding: str) -> str:
    """Write an expression with the signs of print, a rounding of the whole in words.

    Where the screen has no such signs, the plain ones stay.
    """
    rounded = ROUNDED.fullmatch(expression)
    if rounded and _is_closed(rounded["what"]):
        half_up = ", half up" if expression.startswith("round_half_up") else ""
        decimals = counted(int(rounded["decimals"]), "decimal")
        return f"{on_screen(rounded['what'], encoding)}, rounded to {decimals}{half_up}"
    try:
        "×÷".encode(encoding)
    except UnicodeEncodeError:
        return expression
    return expression.replace(" * ", " × ").replace(" / ", " ÷ ")


def _is_closed(expression: str) -> bool:
    """Say whether no bracket closes that was not opened within."""
    depth = 0
    for char in expression:
        depth += (char == "(") - (char == ")")
        if depth < 0:
            return False
    return depth == 0


def readable(value: Decimal) -> str:
    """Write a number that may have forty digits so that it can be read."""
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)
    kept = max(0, DIGITS_TO_READ - max(value.adjusted(), -1) - 1)
    if -exponent <= kept:
        return money(value)
    return f"about {money(value.quantize(Decimal(1).scaleb(-kept), ROUND_HALF_EVEN))}"
