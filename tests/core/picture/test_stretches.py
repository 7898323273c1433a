"""Stretches of a ring that belong to something."""

from __future__ import annotations

import numpy as np
import pytest

from clothpath.curves import Points, polygon
from clothpath.picture.neighbors import Stretch, stretches

SQUARE = polygon([0, 40, 40 + 40j, 40j])


def within(distance: float, of: complex, near: float) -> list[Stretch]:
    """The stretches of a square's edge no farther than so many mm from a place."""

    def owners(at: Points, _: Points) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
        return np.where(np.abs(at - of) <= distance, 0, -1).astype(np.intp)

    return stretches(SQUARE, owners, 0.5, near)


def test_an_end_near_a_node_is_the_node() -> None:
    (found,) = within(9.8, 30, 0.5)  # from 20.2 to 39.8 along the first edge of 40 mm
    assert found.start == pytest.approx(20.2 / 40, abs=1e-3)
    assert found.end == 1.0


def test_a_stretch_with_both_its_ends_near_one_node_stays_what_it_is() -> None:
    (found,) = within(4.0, 40, 6.0)  # 4 mm on either side of the corner at 40
    assert found.start == pytest.approx(1 - 4 / 40, abs=1e-3)
    assert found.end == pytest.approx(1 + 4 / 40, abs=1e-3)
    assert found.length == pytest.approx(8.0, abs=1.1)  # counted in steps of 1 mm
