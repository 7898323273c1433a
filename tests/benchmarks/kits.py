"""Kits of all the small Tidepool designs: mats, cloth and time, against one box a piece in rows.

    python tests/benchmarks/kits.py [machine] [kits ...]

In rows: every piece takes its box as drawn; boxes stand in rows as wide as a mat, highest first, each fabric by itself;
the swatches of what is left over share mats. It is what a person does who lays templates one after another.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

import numpy as np

from clothpath.catalog import jobs_of
from clothpath.jobs.job import Job, prepared, registry_of
from clothpath.jobs.machines import machine
from clothpath.layout import Demand, Layout
from clothpath.mats.cutouts import Cutout, rounded
from clothpath.mats.lay import board_of, on_mats
from clothpath.mats.wanted import Rules, wanted_by_fabric
from clothpath.nesting import Packing, Spot
from clothpath.pipeline import designed, read_drawing
from clothpath.plugins.transforms.nest import Nest, NestSettings, rules_of
from clothpath.recipe import NO_SETTINGS

SQUARE_INCH = 25.4**2


def demand(job: Job) -> Demand:
    """The design of a job as it comes to the layout."""
    (order,) = job.orders
    (recipe,) = prepared(job, registry_of(job))
    drawing = read_drawing(registry_of(job), order.file, order.name, order.drawn_reversed, {}).value
    return Demand(designed(drawing, recipe.stage("design")).value)


def pooled(demands: Sequence[Demand]) -> Layout:
    """All designs in one layout; a cloth that two treat differently stays with the first."""
    fabrics = {}
    for each in demands:
        for fabric in each.design.fabrics:
            fabrics.setdefault(fabric.key, fabric)
    return Layout(tuple(demands), tuple(fabrics.values()), machine(MACHINE).mat)


def in_rows(layout: Layout, kits: int, rules: Rules) -> tuple[int, float]:
    """Mats and cloth in square inches of one box a piece in rows."""
    usable, swatches = layout.mat.usable, []
    for wanted in wanted_by_fabric(layout):
        boxes = [tuple(np.ptp(p.outer, axis=0).tolist()) for p in wanted.parts for _ in range(p.count * kits)]
        inner_w, inner_h = usable.width - 2 * rules.margin, usable.height - 2 * rules.margin
        rows: list[list[tuple[float, float]]] = [[]]
        for w, h in sorted(boxes, key=lambda box: (-box[1], -box[0])):
            if sum(each[0] + rules.spacing for each in rows[-1]) + w > inner_w + 1e-6:
                rows.append([])
            rows[-1].append((w, h))
        sheets: list[list[list[tuple[float, float]]]] = [[]]
        for row in rows:
            if sum(r[0][1] + rules.spacing for r in sheets[-1]) + row[0][1] > inner_h + 1e-6:
                sheets.append([])
            sheets[-1].append(row)
        for sheet in sheets:
            width = max(sum(w + rules.spacing for w, _ in row) for row in sheet) - rules.spacing + 2 * rules.margin
            height = sum(row[0][1] + rules.spacing for row in sheet) - rules.spacing + 2 * rules.margin
            packing = Packing(width, height, (Spot("", 0, 0.0, 0.0, 0.0),))
            swatches.append((rounded(wanted.fabric, packing, (usable.width, usable.height), rules),))
    mats = on_mats(swatches, board_of(layout.mat, rules), rules)
    return len(mats), cloth([cutout for mat in mats for _, cutout in mat])


def cloth(cutouts: Sequence[Cutout]) -> float:
    """Square inches of all cutouts."""
    return sum(each.width * each.height for each in cutouts) / SQUARE_INCH


def main(kits: Sequence[int]) -> None:
    """Prints the table."""
    catalog = Path(str(files("clothpath.samples"))) / "tidepool" / "catalog.toml"
    jobs = [job for job in jobs_of(catalog, [MACHINE], NO_SETTINGS, ()) if job.size == "small"]
    layout = pooled([demand(job) for job in jobs])
    pieces = sum(len(each.design.cut_pieces) for each in layout.demands)
    print(f"{len(jobs)} designs, {pieces} pieces, {len(layout.fabrics)} fabrics a kit, on {MACHINE}")
    print("kits  mats  different  cloth in²      s   rows: mats  cloth in²")
    for count in kits:
        settings = NestSettings(kits=count)
        start = time.process_time()
        made = Nest().apply(layout, settings, layout.mat, ()).value
        seconds = time.process_time() - start
        mats = sum(mat.times for mat in made.mats)
        area = sum(mat.times * s.width * s.height for mat in made.mats for s in mat.swatches) / SQUARE_INCH
        rows_mats, rows_cloth = in_rows(layout, count, rules_of(settings, layout.mat))
        print(f"{count:4} {mats:5} {len(made.mats):10} {area:10.0f} {seconds:6.1f} {rows_mats:12} {rows_cloth:10.0f}")


if __name__ == "__main__":
    MACHINE = sys.argv[1] if len(sys.argv) > 1 else "mat-12x12"
    main([int(n) for n in sys.argv[2:]] or [1, 4, 12, 48])
