"""Which characters of a text are shown as they are. Needs nothing that draws."""

from unicodedata import category

REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
LINE_ENDS = "\N{LINE SEPARATOR}\N{PARAGRAPH SEPARATOR}"


def printable(text: str) -> str:
    """Replace what would steer a terminal or hide on it instead of being shown."""
    return "".join(
        REPLACEMENT if category(char)[0] == "C" or char in LINE_ENDS else char for char in text
    )
