"""What the design steps cost, as a multiple of reading: the demo designs, CPU time, least of several runs.

    python tests/benchmarks/sewing_time.py [RUNS]

The steps follow each other as in a recipe. The last line is the designs' median of each column.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

from clothpath.design import Design
from clothpath.plugins.readers.svg import SvgReader
from clothpath.plugins.transforms.bearable import Bearable, BearableSettings
from clothpath.plugins.transforms.economy import Economy, EconomySettings
from clothpath.plugins.transforms.less_bulk import LessBulk, LessBulkSettings
from clothpath.plugins.transforms.tidy import Tidy, TidySettings
from clothpath.plugins.transforms.turn_under import TURN_UNDER, TurnUnderSettings
from clothpath.plugins.transforms.underlap import Underlap, UnderlapSettings

DESIGNS = Path(__file__).parents[2] / "samples" / "tidepool" / "designs"
STEPS: dict[str, Callable[[Design], Design]] = {
    "tidy": lambda design: Tidy().apply(design, TidySettings()).value,
    "economy": lambda design: Economy().apply(design, EconomySettings()).value,
    "bearable": lambda design: Bearable().apply(design, BearableSettings()).value,
    "underlap": lambda design: Underlap().apply(design, UnderlapSettings()).value,
    "less-bulk": lambda design: LessBulk().apply(design, LessBulkSettings()).value,
    "turn-under": lambda design: TURN_UNDER.apply(design, TurnUnderSettings()).value,
}
FUSED = ("tidy", "bearable", "underlap")
"""The steps of the recipe for fused work."""


def measured(path: Path, runs: int) -> dict[str, float]:
    """Milliseconds of reading and of each step."""
    data, reader = path.read_bytes(), SvgReader()
    best: dict[str, float] = {}
    for _ in range(runs):
        started = time.process_time()
        design = reader.read(data, reader.settings()).value
        best["read"] = min(best.get("read", 1e9), time.process_time() - started)
        for name, step in STEPS.items():
            started = time.process_time()
            design = step(design)
            best[name] = min(best.get(name, 1e9), time.process_time() - started)
    best["pieces"] = len(design.pieces) / 1000
    best["all"] = sum(best[name] for name in STEPS)
    best["fused"] = sum(best[name] for name in FUSED)
    return {name: 1000 * seconds for name, seconds in best.items()}


def main(runs: int) -> None:
    columns = ("pieces", "read", *STEPS, "all", "fused")
    print(f"{'ms':12}" + "".join(f"{name:>11}" for name in columns) + "  all/read  fused/read")
    rows = {path.stem: measured(path, runs) for path in sorted(DESIGNS.glob("*.svg"))}
    rows["median"] = {name: statistics.median(row[name] for row in rows.values()) for name in columns}
    for design, row in rows.items():
        shares = f"{row['all'] / row['read']:10.1f}{row['fused'] / row['read']:12.1f}"
        print(f"{design:12}" + "".join(f"{row[name]:11.1f}" for name in columns) + shares)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
