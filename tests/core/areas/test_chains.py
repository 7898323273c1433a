"""Loose edges joined: what closes, what stays open, and how fast."""

from __future__ import annotations

import random
import time
from itertools import pairwise
from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.areas.chains import Edge, Joined, joined
from clothpath.curves import Outline, arc_segments, area, length


def line(a: complex, b: complex) -> Edge:
    return Edge(a, ((b,),))


def lines(*points: complex) -> list[Edge]:
    return [line(a, b) for a, b in pairwise(points)]


def ring(*points: complex) -> list[Edge]:
    return lines(*points, points[0])


def arc(center: complex, radius: float, start: float, sweep: float) -> Edge:
    u = complex(radius)
    first = center + radius * np.exp(1j * start)
    return Edge(complex(first), tuple(arc_segments(center, u, u * 1j, start, sweep)))


def areas(found: Joined) -> list[float]:
    return sorted(abs(area(loop.path)) for loop in found.loops)


SQUARE = ring(0, 10, 10 + 10j, 10j)


@given(st.permutations(range(4)), st.lists(st.booleans(), min_size=4, max_size=4))
def test_a_square_closes_in_any_order_and_direction(order: list[int], turned: list[bool]) -> None:
    edges = [SQUARE[i] for i in order]
    edges = [line(edge.end, edge.start) if turn else edge for edge, turn in zip(edges, turned, strict=True)]
    found = joined(edges)
    assert areas(found) == pytest.approx([100])
    assert found.chains == found.gaps == found.junctions == ()
    assert sorted(found.loops[0].edges) == [0, 1, 2, 3]
    assert found.loops[0].plain


def test_curves_keep_their_control_points() -> None:
    found = joined([arc(0, 10, 0, pi), arc(0, 10, pi, pi)])
    assert areas(found) == pytest.approx([100 * pi], rel=1e-5)
    assert not found.loops[0].path.straight.any()


def test_an_edge_that_returns_to_its_start_is_a_loop_of_its_own() -> None:
    assert areas(joined([arc(0, 10, 0, 2 * pi)])) == pytest.approx([100 * pi], rel=1e-5)


def test_an_open_corner_of_straight_lines_is_where_they_meet_and_nothing_else_moves() -> None:
    edges = [*lines(0, 10, 10 + 10j, 10j), line(10j, 0.08j)]
    found = joined(edges, gap=0.1)
    assert [(gap.at, gap.width) for gap in found.gaps] == [(0, pytest.approx(0.08))]
    assert {complex(p) for p in found.loops[0].path.nodes[:, 0]} == {0, 10, 10 + 10j, 10j}


def test_a_gap_in_a_curve_closes_halfway_and_only_what_is_near_goes_with_it() -> None:
    whole = arc(0, 10, 0, 2 * pi)
    moved = Edge(whole.start + 0.06j, whole.segments)
    (loop,) = joined([moved], gap=0.1).loops
    points = loop.path.nodes
    assert complex(points[0, 0]) == pytest.approx(10 + 0.03j)
    assert loop.path.end == complex(points[0, 0])
    far = np.abs(points[:, 0] - 10) > 2
    assert set(points[far, 0].tolist()) == {s[-1] for s in whole.segments if abs(s[-1] - 10) > 2}


def test_a_gap_wider_than_allowed_stays_open() -> None:
    found = joined(lines(0, 10, 10 + 10j, 10j, 0.3j), gap=0.1)
    assert found.loops == ()
    assert len(found.chains) == 1
    assert length(found.chains[0].path) == pytest.approx(39.7)


def test_the_nearest_ends_are_joined_first() -> None:
    """Two ends 0.02 apart and a third one 0.08 away: the third is left over."""
    found = joined([line(0, 10), line(10.02, 20), line(10.08 + 0.05j, 10 + 30j)], gap=0.1)
    assert [chain.edges for chain in found.chains] == [(0, 1), (2,)]


def test_a_fine_curve_is_not_drawn_together() -> None:
    """Steps of 0.02 mm, a fifth of the tolerance, all the way round: every point is still there."""
    points = [complex(2 * np.exp(2j * pi * k / 628)) for k in range(628)]
    (loop,) = joined(ring(*points), gap=0.1).loops
    assert len(loop.path) == 628


def test_a_speck_is_not_closed_by_its_own_size() -> None:
    assert joined(lines(0, 0.08, 0.08 + 0.05j), gap=0.1).loops == ()


@pytest.mark.parametrize("turned", [False, True])
def test_an_edge_drawn_twice_counts_once(turned: bool) -> None:
    again = line(10 + 10j, 10) if turned else line(10, 10 + 10j)
    found = joined([*SQUARE, again])
    assert areas(found) == pytest.approx([100])
    assert found.repeated == (4,)


def test_an_arc_and_its_chord_are_no_repetition() -> None:
    found = joined([arc(0, 10, 0, pi), line(-10, 10)])
    assert areas(found) == pytest.approx([50 * pi], rel=1e-5)
    assert found.repeated == ()


def test_an_edge_without_length_is_told() -> None:
    assert joined([*SQUARE, line(3, 3 + 0.001j)]).bare == (4,)


def test_two_shapes_that_share_a_side_are_two() -> None:
    found = joined([*SQUARE, *lines(10, 25, 25 + 10j, 10 + 10j)])
    assert areas(found) == pytest.approx([100, 150])
    assert set(found.junctions) == {10, 10 + 10j}
    assert not any(loop.plain for loop in found.loops)


def test_areas_are_enclosed_counterclockwise() -> None:
    found = joined([*SQUARE, line(0, 10 + 10j)])
    assert [area(loop.path) for loop in found.loops] == pytest.approx([50, 50])


def test_two_shapes_that_touch_at_a_corner_are_two() -> None:
    found = joined([*SQUARE, *ring(10 + 10j, 15 + 10j, 15 + 15j, 10 + 15j)])
    assert areas(found) == pytest.approx([25, 100])


def test_curves_that_leave_a_corner_in_one_direction_are_told_apart_by_their_bend() -> None:
    """A small circle inside a large one, touching at the origin, each of two halves that begin there."""
    edges = [arc(5j, 5, -pi / 2, pi), arc(5j, 5, pi / 2, pi), arc(2j, 2, -pi / 2, pi), arc(2j, 2, pi / 2, pi)]
    assert areas(joined(edges)) == pytest.approx([4 * pi, 21 * pi], rel=1e-4)


def test_a_tail_and_a_bridge_are_open() -> None:
    other = ring(20 + 10j, 30 + 10j, 30 + 20j, 20 + 20j)
    found = joined([*SQUARE, *other, line(10 + 10j, 20 + 10j), line(0, -5)])
    assert areas(found) == pytest.approx([100, 100])
    assert [chain.edges for chain in found.chains] == [(8,), (9,)]
    assert found.junctions == ()
    assert all(loop.plain for loop in found.loops)


def test_a_way_there_and_back_encloses_nothing() -> None:
    found = joined([line(0, 10), Edge(10, ((5,), (0,)))])
    assert found.loops == ()
    assert [chain.edges for chain in found.chains] == [(0,)]
    assert found.repeated == (1,)


def test_edges_that_cross_without_a_node_stay_open() -> None:
    """A square with both diagonals: nothing tells where they cross, and no face of it can be trusted."""
    found = joined([*SQUARE, line(0, 10 + 10j), line(10, 10j)])
    assert found.loops == ()
    assert {i for chain in found.chains for i in chain.edges} == set(range(6))


def test_one_edge_there_and_back_is_open_too() -> None:
    found = joined([Edge(0, ((10,), (0,)))])
    assert found.loops == ()
    assert [chain.edges for chain in found.chains] == [(0,)]


def test_a_bow_tie_is_a_loop_though_its_areas_cancel_out() -> None:
    assert len(joined(ring(0, 10 + 10j, 10, 10j)).loops) == 1


def test_nothing_gives_nothing() -> None:
    assert joined([]) == Joined((), (), (), (), (), ())


@given(
    st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4), st.integers(0, 4), st.integers(0, 4)), max_size=40),
    st.randoms(use_true_random=False),
)
def test_every_edge_is_accounted_for(ends: list[tuple[int, int, int, int]], chance: random.Random) -> None:
    """On a grid, with every kind of junction: each edge is on a loop, on a chain, or told; and loops close."""
    edges = [line(complex(a, b), complex(c, d)) for a, b, c, d in ends]
    chance.shuffle(edges)
    found = joined(edges)
    told = {*found.repeated, *found.bare}
    on_chains = [i for chain in found.chains for i in chain.edges]
    on_loops = {i for loop in found.loops for i in loop.edges}
    assert len(on_chains) == len(set(on_chains))
    assert told.isdisjoint(on_loops | set(on_chains))
    assert on_loops.isdisjoint(on_chains)
    assert told | on_loops | set(on_chains) == set(range(len(edges)))
    for loop in found.loops:
        assert isinstance(loop.path, Outline)
        assert loop.path.end == loop.path.start


@given(st.integers(3, 40), st.integers(0, 10_000))
def test_any_polygon_comes_back_with_its_area(corners: int, seed: int) -> None:
    """Star-shaped polygons, their sides shuffled and turned; area by the shoelace formula."""
    rng = np.random.default_rng(seed)
    turns = (np.arange(corners) + 0.2 * rng.random(corners)) / corners
    points = (5 + 20 * rng.random(corners)) * np.exp(2j * pi * turns)
    edges = [e if rng.random() < 0.5 else line(e.end, e.start) for e in ring(*points.tolist())]
    shuffled = [edges[i] for i in rng.permutation(corners)]
    shoelace = abs((points.conj() * np.roll(points, -1)).imag.sum()) / 2
    assert areas(joined(shuffled)) == pytest.approx([shoelace])


def _squares(count: int) -> list[Edge]:
    corners = [20 * complex(k % 100, k // 100) for k in range(count)]
    edges = [edge for at in corners for edge in ring(at, at + 10, at + 10 + 10j, at + 10j)]
    random.Random(1).shuffle(edges)
    return edges


def test_time_grows_with_the_number_of_edges_and_no_faster() -> None:
    """Near-linear: eight times the edges take less than sixteen times as long; 100,000 take seconds."""

    def seconds(count: int) -> float:
        edges = _squares(count)
        spent = []
        for _ in range(3):
            began = time.process_time()
            assert len(joined(edges).loops) == count
            spent.append(time.process_time() - began)
        return min(spent)

    assert seconds(2400) < 16 * max(seconds(300), 0.002)
