"""Rectangles on boards: inside, apart, at the steps, and never more boards than rows of boxes would take."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.curves import Box
from clothpath.mats.matpacking import Board, Lying, Sheet, pack

IN = 25.4
USABLE = Box(0.25 * IN, 0.25 * IN, 11.75 * IN, 11.75 * IN)
MAT = Board(USABLE, (), IN / 4, (IN / 2, IN / 8, 0.0))

inches = st.integers(4, 92).map(lambda eighths: eighths * IN / 8)
sizes = st.lists(st.tuples(inches, inches), min_size=1, max_size=3)
sheets = st.lists(st.builds(Sheet, sizes.map(tuple), st.booleans()), min_size=1, max_size=12)


def packed(some: list[Sheet], board: Board = MAT) -> tuple[Lying, ...]:
    found = pack(some, board)
    assert found is not None
    return found


def boards(found: tuple[Lying, ...]) -> int:
    return 1 + max(each.board for each in found)


def rows_of_boxes(some: list[Sheet], board: Board) -> int:
    """Boards that upright sheets take in rows, highest first: what a person does who lays them one after another."""
    rows: list[tuple[float, float]] = []
    used, count = 0.0, 1
    for w, h in sorted((each.sizes[0] for each in some), key=lambda size: -size[1]):
        if rows and rows[-1][0] + board.gap + w <= board.usable.width + 1e-6:
            rows[-1] = (rows[-1][0] + board.gap + w, rows[-1][1])
            continue
        start = used + rows[-1][1] + board.gap if rows else 0.0
        if start + h > board.usable.height + 1e-6:
            start, count = 0.0, count + 1
        used = start
        rows.append((w, h))
    return count


@given(sheets)
def test_every_sheet_lies_once_inside_and_apart_in_one_of_its_sizes(some: list[Sheet]) -> None:
    found = packed(some)
    assert sorted(each.sheet for each in found) == list(range(len(some)))
    for each in found:
        size = some[each.sheet].sizes[each.size]
        assert (each.box.width, each.box.height) == pytest.approx(size[::-1] if each.turned else size)
        assert some[each.sheet].turns or not each.turned
        assert each.box.left >= USABLE.left - 1e-5
        assert each.box.bottom >= USABLE.bottom - 1e-5
        assert each.box.right <= USABLE.right + 1e-5
        assert each.box.top <= USABLE.top + 1e-5
    for a, b in combinations(found, 2):
        if a.board == b.board:
            across = max(a.box.left - b.box.right, b.box.left - a.box.right)
            up = max(a.box.bottom - b.box.top, b.box.bottom - a.box.top)
            assert max(across, up) >= IN / 4 - 1e-5


@given(sheets)
def test_no_more_boards_than_rows_of_boxes_and_no_board_is_empty(some: list[Sheet]) -> None:
    found = packed(some)
    assert boards(found) <= rows_of_boxes(some, MAT)
    assert {each.board for each in found} == set(range(boards(found)))


@given(sheets)
def test_the_same_sheets_lie_the_same_way_every_time(some: list[Sheet]) -> None:
    assert pack(some, MAT) == pack(some, MAT)


@given(sheets, st.tuples(st.floats(0, 200), st.floats(0, 200), st.floats(1, 90), st.floats(1, 90)))
def test_nothing_touches_what_is_kept_out(some: list[Sheet], kept: tuple[float, float, float, float]) -> None:
    x, y, w, h = kept
    out = Box(x, y, x + w, y + h)
    found = pack(some, Board(USABLE, (out,), IN / 4, MAT.steps))
    for each in found or ():
        across = max(each.box.left - out.right, out.left - each.box.right)
        up = max(each.box.bottom - out.top, out.bottom - each.box.top)
        assert max(across, up) >= -1e-5


def test_four_quarters_fill_a_mat_exactly() -> None:
    """Arithmetic: (11 1/2 - 1/4) / 2 = 5 5/8 in, twice across and twice up."""
    side = 5.625 * IN
    found = packed([Sheet(((side, side),))] * 4)
    assert boards(found) == 1
    assert boards(packed([Sheet(((side, side),))] * 5)) == 2


def test_one_sheet_may_be_as_large_as_the_usable_area_and_not_a_hair_larger() -> None:
    assert len(packed([Sheet(((11.5 * IN, 11.5 * IN),))])) == 1
    assert pack([Sheet(((11.5 * IN + 0.01, 11.5 * IN),))], MAT) is None


def test_corners_lie_at_half_inches_from_the_mats_edge_where_that_costs_no_mat() -> None:
    found = packed([Sheet(((3 * IN, 2 * IN),)), Sheet(((4.125 * IN, 5 * IN),)), Sheet(((2 * IN, 2.375 * IN),))])
    for each in found:
        for place in (each.box.left, each.box.bottom):
            assert place / (IN / 2) == pytest.approx(round(place / (IN / 2)))


def test_no_step_is_kept_where_it_would_cost_a_mat() -> None:
    """Two sheets of 11 1/2 x 5 5/8 in and the gap fill the height of 11 1/2 in to the last line."""
    found = packed([Sheet(((11.5 * IN, 5.625 * IN),), turns=False)] * 2)
    assert boards(found) == 1
    assert [each.box.bottom / IN for each in found] == pytest.approx([0.25, 6.125])


def test_another_size_is_taken_where_it_saves_a_mat_and_only_there() -> None:
    """A sheet that comes as 5 x 5 (25 in²) or 3 x 11 in (33 in²), alone and beside one of 8 x 11 1/2 in."""
    either = Sheet(((5 * IN, 5 * IN), (3 * IN, 11 * IN)))
    assert [each.size for each in packed([either])] == [0]
    beside = packed([Sheet(((8 * IN, 11.5 * IN),)), either])
    assert boards(beside) == 1
    assert [each.size for each in beside if each.sheet == 1] == [1]


def test_a_fixed_sheet_lies_where_it_is_told_and_the_others_make_way() -> None:
    fixed = Sheet(((4 * IN, 4 * IN),), at=(0, 3 * IN, 2 * IN))
    found = packed([Sheet(((5 * IN, 5 * IN),)), fixed, Sheet(((2 * IN, 3 * IN),))])
    (told,) = (each for each in found if each.sheet == 1)
    assert (told.board, told.box.left, told.box.bottom) == (0, 3 * IN, 2 * IN)


def test_two_fixed_sheets_that_collide_find_no_place() -> None:
    one, other = (Sheet(((4 * IN, 4 * IN),), at=(0, x * IN, 2 * IN)) for x in (3, 6.9))
    assert pack([one, other], MAT) is None


def test_a_keep_out_leaves_the_rooms_beside_and_above_it() -> None:
    """Left of it 40 x 60, below it 100 x 20: each lies within another room and is not listed."""
    rooms = Board(Box(0, 0, 100, 60), (Box(40, 20, 50, 30),)).rooms()
    assert sorted(rooms) == [(50, 60), (100, 30)]
    assert Board(Box(0, 0, 100, 60)).rooms() == ((100, 60),)


def test_twelve_fives_and_the_area_bound() -> None:
    """Equal squares of 3 5/8 in: 3 x 3 fit in 11 1/2 in with the gaps (3 x 3 5/8 + 2 x 1/4 = 11 3/8)."""
    found = packed([Sheet(((3.625 * IN, 3.625 * IN),))] * 20)
    assert boards(found) == math.ceil(20 / 9)


def test_on_a_roll_a_wide_size_is_taken_where_it_feeds_less() -> None:
    """24 in wide, 10 ft long: 6 x 60 in (360 in²) or 20 x 19 in (380 in²)."""
    roll = Board(Box(0, 0, 24 * IN, 120 * IN), (), 0.0, (IN / 2, 0.0))
    either = Sheet(((6 * IN, 60 * IN), (20 * IN, 19 * IN)), turns=False)
    (lying,) = packed([either], roll)
    assert (lying.size, lying.box.bottom) == (1, 0.0)
