"""A repricing as a person reads it: the worst first, old and new prices, and what moved them."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from msgspec import UNSET, UnsetType
from rich.console import Console

from gramhour.contract.repricing import Counts, Effect, LineBreak, Repricing, RepricingLine
from gramhour_service.commandline.screen import money, paragraph, show_texts
from gramhour_service.commandline.words import counted
from gramhour_service.pages.desk.words import BARELY_MOVED

HEADER = ("Listing", "Units", "Old", "New", "Cost was", "is", "Kept, %", "New, %", "Moved by")
NUMBERS = range(1, 8)
MEANING = (
    "Kept and New, %: the least margin, from these units up to the next ones, at the old and at "
    "the new price. Moved by: what each changed rate alone does to the price, and to the cost; "
    "only jointly is by how much all at once do more, or less, so that it adds up."
)
UNCHANGED = "Unchanged: no new price differs, or only by less than the listing's least_change."


def show_repricing(console: Console, repricing: Repricing, lines: Sequence[RepricingLine]) -> None:
    """Show a repricing and its lines."""
    paragraph(console, _heading(repricing), style="bold")
    if not lines:
        return
    show_texts(console, HEADER, [row for line in lines for row in _rows(line)], NUMBERS, stay=2)
    paragraph(console, MEANING, style="dim")
    if any(line.outcome in ("up", "down") and line.change_pct == 0 for line in lines):
        paragraph(console, BARELY_MOVED, style="dim")
    if any(line.outcome == "unchanged" for line in lines):
        paragraph(console, UNCHANGED, style="dim")


def _heading(repricing: Repricing) -> str:
    proposed = ", with proposed ones," if repricing.is_proposed else ""
    sale = f", {repricing.discount_pct} % off" if repricing.discount_pct else ""
    return (
        f"Repricing {repricing.id} by the rates of {repricing.rates_on}{proposed} as known at "
        f"revision {repricing.rates_revision}{sale}"
    )


def counts_in_words(counts: Counts, of: int) -> str:
    """Say how many listings have which outcome."""
    outcomes = ", ".join(
        f"{getattr(counts, outcome)} {outcome}"
        for outcome in ("new", "up", "down", "unchanged", "held", "failed")
    )
    return (
        f"{counted(of, 'listing')}: {outcomes}; under their floor: {counts.under_floor} at the "
        f"new price, {counts.under_floor_if_kept} at the old one."
    )


def moves_in_words(repricing: Repricing) -> Iterator[str]:
    """Say by how much the listed prices move that go up or down."""
    for way, moves in (("up", repricing.up_by), ("down", repricing.down_by)):
        if moves is not UNSET:
            by = f"{moves.most_pct} %"
            if moves.least_pct != moves.most_pct:
                by = f"{moves.least_pct} to {by}, the median {moves.median_pct} %"
            yield f"{way.capitalize()} by {by}; of each listing its largest move."


def _rows(line: RepricingLine) -> Iterator[tuple[str, ...]]:
    """Tell a listing, a row a break; its sku and what becomes of it stand in the first row."""
    told = f"{line.sku}\n  {_outcome(line)}"
    if not line.breaks:
        faults = [] if line.errors is UNSET else line.errors
        yield (told, *[""] * len(NUMBERS), "\n".join(fault.detail for fault in faults))
    for each in line.breaks:
        yield (
            told,
            str(each.from_quantity),
            _amount(each.old_unit_price),
            money(each.unit_price),
            _amount(each.unit_cost_before),
            money(each.unit_cost),
            _amount(each.least_margin_if_kept_pct),
            money(each.least_margin_pct),
            "\n".join(_moved_by(each)),
        )
        told = ""


def _outcome(line: RepricingLine) -> str:
    if line.under_floor:
        return f"{line.outcome}, under floor"
    return f"{line.outcome}, under floor if kept" if line.under_floor_if_kept else line.outcome


def _amount(amount: Decimal | UnsetType | None) -> str:
    return "-" if amount is UNSET else money(amount)


def _moved_by(each: LineBreak) -> Iterator[str]:
    for rate in each.moved_by:
        yield f"{rate.code} {_effect(rate)}"
    if each.description is not UNSET:
        yield f"listing, product or discount {_effect(each.description)}"
    if each.together is not UNSET:
        yield f"only jointly {_effect(each.together)}"


def _effect(effect: Effect) -> str:
    return f"{effect.unit_price:+f}, cost {effect.unit_cost:+f}"
