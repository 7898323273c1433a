"""Node economy: dense outlines of known figures come back with few segments, near and with their corners."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import Outline, arc_segments, circle, cubics, flattened, outline, polygon
from clothpath.fitting.fits import derivatives, fitted
from clothpath.fitting.refit import economized
from clothpath.regions import xy

BUDGET_MM = 0.02  # design.md, section 8


def petals(count: int, radius: float) -> Outline:
    """A flower of `count` petals, two cubics each, with a corner between petals."""
    segments = []
    for i in range(count):
        a, b = (radius * 0.4 * np.exp(2j * math.pi * k / count) for k in (i, i + 1))
        way = np.exp(2j * math.pi * (i + 0.5) / count)
        tip = radius * way
        side = 1j * way * radius * 0.35
        segments += [
            (a + 0.4 * radius * way - side * 0.4, tip - side, tip),
            (tip + side, b + 0.4 * radius * way + side * 0.4, b),
        ]
    return outline(radius * 0.4 + 0j, segments)


def teardrop(size: float) -> Outline:
    return outline(0j, [(size * (0.5 - 0.2j), size * (0.7 - 0.4j), size * (1 + 0j)),
                        (size * (1.2 + 0.3j), size * (0.6 + 0.6j), 0j)])  # fmt: skip


def wave(size: float) -> Outline:
    """Four cubics without a corner, bending both ways."""
    right = [0, 0.3 - 0.3j, 0.7 + 0.1j, 1, 1.3 - 0.1j, 1.3 + 0.6j, 0.9 + 0.6j]
    left = [0.5 + 0.6j, 0.4 + 0.3j, 0.1 + 0.5j, -0.2 + 0.7j, -0.3 + 0.3j, 0]
    p = size * np.array([*right, *left])
    return outline(0j, [tuple(p[i : i + 3].tolist()) for i in (1, 4, 7, 10)])


FIGURES = {
    "circle": outline(20 + 0j, arc_segments(0, 20, 20j, 0, 2 * math.pi)),
    "flower": petals(5, 40),
    "teardrop": teardrop(50),
    "wave": wave(60),
}


def dense(figure: Outline, spacing: float) -> Outline:
    """The polygon through points along the figure, about `spacing` mm apart, its nodes among them."""
    points = []
    for curve in cubics(figure):
        long = np.abs(np.diff(curve)).sum()
        t = np.arange(0, 1, spacing / long)
        points.append(derivatives(curve[None], t[None])[0][0])
    return polygon(np.concatenate(points))


def apart(one: Outline, other: Outline) -> float:
    """The Hausdorff distance, measured at points 0.1 mm apart."""
    a, b = (shapely.LinearRing(xy(flattened(each, 0.0005))) for each in (one, other))
    shapely.prepare([a, b])
    return max(
        float(shapely.distance(to, shapely.points(shapely.get_coordinates(shapely.segmentize(along, 0.1)))).max())
        for along, to in ((a, b), (b, a))
    )


@pytest.mark.parametrize("name", FIGURES)
@pytest.mark.parametrize("spacing", [0.1, 0.3])
def test_a_densely_sampled_figure_comes_back_with_few_cubics(name: str, spacing: float) -> None:
    figure = FIGURES[name]
    (got,) = economized([dense(figure, spacing)])
    assert len(got) <= 1.5 * len(figure)
    assert apart(got, dense(figure, spacing)) <= BUDGET_MM
    assert apart(got, figure) <= BUDGET_MM + spacing**2 / 8 / 5  # the polygon's own sagitta at a radius of 5 mm


@pytest.mark.parametrize("name", ["flower", "teardrop"])
def test_corners_stay_where_they_are(name: str) -> None:
    figure = FIGURES[name]
    (got,) = economized([dense(figure, 0.2)])
    corners = figure.nodes[::2, 0] if name == "flower" else figure.nodes[:1, 0]
    for corner in corners:
        assert np.abs(got.nodes[:, 0] - corner).min() < 1e-9


@settings(max_examples=6)
@given(st.sampled_from(sorted(FIGURES)), st.integers(0, 400))
def test_where_a_dense_outline_starts_does_not_matter(name: str, start: int) -> None:
    once = dense(FIGURES[name], 0.3)
    again = polygon(np.roll(once.nodes[:, 0], start))
    (a,), (b,) = economized([once]), economized([again])
    assert len(a) == len(b)
    assert apart(a, b) < 1e-6


def test_straight_sides_stay_straight_and_sharp() -> None:
    corners = np.array([0, 50, 50 + 30j, 30j])
    points = np.concatenate(
        [a + (b - a) * np.arange(0, 1, 0.01) for a, b in zip(corners, np.roll(corners, -1), strict=True)]
    )
    (got,) = economized([polygon(points)])
    assert len(got) == 4
    assert got.straight.all()
    assert sorted(got.nodes[:, 0].tolist(), key=lambda z: (z.imag, z.real)) == [0, 50, 30j, 50 + 30j]


def test_a_figure_that_is_already_spare_comes_back_as_it_was() -> None:
    for figure in (FIGURES["teardrop"], FIGURES["flower"], polygon([0, 40, 20 + 30j])):
        assert economized([figure])[0] == figure


def test_a_coarse_polygon_is_not_made_round() -> None:
    octagon = polygon(20 * np.exp(2j * math.pi * np.arange(8) / 8))
    assert economized([octagon])[0] == octagon


def test_a_noisy_outline_keeps_within_the_budget() -> None:
    # a fixed seed, so the same noise in every run
    noise = np.random.default_rng(7)
    points = flattened(circle(0, 30), 0.002)
    traced = polygon(points + 0.008 * (noise.standard_normal(len(points)) + 1j * noise.standard_normal(len(points))))
    (got,) = economized([traced])
    assert apart(got, traced) <= BUDGET_MM
    assert len(got) < len(traced) / 2


def test_a_fit_that_fails_is_a_chord_and_says_so() -> None:
    # out and back in one line, ends pointing away from it: no cubic follows that
    there_and_back = np.concatenate((np.linspace(0, 10, 9), np.linspace(9, 1, 8)))[None] + 0j
    controls, miss = fitted(there_and_back, np.array([-1 + 0j]), np.array([1 + 0j]), 0.01, 0.01)
    assert np.isfinite(controls).all()
    assert miss[0] > 1
