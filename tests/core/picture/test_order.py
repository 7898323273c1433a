"""The layering order where the catalog overrules the drawing."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import circle
from clothpath.design import Design, Piece
from clothpath.findings import Refusal
from clothpath.picture.order import reordered
from clothpath.regions import region


def drawn(names: str) -> Design:
    pieces = tuple(Piece(name, name, region(circle(20 * i, 9)), "", order=i) for i, name in enumerate(names, 1))
    return Design("try", pieces, (), ())


def order(names: str, *over: str) -> str:
    """The pieces in their new order; each pair as the upper's letter and the lower's."""
    found = reordered(drawn(names), [(pair[0], pair[1]) for pair in over])
    assert [piece.order for piece in found.pieces] == list(range(1, len(names) + 1))
    return "".join(piece.id for piece in found.pieces)


def fault(names: str, *over: str) -> Refusal:
    with pytest.raises(Refusal) as refusal:
        order(names, *over)
    return refusal.value


@pytest.mark.parametrize(
    ("over", "expected"),
    [
        ((), "abcd"),
        (("ba",), "abcd"),  # as drawn
        (("ab",), "bacd"),
        (("ac",), "cabd"),  # the lower one is brought forward, the rest keeps its order
        (("ad", "bc"), "dacb"),
        (("bc", "ab"), "cbad"),  # a chain, in whichever order it is written
        (("ab", "bc"), "cbad"),
        (("ab", "bc", "cd"), "dcba"),
    ],
)
def test_the_first_of_a_pair_is_laid_after_the_second(over: tuple[str, ...], expected: str) -> None:
    assert order("abcd", *over) == expected


def test_a_design_that_obeys_already_is_returned_as_it_is() -> None:
    design = drawn("abc")
    assert reordered(design, [("c", "a")]) is design


@settings(max_examples=60, derandomize=True)
@given(st.permutations("abcdef"), st.sets(st.sampled_from(list(itertools.combinations("abcdef", 2))), max_size=8))
def test_whatever_can_be_obeyed_is_obeyed(as_drawn: list[str], pairs: set[tuple[str, str]]) -> None:
    # all pairs say that the later letter lies over the earlier one, so the alphabet obeys them all
    found = order("".join(as_drawn), *(upper + lower for lower, upper in sorted(pairs)))
    assert all(found.index(lower) < found.index(upper) for lower, upper in pairs)
    if all(as_drawn.index(lower) < as_drawn.index(upper) for lower, upper in pairs):
        assert found == "".join(as_drawn)


def test_pairs_that_contradict_each_other_are_told_as_the_circle_that_they_make() -> None:
    (finding,) = fault("abcd", "ab", "bc", "ca", "da").findings
    assert finding.code == "order-contradicts"
    assert '"a" over "b" over "c" over "a"' in finding.message
    (finding,) = fault("ab", "aa").findings
    assert "cannot lie over itself" in finding.message


def test_every_piece_that_is_not_there_is_told_with_the_nearest_word() -> None:
    design = Design("try", tuple(Piece(n, n, region(circle(0, 9)), "") for n in ("window", "tower")), (), ())
    with pytest.raises(Refusal) as refusal:
        reordered(design, [("windw", "tower"), ("tower", "rock")])
    first, second = refusal.value.findings
    assert (first.code, second.code) == ("piece-unknown", "piece-unknown")
    assert '"windw"' in first.message
    assert 'Did you mean "window"?' in first.hint
    assert '"rock"' in second.message


def labeled(*names: tuple[str, str]) -> Design:
    """Pieces by id and label."""
    pieces = tuple(Piece(id_, label, region(circle(20 * i, 9)), "", order=i) for i, (id_, label) in enumerate(names, 1))
    return Design("try", pieces, (), ())


@pytest.mark.parametrize("said", ["36/35", "PETAL 1", "PETAL 1 (36/35)"])
def test_a_piece_is_named_by_its_id_or_by_what_inspect_calls_it(said: str) -> None:
    design = labeled(("36/35", "PETAL 1"), ("38/35", "PETAL 2"))
    assert [piece.id for piece in reordered(design, [(said, "PETAL 2")]).pieces] == ["38/35", "36/35"]


def test_an_id_beats_a_label_and_a_label_of_two_pieces_is_asked_about() -> None:
    design = labeled(("bow", "bow"), ("bow-2", "bow"), ("knot", "tie"), ("tie-2", "tie"))
    assert [piece.id for piece in reordered(design, [("bow", "bow-2")]).pieces] == ["bow-2", "bow", "knot", "tie-2"]
    with pytest.raises(Refusal) as refusal:
        reordered(design, [("tie", "bow")])
    (found,) = refusal.value.findings
    assert (found.code, found.hint) == ("piece-ambiguous", 'Write "knot" or "tie-2".')
