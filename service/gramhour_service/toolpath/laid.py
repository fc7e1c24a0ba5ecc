"""Where material is laid: layers and bounding box."""

from gramhour_service.toolpath.arcs import Arc
from gramhour_service.toolpath.faults import LineFault
from gramhour_service.toolpath.measured import Box, Point

PLACES = 3
"""Heights that are equal to so many decimals of a mm are one layer."""

MOST_LAYERS = 100_000


class Laid:
    """The heights at which material was laid, and how far it reaches. Lengths in mm."""

    def __init__(self) -> None:
        self.climbing_moves = 0
        self._heights: set[float] = set()
        self._height: float | None = None
        self._low_x = self._low_y = self._low_z = float("inf")
        self._high_x = self._high_y = self._high_z = float("-inf")

    def line(self, start: Point, end: Point) -> None:
        """Take a line of material. Raises ``LineFault`` at far too many layers."""
        if start.z != end.z:
            self.climbing_moves += 1
        elif end.z != self._height:
            self._height = end.z
            self._heights.add(round(end.z, PLACES))
            if len(self._heights) > MOST_LAYERS:
                raise LineFault(f"material is laid at more than {MOST_LAYERS:,} heights")
        self._reach(*start)
        self._reach(*end)

    def arc(self, start: Point, end: Point, arc: Arc) -> None:
        """Take an arc of material, or a helix."""
        self.line(start, end)
        for x, y in arc.extremes():
            self._reach(x, y, end.z)

    def _reach(self, x: float, y: float, z: float) -> None:
        if not self._low_x <= x <= self._high_x:
            self._low_x, self._high_x = min(self._low_x, x), max(self._high_x, x)
        if not self._low_y <= y <= self._high_y:
            self._low_y, self._high_y = min(self._low_y, y), max(self._high_y, y)
        if not self._low_z <= z <= self._high_z:
            self._low_z, self._high_z = min(self._low_z, z), max(self._high_z, z)

    @property
    def layers(self) -> int:
        """How many layers there are."""
        return len(self._heights)

    @property
    def box(self) -> Box | None:
        """The bounding box; nothing has none."""
        if self._low_x > self._high_x:
            return None
        return Box(
            Point(self._low_x, self._low_y, self._low_z),
            Point(self._high_x, self._high_y, self._high_z),
        )
