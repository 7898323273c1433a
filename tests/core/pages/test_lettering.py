"""Room for words inside shapes."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate

from clothpath.pages.lettering import grain_room, room


@settings(max_examples=40)
@given(st.floats(5, 60), st.floats(5, 60), st.floats(2, 40), st.floats(1, 10), st.floats(-180, 180))
def test_a_room_lies_inside(a: float, b: float, width: float, height: float, turn: float) -> None:
    shape = shapely.Polygon([(0, 0), (a, 0), (a, b / 2), (a / 2, b / 2), (a / 2, b), (0, b)])
    middle = room(shape, width, height, turn)
    if middle is not None:
        box = shapely.box(-width / 2, -height / 2, width / 2, height / 2)
        turned = shapely.affinity.translate(rotate(box, turn, origin=(0, 0)), middle.real, middle.imag)
        assert shape.buffer(1e-6).covers(turned)


def test_a_rectangle_has_room_for_one_of_nearly_its_size_and_for_none_larger() -> None:
    assert room(shapely.box(0, 0, 30, 10), 29, 9) == pytest.approx(15 + 5j, abs=0.6)
    assert room(shapely.box(0, 0, 30, 10), 31, 5) is None
    assert room(shapely.box(0, 0, 10, 30), 29, 9) is None
    assert room(shapely.box(0, 0, 10, 30), 29, 9, 90.0) is not None


def test_the_longest_grain_line_that_fits_is_taken() -> None:
    found = grain_room(shapely.box(0, 0, 10, 30), 90.0)
    assert found is not None
    assert found[1] == 28.0
    assert grain_room(shapely.box(0, 0, 10, 30), 0.0) == (pytest.approx(found[0], abs=30), 10.0)
    assert grain_room(shapely.box(0, 0, 3, 30), 90.0) is None


def test_of_two_parts_the_one_with_room_is_used() -> None:
    both = shapely.MultiPolygon([shapely.box(0, 0, 4, 100), shapely.box(50, 0, 65, 15)])
    middle = room(both, 12, 12)
    assert middle is not None
    assert math.isclose(middle.real, 57.5, abs_tol=1.6)
