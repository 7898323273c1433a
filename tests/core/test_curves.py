"""Curves against the mathematics of known figures.

Sources: area of a circle and an ellipse; Green's theorem on a cubic (one with control points straight above its ends at
height h over a chord c holds 3/5 c h and rises to 3/4 h); length of a circle and of a parabola; chord error, G. Farin,
Curves and Surfaces for CAGD (5th ed., 2002).
"""

from __future__ import annotations

import cmath
import math
import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import directed_hausdorff

from clothpath.curves import (
    Affine,
    Curve,
    OpenPath,
    Outline,
    arc_segments,
    area,
    backwards,
    box_of,
    circle,
    cubics,
    flattened,
    length,
    open_path,
    outline,
    outlines_in,
    polygon,
    transformed,
)

numbers = st.floats(-200, 200, allow_nan=False).map(lambda value: round(value, 3))
points = st.builds(complex, numbers, numbers)
segments = st.one_of(st.tuples(points), st.tuples(points, points, points))
outlines = st.builds(outline, points, st.lists(segments, min_size=1, max_size=6))
maps = st.builds(Affine, *[st.floats(-3, 3)] * 4, st.floats(-50, 50), st.floats(-50, 50))


def dense(path: Outline, count: int = 200) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:
    """Points on the path, by Bernstein polynomials and not by the code under test."""
    t = np.linspace(0, 1, count)[:, None]
    p = cubics(path)
    terms = [math.comb(3, k) * t**k * (1 - t) ** (3 - k) * p[:, k] for k in range(4)]
    return np.asarray(sum(terms)).T.ravel()


def test_the_area_of_a_rectangle_and_of_a_triangle() -> None:
    assert area(polygon([0, 4, 4 + 3j, 3j])) == 12
    assert area(polygon([0, 4, 3j])) == 6
    assert area(polygon([0, 3j, 4])) == -6


@pytest.mark.parametrize("radius", [0.5, 1, 37, 500])
def test_a_circle_has_its_area_and_length(radius: float) -> None:
    ring = circle(3 - 4j, radius)
    assert area(ring) == pytest.approx(math.pi * radius**2, rel=1e-5)
    assert length(ring) == pytest.approx(2 * math.pi * radius, rel=1e-5)
    assert np.abs(np.abs(dense(ring) - (3 - 4j)) - radius).max() <= 4.5e-6 * radius


def test_an_ellipse_at_an_angle_has_its_area_and_box() -> None:
    turned = cmath.rect(1, math.radians(30))
    ring = outline(20 * turned, arc_segments(0, 20 * turned, 10j * turned, 0.0, 2 * math.pi))
    wide = math.hypot(20 * math.cos(math.radians(30)), 10 * math.sin(math.radians(30)))
    high = math.hypot(20 * math.sin(math.radians(30)), 10 * math.cos(math.radians(30)))
    assert area(ring) == pytest.approx(200 * math.pi, rel=1e-5)
    assert (ring.box.right, ring.box.top) == pytest.approx((wide, high), rel=1e-5)


def test_a_full_arc_ends_where_it_starts() -> None:
    start = 5 + 0.1j + cmath.rect(7, 0.3)
    arc = arc_segments(5 + 0.1j, 7, 7j, 0.3, 2 * math.pi)
    assert arc[-1][-1] == pytest.approx(start, abs=1e-12)
    assert abs(arc[-1][-1] - start) < 1e-12


@pytest.mark.parametrize("sweep", [0.1, math.pi / 2, -math.pi / 2, math.pi, -4.0, 6.0])
def test_an_arc_stays_on_its_circle_and_is_as_long_as_it_should_be(sweep: float) -> None:
    arc = open_path(10, arc_segments(0, 10, 10j, 0.0, sweep))
    assert length(arc) == pytest.approx(10 * abs(sweep), rel=1e-5)
    assert np.abs(np.abs(flattened(arc, 1e-4)) - 10).max() < 2e-4
    assert arc.end == pytest.approx(cmath.rect(10, sweep), abs=1e-12)


def test_an_arch_holds_three_fifths_of_its_hull_and_rises_to_three_quarters() -> None:
    arch = outline(40, [(40 + 20j, 20j, 0)])
    assert area(arch) == pytest.approx(0.6 * 800)
    assert arch.box.top == pytest.approx(15)


@given(outlines)
def test_backwards_is_the_same_curve_with_the_opposite_area(path: Outline) -> None:
    assert area(backwards(path)) == pytest.approx(-area(path), abs=1e-6)
    assert backwards(path).start == path.start
    box, other = path.box, backwards(path).box
    assert (other.left, other.bottom, other.right, other.top) == pytest.approx(
        (box.left, box.bottom, box.right, box.top), abs=1e-9
    )
    assert np.allclose(cubics(backwards(backwards(path))), cubics(path), atol=1e-9)


@given(outlines, maps)
def test_an_affine_map_scales_the_area_by_its_determinant(path: Outline, affine: Affine) -> None:
    image = transformed(path, affine)
    tolerance = 1e-9 * (1 + abs(area(path)) + 200**2) * (1 + abs(affine.determinant) + 9)
    assert area(image) == pytest.approx(area(path) * affine.determinant, abs=max(tolerance, 1e-3))
    assert np.allclose(dense(image), [affine.apply(point) for point in dense(path)], atol=1e-9)


@given(maps, points)
def test_an_inverse_undoes_its_map(affine: Affine, point: complex) -> None:
    if abs(affine.determinant) > 1e-3:
        assert affine.inverse().apply(affine.apply(point)) == pytest.approx(point, abs=1e-6)


def test_maps_compose_from_the_right() -> None:
    both = Affine.shift(10) @ Affine.turn(90)
    assert both.apply(1) == 10 + 1j
    assert Affine.flip().apply(3 + 2j) == -3 + 2j
    assert Affine.scale(2, 3).apply(1 + 1j) == 2 + 3j
    assert [Affine.turn(90 * n).apply(1) for n in range(4)] == [1, 1j, -1, -1j]


@given(outlines, st.sampled_from([0.5, 0.05, 0.005]))
def test_flattening_stays_within_the_tolerance(path: Outline, tolerance: float) -> None:
    line = np.append(flattened(path, tolerance), flattened(path, tolerance)[0])
    curve = dense(path, 60)
    chord = line[1:] - line[:-1]
    square = np.maximum(np.abs(chord) ** 2, 1e-30)
    part = np.clip(((curve[:, None] - line[:-1]) * chord.conj()).real / square, 0, 1)
    nearest = np.abs(curve[:, None] - (line[:-1] + part * chord)).min(axis=1)
    assert nearest.max() <= tolerance + 1e-9


@given(outlines)
def test_flattening_keeps_the_extreme_points(path: Outline) -> None:
    flat, box = flattened(path, 1.0), path.box
    edges = (flat.real.min(), flat.imag.min(), flat.real.max(), flat.imag.max())
    assert edges == pytest.approx((box.left, box.bottom, box.right, box.top), abs=1e-6)


@given(outlines)
def test_the_box_holds_the_curve_and_no_more(path: Outline) -> None:
    box, curve = path.box, dense(path, 400)
    assert box.left <= curve.real.min() + 1e-9
    assert box.top >= curve.imag.max() - 1e-9
    assert box.left == pytest.approx(curve.real.min(), abs=0.02)
    assert box.top == pytest.approx(curve.imag.max(), abs=0.02)
    assert box_of([path, path]) == box


def test_flattened_circles_are_near_the_circle() -> None:
    flat, true = flattened(circle(0, 50), 0.01), dense(circle(0, 50), 50)
    far = directed_hausdorff(np.c_[flat.real, flat.imag], np.c_[true.real, true.imag])[0]
    assert far < 0.9
    assert 40 < len(flat) < 400


def test_length_of_lines_and_of_a_parabola() -> None:
    """The parabola y = x^2 from 0 to 1 is (2 sqrt 5 + asinh 2) / 4 long."""
    assert length(open_path(0, [(3,), (3 + 4j,)])) == 7
    quadratic: Curve = (1 / 3, 2 / 3 + 1j / 3, 1 + 1j)  # control point at 1/2, elevated
    assert length(open_path(0, [quadratic])) == pytest.approx((2 * math.sqrt(5) + math.asinh(2)) / 4, rel=1e-9)


@given(outlines)
def test_paths_are_equal_by_value_and_survive_pickling(path: Outline) -> None:
    copy = pickle.loads(pickle.dumps(path))
    assert copy == path
    assert hash(copy) == hash(path)
    assert transformed(path, Affine.shift(1)) != path


def test_paths_are_read_only_and_refuse_what_is_no_curve() -> None:
    ring = circle(0, 1)
    with pytest.raises(ValueError, match="read-only"):
        ring.nodes[0, 0] = 5
    with pytest.raises(ValueError, match="finite"):
        open_path(0, [(complex("inf"),)])
    with pytest.raises(ValueError, match="nodes"):
        open_path(0, [])
    with pytest.raises(ValueError, match="end where it starts"):
        Outline(np.zeros((1, 3), complex), np.ones(1, bool), 1 + 0j)
    with pytest.raises(ValueError, match="no paths"):
        box_of([])


@given(st.lists(outlines, min_size=1, max_size=4))
def test_outlines_made_at_once_are_the_same_as_one_by_one(paths: list[Outline]) -> None:
    ends = np.cumsum([len(path) for path in paths]).tolist()
    nodes, straight = np.concatenate([path.nodes for path in paths]), np.concatenate([path.straight for path in paths])
    assert outlines_in(nodes, straight, ends) == paths


def test_an_open_path_is_no_outline() -> None:
    assert open_path(0, [(1,), (0,)]) != outline(0, [(1,), (0,)])
    assert isinstance(open_path(0, [(1,)]), OpenPath)
