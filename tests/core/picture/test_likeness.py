"""Likeness against what geometry says of known figures, and as properties of any figure."""

from __future__ import annotations

import cmath
import math
import time
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from blobs import blobs
from gulls import BODY, WING, gull
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import Affine, Outline, backwards, circle, flattened, outline, polygon
from clothpath.design import Grain
from clothpath.jobs.inspection import inspected
from clothpath.picture.likeness import LIKE_MM, Class, is_achiral, likeness, relative_turns, symmetry
from clothpath.picture.registration import alignments
from clothpath.recipe import NO_SETTINGS
from clothpath.regions import Region, moved, region
from clothpath.registry import installed

SQUARE = region(polygon([0, 10, 10 + 10j, 10j]))
RECTANGLE = region(polygon([0, 20, 20 + 10j, 10j]))
PARALLELOGRAM = region(polygon([0, 20, 26 + 10j, 6 + 10j]))
TRIANGLE = region(polygon([10 * cmath.exp(2j * math.pi * k / 3) for k in range(3)]))
HEXAGON = region(polygon([10 * cmath.exp(1j * math.pi * k / 3) for k in range(6)]))
PINWHEEL = region(
    polygon([p * 1j**k for k in range(4) for p in (3 + 1j, 12 + 1j, 12 + 6j, 3 + 3j)]),
)
GRAINS: tuple[Grain, ...] = ("any", "straight", "lengthwise", "directional", "bias")


def started_elsewhere(ring: Outline, at: int) -> Outline:
    """The same ring from another of its nodes."""
    at %= len(ring)
    return Outline(np.roll(ring.nodes, -at, axis=0), np.roll(ring.straight, -at), complex(ring.nodes[at, 0]))


@given(blobs(), st.floats(0, 360), st.complex_numbers(max_magnitude=400), st.integers(0, 10))
def test_turn_and_shift_are_found(figure: Region, turn: float, shift: complex, start: int) -> None:
    there = moved(figure, Affine.shift(shift) @ Affine.turn(turn))
    there = Region(started_elsewhere(there.outer, start), there.holes)
    (found,) = alignments(figure, there, LIKE_MM)
    assert abs((found.turn_deg - turn + 180) % 360 - 180) < 0.01
    assert abs(found.shift - shift) < 0.01
    assert found.deviation < 1e-3
    assert not found.any_turn


@given(blobs(), st.floats(0, 360), st.complex_numbers(max_magnitude=400))
def test_polylines_within_5_micrometers_are_the_figure(figure: Region, turn: float, shift: complex) -> None:
    there = moved(figure, Affine.shift(shift) @ Affine.turn(turn))
    there = region(polygon(flattened(there.outer, 0.005)), [polygon(flattened(hole, 0.005)) for hole in there.holes])
    (found,) = alignments(figure, there, LIKE_MM)
    assert abs((found.turn_deg - turn + 180) % 360 - 180) < 0.05
    assert found.deviation < 0.012


@given(blobs(), st.floats(0, 360))
def test_mirror_image_of_a_figure_without_symmetry_never_fits(figure: Region, turn: float) -> None:
    mirror = moved(figure, Affine.turn(turn) @ Affine.flip())
    assert alignments(figure, mirror, LIKE_MM) == ()
    assert not is_achiral(figure, "any")


@given(blobs(), st.floats(0.06, 3), st.integers(0, 5))
def test_what_moves_beyond_the_tolerance_does_not_fit(figure: Region, by: float, at: int) -> None:
    """A hole that lies elsewhere by twice `by` is off by `by` at least, however the whole is laid."""
    hole = moved(Region(figure.holes[0]), Affine.shift(2 * by * cmath.exp(1j * at)))
    changed = region(figure.outer, [hole.outer])
    fits = alignments(figure, changed, LIKE_MM)
    assert all(fit.deviation > 0.02 for fit in fits)
    if by > 0.3:
        assert fits == ()


@pytest.mark.parametrize(
    ("figure", "order", "axes"),
    [
        (SQUARE, 4, (0, 45, 90, 135)),
        (RECTANGLE, 2, (0, 90)),
        (PARALLELOGRAM, 2, ()),
        (TRIANGLE, 3, (0, 60, 120)),
        (HEXAGON, 6, (0, 30, 60, 90, 120, 150)),
        (PINWHEEL, 4, ()),
        (WING, 1, ()),
        (region(circle(3 + 4j, 10)), 0, (90,)),
        (region(circle(0, 10), [circle(0, 4)]), 0, (90,)),
        (region(circle(0, 10), [circle(5, 2)]), 1, (0,)),
        (region(circle(0, 10), [circle(5, 2), circle(-5, 2)]), 2, (0, 90)),
        (region(circle(0, 10), [circle(5, 2), circle(5j, 2.5)]), 1, ()),
        (region(circle(0, 10), [polygon([4, 4j, -4, -4j])]), 4, (0, 45, 90, 135)),
    ],
)
def test_symmetry_of_known_figures(figure: Region, order: int, axes: tuple[float, ...]) -> None:
    """Dihedral and cyclic groups of plane figures (H. Weyl, Symmetry, 1952)."""
    for turn in (0.0, 17.0):
        found = symmetry(moved(figure, Affine.shift(31 - 7j) @ Affine.turn(turn)))
        assert found.order == order
        expected = sorted((axis + turn) % 180 for axis in axes) if order else [90]
        assert found.axes_deg == pytest.approx(expected, abs=0.02)


def test_relative_turns_are_differences_of_allowed_turns() -> None:
    assert relative_turns("any") is None
    assert relative_turns("straight") == (0, 90, 180, 270)
    assert relative_turns("lengthwise") == (0, 180)
    assert relative_turns("directional") == (0,)
    assert relative_turns("bias") == (0, 90, 180, 270)


@pytest.mark.parametrize(
    ("figure", "turn", "achiral"),
    [
        (RECTANGLE, 0, {"any", "straight", "lengthwise", "directional", "bias"}),
        # the mirror image of a rectangle at 30 degrees is one at 150: 120 degrees lie between, no turn of any grain
        (RECTANGLE, 30, {"any"}),
        # at 45 degrees it is the one at 135: a quarter turn
        (RECTANGLE, 45, {"any", "straight", "bias"}),
        # a triangle that points right: its mirror image points left, a half turn away
        (TRIANGLE, 0, {"any", "straight", "lengthwise", "bias"}),
        # a triangle that points up is its own mirror image
        (TRIANGLE, 90, set(GRAINS)),
        (PARALLELOGRAM, 0, set()),
        (PINWHEEL, 0, set()),
        (WING, 0, set()),
        (region(circle(0, 9)), 12, set(GRAINS)),
    ],
)
def test_achiral_under_a_grain(figure: Region, turn: float, achiral: set[Grain]) -> None:
    turned = moved(figure, Affine.shift(5 + 9j) @ Affine.turn(turn))
    assert {grain for grain in GRAINS if is_achiral(turned, grain)} == achiral


def test_a_piece_with_sharp_tips_is_its_own_mirror_image() -> None:
    # a brim, symmetric about x = 0 by construction; near a tip the nearest edge may be the one on its other side
    tip = -52.252 + 26.126j
    side = [(tip, -56.606 + 17.417j, -52.252 + 13.063j), (-47.897 + 8.709j, -34.834, 0)]
    back = (39.189 + 13.063j, 13.063j)
    other = [(34.834, 47.897 + 8.709j, 52.252 + 13.063j), (56.606 + 17.417j, 52.252 + 26.126j, 52.252 + 26.126j)]
    over = [(52.252 + 26.126j, *back), (-39.189 + 13.063j, tip, tip)]
    brim = region(outline(tip, [*side, *other, *over]))
    assert is_achiral(brim, "any")


@given(st.floats(0, 2 * math.pi), st.floats(0.005, 0.02))
def test_a_trace_of_asymmetry_does_not_make_a_piece_chiral(angle: float, bump: float) -> None:
    corners = [20, 20 + 30j, -20 + 30j, -20 + 0j]
    corners[1] += bump * cmath.exp(1j * angle)
    assert is_achiral(region(polygon(corners)), "directional")


@given(st.floats(0.3, 3))
def test_a_visible_asymmetry_makes_a_piece_chiral(bump: float) -> None:
    assert not is_achiral(region(polygon([20, 20 + 30j + bump, -20 + 30j, -20])), "any")


def test_classes_of_the_gull() -> None:
    found = likeness(gull())
    assert Class(("left-wing",), ("right-wing",)) in found.classes
    assert Class(("body",)) in found.classes
    assert sum(len(each.pieces) + len(each.mirrored) for each in found.classes) == len(gull().pieces)
    assert dict(found.symmetries)["eye"].order == 0
    assert dict(found.symmetries)["beak"].axes_deg == pytest.approx((30,), abs=0.02)


def test_inspect_tells_what_is_alike_and_what_is_symmetric() -> None:
    """The turtle of Tidepool has a left and a right flipper, and two eyes that are alike."""
    turtle = Path(str(files("clothpath.samples"))) / "tidepool" / "designs" / "turtle.svg"
    (file,) = inspected([turtle], installed(), NO_SETTINGS)["files"]
    paired = [each for each in file["alike"] if each["mirrored"]]
    assert any("flipper" in each["pieces"][0] and "flipper" in each["mirrored"][0] for each in paired)
    assert any({"left-eye", "right-eye"} == set(each["pieces"]) for each in file["alike"])
    orders = {piece["id"]: piece["symmetry"]["order"] for piece in file["pieces"] if piece["id"].endswith("-eye")}
    assert orders == {"left-eye": 0, "right-eye": 0}
    assert file["layering"] == "stacked"


def test_six_equal_petals_are_one_class() -> None:
    petal = region(outline(4, [(8 + 5j, 16 + 4j, 20), (16 - 2j, 8 - 5j, 4)]))
    first = gull().pieces[0]
    petals = tuple(
        replace(first, id=f"petal-{k}", order=k + 1, region=moved(petal, Affine.turn(60 * k))) for k in range(6)
    )
    found = likeness(replace(gull(), pieces=petals, markings=()))
    assert found.classes == (Class(tuple(f"petal-{k}" for k in range(6))),)


def test_direction_and_start_of_a_ring_make_no_difference() -> None:
    other = Region(backwards(started_elsewhere(BODY.outer, 2)))
    (found,) = alignments(BODY, other, LIKE_MM)
    assert found.turn_deg % 360 == pytest.approx(0, abs=0.001)
    assert found.deviation < 1e-6


def test_different_counts_of_holes_never_fit() -> None:
    assert alignments(WING, Region(WING.outer), LIKE_MM) == ()


@settings(max_examples=5)
@given(blobs())
def test_chirality_takes_milliseconds(figure: Region) -> None:
    began = time.process_time()
    is_achiral(figure, "any")
    assert time.process_time() - began < 0.1


def test_a_circle_fits_a_piece_that_is_nearly_one() -> None:
    """Half axes of 10.03 and 9.97 mm lie within 0.03 mm of a circle of 10 mm, and 0.06 mm from one another."""
    round_one = region(circle(0j, 10))
    squeezed = moved(round_one, Affine(a=1.003, d=0.997))
    for one, other in ((round_one, squeezed), (squeezed, round_one)):
        assert alignments(one, other, 0.05)[0].deviation == pytest.approx(0.03, abs=0.001)
