"""The checker of layouts: a sound layout passes, and every planted fault is found, by its name and by how much."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.curves import Box, circle, polygon
from clothpath.design import Design, Fabric, Piece, Side
from clothpath.layout import CutFrom, Demand, Layout, Margins, Mat, MatLayout, Placement, Stock, Swatch
from clothpath.proving.layoutcheck import Clearances, faults
from clothpath.regions import region

ASKED = Clearances(spacing=3.0, margin=2.0, gap=5.0)


def square(name: str, fabric: str, copies: int = 1) -> Piece:
    """10 mm, its lower left corner at the origin."""
    return Piece(name, name, region(polygon([0j, 10 + 0j, 10 + 10j, 10j])), fabric, copies=copies)


def sound() -> Layout:
    """Two fabrics on one mat: `a` right side up with two squares, 3 mm apart; `b` reversed, with one."""
    fabrics = (Fabric("a", "A", grain="straight"), Fabric("b", "B", grain="directional", laid="wrong-side-up"))
    design = Design("d", (square("p", "a", 2), square("q", "b")), (), fabrics)
    squares = (Placement("d", "p", 1, False, 0.0, 2 + 2j), Placement("d", "p", 2, False, 90.0, 25 + 2j))
    first = Swatch("a", "right-side-up", 5.0, 5.0, 27.0, 14.0, 0.0, squares)
    second = Swatch("b", "wrong-side-up", 37.0, 5.0, 14.0, 14.0, 0.0, (Placement("d", "q", 1, True, 0.0, 12 + 2j),))
    mat = Mat("m", 100.0, 60.0, Margins(5, 5, 5, 5), (Box(80, 40, 90, 50),))
    stock = (Stock("b", 50.0, 20.0, 1, "scrap", rim=1.0),)
    cut = (CutFrom(0, 1, 0, 0, 1, Box(1, 1, 15, 15)),)
    return Layout((Demand(design),), fabrics, mat, (MatLayout((first, second)),), stock, cut)


def swatches(change: Callable[[tuple[Swatch, ...]], tuple[Swatch, ...]]) -> Layout:
    layout = sound()
    return replace(layout, mats=(MatLayout(change(layout.mats[0].swatches)),))


def first_placement(**changes: object) -> Layout:
    return swatches(lambda s: (replace(s[0], placements=(replace(s[0].placements[0], **changes), s[0].placements[1])),
                               s[1]))  # type: ignore[arg-type]  # fmt: skip


def codes(layout: Layout) -> set[str]:
    return {finding.code for finding in faults(layout, ASKED)}


def test_a_sound_layout_has_no_fault() -> None:
    assert faults(sound(), ASKED) == ()


PLANTED: dict[str, tuple[Layout, str]] = {
    "swatch over the usable area's edge": (swatches(lambda s: (replace(s[0], x=4.9), s[1])), "swatch-outside"),
    "swatch over the top": (swatches(lambda s: (s[0], replace(s[1], y=41.1))), "swatch-outside"),
    "swatch in a keep-out area": (swatches(lambda s: (s[0], replace(s[1], x=70.0, y=30.0))), "swatch-in-keep-out"),
    "swatches too close": (swatches(lambda s: (s[0], replace(s[1], x=36.9))), "swatches-too-close"),
    "swatches one on the other": (swatches(lambda s: (s[0], replace(s[1], x=10.0, y=6.0))), "swatches-too-close"),
    "pieces too close": (first_placement(shift=2.1 + 2j), "pieces-too-close"),
    "pieces one on the other": (first_placement(shift=15 + 2j), "pieces-too-close"),
    "piece in the margin": (first_placement(shift=1.9 + 2j), "piece-at-edge"),
    "piece outside": (first_placement(shift=-20 + 2j), "piece-at-edge"),
    "turn that the grain forbids": (first_placement(turn=45.0, shift=9 + 2j), "layout-grain"),
    "piece flipped on cloth right side up": (first_placement(reversed=True, shift=12 + 2j), "layout-reversal"),
    "swatch laid the wrong way up": (swatches(lambda s: (s[0], replace(s[1], laid="right-side-up"))), "layout-laid"),
    "piece on another fabric": (first_placement(piece="q"), "layout-fabric"),
    "unknown piece": (first_placement(piece="nobody"), "layout-piece"),
    "piece lost": (swatches(lambda s: (replace(s[0], placements=s[0].placements[:1]), s[1])), "piece-lost"),
    "copy twice": (first_placement(copy=2), "piece-added"),
    "copy too many": (first_placement(copy=3), "piece-added"),
    "swatch turned askew": (swatches(lambda s: (replace(s[0], turn=45.0), s[1])), "swatch-turn"),
    "empty swatch": (swatches(lambda s: (*s, Swatch("a", "right-side-up", 5.0, 40.0, 9.0, 9.0))), "swatch-empty"),
    "unknown fabric": (swatches(lambda s: (replace(s[0], fabric="z"), s[1])), "layout-fabric"),
    "swatch not cut from the stock": (replace(sound(), cut_from=()), "stock-cuts"),
    "cut beside the cloth": (
        replace(sound(), cut_from=(CutFrom(0, 1, 0, 0, 1, Box(36, 1, 50, 15)),)), "stock-outside"
    ),
    "cut in another size": (replace(sound(), cut_from=(CutFrom(0, 1, 0, 0, 1, Box(1, 1, 14, 15)),)), "stock-size"),
    "cut across a one-way print": (
        replace(sound(), cut_from=(CutFrom(0, 1, 0, 0, 1, Box(1, 1, 15, 15), True),)), "stock-grain"
    ),
    "second of one piece of cloth": (
        replace(sound(), cut_from=(CutFrom(0, 1, 0, 0, 2, Box(1, 1, 15, 15)),)), "stock-unknown"
    ),
}  # fmt: skip


def on_a_scrap(laid: Side, *shifts: complex) -> Layout:
    """Squares of 10 mm on a whole scrap, 40 x 30 mm, whose upper right corner is off along a line from (40, 0)."""
    fabric = Fabric("a", "A", laid=laid)
    scrap = region(polygon([0j, 40 + 0j, 10 + 30j, 30j]))
    over = laid == "wrong-side-up"
    placed = tuple(Placement("d", "p", n, over, 0.0, shift) for n, shift in enumerate(shifts, 1))
    mats = (MatLayout((Swatch("a", laid, 0.0, 0.0, 40.0, 30.0, 0.0, placed),)),)
    demand = Demand(Design("d", (square("p", "a", len(shifts)),), (), (fabric,)))
    stock = (Stock("a", 40.0, 30.0, outline=scrap),)
    return Layout((demand,), (fabric,), Mat("m", 40, 30), mats, stock, (CutFrom(0, 0, 0, 0, 1, Box(0, 0, 40, 30)),))


def test_pieces_on_a_whole_scrap_lie_inside_its_outline() -> None:
    """A square's upper right corner is on the slanted edge where x + y = 20, its upper left one, from the back, too."""
    apart = Clearances(spacing=1.0)
    assert faults(on_a_scrap("right-side-up", 0j, 9 + 11j), apart) == ()
    assert faults(on_a_scrap("wrong-side-up", 40 + 0j, 31 + 11j), apart) == ()
    off = [finding.code for finding in faults(on_a_scrap("right-side-up", 0j, 9.1 + 11j), apart)]
    assert off == ["piece-off-scrap"]
    off = [finding.code for finding in faults(on_a_scrap("wrong-side-up", 40 + 0j, 30.9 + 11j), apart)]
    assert off == ["piece-off-scrap"]


def test_a_whole_scrap_keeps_its_margin_and_a_rectangle_of_it_must_be_cloth() -> None:
    """A square's corner is sqrt(2) mm from the slanted edge where x + y = 18."""
    inside = on_a_scrap("right-side-up", 7 + 11j)
    assert codes_with(inside, 1.41) == set()
    assert codes_with(inside, 1.43) == {"piece-off-scrap"}
    part = replace(inside, cut_from=(CutFrom(0, 0, 0, 0, 1, Box(0, 0, 39, 30)),))
    assert {"stock-outside", "stock-size"} <= codes_with(part, 1.0)


def codes_with(layout: Layout, margin: float) -> set[str]:
    return {finding.code for finding in faults(layout, Clearances(margin=margin))}


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_fault_is_found(name: str) -> None:
    layout, code = PLANTED[name]
    assert code in codes(layout)


def test_the_fault_says_by_how_much() -> None:
    (finding,) = faults(first_placement(shift=2.1 + 2j), ASKED)
    assert "0.100 mm" in finding.message
    assert finding.where == "mat 1: A: d: p (copy 1)"


@pytest.mark.parametrize(("lack", "found"), [(0.009, False), (0.02, True)])
def test_a_hundredth_of_a_millimeter_is_the_tolerance(lack: float, found: bool) -> None:
    """Budget: no breach beyond 0.01 mm."""
    assert bool(faults(first_placement(shift=complex(2 + lack, 2)), ASKED)) is found
    assert bool(faults(first_placement(shift=complex(2 - lack, 2)), ASKED)) is found


def test_two_circles_that_touch_are_apart_and_that_overlap_by_a_hair_are_not() -> None:
    """The distance of two circles is that of their centers less the radii."""
    fabric = Fabric("a", "A")
    disc = Piece("o", "o", region(circle(0j, 10.0)), "a", copies=2)

    def pair(distance: float) -> Layout:
        at = [20 + 20j, 20 + 20j + distance * (0.6 + 0.8j)]
        placed = tuple(Placement("d", "o", n, False, 0.0, shift) for n, shift in enumerate(at, 1))
        mats = (MatLayout((Swatch("a", "right-side-up", 0.0, 0.0, 80.0, 80.0, 0.0, placed),)),)
        return Layout((Demand(Design("d", (disc,), (), (fabric,))),), (fabric,), Mat("m", 80, 80), mats)

    assert faults(pair(20.0), Clearances()) == ()
    assert [each.code for each in faults(pair(19.9), Clearances())] == ["pieces-too-close"]
    assert faults(pair(23.0), Clearances(spacing=3.0)) == ()
    assert [each.code for each in faults(pair(22.95), Clearances(spacing=3.0))] == ["pieces-too-close"]


def test_a_mat_that_is_cut_three_times_brings_three_times_the_copies() -> None:
    layout = sound()
    thrice = replace(
        layout,
        demands=(Demand(layout.demands[0].design, 3),),
        mats=(MatLayout(layout.mats[0].swatches, 3),),
        stock=(replace(layout.stock[0], count=3),),
        cut_from=tuple(replace(layout.cut_from[0], time=n, number=n + 1) for n in range(3)),
    )
    assert faults(thrice, ASKED) == ()
    assert codes(replace(thrice, demands=layout.demands)) == {"piece-added"}
    assert codes(replace(thrice, mats=layout.mats, cut_from=layout.cut_from)) == {"piece-lost"}


@given(st.floats(0, 360), st.booleans(), st.sampled_from((0.0, 90.0, 180.0, 270.0)))
def test_the_place_of_a_piece_on_the_mat_is_where_the_layout_says(turn: float, flip: bool, swatch_turn: float) -> None:
    """The checker's own matrix and the layout's maps agree: a swatch that just holds its piece is sound, and one whose
    piece lies 0.1 mm further is not."""
    fabric = Fabric("a", "A", laid="wrong-side-up" if flip else "right-side-up")
    piece = Piece("o", "o", region(polygon([0j, 30 + 0j, 8 + 12j])), "a")
    design = Design("d", (piece,), (), (fabric,))
    lying = Placement("d", "o", 1, flip, turn, 0j)
    corners = [lying.affine.apply(corner) for corner in (0j, 30 + 0j, 8 + 12j)]
    low = complex(min(c.real for c in corners), min(c.imag for c in corners))
    size = complex(max(c.real for c in corners), max(c.imag for c in corners)) - low
    width, height = (size.real, size.imag) if swatch_turn % 180 == 0 else (size.imag, size.real)

    def layout(off: complex) -> Layout:
        placed = (replace(lying, shift=off - low),)
        swatch = Swatch("a", fabric.laid or "right-side-up", 0.0, 0.0, width, height, swatch_turn, placed)
        return Layout((Demand(design),), (fabric,), Mat("m", 60, 60), (MatLayout((swatch,)),))

    assert faults(layout(0j), Clearances()) == ()
    assert [each.code for each in faults(layout(0.1 + 0j), Clearances())] == ["piece-at-edge"]
    assert [each.code for each in faults(layout(-0.1j), Clearances())] == ["piece-at-edge"]
