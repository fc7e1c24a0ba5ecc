"""What to look at twice: flags, cautions, what was assumed, and who decides on tax."""

from collections.abc import Sequence
from string import ascii_lowercase

from rich.console import Console

from gramhour.contract.answer import Basis, Break, Caution, Quote
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.screen import heading, paragraph
from gramhour_service.commandline.words import FLAGS, TAX, counted


def marks_of_flags(breaks: Sequence[Break]) -> dict[str, str]:
    """Give each flag that some quantity has a letter."""
    found = [flag for flag in FLAGS if any(flag in each.flags for each in breaks)]
    return dict(zip(found, ascii_lowercase, strict=False))


def assumed(answer: Quote) -> list[Basis]:
    """List what was not given, each once."""
    return list({each.pointer: each for each in answer.basis if each.basis == "default"}.values())


def show_flags(console: Console, quoted: Quoted, breaks: Sequence[Break]) -> None:
    """Say each flag in words, under its letter in the table, with the quantities that have it."""
    marks = marks_of_flags(breaks)
    if marks:
        heading(console, "Look at")
    for flag, mark in marks.items():
        quantities = ", ".join(str(each.quantity) for each in breaks if flag in each.flags)
        paragraph(
            console, f"{_says(flag, quoted)} At {quantities}.", first=f"{mark}  ", others=" " * 3
        )


def show_remarks(console: Console, quoted: Quoted, *, explained: bool) -> None:
    """Say what must be told of hazards, how much was assumed, and who decides on tax."""
    show_cautions(console, quoted.answer.cautions)
    console.print()
    show_estimates(console, quoted.answer)
    if defaults := len(assumed(quoted.answer)):
        where = "They are listed at the end." if explained else "See them with --explain."
        paragraph(
            console,
            f"Not given, so taken by default: {counted(defaults, 'member')} of the request and "
            f"the rates. Defaults are the optimistic values. {where}",
        )
    paragraph(console, TAX)


def show_estimates(console: Console, answer: Quote) -> None:
    """Say which grams and minutes nobody read off a plate, and what they were estimated from."""
    estimated = [each for each in answer.basis if each.basis == "estimated" and each.profile]
    if profiles := list(dict.fromkeys(str(each.profile) for each in estimated)):
        paragraph(
            console,
            f"Grams and minutes were estimated, by the profile {', '.join(profiles)}: "
            "compare them with a plate that was prepared before you promise anything.",
        )


def show_cautions(console: Console, cautions: Sequence[Caution]) -> None:
    """Say what must be told of hazards."""
    if cautions:
        heading(console, "Cautions")
    for caution in cautions:
        hazard = caution.hazard.capitalize()
        paragraph(console, f"{hazard}: {caution.says}", others="  ")


def _says(flag: str, quoted: Quoted) -> str:
    if flag == "below_margin_floor":
        return f"The margin is below the channel's floor of {quoted.channel['margin_floor_pct']} %."
    return FLAGS[flag]
