"""Lines from a stream of bytes, with bounded memory whatever comes."""

from collections.abc import Iterable, Iterator

MOST_CHARACTERS = 4_096
"""What a line may hold beside its comment."""

PIECE_BYTES = 1 << 16
BYTE_ORDER_MARK = b"\xef\xbb\xbf".decode("latin-1")


def lines_of(chunks: Iterable[bytes]) -> Iterator[list[str]]:
    r"""Split a stream into its lines, some at a time; each byte is one character.

    Lines end with \\n, \\r\\n or \\r. Of a line that is longer than ``MOST_CHARACTERS`` more than
    that is kept, but not all.
    """
    kept = ""
    for text in _with_plain_ends(_pieces(chunks)):
        lines = (kept + text).split("\n")
        kept = lines.pop()[: MOST_CHARACTERS + 1]
        if lines:
            yield lines
    if kept:
        yield [kept]


def _pieces(chunks: Iterable[bytes]) -> Iterator[str]:
    first = True
    for chunk in chunks:
        for start in range(0, len(chunk), PIECE_BYTES):
            text = str(chunk[start : start + PIECE_BYTES], "latin-1")
            yield text.removeprefix(BYTE_ORDER_MARK) if first else text
            first = False


def _with_plain_ends(pieces: Iterable[str]) -> Iterator[str]:
    held = ""
    for piece in pieces:
        text = held + piece
        held = ""
        if "\r" in text:
            if text.endswith("\r"):
                text, held = text[:-1], "\r"  # its \n may come with the next piece
            text = text.replace("\r\n", "\n").replace("\r", "\n")
        yield text
    if held:
        yield "\n"
