"""Sheets of paper that overlap: together they show everything, and neighbors meet at the same places."""

from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import Box
from clothpath.pages.tiling import split, tiled

sizes = st.floats(1, 900)


@settings(max_examples=40)
@given(
    st.lists(st.builds(lambda x, y, w, h: Box(x, y, x + w, y + h), sizes, sizes, sizes, sizes), min_size=1, max_size=4),
    st.floats(0, 40),
)
def test_everything_is_shown(boxes: list[Box], overlap: float) -> None:
    tiles = tiled(boxes, (190, 250), overlap)
    for box in boxes:
        for part_x in (0, 0.3, 0.7, 1):
            for part_y in (0, 0.5, 1):
                x, y = box.left + part_x * box.width, box.bottom + part_y * box.height
                assert any(t.window.left <= x <= t.window.right and t.window.bottom <= y <= t.window.top for t in tiles)


@settings(max_examples=40)
@given(sizes, sizes)
def test_neighbors_meet_at_the_same_places(width: float, height: float) -> None:
    tiles = {tile.number: tile for tile in tiled([Box(0, 0, width, height)], (190, 250), 12)}
    assert sorted(tiles) == list(range(1, len(tiles) + 1))
    opposite = {"left": "right", "right": "left", "above": "below", "below": "above"}
    for tile in tiles.values():
        for side, number in tile.neighbors:
            assert (opposite[side], tile.number) in tiles[number].neighbors
            shared = [a for a in tile.joins for b in tiles[number].joins if abs(a - b) < 1e-6]
            assert len(shared) == 2


def test_what_fits_one_sheet_takes_one() -> None:
    (tile,) = tiled([Box(10, 10, 190, 240)], (190, 250), 12)
    assert tile.number == 1
    assert tile.joins == ()
    assert (tile.window.center.real, tile.window.center.imag) == (100, 125)


def test_empty_sheets_are_left_out() -> None:
    tiles = tiled([Box(0, 0, 10, 10), Box(600, 800, 610, 810)], (190, 250), 12)
    assert [tile.number for tile in tiles] == [1, 2]
    assert not any(tile.neighbors for tile in tiles)


def test_joins_keep_off_the_parts_where_paper_is_left_over() -> None:
    parts = [Box(0, 0, 100, 100), Box(110, 0, 220, 100)]  # two windows side by side, whose middle would be at 110
    tiles = tiled([*parts, Box(100, 0, 110, 20)], (190, 250), 12)
    assert len(tiles) == 2
    assert split(parts, tiles) == 0


def test_a_part_in_no_window_is_split() -> None:
    parts = [Box(0, 0, 300, 10), Box(0, 0, 20, 10)]
    assert split(parts, tiled(parts, (190, 250), 12)) == 1
