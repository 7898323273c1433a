"""Runs one timed strip search of the spyrrow library in a process of its own, where a panic or a hang hurts nobody.

It is started by its path, not imported. One JSON document on standard input says what to do; each line of standard
output is a better arrangement: `{"width": ..., "placed": [[number, turn, x, y], ...]}`.
"""

import json
import sys
from threading import Thread
from typing import Any, Final

import spyrrow

POLL_S: Final = 0.2


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
        exploration_time=task["explore_s"],
        compression_time=task["compress_s"],
        num_workers=task["workers"],
        seed=task["seed"],
    )
    queue = spyrrow.ProgressQueue()
    done: list[Any] = []
    solver = Thread(target=lambda: done.append(instance.solve(config, queue)), daemon=True)
    solver.start()
    least = float("inf")
    while solver.is_alive():
        solver.join(POLL_S)
        for kind, found in queue.drain():
            if kind in (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas) and found.width < least:
                least = found.width
                write(found)
    for found in done:
        write(found)


def write(found: Any) -> None:
    """One arrangement as a line of JSON."""
    placed = [[int(item.id), item.rotation, *item.translation] for item in found.placed_items]
    print(json.dumps({"width": found.width, "placed": placed}), flush=True)


if __name__ == "__main__":
    main()
