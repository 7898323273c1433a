"""The order in which a head visits stops so that it travels little, some of them before others.

Terminology
    stop        something to visit: the head comes in at its entry and leaves at its exit
    home        where the head is before the first stop; after the last one it may stay where it is
    travel      the way with nothing done, from exit to entry, in mm
    before      pairs (a, b): stop a must come before stop b
    move        a change of the order: a stretch reversed (2-opt), or a run taken out and put in elsewhere (or-opt)

Sources: exact orders, M. Held and R. M. Karp, A dynamic programming approach to sequencing problems, J. SIAM 10 (1962);
2-opt, G. A. Croes, A method for solving traveling-salesman problems, Operations Research 6 (1958); or-opt,
I. Or, PhD thesis, Northwestern University (1976). Moves that would break a `before` pair are never made, as in
L. F. Escudero, An inexact algorithm for the sequential ordering problem, EJOR 37 (1988).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from clothpath.curves import Points

__all__ = ["Stops", "ordered", "travel"]

EXACT: Final = 9
"""So many stops are ordered exactly; it takes no longer than moves do."""
WINDOW: Final = 8
"""So many stops in a row are put in their shortest order once no move saves."""
ROUNDS: Final = 2
"""How often moves and shortest stretches take turns."""
CIRCLE: Final = "these stops wait for each other in a circle"
GAIN_MM: Final = 1e-6
"""A move must save more than this."""
RUNS: Final = (1, 2, 3)
"""How many stops an or-opt move takes along."""
CELLS: Final = 16384
"""How many moves are weighed at once."""
MOST_SWEEPS: Final = 12
"""How often all moves are gone through; the last sweeps of a long order save next to nothing."""

Indices: TypeAlias = NDArray[np.intp]
Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Stops:
    """What is to be visited.

    Attributes:
        entries, exits: (n,) complex.
        before: (m, 2) index pairs; they must not form a circle.
        home: where the head starts.
    """

    entries: Points
    exits: Points
    before: Indices
    home: complex

    @classmethod
    def of(
        cls,
        ends: Iterable[tuple[complex, complex]],
        before: Iterable[tuple[int, int]] = (),
        home: complex = 0j,
    ) -> Stops:
        """Stops with these (entry, exit) pairs."""
        pairs = np.array(list(ends), dtype=np.complex128).reshape(-1, 2)
        return cls(pairs[:, 0].copy(), pairs[:, 1].copy(), np.array(list(before), dtype=np.intp).reshape(-1, 2), home)


def travel(stops: Stops, order: Sequence[int]) -> float:
    """The travel of an order, in mm."""
    way, _ = _links(stops, np.asarray(order, dtype=np.intp))
    return float(way.sum())


def ordered(stops: Stops, begin: Sequence[int] | None = None) -> list[int]:
    """An order with short travel that keeps every `before` pair.

    Up to `EXACT` stops it is the shortest; beyond, nearest next, then moves while one saves, and short stretches
    exactly. With `begin`, an order that keeps the pairs, this starts from it instead, and the result is never longer.

    Raises:
        ValueError: the `before` pairs form a circle.
    """
    if len(stops.entries) <= EXACT:
        return _shortest(stops)
    order = _nearest_next(stops) if begin is None else np.array(begin, dtype=np.intp)
    for _ in range(ROUNDS):
        for _ in range(MOST_SWEEPS):
            if not _swept(stops, order):
                break
        _straighten(stops, order)
    return [int(i) for i in order]


def _straighten(stops: Stops, order: Indices) -> None:
    """Put each stretch of `WINDOW` stops in its shortest order, given what comes before and after it."""
    n = len(order)
    where = np.full(n, -1, dtype=np.intp)
    for first in range(0, n - 1, WINDOW // 2):
        members = order[first : first + WINDOW].copy()
        where[members] = np.arange(len(members))
        pairs = where[stops.before]
        home = stops.exits[order[first - 1]] if first else stops.home
        part = Stops(stops.entries[members], stops.exits[members], pairs[(pairs >= 0).all(axis=1)], home)
        beyond = first + len(members)
        order[first:beyond] = members[_shortest(part, stops.entries[order[beyond]] if beyond < n else None)]
        where[members] = -1


def _shortest(stops: Stops, onward: complex | None = None) -> list[int]:
    """The shortest order of all, on to `onward` if given: Held and Karp's recursion over sets of stops, as bits.

    Raises:
        ValueError: the `before` pairs form a circle.
    """
    n = len(stops.entries)
    if n < 2:
        return list(range(n))
    bits = 1 << np.arange(n)
    needs = np.zeros(n, dtype=np.intp)
    np.bitwise_or.at(needs, stops.before[:, 1], bits[stops.before[:, 0]])
    barred = np.where(np.arange(1 << n)[:, None] & needs != needs, np.inf, 0.0)
    ways = np.abs(stops.exits[:, None] - stops.entries)
    best = np.full((1 << n, n), np.inf)
    best[bits, range(n)] = np.abs(stops.entries - stops.home) + barred[bits, range(n)]
    for sets, last, without in _grown(n):
        best[sets, last] = (best[without] + ways.T[last]).min(axis=1) + barred[sets, last]
    to_go = 0.0 if onward is None else np.abs(stops.exits - onward)
    seen, at = (1 << n) - 1, int((best[-1] + to_go).argmin())
    if best[seen, at] == np.inf:
        raise ValueError(CIRCLE)
    order = [at]
    while seen := seen & ~(1 << at):
        at = int((best[seen] + ways[:, at]).argmin())
        order.append(at)
    return order[::-1]


@lru_cache(maxsize=EXACT)
def _grown(n: int) -> tuple[tuple[Indices, Indices, Indices], ...]:
    """For each size from 2 up, the sets of so many of n stops, with every stop that may be last, and without it."""
    sets, last = np.divmod(np.arange(n << n), n)
    inside = sets >> last & 1 == 1
    sets, last = sets[inside], last[inside]
    sizes = np.array([each.bit_count() for each in sets.tolist()])
    by_size = [np.flatnonzero(sizes == size) for size in range(2, n + 1)]
    return tuple((sets[which], last[which], sets[which] & ~(1 << last[which])) for which in by_size)


def _nearest_next(stops: Stops) -> Indices:
    n = len(stops.entries)
    waiting = np.zeros(n, dtype=np.intp)
    after: list[list[int]] = [[] for _ in range(n)]
    for a, b in stops.before.tolist():
        waiting[b] += 1
        after[a].append(b)
    free = np.where(waiting == 0, 0.0, np.inf)
    at, order = stops.home, np.empty(n, dtype=np.intp)
    for i in range(n):
        way = np.abs(stops.entries - at) + free
        best = int(way.argmin())
        if way[best] == np.inf:
            raise ValueError(CIRCLE)
        order[i], free[best], at = best, np.inf, stops.exits[best]
        for b in after[best]:
            waiting[b] -= 1
            if waiting[b] == 0:
                free[b] = 0.0
    return order


def _links(stops: Stops, order: Indices) -> tuple[Floats, Points]:
    """The travel into each place of the order, and where the head leaves from for it; one more leave at the end."""
    leaves = np.concatenate(([stops.home], stops.exits[order]))
    return np.abs(leaves[:-1] - stops.entries[order]), leaves


def _swept(stops: Stops, order: Indices) -> bool:
    """Go through all moves once, a block of places at a time, making the best of each block; whether one saved."""
    n, saved = len(order), False
    rows = max(1, CELLS // (n + 1))
    for first in range(0, n, rows):
        while _improved(stops, order, np.arange(first, min(first + rows, n))):
            saved = True
    return saved


def _improved(stops: Stops, order: Indices, places: Indices) -> bool:
    """Make the best move that begins at one of `places`, if it saves."""
    way, leaves = _links(stops, order)
    enters = stops.entries[order]
    latest, earliest = _limits(stops, order)
    gain, i, j = _best_reversal(way, leaves, enters, latest, places)
    shifted, first, run, into = _best_shift(way, leaves, enters, (latest, earliest), places)
    if max(gain, shifted) <= GAIN_MM:
        return False
    if gain >= shifted:
        order[i : j + 1] = order[i : j + 1][::-1].copy()
    elif into < first:
        order[into : first + run] = np.roll(order[into : first + run], run)
    else:
        order[first:into] = np.roll(order[first:into], -run)
    return True


def _limits(stops: Stops, order: Indices) -> tuple[Indices, Indices]:
    """For each place the first place of a stop that must come after it, and the last of one that must come before."""
    n = len(order)
    latest, earliest = np.full(n, n, dtype=np.intp), np.full(n, -1, dtype=np.intp)
    if len(stops.before):
        where = np.empty(n, dtype=np.intp)
        where[order] = np.arange(n)
        pairs = where[stops.before]
        np.minimum.at(latest, pairs[:, 0], pairs[:, 1])
        np.maximum.at(earliest, pairs[:, 1], pairs[:, 0])
    return latest, earliest


def _best_reversal(
    way: Floats, leaves: Points, enters: Points, latest: Indices, places: Indices
) -> tuple[float, int, int]:
    """The best saving by running the places i to j the other way round, with i and j."""
    n = len(way)
    ahead = np.cumsum(way)
    back = np.concatenate(([0.0], np.cumsum(np.abs(leaves[2:] - enters[:-1]))))
    onward = np.append(way[1:], 0.0)
    i, j = places[:, None], np.arange(n)[None, :]
    out = np.abs(leaves[i + 1] - np.append(enters[1:], 0)[j])
    out[:, -1] = 0.0
    new = np.abs(leaves[i] - enters[j]) + back[j] - back[i] + out
    old = way[i] + ahead[j] - ahead[i] + onward[j]
    tight = np.minimum.accumulate(latest[::-1])[::-1]
    gain = np.where((j > i) & (j < tight[i]), old - new, -np.inf)
    best = int(gain.argmax())
    row, column = divmod(best, n)
    return float(gain[row, column]), int(places[row]), column


def _best_shift(
    way: Floats, leaves: Points, enters: Points, limits: tuple[Indices, Indices], places: Indices
) -> tuple[float, int, int, int]:
    """The best saving by taking a run of stops out at i and putting it in before place k, with i, its number, and k."""
    n = len(way)
    way, enters = np.append(way, 0.0), np.append(enters, 0)
    run, i, k = np.array(RUNS)[:, None, None], places[None, :, None], np.arange(n + 1)[None, None, :]
    beyond = np.minimum(i + run, n)
    bridge = np.where(beyond == n, 0.0, np.abs(leaves[i] - enters[beyond]))
    onward = np.where(k == n, 0.0, np.abs(leaves[beyond] - enters[k]))
    gain = (way[i] + way[beyond] - bridge) + way[k] - np.abs(leaves[k] - enters[i]) - onward
    members = np.minimum(i + np.minimum(np.arange(max(RUNS))[None, None, :], run - 1), n - 1)
    latest, earliest = limits
    first_after, last_before = latest[members].min(axis=2)[..., None], earliest[members].max(axis=2)[..., None]
    fits = ((k > i + run) & (k <= first_after)) | ((k < i) & (k > last_before))
    gain = np.where(fits & (i + run <= n), gain, -np.inf)
    best = int(gain.argmax())
    which, row, into = (int(at) for at in np.unravel_index(best, gain.shape))
    return float(gain[which, row, into]), int(places[row]), RUNS[which], into
