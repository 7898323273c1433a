"""Arcs in place of cubics: they stay within the tolerance of the curve, and the curve within it of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import OpenPath, Outline, Path, circle, flattened, open_path, outline, polygon
from clothpath.fitting.arcs import ArcChain, arc_of, fitted, polyline

coordinates = st.floats(-60, 60).map(lambda v: round(v, 3))
points = st.builds(complex, coordinates, coordinates)
segments = st.one_of(st.tuples(points), st.tuples(points, points, points))


def dense(chain: ArcChain) -> np.ndarray:
    """Points of the chain, from the center, radius and sweep of each arc."""
    found = [chain.points[:1]]
    for start, end, bulge in zip(chain.points[:-1], chain.points[1:], chain.bulges, strict=True):
        if bulge:
            arc = arc_of(complex(start), complex(end), float(bulge))
            found.append(arc.center + (start - arc.center) * np.exp(1j * arc.sweep * np.linspace(0, 1, 60)))
        found.append(np.array([end]))
    return np.concatenate(found)


def deviation(path: Path, chain: ArcChain) -> float:
    """The Hausdorff distance, by shapely."""
    meant = flattened(path, 1e-3)
    if isinstance(path, Outline):
        meant = np.append(meant, meant[0])
    a, b = (shapely.LineString(np.column_stack((p.real, p.imag))[[0, *range(len(p))]]) for p in (meant, dense(chain)))
    return shapely.hausdorff_distance(a, b)


@settings(max_examples=30)
@given(points, st.lists(segments, min_size=1, max_size=3), st.sampled_from([0.05, 0.01, 0.005]))
def test_stays_within_the_tolerance(start: complex, listed: list, tolerance: float) -> None:
    path = outline(start, listed)
    (chain,) = fitted([path], tolerance)
    assert deviation(path, chain) <= tolerance + 1e-3
    assert chain.closed


@given(points, st.lists(segments, min_size=1, max_size=3))
def test_ends_are_kept(start: complex, listed: list) -> None:
    path = open_path(start, listed)
    (chain,) = fitted([path], 0.01)
    assert chain.points[0] == path.start
    assert chain.points[-1] == path.end
    assert not chain.closed


def test_bulge_is_the_tangent_of_a_quarter_of_the_angle() -> None:
    # DXF reference: 0 is straight, 1 a half circle
    quarter = arc_of(1 + 0j, 1j, math.tan(math.pi / 8))
    assert quarter.center == pytest.approx(0j, abs=1e-12)
    assert quarter.radius == pytest.approx(1)
    assert quarter.sweep == pytest.approx(math.pi / 2)
    half = arc_of(-1 + 0j, 1 + 0j, -1.0)
    assert half.center == pytest.approx(0j)
    assert half.sweep == pytest.approx(-math.pi)


def test_circle_becomes_three_arcs_of_its_radius() -> None:
    (chain,) = fitted([circle(complex(20, 30), 12)], 0.005)
    arcs = [arc_of(*ends) for ends in zip(chain.points[:-1], chain.points[1:], chain.bulges.tolist(), strict=True)]
    assert len(arcs) == 3
    assert sum(arc.sweep for arc in arcs) == pytest.approx(2 * math.pi, abs=1e-3)
    for arc in arcs:
        assert arc.center == pytest.approx(complex(20, 30), abs=0.005)
        assert arc.radius == pytest.approx(12, abs=0.005)


def test_straight_lines_stay_what_they_are() -> None:
    square = polygon([0, 10, 10 + 10j, 10j])
    (chain,) = fitted([square], 0.01)
    assert chain.points.tolist() == [0, 10, 10 + 10j, 10j, 0]
    assert not chain.bulges.any()


def test_arcs_need_fewer_points_than_lines() -> None:
    wave = open_path(0, [(20 + 30j, 40 - 30j, 60 + 0j)])
    (chain,) = fitted([wave], 0.005)
    assert len(chain.bulges) < len(polyline(wave, 0.005).bulges) / 4


def test_paths_given_together_come_out_as_if_alone() -> None:
    paths = [circle(0, 5), polygon([0, 4, 4j]), open_path(0, [(3 + 9j, 8 - 2j, 12 + 4j)])]
    for path, chain in zip(paths, fitted(paths, 0.01), strict=True):
        (alone,) = fitted([path], 0.01)
        assert np.array_equal(chain.points, alone.points)
        assert np.array_equal(chain.bulges, alone.bulges)


@pytest.mark.parametrize(
    "path",
    [
        open_path(0, [(0, 0, 10 + 5j)]),  # both controls where it starts or ends: straight in shape
        open_path(0, [(10 + 10j, 0 + 10j, 10 + 0j)]),  # loops over itself
        open_path(0, [(10 + 10j, 10 + 10j, 20 + 0j)]),
        open_path(0, [(10 + 0j, 5 + 0j, 8 + 0j)]),  # turns back on a line
        open_path(0, [(20 + 20j, -10 + 20j, 10 + 0j)]),  # cusp
        open_path(1e5, [(1e5 + 10j, 1e5 + 10 + 10j, 1e5 + 10)]),  # far from the origin
    ],
)
def test_odd_cubics(path: OpenPath) -> None:
    (chain,) = fitted([path], 0.01)
    assert deviation(path, chain) <= 0.011


def test_a_spur_keeps_its_point() -> None:
    """Out along a curve that is all but straight, and back beside it: as an offset left it at a touching corner."""
    out = (0.3068 + 0.7323j, 0.1545 + 0.7698j, 0.0019 + 0.8072j)
    back = (0.1546 + 0.7697j, 0.3067 + 0.7331j, 0.4585 + 0.6952j)
    path = outline(0.4586 + 0.6945j, [out, back, (0.2569 + 2.4039j,), (-30 + 1j,)])
    (chain,) = fitted([path], 0.005)
    assert deviation(path, chain) <= 0.006
