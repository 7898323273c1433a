"""Density on published strip packing instances: quick, better and best, against the best known and plain spyrrow.

    python tests/benchmarks/nesting_instances.py FOLDER [--seconds 5 60] [--seeds 5 5] [--only NAME ...]

FOLDER holds the instances as JSON files (`name`, `strip_height`, `items` with `demand`, `allowed_orientations` and
`shape`). Every instance is scaled to a strip 1000 mm high: the engine's tolerance is a hundred thousandth of that.
Plain spyrrow gets the same seconds, the same seeds and the same cores, in a process of its own, one run at a time, in
turn with the engine; its first column is its answer without any search. Medians over the seeds, in percent of the best
known density (J. Gardeyn et al., "An open-source heuristic to reboot 2D nesting research", arXiv 2509.13329, record
solutions), and the longest wall time of a run, from its start to its answer. `won` counts the seeds with which the
engine's strip is narrower.
"""

import argparse
import json
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely

from clothpath.nesting import Effort, Part, faults, strip

BEST_KNOWN: Final = {
    "albano": 89.82,
    "blaz1": 86.22,
    "dagli": 90.17,
    "fu": 92.40,
    "jakobs1": 89.25,
    "jakobs2": 87.72,
    "mao": 86.87,
    "marques": 92.02,
    "shapes0": 69.98,
    "shapes1": 76.72,
    "shirts": 90.92,
    "swim": 79.83,
    "trousers": 92.62,
}

HEIGHT_MM: Final = 1000.0

PLAIN: Final = """
import json, sys, spyrrow
task = json.load(sys.stdin)
items = [spyrrow.Item(i["key"], [tuple(p) for p in i["points"]], i["count"], i["turns"]) for i in task["items"]]
config = spyrrow.StripPackingConfig(
    total_computation_time=None, exploration_time=task["explore"], compression_time=task["compress"], seed=task["seed"]
)
print(spyrrow.StripPackingInstance("plain", task["height"], items).solve(config).width)
"""


def instances(folder: Path, only: list[str]) -> Iterator[tuple[str, list[Part]]]:
    """Name and parts of each instance, scaled."""
    for file in sorted(folder.glob("*.json")):
        data: dict[str, Any] = json.loads(file.read_text())
        if only and data["name"] not in only:
            continue
        scale = HEIGHT_MM / data["strip_height"]
        parts = []
        for item in data["items"]:
            ring = shapely.orient_polygons(shapely.Polygon(np.array(item["shape"]["data"]) * scale)).exterior
            turns = item.get("allowed_orientations")
            outer = shapely.get_coordinates(ring)[:-1]
            parts.append(Part(str(item["id"]), outer, (), turns and tuple(turns), item["demand"]))
        yield data["name"], parts


def share(name: str, parts: list[Part], width: float) -> float:
    """Density in percent of the best known."""
    area = sum(shapely.Polygon(part.outer).area * part.count for part in parts)
    return float(100 * 100 * area / (width * HEIGHT_MM) / BEST_KNOWN[name])


def plain(parts: list[Part], seconds: int, seed: int) -> float:
    """Width that spyrrow by itself comes to."""
    items = [{"key": p.key, "points": p.outer.tolist(), "count": p.count, "turns": p.turns} for p in parts]
    explore = round(seconds * 0.8)
    task = {"items": items, "height": HEIGHT_MM, "explore": explore, "compress": seconds - explore, "seed": seed}
    done = subprocess.run(
        [sys.executable, "-c", PLAIN], input=json.dumps(task).encode(), capture_output=True, check=True
    )
    return float(done.stdout)


def ours(parts: list[Part], seconds: int, seed: int) -> float:
    """Width that the engine comes to, checked once more."""
    packing = strip(parts, HEIGHT_MM, effort=Effort(seconds, seed=seed))
    assert faults(parts, packing, 0.0, 0.0) == ()
    return packing.width


def paired(name: str, parts: list[Part], seconds: int, seeds: int) -> list[float]:
    """Median density and longest time of plain spyrrow and of the engine, and how often the engine won."""
    runs = []
    for seed in range(1, seeds + 1):
        for search in (plain, ours):
            began = time.perf_counter()
            density = share(name, parts, search(parts, seconds, seed))
            runs.append((density, time.perf_counter() - began))
            print(f"# {name} {seconds} s seed {seed} {search.__name__} {runs[-1][0]:.2f}", file=sys.stderr, flush=True)
    cells: list[float] = []
    for those in (runs[::2], runs[1::2]):
        cells += [statistics.median(density for density, _ in those), max(took for _, took in those)]
    return [*cells, sum(our[0] > their[0] for their, our in zip(runs[::2], runs[1::2], strict=True))]


def row(name: str, cells: list[float]) -> str:
    """One line of the table."""
    return f"{name:9}" + "".join(f"{cell:9.2f}" for cell in cells)


def main() -> None:
    """Prints the table line by line, then the means."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=int, nargs="*", default=[5, 60])
    parser.add_argument("--seeds", type=int, nargs="*", default=[5, 5], help="how many, for each of the seconds")
    parser.add_argument("--only", nargs="*", default=[])
    asked = parser.parse_args()
    rounds = list(zip(asked.seconds, asked.seeds, strict=True))
    heads = ["plain 0", "quick", "quick s"]
    heads += [head for s, _ in rounds for head in (f"plain {s}", "time", f"ours {s}", "time", "won")]
    print(f"{'instance':9}" + "".join(f"{head:>9}" for head in heads), flush=True)
    table = []
    for name, parts in instances(asked.folder, asked.only):
        began = time.perf_counter()
        quick = share(name, parts, ours(parts, 0, 1))
        took = time.perf_counter() - began
        cells = [share(name, parts, plain(parts, 0, 1)), quick, took]
        for seconds, seeds in rounds:
            cells += paired(name, parts, seconds, seeds)
        table.append(cells)
        print(row(name, cells), flush=True)
    print(row("mean", [statistics.fmean(column) for column in zip(*table, strict=True)]))


if __name__ == "__main__":
    main()
