"""Inner outlines before outer ones, small before large, a whole swatch before the next (common practice), and the
travel against the exact constrained optimum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest

from clothpath.curves import OpenPath, Outline, Path, circle, open_path, polygon
from clothpath.cutplan import Cut, CutPlan, MatCuts, PieceRef
from clothpath.cutting.cutorder import in_order, travel_of
from clothpath.layout import Layout, Mat

INCH = 25.4


def square(at: complex, side: float) -> Outline:
    return polygon([at, at + side, at + side * (1 + 1j), at + side * 1j])


def cuts_of(name: str, swatch: int, rings: Sequence[Path], marks: Sequence[Path] = ()) -> list[Cut]:
    ref = PieceRef(swatch, f"cloth{swatch}", "crab", name, 1, name)
    return [
        *(Cut(ref, n, "mark", path, path) for n, path in enumerate(marks)),
        *(Cut(ref, n, "cut", path, path) for n, path in enumerate(rings)),
    ]


def plan_of(*cuts: Cut) -> CutPlan:
    return CutPlan(Layout((), (), Mat("mat-12x12", 12 * INCH, 12 * INCH)), (MatCuts(cuts),))


def ordered_names(plan: CutPlan) -> list[tuple[str, str, int]]:
    return [(cut.ref.piece, cut.kind, cut.ring) for cut in in_order(plan).mats[0].cuts]


def test_markings_then_holes_then_the_outer_ring() -> None:
    holes = [circle(20 + 20j, 5), circle(40 + 40j, 5)]
    vein = open_path(10 + 10j, [(50 + 50j,)])
    found = ordered_names(plan_of(*cuts_of("shell", 0, [square(0, 60), *holes], [vein])))
    assert [(kind, bool(ring)) for _, kind, ring in found] == [
        ("mark", False),
        ("cut", True),
        ("cut", True),
        ("cut", False),
    ]


def test_a_piece_in_the_hole_of_another_is_cut_before_that_hole() -> None:
    ring = cuts_of("ring", 0, [square(0, 60), square(15 + 15j, 30)])
    pearl = cuts_of("pearl", 0, [circle(30 + 30j, 10)])
    assert [name for name, _, _ in ordered_names(plan_of(*ring, *pearl))] == ["pearl", "ring", "ring"]


def test_a_small_piece_is_cut_before_a_large_one_beside_it() -> None:
    # the large one is nearer to where the head rests
    large, small = cuts_of("body", 0, [square(5 + 5j, 60)]), cuts_of("eye", 0, [square(68 + 20j, 10)])
    assert [name for name, _, _ in ordered_names(plan_of(*large, *small))] == ["eye", "body"]


def test_far_apart_the_nearer_one_is_cut_first() -> None:
    large, small = cuts_of("body", 0, [square(5 + 5j, 60)]), cuts_of("eye", 0, [square(150 + 20j, 10)])
    assert [name for name, _, _ in ordered_names(plan_of(*small, *large))] == ["body", "eye"]


def test_a_whole_swatch_before_the_next() -> None:
    cuts = [
        cut
        for i in range(24)
        for cut in cuts_of(f"p{i}", i % 3, [square(complex(100 * (i % 3) + 30 * (i // 3 % 3), 30 * (i // 9)), 20)])
    ]
    swatches = [cut.ref.swatch for cut in in_order(plan_of(*cuts)).mats[0].cuts]
    assert len(swatches) == 24
    assert sum(a != b for a, b in pairwise(swatches)) == 2


def test_every_cut_is_begun_on_a_straight_and_is_its_own_path() -> None:
    plan = in_order(plan_of(*cuts_of("a", 0, [square(10 + 10j, 40)]), *cuts_of("b", 0, [square(80 + 10j, 30)])))
    for cut in plan.mats[0].cuts:
        corners = {10 + 10j, 50 + 10j, 50 + 50j, 10 + 50j, 80 + 10j, 110 + 10j, 110 + 40j, 80 + 40j}
        assert cut.path is cut.outline
        assert min(abs(cut.path.start - corner) for corner in corners) > 2


def test_an_open_marking_may_be_drawn_from_either_end() -> None:
    away = open_path(90 + 50j, [(11 + 11j,)])
    mark = in_order(plan_of(*cuts_of("fin", 0, [square(10 + 10j, 100)], [away]))).mats[0].cuts[0]
    assert isinstance(mark.path, OpenPath)
    assert (mark.path.start, mark.path.end) == (11 + 11j, 90 + 50j)


def scattered(seed: int, n: int) -> CutPlan:
    rng = np.random.default_rng(seed)
    cuts: list[Cut] = []
    for i in range(n):
        at = complex(*(rng.random(2) * 250 + 10))
        side = float(rng.random() * 30 + 8)
        rings = [square(at, side), square(at + side * (0.3 + 0.3j), side * 0.3)][: 1 + int(rng.random() < 0.3)]
        cuts += cuts_of(f"p{i}", 0, rings)
    return plan_of(*cuts)


def exact_travel(cuts: Sequence[Cut]) -> float:
    """The least travel over all orders that keep what must come before what, with each line begun where it is begun.

    Held and Karp's recursion over sets of lines; pieces keep together. Where a piece is loose is told from the words of
    the rule: under one square inch, a larger one (half as large again) within a quarter inch.
    """
    n = len(cuts)
    needs = [0] * n
    for i, a in enumerate(cuts):
        for j, b in enumerate(cuts):
            same = a.ref == b.ref
            if same and (a.kind, not a.ring) != (b.kind, not b.ring) and (b.kind == "cut" and not b.ring):
                needs[j] |= 1 << i
            if not same and not a.ring and not b.ring and _loose_beside(a.outline, b.outline):
                needs[j] |= sum(1 << k for k, c in enumerate(cuts) if c.ref == a.ref)
    piece = [sum(1 << k for k, c in enumerate(cuts) if c.ref == a.ref) for a in cuts]
    layer = {(0, -1): 0.0}
    for _ in range(n):
        following: dict[tuple[int, int], float] = {}
        for (done, last), way in layer.items():
            begun = 0 if last < 0 else piece[last]
            for b in range(n):
                open_piece = begun & ~done and not begun >> b & 1
                if done >> b & 1 or needs[b] & ~done or open_piece:
                    continue
                # nothing of a piece is cut before all that must come before any of it
                if any(needs[k] & ~done & ~piece[b] for k in range(n) if piece[b] >> k & 1):
                    continue
                total = way + abs((0 if last < 0 else cuts[last].path.end) - cuts[b].path.start)
                key = (done | 1 << b, b)
                if total < following.get(key, math.inf):
                    following[key] = total
        layer = following
    return min(layer.values())


def _loose_beside(small: Path, large: Path) -> bool:
    a, b = small.box, large.box
    gap = max(a.left - b.right, b.left - a.right, a.bottom - b.top, b.bottom - a.top)
    return a.width * a.height < INCH**2 and b.width * b.height > 1.5 * a.width * a.height and gap <= INCH / 4


def test_travel_is_near_the_exact_constrained_optimum() -> None:
    ratios = []
    for seed in range(10):
        plan = in_order(scattered(seed, 7))
        cuts = plan.mats[0].cuts
        best = exact_travel(cuts)
        assert travel_of(cuts) >= best - 1e-6
        ratios.append(travel_of(cuts) / best)
    assert sum(ratios) / len(ratios) < 1.02


def test_travel_is_shorter_than_as_laid() -> None:
    plan = scattered(1, 30)
    assert travel_of(in_order(plan).mats[0].cuts) < 0.6 * travel_of(plan.mats[0].cuts)


def test_the_same_plan_gives_the_same_order() -> None:
    assert in_order(scattered(2, 12)) == in_order(scattered(2, 12))


def test_nothing_is_lost_or_added() -> None:
    plan = scattered(4, 20)
    before, after = plan.mats[0].cuts, in_order(plan).mats[0].cuts
    key = [(cut.ref.piece, cut.kind, cut.ring) for cut in after]
    assert sorted(key) == sorted((cut.ref.piece, cut.kind, cut.ring) for cut in before)
    boxes = {(cut.ref.piece, cut.ring): cut.outline.box for cut in before}
    for cut in after:
        box = boxes[cut.ref.piece, cut.ring]
        assert (cut.outline.box.left, cut.outline.box.top) == pytest.approx((box.left, box.top), abs=1e-9)
