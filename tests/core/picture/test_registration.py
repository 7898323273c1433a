"""Registration of outlines whose bays lie close to each other, as coasts on a map have them."""

from __future__ import annotations

import numpy as np
import pytest

from clothpath.curves import Affine, polygon
from clothpath.picture.registration import alignments
from clothpath.regions import Region, moved, region

POINTS = 400


def coast(seed: int, start: int) -> Region:
    """A round island with deep and narrow bays of random depth, 80 mm across, its outline begun at a point."""
    rng = np.random.default_rng(seed)
    depth = np.where(np.arange(POINTS) % 2, 40.0, rng.uniform(20.0, 39.0, POINTS))
    angle = 2j * np.pi * (np.arange(POINTS) + rng.uniform(-0.3, 0.3, POINTS)) / POINTS
    return region(polygon(np.roll(depth * np.exp(angle), start)))


@pytest.mark.parametrize("seed", [0, 3, 7, 12, 16, 20])
def test_a_turn_is_found_again_wherever_the_outline_begins(seed: int) -> None:
    turn = 360.0 * np.random.default_rng(100 + seed).random()
    away = Affine.shift(30 - 12j) @ Affine.turn(turn)
    (found,) = alignments(coast(seed, 0), moved(coast(seed, POINTS // 3 + seed), away), 0.05)
    assert found.turn_deg == pytest.approx(turn, abs=1e-3)
    assert found.deviation < 0.01
