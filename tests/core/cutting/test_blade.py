"""The simulated drag knife against its closed forms, and holder paths against the simulation.

Closed forms: the tractrix of a point dragged along a line (E. H. Lockwood, A Book of Curves, 1961, ch. 13); a holder on
radius R with offset e cuts radius sqrt(R^2 - e^2) once it has settled (the tip's line touches its circle: arithmetic).
Offsets of 0.175 to 1 mm and an overcut of 0.5 to 1 mm are common practice.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from clothpath.curves import (
    Affine,
    OpenPath,
    Outline,
    arc_segments,
    circle,
    flattened,
    length,
    open_path,
    outline,
    polygon,
    transformed,
)
from clothpath.cutting.blade import CLOSED_MM, FOLLOWED_MM, PARKED, followed, tip_path
from clothpath.cutting.holder import compensated, written
from clothpath.cutting.starts import restarted, starts, straightest

OFFSETS = (0.175, 0.25, 0.5, 1.0)


def star(points: int, outer: float, inner: float) -> Outline:
    return polygon([(inner if i % 2 else outer) * cmath.rect(1, math.pi * i / points) for i in range(2 * points)])


SHAPES = {
    "square": polygon([0, 40, 40 + 40j, 40j]),
    "star": star(5, 20, 8),
    "needle": polygon([0, 60, 60 + 2j]),
    "circle": circle(5 + 5j, 10),
    "dot": circle(0, 1.0),
    "drop": outline(0, [(20 + 5j, 20 + 30j, 30j), (-20 + 30j, -20 + 5j, 0)]),
    "wave": outline(0, [(5 + 9j, 10 - 9j, 15), (20 + 9j, 25 - 9j, 30), (30 + 20j,), (20 + 12j, 10 + 28j, 20j)]),
    "controls on ends": outline(0, [(0j, 20 + 20j, 20 + 20j), (20 + 30j, 10 + 30j, 30j)]),
}


def begun_on_a_straight(of: Outline) -> Outline:
    return restarted(of, straightest(starts([of])[0]))


def farthest(a: Outline | OpenPath, b: Outline) -> float:
    """The largest distance of either's finely flattened points from the other, in mm, by shapely."""
    one, two = flattened(a, 0.001), flattened(b, 0.001)
    rings = [shapely.LinearRing(np.column_stack((p.real, p.imag))) for p in (one, two)]
    return max(
        float(shapely.distance(shapely.points(p.real, p.imag), ring).max())
        for p, ring in ((one, rings[1]), (two, rings[0]))
    )


# the simulator


@pytest.mark.parametrize(("radius", "offset"), [(10, 1), (5, 0.25), (2, 0.9), (40, 0.175)])
def test_a_holder_on_a_circle_settles_on_the_smaller_radius(radius: float, offset: float) -> None:
    laps = arc_segments(0, complex(radius), complex(0, radius), 0, 2 * math.pi) * 3
    tips, _ = tip_path(open_path(complex(radius), laps), offset, heading=0.3)
    assert abs(tips[-1]) == pytest.approx(math.sqrt(radius**2 - offset**2), abs=0.001)


@given(st.floats(0.175, 1), st.floats(-3, 3), st.floats(0.1, 20))
def test_on_a_line_the_tip_runs_along_the_tractrix(offset: float, heading: float, way: float) -> None:
    tips, end = tip_path(open_path(0, [(complex(way),)]), offset, heading)
    # tan(a / 2) falls by exp(-s / e); a is the angle between heading and travel
    angle = 2 * math.atan(math.tan(heading / 2) * math.exp(-way / offset))
    assert end == pytest.approx(angle, abs=1e-9)
    assert tips[-1] == pytest.approx(way - offset * cmath.rect(1, angle), abs=1e-9)


@pytest.mark.parametrize("heading", [0.0, 2.0, -1.5])
def test_on_any_curve_it_is_as_the_differential_equation_says(heading: float) -> None:
    # the tip can only move along its heading: e d(heading) = sin(travel - heading) ds, integrated by scipy
    offset, control = 0.6, np.array([0, 9 + 6j, -3 + 9j, 8 + 14j])

    def velocity(t: float) -> complex:
        d = 3 * np.diff(control)
        return complex((1 - t) ** 2 * d[0] + 2 * (1 - t) * t * d[1] + t**2 * d[2])

    def rate(t: float, state: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        travel = velocity(t)
        return [math.sin(cmath.phase(travel) - state[0]) * abs(travel) / offset]

    expected = solve_ivp(rate, (0, 1), [heading], rtol=1e-9, atol=1e-10).y[0, -1]
    tips, end = tip_path(open_path(0, [(control[1], control[2], control[3])]), offset, heading)
    assert cmath.phase(cmath.rect(1, end - expected)) == pytest.approx(0, abs=0.005)
    assert tips[-1] == pytest.approx(control[3] - offset * cmath.rect(1, expected), abs=0.002)


def test_a_knife_pushed_straight_back_stays_in_line() -> None:
    tips, end = tip_path(open_path(0, [(-3 + 0j,)]), 0.5, heading=0.0)
    assert tips[-1] == pytest.approx(-3.5)
    assert abs(end) < 1e-6


def test_uncompensated_a_corner_comes_out_round() -> None:
    square = begun_on_a_straight(SHAPES["square"])
    tips, _ = tip_path(square, 1.0, heading=cmath.phase(complex(square.nodes[0, 1] - square.nodes[0, 0])))
    corner = min((tip for tip in tips.tolist()), key=lambda tip: abs(tip - 40))
    assert 0.3 < abs(corner - 40) < 1.0


def test_a_blade_that_does_not_trail_is_refused() -> None:
    with pytest.raises(ValueError, match="does not trail"):
        tip_path(open_path(0, [(1 + 0j,)]), 0.0)
    with pytest.raises(ValueError, match="needs no compensation"):
        compensated(SHAPES["square"], 0.0, 1.0)


# holder paths


@pytest.mark.parametrize("offset", OFFSETS)
@pytest.mark.parametrize("shape", SHAPES)
def test_the_tip_follows_the_outline_and_closes_it(shape: str, offset: float) -> None:
    meant = begun_on_a_straight(SHAPES[shape])
    found = followed(compensated(meant, offset, 0.8), offset, 0.8)
    assert isinstance(found, Outline)
    # a tenth of what is allowed
    assert farthest(found, meant) < FOLLOWED_MM / 5


def test_corners_are_sharp() -> None:
    meant = begun_on_a_straight(SHAPES["star"])
    tips, _ = tip_path(compensated(meant, 1.0, 1.0), 1.0)
    for corner in SHAPES["star"].nodes[:, 0]:
        assert np.abs(tips - corner).min() < 0.01


def test_the_blade_comes_down_and_goes_up_parked() -> None:
    meant = begun_on_a_straight(SHAPES["drop"])
    holder = compensated(meant, 0.5, 0.7)
    tips, heading = tip_path(holder, 0.5, PARKED)
    assert holder.start == pytest.approx(meant.start + 0.5)
    assert tips[0] == pytest.approx(meant.start)
    assert heading == pytest.approx(PARKED, abs=0.02)
    assert abs(holder.end - tips[-1] - 0.5) < 0.01


@given(st.floats(0.175, 1), st.floats(0.5, 1))
def test_the_tip_runs_on_past_its_start(offset: float, overcut: float) -> None:
    meant = begun_on_a_straight(SHAPES["square"])
    tips, _ = tip_path(compensated(meant, offset, overcut), offset)
    assert np.abs(np.diff(tips)).sum() == pytest.approx(length(meant) + overcut, abs=0.02)
    assert abs(tips[-1] - meant.start) == pytest.approx(overcut, abs=0.01)


@settings(max_examples=20)
@given(st.sampled_from(sorted(SHAPES)), st.sampled_from(OFFSETS), st.floats(0, 360), st.booleans())
def test_wherever_and_however_it_lies(shape: str, offset: float, turn: float, flipped: bool) -> None:
    affine = Affine.shift(100 + 50j) @ Affine.turn(turn) @ (Affine.flip() if flipped else Affine())
    meant = begun_on_a_straight(transformed(SHAPES[shape], affine))
    found = followed(compensated(meant, offset, 1.0), offset, 1.0)
    assert isinstance(found, Outline)
    assert farthest(found, meant) < FOLLOWED_MM


def test_the_path_is_lines_and_cubics_and_not_many() -> None:
    assert len(compensated(begun_on_a_straight(SHAPES["square"]), 0.25, 1.0)) < 20


def test_an_outline_smaller_than_the_overcut_is_gone_round_once_and_a_half() -> None:
    speck = circle(0, 0.3)
    found = followed(compensated(speck, 0.25, 5.0), 0.25, 5.0)
    assert isinstance(found, Outline)
    assert farthest(found, speck) < FOLLOWED_MM


# what is told of a written path


def test_without_offset_and_overcut_the_path_is_what_is_cut() -> None:
    assert followed(SHAPES["drop"], 0, 0) is SHAPES["drop"]
    assert written(SHAPES["drop"], 0, 0) is SHAPES["drop"]


def test_a_tangential_knife_only_runs_on() -> None:
    meant = begun_on_a_straight(SHAPES["drop"])
    path = written(meant, 0.0, 0.8)
    assert length(path) == pytest.approx(length(meant) + 0.8, abs=0.001)
    found = followed(path, 0.0, 0.8)
    assert isinstance(found, Outline)
    assert farthest(found, meant) < 0.01


def test_a_path_that_stops_short_is_told_as_open() -> None:
    meant = begun_on_a_straight(SHAPES["square"])
    whole = compensated(meant, 0.25, 1.0)
    short = open_path(whole.start, whole.segments()[:-4])
    assert isinstance(followed(short, 0.25, 1.0), OpenPath)


def test_an_overcut_that_leaves_the_line_is_told_as_open() -> None:
    meant = begun_on_a_straight(SHAPES["square"])
    path = written(meant, 0.0, 1.0)
    astray = open_path(path.start, [*path.segments()[:-1], (path.end + 2j + 2,)])
    assert isinstance(followed(astray, 0.0, 1.0), OpenPath)


def test_paths_that_nobody_compensated_fail_by_more_than_is_allowed() -> None:
    meant = begun_on_a_straight(SHAPES["star"])
    found = followed(meant, 1.0, 0.0)
    assert isinstance(found, OpenPath) or farthest(found, meant) > FOLLOWED_MM


def test_the_wrong_offset_fails() -> None:
    meant = begun_on_a_straight(SHAPES["star"])
    found = followed(compensated(meant, 0.5, 1.0), 0.25, 1.0)
    assert isinstance(found, OpenPath) or farthest(found, meant) > FOLLOWED_MM


@pytest.mark.parametrize("size", [0.0, 1e-9, 0.01, 0.04, 0.1, 0.3])
@pytest.mark.parametrize("offset", [0.0, 0.25])
def test_specks_in_a_file_are_no_fault_of_the_simulation(size: float, offset: float) -> None:
    for path in (open_path(0, [(complex(size),)]), polygon([0, size, size * 1j]), open_path(0, [(size + 0j,), (0j,)])):
        assert isinstance(followed(path, offset, 1.0), Outline | OpenPath)


def test_closed_means_closer_than_a_thread() -> None:
    assert CLOSED_MM <= 0.05
