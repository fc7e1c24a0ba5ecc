"""Areas of layers that touch each other in lines and points beside the areas that they share."""

import numpy as np
import shapely

from gramhour_service.measuring.areas import shared

HALF_INSIDE_HALF_BESIDE = shapely.MultiPolygon([shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 2)])
"""Of a square of two: it shares a square of one with that, and a side."""


def test_what_is_shared_is_areas_alone_so_that_they_can_be_shared_again() -> None:
    some = np.array([shapely.box(0, 0, 2, 2)])
    found = shared(some, np.array([HALF_INSIDE_HALF_BESIDE]))
    assert shapely.area(found).tolist() == [1.0]
    assert shapely.get_dimensions(shapely.get_parts(found)).tolist() == [2]
    again = shared(found, np.array([shapely.Polygon()]))
    assert shapely.area(again).tolist() == [0.0]
