"""Runs one timed strip search of the spyrrow library in a process of its own, where a panic or a hang hurts nobody.

It is started by its path, not imported. One JSON document on standard input says what to do; each line of standard
output is a better arrangement: `{"width": ..., "placed": [[number, turn, x, y], ...]}`.
"""

import json
import os
import sys
from datetime import timedelta
from math import inf
from threading import Thread
from time import monotonic
from typing import Any, Final

import spyrrow

POLL_S: Final = 0.2

FEASIBLE: Final = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas, spyrrow.ReportType.Final)

PARENT: Final = os.getppid()
"""Whoever started the search; it ends with them, however they ended."""

WORTH: Final = 0.1
"""Share of the time that is worth another seed."""


def main() -> None:
    """Solves the instance on standard input and writes each better arrangement.

    The library gives up when many tries in a row bring nothing; what is left of the time then goes to another seed.
    """
    task: dict[str, Any] = json.load(sys.stdin)
    items = [
        spyrrow.Item(str(n), [(x, y) for x, y in item["points"]], item["count"], item["turns"])
        for n, item in enumerate(task["items"])
    ]
    instance = spyrrow.StripPackingInstance("strip", task["height"], items)
    whole = task["explore_s"] + task["compress_s"]
    until = monotonic() + whole
    least = inf
    seed = task["seed"]
    while (left := until - monotonic()) > WORTH * whole or seed == task["seed"]:
        config = spyrrow.StripPackingConfig(
            total_computation_time=None,
            exploration_time=1,
            compression_time=1,
            num_workers=task["threads"],
            quadtree_depth=task["depth"],
            seed=seed,
        )
        config.exploration_time = timedelta(seconds=task["explore_s"] * left / whole)
        config.compression_time = timedelta(seconds=task["compress_s"] * left / whole)
        least = solve(instance, config, least)
        if least == inf:
            break
        seed += 1


def solve(instance: Any, config: Any, least: float) -> float:
    """Writes each arrangement narrower than `least` and answers with the width of the last."""
    queue = spyrrow.ProgressQueue()
    solver = Thread(target=instance.solve, args=(config, queue), daemon=True)
    solver.start()
    going = True
    while going:
        solver.join(POLL_S)
        if os.getppid() != PARENT:
            os._exit(1)
        going = solver.is_alive()
        finds = [found for kind, found in queue.drain() if kind in FEASIBLE]
        narrowest = min(finds, key=lambda found: found.width, default=None)
        if narrowest is not None and narrowest.width < least:
            least = narrowest.width
            write(narrowest)
    return least


def write(found: Any) -> None:
    """One arrangement as a line of JSON."""
    placed = [[int(item.id), item.rotation, *item.translation] for item in found.placed_items]
    print(json.dumps({"width": found.width, "placed": placed}), flush=True)


if __name__ == "__main__":
    main()
