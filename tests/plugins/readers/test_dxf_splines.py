"""B-splines as cubics, against scipy's evaluation of the same splines (de Boor's algorithm)."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from clothpath.areas.chains import Edge
from clothpath.curves import Floats, Points, cubics, open_path
from clothpath.plugins.readers.dxf.splines import CLOSENESS, spline_edge


@st.composite
def splines(draw: st.DrawFn, degrees: st.SearchStrategy[int]) -> tuple[int, list[float], list[complex]]:
    """A degree, knots (clamped or not, some of them double) and poles."""
    degree = draw(degrees)
    count = degree + 1 + draw(st.integers(0, 6))
    steps = draw(st.lists(st.sampled_from([0.3, 1.0, 2.5]), min_size=count - degree, max_size=count - degree))
    if degree > 1 and len(steps) > 2 and draw(st.booleans()):
        steps[1] = 0.0  # a double knot
    inner = np.cumsum([0.0, *steps]).tolist()
    if draw(st.booleans()):
        knots = [inner[0]] * degree + inner + [inner[-1]] * degree
    else:
        knots = [inner[0] - degree + i for i in range(degree)] + inner + [inner[-1] + i + 1.0 for i in range(degree)]
    coordinate = st.integers(-100, 100)
    poles = draw(st.lists(st.builds(complex, coordinate, coordinate), min_size=count, max_size=count, unique=True))
    return degree, knots, poles


def spans(degree: int, knots: list[float]) -> list[tuple[float, float]]:
    inner = knots[degree : len(knots) - degree]
    return [(a, b) for a, b in pairwise(inner) if a < b]


def points_of(edge: Edge, t: Floats) -> Points:
    """(segments, len(t)) points at the same parameters of each cubic."""
    p = cubics(open_path(edge.start, edge.segments))[:, :, None]
    s = 1 - t
    result: Points = s**3 * p[:, 0] + 3 * s**2 * t * p[:, 1] + 3 * s * t**2 * p[:, 2] + t**3 * p[:, 3]
    return result


T = np.linspace(0, 1, 9)


@given(splines(st.integers(1, 3)))
def test_up_to_degree_3_the_cubics_are_the_spline(of: tuple[int, list[float], list[complex]]) -> None:
    degree, knots, poles = of
    found = points_of(spline_edge(degree, knots, poles), T)
    true = BSpline(knots, np.array(poles), degree)
    expected = np.array([true(a + (b - a) * T) for a, b in spans(degree, knots)])
    assert found.shape == expected.shape
    assert np.abs(found - expected).max() < 1e-9


@settings(max_examples=20)
@given(splines(st.integers(4, 7)))
def test_higher_degrees_keep_within_a_millionth(of: tuple[int, list[float], list[complex]]) -> None:
    degree, knots, poles = of
    _close(spline_edge(degree, knots, poles), BSpline(knots, np.array(poles), degree), None, degree, knots, poles)


@settings(max_examples=20)
@given(splines(st.integers(1, 4)), st.data())
def test_weights_pull_within_a_millionth(of: tuple[int, list[float], list[complex]], data: st.DataObject) -> None:
    degree, knots, poles = of
    weights = data.draw(st.lists(st.floats(0.2, 5), min_size=len(poles), max_size=len(poles)))
    above = BSpline(knots, np.array(poles) * weights, degree)
    _close(spline_edge(degree, knots, poles, weights), above, BSpline(knots, weights, degree), degree, knots, poles)


def _close(
    edge: Edge, above: BSpline, below: BSpline | None, degree: int, knots: list[float], poles: list[complex]
) -> None:
    """Every point of the cubics lies on a fine polyline through points of the true curve."""
    t = np.concatenate([np.linspace(a, b, 4001) for a, b in spans(degree, knots)])
    true = above(t) if below is None else above(t) / below(t)
    line = shapely.LineString(np.stack((true.real, true.imag), axis=1))
    shapely.prepare(line)
    found = points_of(edge, T).ravel()
    found = found[:: len(found) // 150 + 1]
    assert shapely.distance(shapely.points(found.real, found.imag), line).max() <= CLOSENESS * max(
        abs(p - poles[0]) for p in poles
    )


def test_a_spline_that_is_torn_is_refused() -> None:
    """A knot as often as the degree and once more: the curve jumps there."""
    with pytest.raises(ValueError, match="torn"):
        spline_edge(1, [-1, 0, 1, 1, 2, 3], [0, 10, 20, 30])


@pytest.mark.parametrize(
    ("degree", "knots", "poles", "weights"),
    [
        (0, [0, 1], [0], []),
        (26, [0.0] * 27 + [1.0] * 27, [complex(i) for i in range(27)], []),
        (3, [0, 0, 0, 1, 1, 1], [0, 1, 2, 3], []),
        (2, [0, 0, 0, 1, 1, 1], [0, 1], []),
        (2, [0, 0, 1, 0, 1, 1], [0, 1, 2], []),
        (2, [0, 0, 0, 0, 0, 0], [0, 1, 2], []),
        (2, [0, 0, 0, 1, 1, 1], [0, 1, 2], [1, 1]),
        (2, [0, 0, 0, 1, 1, 1], [0, 1, 2], [1, -1, 1]),
        (2, [0, 0, 0, 1, 1, float("nan")], [0, 1, 2], []),
        (2, [0, 0, 0, 1, 1, 1], [0, complex(float("inf")), 2], []),
    ],
)
def test_what_is_no_spline_is_refused(
    degree: int, knots: list[float], poles: list[complex], weights: list[float]
) -> None:
    with pytest.raises(ValueError, match="spline"):
        spline_edge(degree, knots, poles, weights)
