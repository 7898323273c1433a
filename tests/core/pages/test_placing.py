"""What a placement guide shows: numbers in layering order, hidden edges told from those that show (common practice)."""

from __future__ import annotations

import numpy as np
import pytest

from clothpath.curves import Points, circle, open_path, polygon
from clothpath.design import Design, Fabric, Marking, Piece
from clothpath.pages.placing import Guide, guide_of
from clothpath.regions import region

CLOTH = (Fabric("sand", "Sand"),)


def square(at: complex, side: float) -> tuple[complex, ...]:
    return (at, at + side, at + side * (1 + 1j), at + side * 1j)


def piece(name: str, order: int, at: complex, side: float, **more: object) -> Piece:
    return Piece(name, name, region(polygon(square(at, side))), "sand", order=order, **more)  # type: ignore[arg-type]


def guide(*pieces: Piece, block: tuple[float, float] | None = None) -> Guide:
    return guide_of(Design("shell", pieces, (), CLOTH), block)


def length(lines: tuple[Points, ...]) -> float:
    return float(sum(np.abs(np.diff(line)).sum() for line in lines))


def test_numbers_count_the_layering_order_without_gaps() -> None:
    found = guide(piece("top", 9, 50, 20), piece("low", 2, 0, 20), piece("middle", 5, 100, 20))
    assert [(each.number, each.piece.id) for each in found.pieces] == [(1, "low"), (2, "middle"), (3, "top")]


def test_an_edge_beneath_a_later_piece_is_hidden() -> None:
    low, top = guide(piece("low", 1, 0, 40), piece("top", 2, 20 + 10j, 40)).pieces
    # 30 mm of the lower square's right edge and 20 mm of its top edge lie beneath
    assert length(low.hidden) == pytest.approx(20 + 30, abs=0.5)
    assert length(low.seen) == pytest.approx(160 - 50, abs=0.1)
    assert length(top.seen) == pytest.approx(160)
    assert top.hidden == ()


def test_pieces_that_only_meet_hide_nothing() -> None:
    left, right = guide(piece("left", 1, 0, 40), piece("right", 2, 40, 40)).pieces
    assert left.hidden == right.hidden == ()


def test_an_underlap_shows_dashed_and_the_finished_edge_solid() -> None:
    finished, cut = region(polygon(square(0, 40))), region(polygon([0, 45, 45 + 40j, 40j]))
    low = Piece("low", "low", cut, "sand", order=1, picture=finished)
    found = guide(low, piece("top", 2, 40, 40)).pieces[0]
    # the underlap of 5 mm: its far side, and its two short sides as far as they lie inside the upper piece
    assert 38 < length(found.hidden) < 50
    assert max(float(line.real.max()) for line in found.hidden) == pytest.approx(45)


def test_a_number_stands_on_its_piece_if_there_is_room() -> None:
    (found,) = guide(piece("low", 1, 0, 40)).pieces
    assert found.place == pytest.approx(20 + 20j, abs=1)
    assert found.leader is None


def test_the_number_stands_where_the_piece_is_seen() -> None:
    low, _ = guide(piece("low", 1, 0, 60), piece("top", 2, 0, 40)).pieces
    assert max(low.place.real, low.place.imag) > 40


def test_a_small_piece_has_its_number_beside_it() -> None:
    body, eye = guide(
        piece("body", 1, 0, 60), Piece("eye", "eye", region(circle(30 + 30j, 1.5)), "sand", order=2)
    ).pieces
    assert eye.leader == pytest.approx(30 + 30j, abs=0.2)
    assert abs(eye.place - 30 - 30j) > 5
    assert abs(eye.place - body.place) > 6


def test_the_block_is_what_is_stated_else_what_lies_behind() -> None:
    behind = piece("background", 1, -20 - 20j, 100, role="omit")
    assert guide(piece("low", 2, 0, 40)).block is None
    assert guide(piece("low", 2, 0, 40)).center == 20 + 20j
    assert guide(behind, piece("low", 2, 0, 40)).block == behind.region.box
    stated = guide(piece("low", 2, 0, 40), block=(152.4, 152.4)).block
    assert stated is not None
    assert (stated.width, stated.height, stated.center) == pytest.approx((152.4, 152.4, 20 + 20j))


def test_markings_are_shown() -> None:
    vein = open_path(5 + 5j, [(30 + 30j,)])
    design = Design("shell", (piece("low", 1, 0, 40),), (Marking("vein", "Vein", vein, on="low"),), CLOTH)
    assert guide_of(design).marks == (vein,)


def test_a_number_keeps_off_markings_and_hidden_edges_where_there_is_room() -> None:
    vein = open_path(0 + 20j, [(40 + 20j,)])
    low, top = piece("low", 1, 20, 10), piece("top", 2, 0, 40)
    design = Design("shell", (low, top), (Marking("vein", "Vein", vein, on="top"),), CLOTH)
    found = guide_of(design).pieces[1]
    assert found.leader is None
    assert abs(found.place.imag - 20) > 3  # the disc's radius is 2.9 mm
    beside = max(abs(found.place.real - 25) - 5, abs(found.place.imag - 5) - 5)
    assert beside > 3
