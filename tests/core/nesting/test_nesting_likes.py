"""Parts of one shape under several keys: laid as copies of one, told apart again, and checked as themselves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nesting_shapes import leaf, star

from clothpath.nesting import Effort, Like, Packing, Part, candidates, faults, fill, fit, placed, strip
from clothpath.nesting.likes import Likes
from clothpath.nesting.parts import turned

LEAF = leaf(50, 12)


def like(key: str, turn: float, x: float, y: float, turns: tuple[float, ...] | None = None, count: int = 1) -> Part:
    """A leaf drawn turned and shifted, that says so."""
    return Part(key, np.add(turned(LEAF, turn), (x, y)), (), turns, count, Like("first", turn, x, y))


def petals(count: int) -> list[Part]:
    first = Part("first", LEAF)
    return [first, *(like(f"petal {n}", 360 * n / count, 7.0 * n, -3.0 * n) for n in range(1, count))]


def test_a_dozen_petals_lie_as_tight_as_a_dozen_copies_of_one() -> None:
    copies = candidates([Part("first", LEAF, count=12)], 292, 292, 3.175, 3.175)
    apart = candidates(petals(12), 292, 292, 3.175, 3.175)
    assert [packing.area for packing in apart] == [packing.area for packing in copies]
    assert all(faults(petals(12), packing, 3.175, 3.175) == () for packing in apart)
    unlike = [Part(part.key, part.outer) for part in petals(12)]
    assert apart[0].area < candidates(unlike, 292, 292, 3.175, 3.175)[0].area


@pytest.mark.parametrize("turns", [None, (0.0, 90.0, 180.0, 270.0), (0.0,)])
def test_a_copy_lies_where_its_stand_in_would(turns: tuple[float, ...] | None) -> None:
    parts = [Part("first", LEAF, (), turns), like("other", 0.0 if turns == (0.0,) else 90.0, 20.0, -5.0, turns)]
    likes = Likes.of(parts)
    assert [part.count for part in likes.stand_ins] == [2]
    one = fit(likes.stand_ins, 120, 80, 3.0, 3.0)
    both = likes.apart(one)
    for before, after in zip(one.spots, both.spots, strict=True):
        part = next(each for each in parts if each.key == after.key)
        assert np.allclose(placed(parts[0], before)[0], placed(part, after)[0], atol=1e-9)


def test_one_that_may_not_turn_into_the_place_of_the_other_keeps_to_itself() -> None:
    up = (0.0,)
    parts = [Part("first", LEAF, (), up), like("across", 90.0, 0.0, 0.0, up), like("same", 0.0, 9.0, 0.0, up)]
    assert [(part.key, part.count) for part in Likes.of(parts).stand_ins] == [("first", 2), ("across", 1)]
    assert faults(parts, strip(parts, 120, 2.0, 2.0), 2.0, 2.0) == ()


def test_the_shape_itself_may_be_gone() -> None:
    parts = [like("a", 30.0, 5.0, 0.0), like("b", 75.0, 0.0, 8.0), like("c", 200.0, 1.0, 1.0)]
    assert [part.key for part in Likes.of(parts).stand_ins] == ["a"]
    assert faults(parts, strip(parts, 120, 2.0, 2.0), 2.0, 2.0) == ()


def test_what_finds_no_room_is_told_by_its_own_key() -> None:
    parts = petals(12)
    packing = fit(parts, 80, 60, 3.0, 3.0)
    assert packing.left
    assert faults(parts, packing, 3.0, 3.0) == ()
    many = [Part(p.key, p.outer, (), None, 50, p.like) for p in parts]
    full = fill(many, 200, 200, 3.0, 3.0)
    assert faults(many, full, 3.0, 3.0) == ()
    assert len(full.spots) >= len(fill([Part("first", LEAF, count=600)], 200, 200, 3.0, 3.0).spots)


def test_the_progress_of_a_timed_search_speaks_of_the_parts() -> None:
    heard: set[str] = set()

    def progress(best: Packing | None, share: float) -> bool:
        heard.update(spot.key for spot in best.spots) if best else None
        return True

    parts = [*petals(5), Part("star", star(20, 9), (), (0.0,), 2)]
    packing = strip(parts, 120, 3.175, 3.175, Effort(1.0, progress))
    assert heard == {part.key for part in parts}
    assert faults(parts, packing, 3.175, 3.175) == ()


def test_one_that_lies_about_its_shape_is_laid_by_its_own_points() -> None:
    liar = Part("liar", star(20, 9), (), None, 1, Like("first", 0.0, 0.0, 0.0))
    parts = [Part("first", LEAF), liar, Part("third", LEAF)]
    assert faults(parts, strip(parts, 120, 3.0, 3.0), 3.0, 3.0) == ()


@settings(max_examples=15, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(st.floats(0, 360), st.floats(-50, 50), st.floats(-50, 50)), min_size=1, max_size=6),
    st.integers(1, 3),
)
def test_whatever_the_turns_the_true_parts_keep_the_rules(ways: list[tuple[float, float, float]], count: int) -> None:
    parts = [Part("first", LEAF, count=count), *(like(str(n), *way, None, count) for n, way in enumerate(ways))]
    packing = strip(parts, 150, 3.0, 2.0)
    assert packing.complete
    assert faults(parts, packing, 3.0, 2.0) == ()
