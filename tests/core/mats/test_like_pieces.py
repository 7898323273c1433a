"""Pieces that are alike are laid as copies of one shape, and keep their own places and names."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import replace

import pytest

from clothpath.curves import Affine, Outline, outline, transformed
from clothpath.design import Design, Fabric, Grain, Piece
from clothpath.layout import Demand, Layout, Mat
from clothpath.mats.lay import laid_out
from clothpath.mats.wanted import Rules, wanted_by_fabric
from clothpath.proving.layoutcheck import Clearances, faults
from clothpath.regions import region

RULES = Rules(3.175, 3.175, 6.35, 3.175, 12.7)
PETAL = outline(0j, [(10 + 8j, 30 + 14j, 50 + 0j), (30 - 9j, 12 - 10j, 0j)])


def daisy(rings: Sequence[Outline], grain: Grain = "any", reversed_: bool = False) -> Layout:
    red = Fabric("red", "Red", "#cc2222", grain=grain, laid="wrong-side-up" if reversed_ else "right-side-up")
    pieces = tuple(Piece(f"petal-{n}", f"petal {n}", region(ring), "red", order=n + 1) for n, ring in enumerate(rings))
    return Layout((Demand(Design("daisy", pieces, (), (red,))),), (red,), Mat("mat", 304.8, 304.8))


def around(count: int) -> list[Outline]:
    ways = [Affine.shift(cmath.rect(12, 2 * math.pi * k / count)) @ Affine.turn(360 * k / count) for k in range(count)]
    return [transformed(PETAL, way) for way in ways]


def cloth(layout: Layout) -> float:
    return sum(swatch.width * swatch.height for mat in layout.mats for swatch in mat.swatches)


@pytest.mark.parametrize("reversed_", [False, True])
def test_a_dozen_petals_drawn_one_by_one_take_no_more_cloth_than_a_dozen_copies(reversed_: bool) -> None:
    asked = daisy(around(12), reversed_=reversed_)
    one = asked.demands[0].design.pieces[0]
    copies = replace(asked, demands=(Demand(replace(asked.demands[0].design, pieces=(replace(one, copies=12),))),))
    made = laid_out(asked, RULES)
    assert cloth(made) == pytest.approx(cloth(laid_out(copies, RULES)), rel=1e-9)
    assert faults(made, Clearances(3.175, 3.175, 6.35)) == ()
    laid = sorted(place.piece for mat in made.mats for swatch in mat.swatches for place in swatch.placements)
    assert laid == sorted(f"petal-{n}" for n in range(12))


def test_only_what_the_grain_lets_lie_alike_is_alike() -> None:
    turned = [transformed(PETAL, Affine.turn(angle)) for angle in (0, 90, 45, 180)]
    for grain, likes in (("any", 3), ("straight", 2), ("lengthwise", 1)):
        (wanted,) = wanted_by_fabric(daisy(turned, grain))
        assert sum(part.like is not None for part in wanted.parts) == likes


def test_a_mirror_image_and_a_near_match_are_not_alike() -> None:
    near = transformed(PETAL, Affine.scale(1.0005))  # 0.025 mm longer
    (wanted,) = wanted_by_fabric(daisy([PETAL, transformed(PETAL, Affine.flip()), near]))
    assert [part.like for part in wanted.parts] == [None, None, None]


def test_where_the_outline_begins_makes_no_difference() -> None:
    a, b = PETAL.segments()
    again = outline(50 + 0j, [b, a])
    (wanted,) = wanted_by_fabric(daisy([PETAL, transformed(again, Affine.turn(33))]))
    assert wanted.parts[1].like is not None
