"""Outlines of loose edges with open corners, of which some are drawn twice, whole or in parts: one piece comes back.

What a person sees in such a drawing is the one outline that it was made from; that is what is compared with.
"""

from __future__ import annotations

import cmath
import random
from itertools import pairwise
from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.areas.chains import joined
from clothpath.areas.junctions import resolved
from clothpath.areas.touches import split
from clothpath.areas.webs import Edge, reversed_edge
from clothpath.curves import Outline, area, outline


def line(a: complex, b: complex) -> Edge:
    return Edge(a, ((b,),))


def whole(chance: random.Random, size: float) -> list[Edge]:
    """The edges of a star-shaped outline: straight lines, single curves and curves of two segments."""
    corners = chance.randrange(3, 9)
    turns = [2 * pi * (k + 0.5 * chance.random()) / corners for k in range(corners)]
    points = [cmath.rect(size * (0.6 + 0.4 * chance.random()), turn) for turn in turns]
    edges = []
    for a, b in zip(points, points[1:] + points[:1], strict=True):
        way, bulge = b - a, chance.choice([-0.12j, 0.12j])
        middle = a + way * (0.5 + 0.06j)
        one: Edge = Edge(a, ((a + way * (0.3 + bulge), a + way * (0.7 + bulge), b),))
        two: Edge = Edge(
            a,
            (
                (a + way * (0.15 + 0.06j), middle - way * 0.15, middle),
                (middle + way * 0.15, b - way * (0.15 + 0.06j), b),
            ),
        )
        edges.append(chance.choice([line(a, b), one, two]))
    return edges


def parted(edge: Edge, chance: random.Random) -> list[Edge]:
    return list(split([edge], [(0, 0, chance.choice([0.25, 0.5, 0.7]))]).edges)


def shaken(edge: Edge, by: float, chance: random.Random) -> Edge:
    """The edge with each end moved by no more than that, and the rest with them."""
    first, last = (cmath.rect(by * chance.random(), 2 * pi * chance.random()) for _ in range(2))
    count = sum(len(segment) for segment in edge.segments)
    shares = iter([k / count for k in range(1, count + 1)])
    moved = [
        tuple(p + (1 - share) * first + share * last for p, share in zip(segment, shares, strict=False))
        for segment in edge.segments
    ]
    return Edge(edge.start + first, tuple(moved))  # type: ignore[arg-type]


def untidy(edges: list[Edge], gap: float, chance: random.Random) -> list[Edge]:
    found: list[Edge] = []
    for edge in edges:
        found += parted(edge, chance) if chance.random() < 0.35 else [edge]
        again = chance.choice(["no", "no", "no", "whole", "in parts", "one part"])
        if again == "whole":
            found.append(edge)
        elif again != "no":
            parts = parted(edge, chance)
            found += parts if again == "in parts" else [chance.choice(parts)]
    found = [shaken(edge, 0.4 * gap, chance) if chance.random() < 0.8 else edge for edge in found]
    found = [reversed_edge(edge) if chance.random() < 0.5 else edge for edge in found]
    chance.shuffle(found)
    return found


def around(path: Outline) -> float:
    return float(np.abs(np.diff(np.append(path.nodes[:, 0], path.end))).sum())


@given(st.integers(0, 10**6), st.sampled_from([0.1, 0.5, 1.0]))
def test_an_untidy_outline_comes_back_as_one(seed: int, gap: float) -> None:
    chance = random.Random(seed)
    edges = whole(chance, chance.choice([200, 600, 1000]) * gap)
    meant = outline(edges[0].start, [segment for edge in edges for segment in edge.segments])
    (loop,) = resolved(untidy(edges, gap, chance), gap).made.loops
    assert abs(area(loop.path)) == pytest.approx(abs(area(meant)), abs=gap * around(meant))


LEAF = [0, 120 + 20j, 200, 160 + 90j, 40 + 110j]
SIDES = [line(a, b) for a, b in zip(LEAF, LEAF[1:] + LEAF[:1], strict=True)]


def opened(by: float) -> list[Edge]:
    """The sides, each begun too late by that."""
    return [line(side.start + by, side.end) for side in SIDES]


CASES = {
    "open corners": opened(0.05),
    "a side drawn twice": [*SIDES, SIDES[0]],
    "open corners and a side drawn twice": [*opened(0.05), SIDES[0]],
    "a side drawn nearly twice": [*SIDES, line(0.05, 120 + 20j)],
    "open corners by less, and a side drawn twice": [*opened(0.02), SIDES[0]],
    "a side drawn twice, the other way and in two parts": [
        *opened(0.05), line(120 + 20j, 60 + 10.03j), line(60 + 10j, 0.04j),
    ],
    "all drawn twice": [*opened(0.05), *opened(0.03)],
    "a side of two lines that overlap": [line(0.05, 80 + 13.35j), line(40 + 6.7j, 120 + 20j), *SIDES[1:]],
    "a curve along a straight side": [*SIDES, Edge(0, ((40 + 6.7j, 80 + 13.3j, 120 + 20j),))],
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_leaf_is_one_leaf(case: str) -> None:
    found = resolved(CASES[case], 0.1).made
    shoelace = sum((a.conjugate() * b).imag for a, b in zip(LEAF, LEAF[1:] + LEAF[:1], strict=True)) / 2
    assert [abs(area(loop.path)) for loop in found.loops] == pytest.approx([shoelace], abs=20)
    assert found.chains == found.junctions == ()


def test_two_leaves_drawn_near_each_other_stay_two_and_as_they_are() -> None:
    """Squares with a slit of 0.05 mm between them, their corners open by 0.02 mm."""
    edges = [line(at + a + 0.02, at + b) for at in (0, 10.05) for a, b in ((0, 10), (10, 10 + 10j), (10 + 10j, 10j))]
    edges += [line(at + 10j, at) for at in (0, 10.05)]
    found = joined(edges, gap=0.1)
    assert [abs(area(loop.path)) for loop in found.loops] == pytest.approx([100, 100], abs=0.3)
    assert found.junctions == ()


def test_a_strip_narrower_than_the_gap_keeps_its_ends() -> None:
    """A strip 0.8 mm wide with open corners, where gaps of 1 mm are closed."""
    corners = [0, 20, 20 + 0.8j, 0.8j]
    edges = [line(a + 0.02, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    (loop,) = joined(edges, gap=1.0).loops
    assert abs(area(loop.path)) == pytest.approx(16, abs=0.5)


def test_the_first_steps_of_a_fine_open_curve_are_not_folded_onto_it() -> None:
    points = [complex(0.02 * k) for k in range(500)]
    (chain,) = joined([line(a, b) for a, b in pairwise(points)], gap=0.1).chains
    assert len(chain.edges) == 499
