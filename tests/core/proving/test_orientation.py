"""Which way round a measured piece is: as a property of any figure, and for figures that are hard to tell."""

from __future__ import annotations

import cmath

import numpy as np
import pytest
from blobs import blobs
from gulls import BEAK, WING
from hypothesis import given
from hypothesis import strategies as st

from clothpath.curves import Affine, Outline, backwards, circle, flattened, polygon
from clothpath.design import Grain
from clothpath.proving.orientation import MeasuredPiece, readings
from clothpath.regions import Region, moved, region

UNIT_MM = 0.025
HOOK = region(
    polygon(
        [
            r * cmath.exp(1j * t)
            for r, ts in ((20, np.arange(0, 5.3, 0.05)), (18.6, np.arange(5.0, 0.5, -0.05)))
            for t in ts
        ]
    )
)
"""A band 1.4 mm wide that is bent to a hook: every point of it lies near another strand of its ring."""


def plotted(ring: Outline) -> Outline:
    """The ring as a plotter file carries it."""
    points = np.rint(flattened(ring, 0.005).view(np.float64) / UNIT_MM).view(np.complex128) * UNIT_MM
    return polygon(points[np.append(True, points[1:] != points[:-1])])


def cut_as(picture: Region, flip: bool, turn: float, grain: Grain = "any", cloth: float = 0.0) -> MeasuredPiece:
    """The piece as it lies on a mat, reversed or not, turned on its cloth, the cloth turned on the mat."""
    there = Affine.shift(80 + 55j) @ Affine.turn(turn + cloth) @ (Affine.flip() if flip else Affine())
    rings = tuple((n, plotted(ring)) for n, ring in enumerate(moved(picture, there)))
    return MeasuredPiece(picture, grain, cloth, rings)


@given(blobs(), st.booleans(), st.floats(0, 360), st.sampled_from([0.0, 90.0, 180.0, 270.0]))
def test_any_figure_without_symmetry(figure: Region, flip: bool, turn: float, cloth: float) -> None:
    assert readings([cut_as(figure, flip, turn, "any", cloth)], UNIT_MM) == [flip]


@given(st.lists(st.tuples(st.booleans(), st.floats(0, 360)), min_size=2, max_size=6))
def test_many_at_once_are_each_alone(lies: list[tuple[bool, float]]) -> None:
    pieces = [cut_as(WING, flip, turn) for flip, turn in lies]
    assert readings(pieces, UNIT_MM) == [flip for flip, _ in lies]


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize(
    "figure",
    [
        # a rectangle with one corner drawn out by 0.3 mm
        region(polygon([0, 30, 30.3 + 20j, 20j])),
        # round outside; the two holes differ by 0.4 mm
        region(circle(0, 20), [circle(9, 2), circle(9j, 2.2)]),
        # a pinwheel: symmetric under quarter turns, and no mirror
        region(polygon([p * 1j**k for k in range(4) for p in (3 + 1j, 12 + 1j, 12 + 6j, 3 + 3j)])),
        HOOK,
        # a square whose hole is off both axes by 0.4 mm
        region(polygon([0, 20, 20 + 20j, 20j]), [circle(6 + 10.4j, 3)]),
    ],
)
def test_figures_that_are_hard_to_tell(figure: Region, flip: bool) -> None:
    for turn in (0.0, 33.0, 200.0):
        assert readings([cut_as(figure, flip, turn)], UNIT_MM) == [flip]


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize(
    ("grain", "turns"), [("directional", [0]), ("lengthwise", [0, 180]), ("straight", [90, 270]), ("bias", [45, 225])]
)
def test_a_symmetric_figure_askew_is_told_by_its_grain(flip: bool, grain: Grain, turns: list[float]) -> None:
    """The beak, symmetric about an axis at 30 degrees, fits both ways; only one of them under a turn of the grain."""
    for turn in turns:
        for cloth in (0.0, 90.0):
            assert readings([cut_as(BEAK, flip, turn, grain, cloth)], UNIT_MM) == [flip]


def test_a_figure_that_is_no_piece_of_the_picture_has_no_reading() -> None:
    stretched = moved(WING, Affine.scale(1.03))
    other = tuple((n, ring) for n, ring in enumerate(stretched))
    assert readings([MeasuredPiece(WING, "any", 0.0, other)], 0.01) == [None]


def test_direction_of_the_rings_makes_no_difference() -> None:
    piece = cut_as(WING, True, 71)
    turned = tuple((n, backwards(ring)) for n, ring in piece.rings)
    assert readings([MeasuredPiece(WING, "any", 0.0, turned)], UNIT_MM) == [True]


def test_nothing_asked_nothing_read() -> None:
    assert readings([], 0.01) == []


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("turn", [0.0, 137.0])
def test_a_ring_that_trembles_on_one_side_is_read_all_the_same(flip: bool, turn: float) -> None:
    """A crest with many points; on half of its way the blade trembles by 0.015 mm, which makes it a tenth longer."""
    rng = np.random.default_rng(5)
    angles = np.linspace(0, 2 * np.pi, 121)[:-1]
    reach = np.where(np.arange(120) % 2, 24.0, 29.0) + rng.uniform(-2.5, 2.5, 120)
    crest = region(polygon((reach * np.exp(1j * angles)).tolist()))
    piece = cut_as(crest, flip, turn)
    corners = piece.rings[0][1].nodes[:, 0]
    found: list[complex] = []
    for n, (a, b) in enumerate(zip(corners, np.roll(corners, -1), strict=True)):
        count = int(abs(b - a) / 0.06) if n < len(corners) // 2 else 1
        aside = 0.015j * (b - a) / abs(b - a) * np.where(np.arange(count) % 2, 1, -1)
        found += (a + (b - a) * np.arange(count) / count + np.where(np.arange(count) > 0, aside, 0)).tolist()
    trembling = MeasuredPiece(piece.picture, piece.grain, piece.cloth_turn, ((0, polygon(found)),))
    assert readings([trembling], 0.05) == [flip]
