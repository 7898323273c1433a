"""What the sewing geometry costs, as a multiple of reading: the demo designs, least of several runs.

python tests/benchmarks/sewing_time.py [RUNS]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

from clothpath.design import Design
from clothpath.plugins.readers.svg import SvgReader
from clothpath.plugins.transforms.bearable import Bearable, BearableSettings
from clothpath.plugins.transforms.less_bulk import LessBulk, LessBulkSettings
from clothpath.plugins.transforms.turn_under import TURN_UNDER, TurnUnderSettings
from clothpath.plugins.transforms.underlap import Underlap, UnderlapSettings

DESIGNS = Path(__file__).parents[2] / "samples" / "tidepool" / "designs"
STEPS: list[tuple[str, Callable[[Design], Design]]] = [
    ("underlap", lambda design: Underlap().apply(design, UnderlapSettings()).value),
    ("less-bulk", lambda design: LessBulk().apply(design, LessBulkSettings()).value),
    ("turn-under", lambda design: TURN_UNDER.apply(design, TurnUnderSettings()).value),
    ("bearable", lambda design: Bearable().apply(design, BearableSettings()).value),
]


def main(runs: int) -> None:
    names = "  ".join(f"{name:>10}" for name, _ in STEPS)
    print(f"{'design':12} pieces   read ms  {names}   all/read   without turn-under")
    for path in sorted(DESIGNS.glob("*.svg")):
        data, reader = path.read_bytes(), SvgReader()
        best: dict[str, float] = {}
        for _ in range(runs):
            started = time.process_time()
            design = reader.read(data, reader.settings()).value
            best["read"] = min(best.get("read", 1e9), time.process_time() - started)
            for name, step in STEPS:
                started = time.process_time()
                design = step(design)
                best[name] = min(best.get(name, 1e9), time.process_time() - started)
        steps = [best[name] * 1000 for name, _ in STEPS]
        read = best["read"] * 1000
        print(
            f"{path.stem:12} {len(design.pieces):6}  {read:8.1f}  "
            + "  ".join(f"{step:10.1f}" for step in steps)
            + f"   {sum(steps) / read:8.1f}   {(sum(steps) - steps[2]) / read:8.1f}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
