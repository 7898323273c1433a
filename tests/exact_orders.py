"""The shortest order of stops, exactly, for few stops.

M. Held and R. M. Karp, A dynamic programming approach to sequencing problems, J. SIAM 10 (1962), over sets of visited
stops; the sets that break a `before` pair are left out.
"""

from __future__ import annotations

import math

import numpy as np

from clothpath.cutting.travel import Stops

__all__ = ["drawn", "exact"]


def exact(stops: Stops) -> float:
    """The travel of the shortest order that keeps every `before` pair, in mm."""
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
    """Stops at random places of a mat, some with an exit of their own, with at most so many pairs."""
    rng = np.random.default_rng(seed)
    points = rng.random((n, 2)) * 300
    entries = points[:, 0] + 1j * points[:, 1]
    exits = entries + np.where(rng.random(n) < 0.3, rng.random(n) * 20, 0)
    rank = rng.permutation(n)
    before = {
        (int(a), int(b)) if rank[a] < rank[b] else (int(b), int(a)) for a, b in rng.integers(0, n, (pairs, 2)) if a != b
    }
    return Stops.of(zip(entries.tolist(), exits.tolist(), strict=True), sorted(before))
