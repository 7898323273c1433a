"""Random parts of all kinds: whatever is asked, what comes back keeps every rule, measured by other means."""

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nesting_shapes import copies, part_lists, share_a_point

from clothpath.nesting import BadPartError, Packing, Part, candidates, faults, fill, fit, oversize, strip

SPACINGS = st.sampled_from([0.0, 0.5, 3.175])
MARGINS = st.sampled_from([0.0, 3.0, 6.35])
SIDES = st.floats(60, 300)


def keeps_the_rules(parts: list[Part], packing: Packing, spacing: float, margin: float) -> bool:
    assert faults(parts, packing, spacing, margin) == ()
    shapes = copies(parts, packing)
    boxes = [shape.bounds for shape in shapes]
    inside = all(
        x0 >= margin - 0.01
        and y0 >= margin - 0.01
        and x1 <= packing.width - margin + 0.01
        and y1 <= packing.height - margin + 0.01
        for x0, y0, x1, y1 in boxes
    )
    lying, left = Counter(spot.key for spot in packing.spots), dict(packing.left)
    counted = all(lying[part.key] + left.get(part.key, 0) == part.count for part in parts)
    turns = {part.key: part.turns for part in parts}
    allowed = all(
        turns[s.key] is None or any((s.turn - t) % 360 == 0 for t in turns[s.key] or ()) for s in packing.spots
    )
    return inside and counted and allowed and not share_a_point(shapes, spacing)


@settings(max_examples=15)
@given(part_lists(), SIDES, SPACINGS, MARGINS)
def test_strips(parts: list[Part], height: float, spacing: float, margin: float) -> None:
    if any(lack > 0 for _, lack in oversize(parts, 1e6, height, margin)):
        with pytest.raises(BadPartError, match="too tall"):
            strip(parts, height, spacing, margin)
        return
    packing = strip(parts, height, spacing, margin)
    assert packing.complete
    assert packing.height == height
    assert keeps_the_rules(parts, packing, spacing, margin)


@settings(max_examples=25)
@given(part_lists(), SIDES, SIDES, SPACINGS, MARGINS)
def test_fits(parts: list[Part], width: float, height: float, spacing: float, margin: float) -> None:
    packing = fit(parts, width, height, spacing, margin)
    assert (packing.width, packing.height) == (width, height)
    assert keeps_the_rules(parts, packing, spacing, margin)


@settings(max_examples=25)
@given(part_lists(), SIDES, SIDES, SPACINGS, MARGINS)
def test_candidates(parts: list[Part], width: float, height: float, spacing: float, margin: float) -> None:
    for packing in candidates(parts, width, height, spacing, margin):
        assert packing.complete
        assert packing.width <= width + 0.01
        assert packing.height <= height + 0.01
        assert keeps_the_rules(parts, packing, spacing, margin)


@settings(max_examples=12)
@given(part_lists(1), SIDES, SIDES, SPACINGS, MARGINS)
def test_fills(parts: list[Part], width: float, height: float, spacing: float, margin: float) -> None:
    many = [Part(part.key, part.outer, part.holes, part.turns, 40) for part in parts]
    packing = fill(many, width, height, spacing, margin)
    assert keeps_the_rules(many, packing, spacing, margin)
    assert len(packing.spots) + sum(count for _, count in packing.left) == 40
