"""How a figure of a quote was made: its rule, its working and its inputs."""

from decimal import Decimal

from msgspec import UNSET, UnsetType

from gramhour.contract.members import Answered


class Step(Answered, frozen=True, kw_only=True):
    """A quantity that other expressions use by its name.

    ``formula`` is given where more than ``+ - * /`` and rounding made it: the same, written out.
    """

    name: str
    expression: str
    formula: str | UnsetType = UNSET
    value: Decimal


class Input(Answered, frozen=True, kw_only=True):
    """A member of the request or the sheet that a figure was computed from."""

    pointer: str
    value: Decimal


class Explanation(Answered, frozen=True, kw_only=True):
    """How one figure came about.

    ``expression`` holds numbers only and evaluates to the figure; ``reads`` is the same with
    the quantities in ``where`` by name; ``inputs`` says where its numbers stand. ``round`` is
    half even after rounding to 12 decimals, ``round_half_up`` what its name says. ``formula`` is
    what it ``reads`` where more than that made a number of it: the same, written out.
    """

    figure: str
    rule: str
    expression: str
    reads: str
    formula: str | UnsetType = UNSET
    where: list[Step]
    inputs: list[Input]
    value: Decimal
