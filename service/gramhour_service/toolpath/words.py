"""The words of a line: a letter and a number each. Comments, line numbers, checksums are dropped.

ISO 6983 has no exponents, so ``X1E5`` is X 1 and E 5.
"""

import re

from gramhour_service.toolpath.faults import LineFault, quoted
from gramhour_service.toolpath.lines import MOST_CHARACTERS

Word = tuple[str, str]

# Nothing here is tried twice: whatever a line holds, its reading takes time in its length.
_NUMBER = r"[+-]?+(?:\d++(?:\.\d*+)?+|\.\d++)"
_WORD = re.compile(rf"([A-Z])\s*+({_NUMBER})", re.ASCII)
_WORDS = re.compile(rf"(?:\s*+[A-Z]\s*+{_NUMBER})*+\s*+", re.ASCII)
_COMMENT = re.compile(r"\([^()]*+\)|;.*+")
_LINE_NUMBER = re.compile(r"[Nn]\s*+\d++\s*+", re.ASCII)
_EXPONENT = re.compile(r"[\d.]e[+-]?\d", re.ASCII)
_NO_TEXT = re.compile(r"[^\t -~]")


def plain_words(text: str) -> list[Word] | None:
    """The words of a line that holds nothing else, line number aside; None of any other line."""
    if len(text) > MOST_CHARACTERS or not _WORDS.fullmatch(text):
        return None
    words: list[Word] = _WORD.findall(text)
    return words[1:] if words and words[0][0] == "N" else words


def without_comment(text: str) -> str:
    """Drop what the machine does not carry out: comments, the line's number, its checksum."""
    text = _COMMENT.sub(" ", text)
    if len(text) > MOST_CHARACTERS:
        raise LineFault(f"the line is longer than {MOST_CHARACTERS:,} characters")
    text = text.partition("*")[0].strip()
    number = _LINE_NUMBER.match(text)
    return text[number.end() :] if number else text


def first_word(text: str) -> Word | None:
    """The first word of a line, if it begins with one."""
    found = _WORD.match(text.upper())
    return (found[1], found[2]) if found else None


def words_of(text: str) -> list[Word]:
    """Split a line into its words. Raises ``LineFault`` if anything is left."""
    capitals = text.upper()
    if not _WORDS.fullmatch(capitals) or (_EXPONENT.search(text) and text != text.lower()):
        raise not_words(text)
    words: list[Word] = _WORD.findall(capitals)
    return words


def not_words(text: str) -> LineFault:
    """What keeps a line from being words."""
    if _NO_TEXT.search(text):
        return LineFault("the line holds bytes that are no text; is the file packed or damaged?")
    if _EXPONENT.search(text):
        return LineFault(f"{quoted(text)} has a number with an exponent; write it out")
    read = _WORDS.match(text.upper())
    rest = text[read.end() :] if read else text
    return LineFault(f"{quoted(rest)} is not a letter followed by a number")


def code_of(letter: str, number: str) -> str:
    """How a code is called, whatever zeros it is written with: G01 and G1.0 are G1."""
    whole, _, part = number.lstrip("+").partition(".")
    part = part.rstrip("0")
    return f"{letter}{whole.lstrip('0') or '0'}{'.' if part else ''}{part}"
