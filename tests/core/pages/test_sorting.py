"""What a person is told of pieces that are alike: any fits; and of mirror images: they do not."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from gulls import WING, gull

from clothpath.curves import Affine, outline
from clothpath.design import Design, Fabric, Grain, Piece
from clothpath.pages.sorting import sorting_words
from clothpath.regions import Region, moved, region

PETAL = region(outline(4, [(8 + 5j, 16 + 4j, 20), (16 - 2j, 8 - 5j, 4)]))
"""No mirror image of itself."""


def design(regions: Sequence[Region], grain: Grain = "any", fabrics: str = "") -> Design:
    keys = fabrics or "a" * len(regions)
    pieces = tuple(Piece(f"p{i}", f"p{i}", r, keys[i], order=10 * i + 10) for i, r in enumerate(regions))
    return Design("flower", pieces, (), tuple(Fabric(key, key, grain=grain) for key in dict.fromkeys(keys)))


def petals(count: int = 6) -> list[Region]:
    return [moved(PETAL, Affine.turn(360 / count * k)) for k in range(count)]


def test_six_equal_petals_fit_in_each_other_s_places() -> None:
    assert sorting_words(design(petals())) == ("1 to 6 are alike: any of them fits in any of these places.",)


@pytest.mark.parametrize(
    ("grain", "alike"),
    [
        ("directional", []),  # every turn shows in the print
        ("lengthwise", ["1 and 4", "2 and 5", "3 and 6"]),  # half a turn does not
        ("straight", ["1 and 4", "2 and 5", "3 and 6"]),  # no two petals are a quarter turn apart
        ("any", ["1 to 6"]),
    ],
)
def test_the_grain_tells_petals_apart(grain: Grain, alike: list[str]) -> None:
    assert [said.partition(" are ")[0] for said in sorting_words(design(petals(), grain))] == alike


def test_pieces_of_different_fabrics_are_not_alike() -> None:
    said = sorting_words(design(petals(), fabrics="abbabb"))
    assert [each.partition(" are ")[0] for each in said] == ["2, 3, 5 and 6", "1 and 4"]


def test_left_and_right_wing_are_told_apart() -> None:
    assert sorting_words(gull()) == ("Mirror images, which do not fit in each other's places: 2 of 3.",)
    left, right = WING, moved(WING, Affine.flip())
    said = sorting_words(design([left, right, left, right, left]))
    assert said == (
        "1, 3 and 5 are alike: any of them fits in any of these places.",
        "2 and 4 are alike: any of them fits in any of these places.",
        "Mirror images, which do not fit in each other's places: 1, 3 and 5 of 2 and 4.",
    )


def test_pieces_that_differ_say_nothing() -> None:
    assert sorting_words(design([PETAL, moved(PETAL, Affine.scale(1.02))])) == ()
