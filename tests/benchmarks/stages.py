"""Milliseconds a design by stage, over a folder of SVG files: read, design steps, layout, cut plan, write and prove
each format. Median and 90th percentile, in one run, with the time of reading as the unit beside it.

    python tests/benchmarks/stages.py FOLDER [COUNT]

For example the drawings of the npm package @twemoji/svg (`npm install @twemoji/svg`), which are no part of the project.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections import defaultdict
from pathlib import Path

from clothpath.findings import Refusal
from clothpath.jobs.config import WriteTable
from clothpath.jobs.machines import machine, shipped
from clothpath.layout import Demand
from clothpath.pipeline import cut_plan, designed, laid_out, produced, read_drawing
from clothpath.recipe import NO_SETTINGS, load_recipe, resolved, settings_from_arguments
from clothpath.registry import installed

FORMATS = ("svg", "dxf", "pdf", "hpgl", "eps", "gcode")


class Watch:
    """Milliseconds of the processor between one lap and the next, by the name of the stage that ended."""

    def __init__(self) -> None:
        self.laps: dict[str, float] = {}
        self.started = time.process_time()

    def lap(self, stage: str) -> None:
        now = time.process_time()
        self.laps[stage] = 1000 * (now - self.started)
        self.started = now


def main(folder: Path, count: int) -> None:
    """Run the stages over `count` files spread evenly over the folder and print the table."""
    files = sorted(folder.rglob("*.svg"))
    files = files[:: max(1, len(files) // count)][:count]
    registry, mat = installed(), machine("mat-12x12")
    path = shipped() / "recipes" / "fused.toml"
    size = settings_from_arguments(["scale-to-spec.height=6 in"])
    recipe = resolved(load_recipe(path), str(path), registry, NO_SETTINGS, (), NO_SETTINGS, size)
    spent: dict[str, list[float]] = defaultdict(list)
    pieces: list[int] = []
    failed: dict[str, int] = defaultdict(int)
    examples: dict[str, str] = {}
    for n, file in enumerate([files[0], *files]):  # the first file twice: the first round warms the caches of imports
        watch = Watch()
        try:
            read = read_drawing(registry, file, file.stem, False, {})
            watch.lap("read")
            design = designed(read.value, recipe.stage("design"))
            watch.lap("design steps")
            layout = laid_out([Demand(design.value)], mat.mat, (), recipe.stage("layout"))
            watch.lap("layout")
            plan = cut_plan(layout.value, mat, recipe.stage("path")).value
            watch.lap("cut plan")
            for form in FORMATS:
                made = produced(plan, [WriteTable(format=form)], mat, registry, file.stem)
                if not all(each.released for each in made.value):
                    failed[f"{form} not released"] += 1
                    examples.setdefault(next(f.code for f in made.findings if f.severity == "error"), file.name)
                watch.lap(f"write and prove {form}")
        except Refusal as refusal:
            failed[refusal.findings[0].code] += 1
            continue
        if n:
            pieces.append(len(design.value.cut_pieces))
            for stage, ms in watch.laps.items():
                spent[stage].append(ms)
            spent["all"].append(sum(watch.laps.values()))
    read_ms = statistics.median(spent["read"])
    print(f"{len(pieces)} of {len(files)} files, median {statistics.median(pieces):g} pieces")
    print(f"not done: {dict(failed)} {examples or ''}")
    print(f"{'stage':<24}{'median ms':>10}{'90 %':>10}{'x read':>8}")
    for stage, values in spent.items():
        median, ninety = statistics.median(values), statistics.quantiles(values, n=10)[-1]
        print(f"{stage:<24}{median:>10.1f}{ninety:>10.1f}{median / read_ms:>8.1f}")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 200)
