"""Every drawing in every format, each file measured back from its bytes: format, files, failed, worst deviation.

    nice python tests/benchmarks/every_format.py [FOLDER] [--count N] [--every N] [--opinion N]

The Tidepool catalog in all its sizes, and, if a folder is named, COUNT drawings spread evenly over it, each 6 in high,
for example those of the npm package @twemoji/svg (`npm install @twemoji/svg`), which are no part of the project. A file
fails if its proof does not release it. Every Nth drawing (`--opinion`) is also read by other libraries, from which the
last column comes: the greatest Hausdorff distance from what the file should hold, in mm. `--every` takes each Nth only.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "plugins" / "writers"))
from second_opinions import Line, dxf_lines, eps_lines, gcode_lines, hpgl_lines, pdf_lines, svg_lines

from clothpath.catalog import jobs_of
from clothpath.curves import Outline, flattened
from clothpath.jobs.config import WriteTable
from clothpath.jobs.job import Job, registry_of, run
from clothpath.jobs.machines import shipped
from clothpath.jobs.oneoff import conversions
from clothpath.pipeline import Produced, produced
from clothpath.recipe import NO_SETTINGS

MACHINES: Final = ("mat-12x12", "flatbed-drag-knife")
"""One whose blade the machine allows for, and one whose file does."""
FINE_MM: Final = 0.0005
"""How finely the meant line is flattened to compare."""
Read = Callable[[bytes], list[Line]]


@dataclass
class Row:
    """One format in one setting, and what came of it.

    Attributes:
        budget: of design.md, section 8, in mm.
        read: the second opinion; None where a file shows parts of a drawing on several pages.
    """

    name: str
    machine: str
    format: str
    settings: dict[str, Any]
    budget: float
    read: Read | None
    files: int = 0
    failed: list[str] = field(default_factory=list)
    worst: float = 0.0
    opinions: int = 0
    other_worst: float = 0.0
    seconds: float = 0.0


def rows() -> list[Row]:
    """The table, empty."""
    mat, knife = MACHINES
    return [
        Row("SVG, mm", mat, "svg", {}, 0.01, lambda data: svg_lines(data, 1)),
        Row("SVG, in, fills", mat, "svg", {"unit": "in", "style": "fills"}, 0.01, lambda d: svg_lines(d, 25.4)),
        Row("SVG, 72 px", mat, "svg", {"unit": "px", "density": 72}, 0.01, lambda data: svg_lines(data, 25.4 / 72)),
        Row("DXF R12, in", mat, "dxf", {"version": "R12", "unit": "in"}, 0.01, lambda data: dxf_lines(data, 25.4)),
        Row("DXF R2000, splines", mat, "dxf", {"curves": "splines"}, 0.01, lambda data: dxf_lines(data, 1)),
        Row("DXF R2010, arcs", mat, "dxf", {"version": "R2010", "curves": "arcs"}, 0.01, lambda d: dxf_lines(d, 1)),
        Row("PDF, mat", mat, "pdf", {}, 0.01, pdf_lines),
        Row("PDF, letter", mat, "pdf", {"paper": "letter"}, 0.01, None),
        Row("HPGL", mat, "hpgl", {}, 0.025, hpgl_lines),
        Row("EPS", mat, "eps", {}, 0.01, eps_lines),
        Row("G-code, arcs", mat, "gcode", {}, 0.01, gcode_lines),
        Row("G-code, in, lines", mat, "gcode", {"unit": "in", "curves": "lines"}, 0.01, gcode_lines),
        Row("SVG, blade paths", knife, "svg", {}, 0.05, lambda data: svg_lines(data, 1)),
        Row("DXF, blade paths", knife, "dxf", {}, 0.05, lambda data: dxf_lines(data, 1)),
        Row("PDF, blade paths", knife, "pdf", {}, 0.05, pdf_lines),
        Row("HPGL, blade paths", knife, "hpgl", {}, 0.05, hpgl_lines),
        Row("EPS, blade paths", knife, "eps", {}, 0.05, eps_lines),
        Row("G-code, blade paths", knife, "gcode", {}, 0.05, gcode_lines),
    ]


def tidepool() -> list[Job]:
    """The whole catalog for both machines."""
    return list(jobs_of(Path(str(files("clothpath.samples"))) / "tidepool" / "catalog.toml", MACHINES, NO_SETTINGS, ()))


def drawings(folder: Path, count: int) -> list[Job]:
    """Drawings spread evenly over a folder, for both machines."""
    found = sorted(folder.rglob("*.svg"))
    found = found[:: max(1, len(found) // count)][:count]
    recipe = shipped() / "recipes" / "fused.toml"
    return list(conversions(found, MACHINES, (), recipe, ["scale-to-spec.height=6 in"], 1, (), ()).value)


def deviation(file: Produced, read: Read) -> float:
    """The greatest distance of any line, as another library reads it, from the planned path."""
    assert file.sheet is not None
    found = read(file.data)
    if len(found) != len(file.sheet.cuts):
        return float("inf")
    return max(_apart(line, cut.path) for line, cut in zip(found, file.sheet.cuts, strict=True))


def _apart(line: Line, path: Any) -> float:
    meant = flattened(path, FINE_MM)
    if isinstance(path, Outline):
        meant = np.append(meant, meant[0])
    one, other = (shapely.LineString(np.column_stack((p.real, p.imag))) for p in (line.points, meant))
    return float(shapely.hausdorff_distance(one, other))


def measure(jobs: Iterator[Job] | list[Job], table: list[Row], opinion: int) -> dict[str, int]:
    """Fill the table; returns how many jobs came to no plan, by why."""
    undone: dict[str, int] = {}
    for n, job in enumerate(jobs):
        result = run(replace(job, writes=()))
        if result.plan is None or result.status != "ok":
            code = next((f.code for f in result.findings if f.severity == "error"), "?")
            undone[code] = undone.get(code, 0) + 1
            continue
        registry = registry_of(job)
        for row in table:
            if row.machine != job.machine.name:
                continue
            started = time.process_time()
            made = produced(
                result.plan, [WriteTable(format=row.format, **row.settings)], job.machine, registry, job.stem
            )
            row.seconds += time.process_time() - started
            for file in made.value:
                row.files += 1
                if not file.released:
                    row.failed.append(job.title)
                if file.proof is not None:
                    row.worst = max(row.worst, file.proof.size_error_mm)
                if row.read is not None and (n // len(MACHINES)) % opinion == 0:
                    row.opinions += 1
                    row.other_worst = max(row.other_worst, deviation(file, row.read))
    return undone


def main() -> None:
    """Print a table for each set of drawings."""
    arguments = argparse.ArgumentParser()
    arguments.add_argument("folder", type=Path, nargs="?")
    arguments.add_argument("--count", type=int, default=500)
    arguments.add_argument("--every", type=int, default=1)
    arguments.add_argument("--opinion", type=int, default=10)
    chosen = arguments.parse_args()
    sets = [("Tidepool, all sizes", tidepool())]
    if chosen.folder is not None:
        sets.append((f"{chosen.count} drawings of {chosen.folder.name}", drawings(chosen.folder, chosen.count)))
    for title, jobs in sets:
        kept = [job for n, job in enumerate(jobs) if (n // len(MACHINES)) % chosen.every == 0]
        table, started = rows(), time.process_time()
        undone = measure(kept, table, chosen.opinion)
        print(f"{title}: {len(kept)} jobs, {time.process_time() - started:.0f} s of computing; no plan: {undone or 0}")
        heads = ("files", "failed", "worst mm", "budget", "others", "worst mm", "ms")
        print(f"{'format':<22}" + "".join(f"{head:>10}" for head in heads))
        for row in table:
            each = 1000 * row.seconds / max(row.files, 1)
            other = f"{row.other_worst:.4f}" if row.opinions else ""
            print(
                f"{row.name:<22}{row.files:>10}{len(row.failed):>10}{row.worst:>10.4f}{row.budget:>10g}"
                f"{row.opinions or '':>10}{other:>10}{each:>10.1f}"
            )
            if row.failed:
                print(f"    failed: {', '.join(row.failed[:5])}")


if __name__ == "__main__":
    main()
