"""Runs one timed strip search of the spyrrow library in a process of its own, where a panic or a hang hurts nobody.

It is started by its path, not imported. One JSON document on standard input says what to do; each line of standard
output is a better arrangement: `{"width": ..., "placed": [[number, turn, x, y], ...]}`.
"""

import json
import sys
from datetime import timedelta
from threading import Thread
from typing import Any, Final

import spyrrow

POLL_S: Final = 0.2

FEASIBLE: Final = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas)


def main() -> None:
    """Solves the instance on standard input and writes each better arrangement."""
    task: dict[str, Any] = json.load(sys.stdin)
    items = [
        spyrrow.Item(str(n), [(x, y) for x, y in item["points"]], item["count"], item["turns"])
        for n, item in enumerate(task["items"])
    ]
    instance = spyrrow.StripPackingInstance("strip", task["height"], items)
    config = spyrrow.StripPackingConfig(
        total_computation_time=None,
        exploration_time=1,
        compression_time=1,
        num_workers=task["threads"],
        seed=task["seed"],
    )
    config.exploration_time = timedelta(seconds=task["explore_s"])
    config.compression_time = timedelta(seconds=task["compress_s"])
    queue = spyrrow.ProgressQueue()
    done: list[Any] = []
    solver = Thread(target=lambda: done.append(instance.solve(config, queue)), daemon=True)
    solver.start()
    least = float("inf")
    while solver.is_alive():
        solver.join(POLL_S)
        finds = [found for kind, found in queue.drain() if kind in FEASIBLE]
        narrowest = min(finds, key=lambda found: found.width, default=None)
        if narrowest is not None and narrowest.width < least:
            least = narrowest.width
            write(narrowest)
    for found in done:
        write(found)


def write(found: Any) -> None:
    """One arrangement as a line of JSON."""
    placed = [[int(item.id), item.rotation, *item.translation] for item in found.placed_items]
    print(json.dumps({"width": found.width, "placed": placed}), flush=True)


if __name__ == "__main__":
    main()
