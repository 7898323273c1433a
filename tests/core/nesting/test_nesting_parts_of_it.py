"""The engine's own pieces: cells, no-fit sets, slides and lattices, each against plain geometry or plain counting."""

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from nesting_shapes import around_circle, box, heart, leaf, outline_strategy, share_a_point, star

from clothpath.nesting import Part, Points
from clothpath.nesting.outline import Blank, blanks, pose
from clothpath.nesting.place import board, lay
from clothpath.nesting.raster import Grid, Tile, no_fit, repeated, tiles
from clothpath.nesting.regular import lattices
from clothpath.nesting.slide import slid

GRID = Grid(2.0, 1.5, 400)


def blank(outer: Points, spacing: float = 0.0) -> Blank:
    return blanks([Part("part", outer)], spacing)[0]


def cells(of: Tile) -> set[tuple[int, int]]:
    return {(of.left + c, of.low + r) for c, start, length in of.runs for r in range(start, start + length)}


@given(outline_strategy(), st.floats(0, 360), st.sampled_from([0.0, 1.0, 6.0]))
def test_cells_cover_the_grown_outline_and_nothing_far_from_it(outer: Points, turn: float, spacing: float) -> None:
    posed = pose(blank(outer, spacing), turn)
    shape = shapely.Polygon(posed.rings[0], posed.rings[1:])
    lies_in = cells(tiles([posed], GRID)[0])
    squares = {c: shapely.box(c[0] * 2.0, c[1] * 1.5, c[0] * 2.0 + 2.0, c[1] * 1.5 + 1.5) for c in lies_in}
    assert shape.difference(shapely.union_all(list(squares.values()))).area <= 1e-3 * max(shape.length, 1)
    assert all(shape.distance(square) <= 1e-3 for square in squares.values())


@settings(max_examples=25)
@given(outline_strategy(), outline_strategy(), st.integers(-40, 40), st.integers(-40, 40))
def test_no_fit_sets_tell_where_two_tiles_share_a_cell(one: Points, other: Points, dx: int, dy: int) -> None:
    a, b = tiles([pose(blank(one), 0.0), pose(blank(other), 0.0)], GRID)
    at = 100 * GRID.stride + 200
    forbidden = no_fit(a, b, GRID.stride).at(at)
    place = (100 + dx) * GRID.stride + 200 + dy
    overlap = cells(a) & {(x + dx, y + dy) for x, y in cells(b)}
    assert bool(forbidden >> place & 1) == bool(overlap)


@settings(max_examples=15)
@given(st.lists(st.tuples(outline_strategy(), st.integers(1, 2)), min_size=1, max_size=3), st.permutations(range(3)))
def test_each_copy_lies_at_the_first_place_where_it_shares_no_cell(
    wanted: list[tuple[Points, int]], order: list[int]
) -> None:
    ready = blanks([Part(str(n), outer, (), None, count) for n, (outer, count) in enumerate(wanted)], 1.0)
    bench = board(ready, [(0.0, 90.0)] * len(ready), (20.0, 15.0), 300.0)
    sequence = [n for n in order if n < len(ready) for _ in range(ready[n].part.count)]
    laid = lay(bench, sequence, 700.0, 300.0)
    taken: set[tuple[int, int]] = set()
    for part, t, column, row in laid.lying:
        ways = []
        for way in bench.tiles[part]:
            body = bench.all_tiles[way]
            for x, y in itertools.product(range(36), range(21)):
                right, top = x * 20.0 + body.posed.width, y * 15.0 + body.posed.height
                if right <= 700 and top <= 300 and not taken & {(x + c, y + r) for c, r in cells(body)}:
                    ways.append((right, top, x, y, way))
        assert (column, row, t) == min(ways)[2:]
        taken |= {(column + c, row + r) for c, r in cells(bench.all_tiles[t])}
    assert len(laid.lying) + len(laid.missing) == len(sequence)


@given(st.integers(1, 6), st.integers(0, 40))
def test_repeated_patterns(bits: int, times: int) -> None:
    assert repeated(bits, 5, times) == sum(bits << 5 * k for k in range(times))


@given(outline_strategy(), st.floats(0.1, 8))
def test_grown_outlines_hold_all_within_half_the_spacing(outer: Points, spacing: float) -> None:
    grown = shapely.Polygon(blank(outer, spacing).rings[0])
    wanted = shapely.buffer(shapely.Polygon(outer), spacing / 2, quad_segs=16)
    assert wanted.difference(grown).area <= 1e-6 * wanted.area


@pytest.mark.parametrize("roughness", [0.0, 0.004])
def test_outlines_of_many_points_become_light(roughness: float) -> None:
    smooth = heart(30, 4000)
    many = smooth * (1 + roughness * np.random.default_rng(1).standard_normal((len(smooth), 1)))
    true = shapely.Polygon(many)
    grown = shapely.Polygon(blank(many, 3.175).rings[0])
    assert len(grown.exterior.coords) < 300
    assert grown.covers(true)
    assert grown.exterior.distance(true) >= 3.175 / 2 - 1e-6
    assert grown.area < 1.05 * shapely.buffer(shapely.Polygon(smooth), 3.175 / 2).area


@settings(max_examples=25)
@given(st.lists(outline_strategy(), min_size=2, max_size=6))
def test_slides_only_left_and_down_and_never_into_another(outers: list[Points]) -> None:
    posed = [pose(blanks([Part(str(n), outer)], 0.0)[0], 0.0) for n, outer in enumerate(outers)]
    at = np.array([(130.0 * (n % 3), 130.0 * (n // 3)) for n in range(len(posed))])
    moved = slid(posed, at)
    assert (moved <= at + 1e-9).all()
    assert (moved >= 0).all()
    shapes = [shapely.Polygon(p.rings[0] + corner) for p, corner in zip(posed, moved, strict=True)]
    assert not share_a_point(shapes, 0.0)


def test_slides_close_the_gaps() -> None:
    posed = [pose(blank(box(10, 10)), 0.0)] * 3
    moved = slid(posed, np.array([(5.0, 3.0), (20.0, 1.0), (50.0, 7.0)]))
    assert moved == pytest.approx(np.array([(0, 0), (10, 0), (20, 0)]), abs=0.01)


def test_the_densest_lattice_of_circles_is_the_hexagonal_one() -> None:
    """Thue and Fejes Toth: pi / sqrt(12). The polygons about the circles and the columns cost less than 2 %."""
    circle = blank(around_circle(20))
    best = max(lattice.density for lattice in lattices([pose(circle, 0.0)], 3))
    assert 0.98 * math.pi / math.sqrt(12) < best <= 1.002 * math.pi / math.sqrt(12)


@pytest.mark.parametrize("outer", [leaf(60, 14), star(25, 11), heart(25), box(30, 10)])
@pytest.mark.parametrize("spacing", [0.0, 3.175])
def test_lattices_keep_their_copies_apart(outer: Points, spacing: float) -> None:
    part = blank(outer, spacing)
    for lattice in lattices([pose(part, turn) for turn in (0.0, 40.0, 180.0, 220.0)], 4):
        posed, at = lattice.lay(250, 200, 1000)
        rings = [p.rings[0] + corner for p, corner in zip(posed, at, strict=True)]
        assert len(rings) > 4
        assert not share_a_point([shapely.Polygon(ring) for ring in rings], 0.0)
        ends = at + np.array([(p.width, p.height) for p in posed])
        assert (at >= 0).all()
        assert (ends <= np.array([250, 200]) + 1e-5).all()


def test_a_lattice_of_rectangles_is_a_grid() -> None:
    posed, _ = lattices([pose(blank(box(30, 10)), 0.0)], 1)[0].lay(90, 30, 100)
    assert len(posed) == 9
