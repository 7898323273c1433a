"""Markings end where their piece ends (common practice: software may take a marking for a cut)."""

from __future__ import annotations

from math import pi

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import Affine, OpenPath, Outline, Path, circle, flattened, length, open_path, polygon, transformed
from clothpath.design import Marking, Piece, Role
from clothpath.picture.marks import Placed, kept_on, placed_on
from clothpath.regions import as_polygon, region, xy


def square(name: str, left: float, bottom: float, side: float, order: int = 1) -> Piece:
    at = complex(left, bottom)
    return Piece(name, name, region(polygon([at, at + side, at + side * (1 + 1j), at + side * 1j])), "red", order=order)


def line(*points: complex) -> OpenPath:
    return open_path(points[0], [(point,) for point in points[1:]])


def marking(path: Path, role: Role = "mark") -> Marking:
    return Marking("vein", "vein", path, role)


def spans(placed: Placed) -> list[tuple[str | None, float, float]]:
    """Piece, left and right end of every marking."""
    return [(each.on, each.path.box.left, each.path.box.right) for each in placed.markings]


def test_a_line_over_two_pieces_is_divided_where_they_end() -> None:
    pieces = [square("left", 0, 0, 20, 1), square("right", 25, 0, 20, 2)]
    placed = placed_on(pieces, [marking(line(5 + 10j, 40 + 10j))])
    ends = {on: (round(left, 6), round(right, 6)) for on, left, right in spans(placed)}
    assert ends == {"left": (5, 20), "right": (25, 40)}
    assert (placed.lost, placed.shortened) == ((), ("vein",))
    assert [each.id for each in placed.markings] == ["vein", "vein-2"]


def test_where_the_pieces_touch_nothing_is_lost() -> None:
    placed = placed_on([square("left", 0, 0, 20, 1), square("right", 20, 0, 20, 2)], [marking(line(5 + 9j, 35 + 9j))])
    assert sum(length(each.path) for each in placed.markings) == pytest.approx(30)
    assert placed.shortened == ()


def test_a_line_stays_on_a_lower_piece_where_it_runs_beneath_an_upper_one() -> None:
    placed = placed_on([square("ground", 0, 0, 60, 1), square("dot", 45, 5, 10, 2)], [marking(line(2 + 9j, 58 + 9j))])
    assert spans(placed) == [("ground", 2, 58)]


def test_a_line_from_the_middle_of_a_ring_across_it_keeps_off_the_hole_and_the_edge() -> None:
    ring = Piece("ring", "ring", region(circle(0j, 30), [circle(0j, 10)]), "red")
    placed = placed_on([ring], [marking(line(0j, 50 + 0j))])
    assert [(on, round(a, 6), round(b, 6)) for on, a, b in spans(placed)] == [("ring", 10, 30)]


def test_a_curve_keeps_its_form_and_a_closed_one_is_opened() -> None:
    placed = placed_on([square("cloth", 0, -40, 80)], [marking(circle(0j, 20))])
    (half,) = placed.markings
    assert isinstance(half.path, OpenPath)
    assert length(half.path) == pytest.approx(20 * pi, rel=1e-5)
    assert not half.path.straight.any()


def test_what_lies_on_a_piece_is_left_as_it_is() -> None:
    whole = [marking(circle(40 + 0j, 20)), marking(line(1 + 1j, 5 - 3j)), marking(line(10 + 0j, 80.05 + 0j))]
    placed = placed_on([square("cloth", 0, -40, 80)], whole)
    assert [each.path for each in placed.markings] == [each.path for each in whole]
    assert {each.on for each in placed.markings} == {"cloth"}


def test_one_that_lies_on_nothing_is_told_and_one_that_is_omitted_is_not() -> None:
    away = line(200 + 0j, 210 + 0j)
    placed = placed_on([square("cloth", 0, 0, 80)], [marking(away), marking(away, "omit")])
    assert placed.lost == ("vein",)
    assert [each.on for each in placed.markings] == [None, None]


def test_what_is_cut_smaller_than_its_picture_keeps_the_marking_on_the_cloth() -> None:
    """An inset for a satin stitch: the cut edge lies within the finished one."""
    (kept,) = kept_on(region(circle(0j, 28)), [line(-30 + 0j, 30 + 0j)])
    assert (kept.box.left, kept.box.right) == (pytest.approx(-28, abs=0.01), pytest.approx(28, abs=0.01))
    assert kept_on(region(circle(0j, 28)), [kept]) == [kept]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.complex_numbers(max_magnitude=90), min_size=2, max_size=5, unique=True), st.floats(0, 360))
def test_nothing_reaches_beyond_its_piece_and_what_lies_on_one_is_kept(points: list[complex], turn: float) -> None:
    pieces = [square("a", -60, -60, 70, 1), square("b", 0, 0, 55, 2), square("c", -80, 30, 40, 3)]
    controls = [points[0], *points, points[-1]]
    path = transformed(open_path(points[0], [(controls[1], controls[-2], points[-1])]), Affine.turn(turn))
    placed = placed_on(pieces, [marking(path)])
    areas = {piece.id: as_polygon(piece.region) for piece in pieces}
    lines = [shapely.LineString(xy(flattened(each.path))) for each in placed.markings if each.on]
    for each, drawn in zip((m for m in placed.markings if m.on), lines, strict=True):
        assert shapely.covers(shapely.buffer(areas[each.on or ""], 0.11), drawn)
    cloth = shapely.union_all(list(areas.values()))
    on_cloth = shapely.intersection(shapely.LineString(xy(flattened(path))), cloth).length
    assert sum(drawn.length for drawn in lines) == pytest.approx(on_cloth, abs=4.0)


def test_an_outline_is_an_outline() -> None:
    assert isinstance(placed_on([square("a", -50, -50, 100)], [marking(circle(0j, 5))]).markings[0].path, Outline)
