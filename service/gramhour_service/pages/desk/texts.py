"""How days, words and places of a document stand on the desk's pages."""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from markupsafe import Markup

from gramhour_service.pages.desk import words
from gramhour_service.pages.drawing.machines import piece_told
from gramhour_service.pages.texts import number


def day_told(told: str) -> Markup:
    """Write a day of an answer."""
    day = date.fromisoformat(told)
    return Markup('<time datetime="{}">{}</time>').format(told, f"{day:%a} {day.day} {day:%b %Y}")


def moment_told(told: str) -> Markup:
    """Write an instant of an answer by the clock that it carries."""
    moment = datetime.fromisoformat(told)
    return Markup('<time datetime="{}">{}</time>').format(
        told, f"{moment:%a} {moment.day} {moment:%b %Y, %H:%M}"
    )


def shop_moment(told: str) -> Markup:
    """Write an instant by the shop's clock, whatever the reader's says."""
    moment = datetime.fromisoformat(told)
    return Markup('<time class="at-the-shop" datetime="{}">{}</time>').format(
        told, f"{moment:%a} {moment.day} {moment:%b, %H:%M}"
    )


def value_told(value: Any) -> str:
    """Write a value of a rate as the documents do, a text without its quotes."""
    match value:
        case bool():
            return str(value).lower()
        case list():
            return ", ".join(map(value_told, value)) or "none"
        case dict():
            return ", ".join(f"{spaced(name)} {value_told(each)}" for name, each in value.items())
    return str(value)


def flag_told(flag: str) -> str:
    """Say what a flag of a break means."""
    return words.said(words.FLAGS, flag)


def count_told(name: str) -> str:
    """Say what a count of a repricing counts."""
    return words.said(words.COUNTS, name)


def kind_told(kind: str) -> str:
    """Say what a kind of rates is called."""
    return words.said(words.KINDS, kind)


def effect_told(effect: Mapping[str, str]) -> Markup:
    """Say by how much something moves a price, and the cost, each with its sign."""
    price, cost = (
        Markup("{}{}").format("" if amount.startswith("-") else "+", number(amount))
        for amount in (effect["unit_price"], effect["unit_cost"])
    )
    return Markup("{}, cost {}").format(price, cost)


def spaced(word: str) -> str:
    """Write a word of the contract for people."""
    return word.replace("_", " ")


FILTERS: dict[str, Callable[..., Any]] = {
    "day_told": day_told,
    "moment_told": moment_told,
    "shop_moment": shop_moment,
    "value_told": value_told,
    "count_told": count_told,
    "effect_told": effect_told,
    "flag_told": flag_told,
    "kind_told": kind_told,
    "piece_told": piece_told,
    "spaced": spaced,
}
