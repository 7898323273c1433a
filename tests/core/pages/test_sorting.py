"""What a person is told of pieces that are alike: any fits; and of mirror images: they do not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

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


def told(said: Sequence[str]) -> list[str]:
    return [each.partition(" (")[0] for each in said]


def test_six_equal_petals_fit_in_each_other_s_places() -> None:
    assert sorting_words(design(petals())) == (
        "p0, p1, p2, p3, p4 and p5 (a, 1 to 6 on the placement guide) are alike: any of them fits in any of these "
        "places.",
    )


@pytest.mark.parametrize(
    ("grain", "alike"),
    [
        ("directional", []),  # every turn shows in the print
        ("lengthwise", ["p0 and p3", "p1 and p4", "p2 and p5"]),  # half a turn does not
        ("straight", ["p0 and p3", "p1 and p4", "p2 and p5"]),  # no two petals are a quarter turn apart
        ("any", ["p0, p1, p2, p3, p4 and p5"]),
    ],
)
def test_the_grain_tells_petals_apart(grain: Grain, alike: list[str]) -> None:
    assert told(sorting_words(design(petals(), grain))) == alike


def test_pieces_of_different_fabrics_are_not_alike() -> None:
    said = sorting_words(design(petals(), fabrics="abbabb"))
    assert told(said) == ["p1, p2, p4 and p5", "p0 and p3"]
    assert [each.partition(" (")[2].partition(",")[0] for each in said] == ["b", "a"]


def test_left_and_right_wing_are_told_apart() -> None:
    left, right = WING, moved(WING, Affine.flip())
    said = sorting_words(design([left, right, left, right, left]))
    assert said == (
        "p0, p2 and p4 (a, 1, 3 and 5 on the placement guide) are alike: any of them fits in any of these places.",
        "p1 and p3 (a, 2 and 4 on the placement guide) are alike: any of them fits in any of these places.",
        "p0, p2 and p4 (a, 1, 3 and 5 on the placement guide) and p1 and p3 (a, 2 and 4 on the placement guide) are "
        "mirror images: they do not fit in each other's places.",
    )
    assert all("are mirror images" in each for each in sorting_words(gull()))


def test_numbers_are_never_told_without_saying_of_what() -> None:
    """On a job sheet a bare 1 to 4 reads as the rectangles of the mat."""
    for each in sorting_words(design(petals(8), fabrics="aabbaabb")):
        assert "on the placement guide)" in each
        assert not each[0].isdigit()


def test_pieces_of_one_name_are_counted_and_of_many_names_the_first_are_told() -> None:
    same = design(petals())
    same = replace(same, pieces=tuple(replace(piece, label="petal") for piece in same.pieces))
    assert sorting_words(same)[0].startswith("6 called petal (a, 1 to 6 on the placement guide) are alike")
    assert sorting_words(design(petals(9)))[0].startswith("p0, p1, p2, p3, p4, p5 and 3 more (a, 1 to 9 on")


def test_pieces_that_differ_say_nothing() -> None:
    assert sorting_words(design([PETAL, moved(PETAL, Affine.scale(1.02))])) == ()
