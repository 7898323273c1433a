"""Lines that end on or cross others: which areas close, and which lines stay open."""

from __future__ import annotations

import cmath
from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.areas.chains import joined
from clothpath.areas.junctions import resolved
from clothpath.areas.touches import split
from clothpath.areas.webs import Edge
from clothpath.curves import arc_segments, area, length, open_path


def line(a: complex, *on: complex) -> Edge:
    return Edge(a, tuple((point,) for point in on))


def arc(center: complex, radius: float, start: float, sweep: float) -> Edge:
    first = center + cmath.rect(radius, start)
    return Edge(first, tuple(arc_segments(center, complex(radius), radius * 1j, start, sweep)))


SQUARE = [line(0, 10), line(10, 10 + 10j), line(10 + 10j, 10j), line(10j, 0)]
HALF_DISK = pi * 100 / 2

CASES = {
    "a line from side to side halves a square": ([*SQUARE, line(5, 5 + 10j)], [50, 50], 0, 2, 0),
    "so does one that ends 0.05 mm short": ([*SQUARE, line(5 + 0.05j, 5 + 9.95j)], [50, 50], 0, 2, 0),
    "or 0.05 mm too late": ([*SQUARE, line(5 - 0.05j, 5 + 10.05j)], [50, 50], 0, 2, 0),
    "one that ends 0.3 mm short is a marking": ([*SQUARE, line(5 + 0.3j, 5 + 9.7j)], [100], 1, 0, 0),
    "a tail inside is a marking": ([*SQUARE, line(5, 5 + 5j)], [100], 1, 0, 0),
    "a tail outside is a marking": ([*SQUARE, line(5, 5 - 5j)], [100], 1, 0, 0),
    "a line through and beyond is a marking": ([*SQUARE, line(5 - 5j, 5 + 15j)], [100], 1, 0, 0),
    "a window of four panes": ([*SQUARE, line(5, 5 + 10j), line(5j, 10 + 5j)], [25] * 4, 0, 4, 1),
    "a square with both diagonals": ([*SQUARE, line(0, 10 + 10j), line(10, 10j)], [25] * 4, 0, 0, 1),
    "a half circle on a longer line": ([line(-20, 20), arc(0, 10, 0, pi)], [HALF_DISK], 2, 2, 0),
    "a line between two half circles": (
        [arc(0, 10, 0.3, pi), arc(0, 10, 0.3 + pi, pi), line(-10, 10)], [HALF_DISK] * 2, 0, 2, 0,
    ),
    "one line that ends on its own beginning": ([line(-3, 10, 10 + 10j, 10j, 0)], [100], 1, 1, 0),
    "a side drawn with two lines that overlap": ([line(0, 6), line(4, 10), *SQUARE[1:]], [100], 0, 2, 0),
    "lines that only cross are markings": (
        [line(-2, 12), line(-2 + 10j, 12 + 10j), line(-2j, 12j), line(10 - 2j, 10 + 12j)], [], 4, 0, 0,
    ),
}  # fmt: skip
"""Edges; areas of the loops, in mm^2, by elementary geometry; chains; touches; crossings."""


@pytest.mark.parametrize("case", CASES)
def test_areas_close_where_lines_end_on_lines(case: str) -> None:
    edges, areas, chains, touched, crossed = CASES[case]
    found = resolved(edges, 0.1)
    assert sorted(area(run.path) for run in found.made.loops) == pytest.approx(areas, abs=0.6, rel=1e-4)
    assert (len(found.made.chains), len(found.touched), len(found.crossed)) == (chains, touched, crossed)


def test_edges_are_told_by_their_own_numbers() -> None:
    made = resolved([*SQUARE, line(5, 5 + 10j)], 0.1).made
    assert sorted(sorted(set(run.edges)) for run in made.loops) == [[0, 1, 2, 4], [0, 2, 3, 4]]


def test_places_where_open_lines_cross_are_told() -> None:
    assert resolved([line(0, 10), line(5 - 5j, 5 + 5j)], 0.1).crossing == (pytest.approx(5),)
    found = resolved([arc(0, 10, 0.1, 2), line(0, 20j)], 0.1).crossing
    assert found == (pytest.approx(10j, abs=1e-3),)


def test_what_needs_no_splitting_is_what_joining_makes() -> None:
    edges = [*SQUARE, line(10 + 10j, 20 + 10j), arc(30, 5, 0, 4)]
    assert resolved(edges, 0.1).made == joined(edges, 0.1)


def test_clocks_are_asked() -> None:
    class TooSlowError(Exception):
        pass

    def tick() -> None:
        raise TooSlowError

    with pytest.raises(TooSlowError):
        resolved(SQUARE, 0.1, tick)


@given(
    st.lists(st.tuples(st.integers(0, 2), st.floats(0, 1)), max_size=6),
    st.complex_numbers(min_magnitude=1, max_magnitude=9),
)
def test_parts_of_an_edge_are_the_edge(cuts: list[tuple[int, float]], control: complex) -> None:
    """Wherever it is cut, the parts follow one another and are as long as the whole."""
    edge = Edge(0, ((10,), (10 + control, 20 + control, 20), (30j,)))
    parts = split([edge], [(0, number, t) for number, t in cuts])
    assert set(parts.owners) == {0}
    assert parts.edges[0].start == edge.start
    assert parts.edges[-1].end == pytest.approx(edge.end, abs=0.002)
    for before, after in zip(parts.edges, parts.edges[1:], strict=False):
        assert before.end == after.start
    whole = length(open_path(edge.start, edge.segments))
    total = sum(length(open_path(part.start, part.segments)) for part in parts.edges)
    assert total == pytest.approx(whole, abs=0.002 * (2 + 2 * len(cuts)))
