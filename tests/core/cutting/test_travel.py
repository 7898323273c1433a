"""Short travel under `before` pairs, against the exact optimum found another way (`exact_orders`)."""

from __future__ import annotations

from itertools import permutations

import pytest
from exact_orders import drawn, exact
from hypothesis import given
from hypothesis import strategies as st

from clothpath.cutting.travel import Stops, ordered, travel


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
