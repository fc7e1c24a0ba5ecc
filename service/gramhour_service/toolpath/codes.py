"""What each line asks of the machine: the codes that are carried out, counted or refused."""

import re
from collections.abc import Callable
from functools import partial

from gramhour_service.toolpath.faults import MOST_QUOTED, LineFault
from gramhour_service.toolpath.machine import INCH_MM, Machine, Words
from gramhour_service.toolpath.tools import MOST_TOOL
from gramhour_service.toolpath.words import (
    Word,
    code_of,
    first_word,
    not_words,
    plain_words,
    without_comment,
    words_of,
)

MOST_NOT_READ = 100
OTHERS = "others"
"""Under this name is counted what comes after so many different codes."""

_NAME = re.compile(r"[A-Z_][\w.-]*+", re.ASCII)
_ALONG_LINES = frozenset("XYZEF")
_ALONG_ARCS = frozenset("XYZEFIJR")
_LINES = frozenset({"G0", "G1"})
_LINE_NUMBERS = frozenset({"0", "1", "00", "01"})
_ARCS = frozenset({"G2", "G3"})
_PLANE = "arcs are read in the plane XY only"
_MINUTE = "feeds are read in units a minute only"
_REFUSED = {
    "G18": _PLANE,
    "G19": _PLANE,
    "G90.1": "an arc's centre is read from where the arc starts only",
    "G93": _MINUTE,
    "G95": _MINUTE,
}
"""Codes that would give what follows another meaning."""

_SILENT = frozenset({"G17", "G91.1", "G94", "M6"})
"""Codes that say what holds anyway, or that only come with another word."""


class Codes:
    """Reads lines, and carries them out on a machine. Lines may raise ``LineFault``."""

    def __init__(self, machine: Machine) -> None:
        self.not_read: dict[str, int] = {}
        self._machine = machine
        self._motion: str | None = None
        self._settings: dict[str, Callable[[], None]] = {
            "G20": partial(machine.use_unit, INCH_MM),
            "G21": partial(machine.use_unit, 1.0),
            "G90": partial(machine.use_relative, relative=False),
            "G91": partial(machine.use_relative, relative=True),
            "M82": partial(machine.use_relative_filament, relative=False),
            "M83": partial(machine.use_relative_filament, relative=True),
        }
        self._actions: dict[str, Callable[[Words], None]] = {
            "G0": machine.go,
            "G1": machine.go,
            "G2": partial(machine.go_round, clockwise=True),
            "G3": partial(machine.go_round, clockwise=False),
            "G4": machine.dwell,
            "G10": self._draw_back,
            "G11": machine.give_back,
            "G28": self._home,
            "G92": machine.call_it,
        }
        self._known = {*self._settings, *self._actions, *_REFUSED, *_SILENT}

    def read(self, text: str) -> None:
        """Read one line."""
        words = plain_words(text)
        if words is None:
            self._read_other(text)
        elif words:
            self._read_words(words)

    def _read_other(self, text: str) -> None:
        """Read a line that holds more than words: comments, names, small letters, or nonsense."""
        text = without_comment(text)
        if not text or text[0] == "%":
            return
        word = first_word(text)
        if word is None:
            self._read_named(text)
        elif not self._knows(word):
            self._count(code_of(*word))
        elif code_of(*word) == "G28":
            self._machine.home(text.upper())  # its axes need no numbers
        else:
            self._read_words(words_of(text))

    def _knows(self, word: Word) -> bool:
        letter = word[0]
        return letter == "T" or letter in _ALONG_ARCS or code_of(*word) in self._known

    def _read_named(self, text: str) -> None:
        """Count a machine's own command, which has a name, or a line that it may leave out."""
        name = _NAME.match(text.upper())
        if name and text.isascii() and text.replace("\t", " ").isprintable():
            self._count(name[0][:MOST_QUOTED])
        elif text[0] == "/":
            self._count("/")
        else:
            raise not_words(text)

    def _count(self, code: str) -> None:
        if code not in self.not_read and len(self.not_read) >= MOST_NOT_READ:
            code = OTHERS
        self.not_read[code] = self.not_read.get(code, 0) + 1

    def _read_words(self, words: list[Word]) -> None:
        letter, number = words[0]
        if letter == "G" and number in _LINE_NUMBERS:
            values = {letter: float(number) for letter, number in words}
            del values["G"]
            # Nearly all lines of nearly all files.
            if len(values) == len(words) - 1 and values.keys() <= _ALONG_LINES:
                self._motion = "G1"
                self._machine.go(values)
                return
        if self._knows(words[0]):
            self._read_block(words)
        else:
            self._count(code_of(*words[0]))

    def _read_block(self, words: list[Word]) -> None:
        codes = [code_of(letter, number) for letter, number in words if letter in "GM"]
        others = [word for word in words if word[0] not in "GM"]
        values = {letter: float(number) for letter, number in others}
        if len(values) != len(others):
            raise LineFault("a letter stands twice on the line")
        if "T" in values and (not codes or "M6" in codes):
            self._change_tool(values.pop("T"))
        actions = [code for code in codes if code in self._actions]
        for code in codes:
            self._set(code)
        if len(actions) > 1:
            raise LineFault(f"{actions[0]} and {actions[1]} cannot stand on one line")
        self._act(actions[0] if actions else None, values)

    def _set(self, code: str) -> None:
        if code in _REFUSED:
            raise LineFault(f"{code}: {_REFUSED[code]}")
        if code in self._settings:
            self._settings[code]()
        elif code not in self._known:
            self._count(code)

    def _act(self, code: str | None, values: Words) -> None:
        if code in _LINES or code in _ARCS:
            self._motion = code
        if code is None and values.keys() & (_ALONG_ARCS - {"F"}):
            code = self._motion
            if code is None:
                raise LineFault("there are coordinates, but none of G0 to G3 was named before")
        if code in _LINES or code in _ARCS:
            for letter in values.keys() - (_ALONG_ARCS if code in _ARCS else _ALONG_LINES):
                self._count(f"{letter} of a move")
        if code is not None:
            self._actions[code](values)
        elif "F" in values:
            self._machine.set_feed(values["F"])

    def _change_tool(self, number: float) -> None:
        if number in range(MOST_TOOL + 1):
            self._machine.change_tool(int(number))
        else:
            self._count(code_of("T", f"{number:g}"))

    def _draw_back(self, values: Words) -> None:
        """G10 with words beside S sets up machines, and draws nothing back."""
        if values.keys() <= {"S"}:
            self._machine.draw_back()
        else:
            self._count("G10 with words")

    def _home(self, values: Words) -> None:
        self._machine.home("".join(values))
