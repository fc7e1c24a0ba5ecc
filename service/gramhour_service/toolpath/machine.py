"""The machine as a file leaves it: where the nozzle is, which units hold, which tool is in use.

Positions are kept in the machine's own coordinates, in mm; G92 moves those of the file against
them.
"""

import math
from collections.abc import Iterable, Mapping

from gramhour_service.toolpath.arcs import Arc, arc_about, arc_of_radius
from gramhour_service.toolpath.faults import LineFault
from gramhour_service.toolpath.laid import Laid
from gramhour_service.toolpath.lookahead import Queue
from gramhour_service.toolpath.measured import Filament, Point
from gramhour_service.toolpath.motion import SHORTEST_MM, Drives, Motion, Way
from gramhour_service.toolpath.tools import Tools

INCH_MM = 25.4
FURTHEST_MM = 10_000.0
MOST_FILAMENT_MM = 1e8
MOST_FEED_MM_MIN = 1e7
LEAST_FEED_MM_MIN = 1e-3
LONGEST_DWELL_S = 86_400.0

Words = dict[str, float]


class Machine:
    """Carries codes out, one at a time. Every code may raise ``LineFault``; then it does nothing.

    Whether filament counts from where it is or from its zero is said by M82 and M83; G91 makes it
    relative as well, until G90 gives it back to what M82 or M83 said last.
    """

    def __init__(self, motion: Motion, filaments: Mapping[int, Filament]) -> None:
        self.queue = Queue(Drives(motion))
        self.laid = Laid()
        self.tools = Tools(filaments)
        self.moves = 0
        self.unfed_moves = 0
        self._motion = motion
        self._drives = Drives(motion)
        self._at = Point(0.0, 0.0, 0.0)
        self._zero = Point(0.0, 0.0, 0.0)
        self._filament_at = 0.0
        self._feed = math.inf
        self._unit = 1.0
        self._relative = False
        self._filament_relative = False
        self._filament_said_relative = False

    def use_unit(self, millimetres: float) -> None:
        """G20, G21: from here on numbers are inches or mm, filament and feed too."""
        self._unit = millimetres

    def use_relative(self, *, relative: bool) -> None:
        """G90, G91: coordinates count from zero, or from where the nozzle is."""
        self._relative = relative
        self._filament_relative = relative or self._filament_said_relative

    def use_relative_filament(self, *, relative: bool) -> None:
        """M82, M83: the same for filament."""
        self._filament_relative = self._filament_said_relative = relative

    def set_feed(self, feed: float) -> None:
        """F: the feed in units a minute, along the path, or of filament that moves alone."""
        feed *= self._unit
        if not LEAST_FEED_MM_MIN <= feed <= MOST_FEED_MM_MIN:
            raise LineFault(f"a feed of {feed:g} mm/min is none")
        self._feed = feed / 60

    def go(self, words: Words) -> None:
        """G0, G1: a straight line to a point, and filament on the way."""
        end, fed, filament_at = self._target(words)
        x, y, z = self._at
        way = self._drives.line(end.x - x, end.y - y, end.z - z, fed, self._feed)
        if self._travel(way, fed):
            self.laid.line(self._at, end)
        self._arrive(end, filament_at)

    def go_round(self, words: Words, *, clockwise: bool) -> None:
        """G2, G3: an arc to a point in the plane XY, a helix if it climbs."""
        end, fed, filament_at = self._target(words)
        arc = self._arc(end, words, clockwise=clockwise)
        way = self._drives.arc(arc, end.z - self._at.z, fed, self._feed)
        if self._travel(way, fed):
            self.laid.arc(self._at, end, arc)
        self._arrive(end, filament_at)

    def draw_back(self) -> None:
        """G10: the filament is drawn back by the machine's own length, once."""
        spool = self.tools.in_use()
        if not spool.drawn_back and self._motion.retraction_mm:
            spool.drawn_back = self._motion.retraction_mm
            spool.feed(-spool.drawn_back)
            self._feed_alone(-spool.drawn_back, math.inf)

    def give_back(self, words: Words) -> None:  # noqa: ARG002
        """G11: what G10 has drawn back returns."""
        spool = self.tools.in_use()
        if spool.drawn_back:
            spool.feed(spool.drawn_back)
            self._feed_alone(spool.drawn_back, math.inf)
            spool.drawn_back = 0.0

    def dwell(self, words: Words) -> None:
        """G4: the nozzle stands, S seconds or P milliseconds."""
        seconds = words.get("S", words.get("P", 0.0) / 1000)
        if not 0 <= seconds <= LONGEST_DWELL_S:
            raise LineFault(f"a dwell of {seconds:g} s is none")
        self.queue.stop(seconds)

    def home(self, axes: str) -> None:
        """G28: the axes go home, to their zero, which belongs to the warm-up and takes no time."""
        self.queue.stop()
        named = [axis in axes for axis in "XYZ"]
        at_home = [not any(named) or each for each in named]
        pairs = zip(self._at, self._zero, at_home, strict=True)
        places = [(0.0, 0.0) if home else (at, zero) for at, zero, home in pairs]
        self._at = Point(*(at for at, _ in places))
        self._zero = Point(*(zero for _, zero in places))

    def call_it(self, words: Words) -> None:
        """G92: where the nozzle is gets other coordinates; without any, all are 0."""
        x, y, z = self._at
        if not words.keys() & {"X", "Y", "Z", "E"}:
            self._zero, self._filament_at = self._at, 0.0
            return
        unit = self._unit
        if any(abs(words.get(axis, 0.0) * unit) > FURTHEST_MM for axis in "XYZ"):
            raise _too_far((axis, words.get(axis, 0.0) * unit) for axis in "XYZ")
        if abs(words.get("E", 0.0) * unit) > MOST_FILAMENT_MM:
            raise LineFault(f"E is called {words['E'] * unit:.6g} mm of filament")
        self._zero = Point(
            x - words["X"] * unit if "X" in words else self._zero.x,
            y - words["Y"] * unit if "Y" in words else self._zero.y,
            z - words["Z"] * unit if "Z" in words else self._zero.z,
        )
        if "E" in words:
            self._filament_at = words["E"] * unit

    def change_tool(self, number: int) -> None:
        """T: another tool is put to use; the same one again changes nothing."""
        if number != self.tools.number:
            self.tools.number = number
            self.queue.stop(self._motion.tool_change_s)

    def _target(self, words: Words) -> tuple[Point, float, float]:
        """Where a move ends, how much filament it feeds, and the filament's coordinate then."""
        if "F" in words:
            self.set_feed(words["F"])
        unit = self._unit
        x, y, z = self._at
        x0, y0, z0 = self._at if self._relative else self._zero
        end = Point(
            x0 + words["X"] * unit if "X" in words else x,
            y0 + words["Y"] * unit if "Y" in words else y,
            z0 + words["Z"] * unit if "Z" in words else z,
        )
        if not -FURTHEST_MM <= min(end) <= max(end) <= FURTHEST_MM:
            raise _too_far(zip("XYZ", end, strict=True))
        if "E" not in words:
            return end, 0.0, self._filament_at
        named = words["E"] * unit
        at = self._filament_at
        fed, filament_at = (named, at + named) if self._filament_relative else (named - at, named)
        if abs(fed) > MOST_FILAMENT_MM:
            raise LineFault(f"E feeds {fed:.6g} mm of filament in one move")
        return end, fed, filament_at

    def _arc(self, end: Point, words: Words, *, clockwise: bool) -> Arc:
        x, y, _ = self._at
        unit = self._unit
        if any(abs(words.get(letter, 0.0) * unit) > FURTHEST_MM for letter in "IJR"):
            raise _too_far((letter, words.get(letter, 0.0) * unit) for letter in "IJR")
        if "R" in words:
            if "I" in words or "J" in words:
                raise LineFault("an arc has either a centre (I, J) or a radius (R)")
            return arc_of_radius(x, y, end.x, end.y, words["R"] * unit, clockwise=clockwise)
        if "I" not in words and "J" not in words:
            raise LineFault("an arc needs its centre (I, J) or its radius (R)")
        i, j = words.get("I", 0.0) * unit, words.get("J", 0.0) * unit
        return arc_about(x, y, end.x, end.y, i, j, clockwise=clockwise)

    def _travel(self, way: Way | None, fed: float) -> bool:
        """Make a move, or feed filament where there is none. Says whether material was laid."""
        out = self.tools.in_use().feed(fed) if fed else 0.0
        if way is not None:
            self.queue.add(way, out)
        elif abs(fed) >= SHORTEST_MM:
            self._feed_alone(fed)
        return out > 0 and way is not None

    def _feed_alone(self, fed: float, feed: float | None = None) -> None:
        self.queue.add_alone(self._drives.filament(fed, self._feed if feed is None else feed))

    def _arrive(self, end: Point, filament_at: float) -> None:
        self._at = end
        self._filament_at = filament_at
        self.moves += 1
        if self._feed == math.inf:
            self.unfed_moves += 1


def _too_far(places: Iterable[tuple[str, float]]) -> LineFault:
    letter, place = max(places, key=lambda each: abs(each[1]))
    return LineFault(f"{letter} is {place:.6g} mm: more than {FURTHEST_MM:,.0f} mm away")
