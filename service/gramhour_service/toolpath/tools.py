"""How far each tool's filament has come."""

from collections.abc import Mapping

from gramhour_service.toolpath.faults import LineFault
from gramhour_service.toolpath.measured import Fed, Filament

MOST_TOOL = 99
LEAST_FED_MM = 1e-6
"""Less than that is what binary numbers leave of a retraction and its return."""


class Spool:
    """A tool's filament: where it is, and the furthest that it ever was, in mm.

    What is fed up to that point again is a retraction's return, not material.
    """

    def __init__(self, filament: Filament) -> None:
        self.filament = filament
        self.area = filament.area_mm2
        self.at = 0.0
        self.furthest = 0.0
        self.drawn_back = 0.0  # by G10

    def feed(self, length: float) -> float:
        """Feed so much, or draw it back. Gives what came out, in mm³."""
        at = self.at + length
        self.at = at
        if at <= self.furthest + LEAST_FED_MM:
            return 0.0
        came_out = at - self.furthest
        self.furthest = at
        return came_out * self.area


class Tools:
    """The tools of the machine, of which one is in use; the first is 0."""

    def __init__(self, filaments: Mapping[int, Filament]) -> None:
        self._filaments = filaments
        self._spools: dict[int, Spool] = {}
        self.number = 0

    def in_use(self) -> Spool:
        """The spool of the tool in use. Raises ``LineFault`` if it has no filament."""
        if self.number not in self._spools:
            if self.number not in self._filaments:
                raise LineFault(f"filament is fed to tool {self.number}, but none is named for it")
            self._spools[self.number] = Spool(self._filaments[self.number])
        return self._spools[self.number]

    def fed(self) -> tuple[Fed, ...]:
        """What each tool was fed with that anything came out of."""
        return tuple(
            Fed(
                tool,
                spool.furthest,
                spool.furthest * spool.area,
                spool.filament.grams(spool.furthest),
            )
            for tool, spool in sorted(self._spools.items())
            if spool.furthest > 0
        )
