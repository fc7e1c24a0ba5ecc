"""Elements of SVG as safe markup, and the frame that every drawing stands in.

Colours and widths of strokes are classes of the stylesheet, so that they follow light and dark:
no element carries a style.
"""

from collections.abc import Iterable

from markupsafe import Markup, escape

Coordinate = float | int


def element(name: str, *children: str | Markup, **attributes: str | Coordinate) -> Markup:
    """Write an element; ``class_`` is its class, and ``text_anchor`` becomes ``text-anchor``."""
    told = Markup("").join(
        Markup(' {}="{}"').format(each.rstrip("_").replace("_", "-"), _written(value))
        for each, value in attributes.items()
    )
    inner = Markup("").join(escape(child) for child in children)
    return Markup("<{0}{1}>{2}</{0}>").format(name, told, inner)


def line(points: Iterable[tuple[Coordinate, Coordinate]], class_: str) -> Markup:
    """Draw a line from point to point."""
    told = " ".join(f"{_written(x)},{_written(y)}" for x, y in points)
    return element("polyline", points=told, class_=class_)


def text(
    x: Coordinate,
    y: Coordinate,
    says: str,
    class_: str = "",
    anchor: str = "start",
    **more: str,
) -> Markup:
    """Write a text at a point; ``anchor`` is start, middle or end."""
    told = {"class_": class_, **more} if class_ else more
    return element("text", says, x=x, y=y, text_anchor=anchor, **told)


def drawing(
    name: str,
    says: str,
    size: tuple[int, int],
    *children: Markup,
    caption: str | Markup = "",
    class_: str = "",
) -> Markup:
    """Put a drawing into its frame: ``name`` is what it is, ``says`` what it shows, in words.

    Whoever cannot see it reads both in its place; ``caption`` stands below it for everybody.
    """
    image = element(
        "svg",
        *children,
        role="img",
        viewBox=f"0 0 {size[0]} {size[1]}",
        aria_label=f"{name}. {says}",
    )
    below = element("figcaption", caption) if caption else Markup("")
    return element("figure", image, below, class_=f"drawing {class_}".strip())


def _written(value: str | Coordinate) -> str:
    """Write a coordinate with two decimals at most, which is finer than any screen."""
    return value if isinstance(value, str) else f"{value:.2f}".rstrip("0").rstrip(".")
