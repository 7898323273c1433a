"""Short travel under `before` pairs, against the exact optimum found another way.

The exact optimum: M. Held and R. M. Karp, A dynamic programming approach to sequencing problems, J. SIAM 10 (1962),
over sets of visited stops, with the sets that break a `before` pair left out.
"""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.travel import Stops, ordered, travel


def exact(stops: Stops) -> float:
    n = len(stops.entries)
    needs = [0] * n
    for a, b in stops.before.tolist():
        needs[b] |= 1 << a
    best = {(0, -1): 0.0}
    for _ in range(n):
        layer: dict[tuple[int, int], float] = {}
        for (done, last), way in best.items():
            at = stops.home if last < 0 else stops.exits[last]
            for b in range(n):
                if not done >> b & 1 and needs[b] & done == needs[b]:
                    key, total = (done | 1 << b, b), way + abs(at - stops.entries[b])
                    if total < layer.get(key, math.inf):
                        layer[key] = total
        best = layer
    return min(best.values())


def drawn(seed: int, n: int, pairs: int) -> Stops:
    rng = np.random.default_rng(seed)
    points = rng.random((n, 2)) * 300
    entries = points[:, 0] + 1j * points[:, 1]
    exits = entries + np.where(rng.random(n) < 0.3, rng.random(n) * 20, 0)
    rank = rng.permutation(n)
    before = {
        (int(a), int(b)) if rank[a] < rank[b] else (int(b), int(a)) for a, b in rng.integers(0, n, (pairs, 2)) if a != b
    }
    return Stops.of(zip(entries.tolist(), exits.tolist(), strict=True), sorted(before))


def test_the_exact_optimum_is_what_trying_every_order_finds() -> None:
    stops = drawn(5, 6, 3)
    allowed = [p for p in permutations(range(6)) if all(p.index(a) < p.index(b) for a, b in stops.before.tolist())]
    assert exact(stops) == pytest.approx(min(travel(stops, p) for p in allowed))


@given(st.integers(0, 10_000), st.integers(1, 30), st.integers(0, 40))
def test_every_stop_is_visited_once_and_every_pair_is_kept(seed: int, n: int, pairs: int) -> None:
    stops = drawn(seed, n, pairs)
    order = ordered(stops)
    assert sorted(order) == list(range(n))
    for a, b in stops.before.tolist():
        assert order.index(a) < order.index(b)


@pytest.mark.parametrize("pairs", [0, 3, 8])
def test_travel_is_near_the_constrained_optimum(pairs: int) -> None:
    ratios = []
    for seed in range(12):
        stops = drawn(seed, 8, pairs)
        best, found = exact(stops), travel(stops, ordered(stops))
        assert found >= best - 1e-9
        ratios.append(found / best)
    assert sum(ratios) / len(ratios) < 1.03
    assert max(ratios) < 1.2


def test_a_given_order_is_never_made_longer() -> None:
    stops = drawn(3, 20, 0)
    begin = list(range(20))
    assert travel(stops, ordered(stops, begin)) <= travel(stops, begin)


def test_on_a_line_it_goes_straight_along() -> None:
    stops = Stops.of([(complex(x), complex(x)) for x in (50, 10, 40, 20, 30)])
    assert ordered(stops) == [1, 3, 4, 2, 0]
    assert travel(stops, ordered(stops)) == 50


def test_a_circle_of_pairs_is_refused() -> None:
    with pytest.raises(ValueError, match="circle"):
        ordered(Stops.of([(0j, 0j), (1 + 0j, 1 + 0j)], [(0, 1), (1, 0)]))


def test_nothing_and_one() -> None:
    assert ordered(Stops.of([])) == []
    assert ordered(Stops.of([(3j, 3j)])) == [0]
