"""How good and how fast cut order and blade paths are. Run: python tests/benchmarks/cut_paths.py

Travel against the exact constrained optimum on small cases; milliseconds to order 6 to 1,000 outlines; what
compensation and simulation cost and how far the tip strays.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import shapely

sys.path.insert(0, str(FilePath(__file__).parents[1]))

from exact_orders import drawn, exact

from clothpath.curves import Outline, Points, flattened, outline
from clothpath.cutplan import Cut, CutPlan, MatCuts, PieceRef
from clothpath.cutting.blade import followed
from clothpath.cutting.cutorder import in_order, travel_of
from clothpath.cutting.holder import compensated
from clothpath.cutting.travel import ordered, travel
from clothpath.layout import Layout, Mat

OFFSETS = (0.175, 0.25, 0.5, 1.0)
OVERCUT_MM = 0.8


def blob(rng: np.random.Generator, center: complex, radius: float) -> Outline:
    """A smooth irregular outline of ten cubics."""
    n = 10
    angles = np.arange(n) * 2 * math.pi / n
    points = center + radius * (1 + 0.3 * rng.uniform(-1, 1, n)) * np.exp(1j * angles)
    reach = (np.roll(points, -1) - np.roll(points, 1)) / 6
    ends, controls = np.roll(points, -1), np.roll(points - reach, -1)
    return outline(
        complex(points[0]),
        [(complex(a), complex(b), complex(c)) for a, b, c in zip(points + reach, controls, ends, strict=True)],
    )


def mat_of(count: int, swatches: int) -> CutPlan:
    """A plan with so many outlines on a grid of places, shared out to swatches."""
    rng = np.random.default_rng(7)
    side = math.ceil(math.sqrt(count))
    cuts = []
    for i in range(count):
        place = complex(i % side, i // side) * 40
        ref = PieceRef(i * swatches // count, "cloth", "design", f"p{i}", 1, "")
        ring = blob(rng, place, float(rng.uniform(4, 15)))
        cuts.append(Cut(ref, 0, "cut", ring, ring))
    return CutPlan(Layout((), (), Mat("mat", 40.0 * side, 40.0 * side)), (MatCuts(tuple(cuts)),))


def timed(run: Callable[[], Any], times: int = 5) -> tuple[Any, float]:
    """The result and the best of some times, in ms of the processor, which other programs do not lengthen."""
    best, result = math.inf, None
    for _ in range(times):
        start = time.process_time()
        result = run()
        best = min(best, time.process_time() - start)
    return result, best * 1000


def gaps() -> None:
    print("travel over the exact constrained optimum")
    for n, pairs, cases in ((8, 6, 60), (10, 8, 60), (11, 0, 30), (11, 8, 30), (12, 0, 20), (12, 20, 20)):
        ratios = []
        for seed in range(cases):
            stops = drawn(seed, n, pairs)
            ratios.append(travel(stops, ordered(stops)) / exact(stops))
        best = sum(ratio < 1 + 1e-9 for ratio in ratios)
        mean, worst = sum(ratios) / cases - 1, max(ratios) - 1
        print(f"  {n:2} stops, up to {pairs:2} pairs: mean {mean:.2%}, worst {worst:.2%}, optimal {best} of {cases}")


def speed() -> None:
    print("ordering a mat")
    for count, swatches in ((6, 3), (40, 6), (200, 6), (1000, 8), (1000, 1)):
        plan = mat_of(count, swatches)
        made, ms = timed(lambda plan=plan: in_order(plan), 3)
        before, after = (travel_of(of.mats[0].cuts) / 1000 for of in (plan, made))
        print(f"  {count:4} outlines on {swatches} swatches: {ms:7.1f} ms, travel {before:5.1f} m, then {after:5.1f} m")


def ring_of(points: Points) -> shapely.LinearRing:
    return shapely.LinearRing(np.column_stack((points.real, points.imag)))


def blades() -> None:
    print("compensation and simulation, 60 outlines of ten cubics begun on a straight")
    rings = [cut.outline for cut in in_order(mat_of(60, 1)).mats[0].cuts if isinstance(cut.outline, Outline)]
    for offset in OFFSETS:
        runs = [_run(ring, offset) for ring in rings]
        make, follow, off = (np.array(column) for column in zip(*runs, strict=True))
        print(
            f"  offset {offset:5.3f} mm: make {np.median(make):.2f} ms, follow {np.median(follow):.2f} ms an outline, "
            f"tip off by {off.max():.4f} mm at most"
        )


def _run(ring: Outline, offset: float) -> tuple[float, float, float]:
    path, make = timed(lambda: compensated(ring, offset, OVERCUT_MM), 3)
    found, follow = timed(lambda: followed(path, offset, OVERCUT_MM), 3)
    assert isinstance(found, Outline)
    one, two = ring_of(flattened(found)), ring_of(flattened(ring, 0.001))
    return make, follow, float(shapely.hausdorff_distance(one, two, densify=0.05))


if __name__ == "__main__":
    gaps()
    speed()
    blades()
