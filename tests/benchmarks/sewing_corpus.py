"""Underlap and less bulk on a folder of color drawings: no crash, and the finished picture as it was.

    nice python tests/benchmarks/sewing_corpus.py FOLDER [--every N] [--workers N] [--no-render]

Written for `@twemoji/svg` (npm, for the run only): 3,700 small color drawings, stacked and butted. Every drawing is
made 150 mm wide. The picture is painted piece over piece, before and after, without smoothing, at 1024 pixels; a change
is a block of 2 x 2 pixels that changed color: a line that moved by less than a pixel makes none. Drawings in which the
underlap closed a gap are counted apart, and for every block it is found out from the pieces themselves why it changed:

    gap closed      it lies between the edges of two pieces that are no farther apart than `reach`: closed on purpose
    shows beyond    a piece shows where it did not, elsewhere
    lost            a piece that showed does not
    none            the pieces are the same there
"""

from __future__ import annotations

import argparse
import io
import sys
import time
import traceback
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import resvg_py
import shapely
from PIL import Image

from clothpath.curves import Affine
from clothpath.design import Design, Piece, mapped
from clothpath.findings import Refusal
from clothpath.picture.neighbors import REACH_MM
from clothpath.plugins.readers.svg import SvgReader
from clothpath.plugins.transforms.less_bulk import LessBulk, LessBulkSettings
from clothpath.plugins.transforms.underlap import Underlap, UnderlapSettings
from clothpath.regions import Region, as_polygon

WIDTH_MM = 150.0
PIXELS = 1024
OUTLINE_MM = 0.005
CAUSES = ("gap closed", "shows beyond", "lost", "none")


@dataclass(frozen=True)
class Result:
    """What one drawing gave."""

    name: str
    codes: tuple[str, ...] = ()
    changed: tuple[tuple[str, int], ...] = ()
    seconds: tuple[float, float, float] = (0.0, 0.0, 0.0)
    pieces: int = 0
    segments: tuple[int, int] = (0, 0)
    causes: tuple[tuple[str, int], ...] = ()
    crash: str = ""
    refused: bool = False


def run(path: Path, render: bool) -> Result:
    started = time.process_time()
    reader = SvgReader()
    try:
        design = reader.read(path.read_bytes(), reader.settings()).value
    except Refusal:
        return Result(path.name, refused=True)
    if not design.cut_pieces:
        return Result(path.name, refused=True)
    design = mapped(design, Affine.scale(WIDTH_MM / max(design.finished_box.width, design.finished_box.height)))
    read = time.process_time()
    try:
        tucked = Underlap().apply(design, UnderlapSettings())
        between = time.process_time()
        less = LessBulk().apply(tucked.value, LessBulkSettings())
        done = time.process_time()
    except Exception:
        return Result(path.name, crash=traceback.format_exc(limit=-3))
    codes = tuple(finding.code for finding in (*tucked.findings, *less.findings))
    changed, causes = changes(design, less.value) if render else ((), ())
    segments = (count(design), count(less.value))
    seconds = (read - started, between - read, done - between)
    return Result(path.name, codes, changed, seconds, len(design.pieces), segments, causes)


def count(design: Design) -> int:
    return sum(len(ring) for piece in design.pieces for ring in piece.region)


Counts = tuple[tuple[str, int], ...]


def changes(before: Design, after: Design) -> tuple[Counts, Counts]:
    """Blocks of 2 x 2 pixels that changed, by the color that they had and by why."""
    first, second = painted(before), painted(after)
    differs = (first.view(np.uint32) != second.view(np.uint32))[:, :, 0]
    blocks = differs[:-1, :-1] & differs[1:, :-1] & differs[:-1, 1:] & differs[1:, 1:]
    colors = Counter(f"#{r:02x}{g:02x}{b:02x}" for r, g, b in first[:-1, :-1][blocks][:, :3].tolist())
    rows, columns = np.nonzero(blocks)
    box, size = before.finished_box, pixel(before)
    why = causes(before, after, box.left + (columns + 1) * size, box.top - (rows + 1) * size) if len(rows) else ()
    return tuple(sorted(colors.items())), why


def causes(before: Design, after: Design, x: np.ndarray, y: np.ndarray) -> Counts:
    """Why the picture changed at points: from the pieces, not from their pixels."""
    old, new = (
        shapely.make_valid([as_polygon(piece.region, OUTLINE_MM) for piece in each.cut_pieces])
        for each in (before, after)
    )
    found: Counter[str] = Counter()
    for point in shapely.points(x, y):
        was, now = (max((i for i, shape in enumerate(each) if shape.intersects(point)), default=-1)
                    for each in (old, new))  # fmt: skip
        if now < was:
            found["lost"] += 1
        elif now == was:
            found["none"] += 1
        else:
            apart = shapely.distance(old[now], point) + shapely.distance(old[now + 1 :], point).min(initial=np.inf)
            found["gap closed" if apart <= REACH_MM + OUTLINE_MM else "shows beyond"] += 1
    return tuple(sorted(found.items()))


def pixel(design: Design) -> float:
    """The side of a pixel, in mm."""
    return max(design.finished_box.width, design.finished_box.height) / PIXELS


def painted(design: Design) -> np.ndarray:
    box = design.finished_box
    paths = "".join(
        f'<path fill="{color_of(piece)}" fill-rule="evenodd" d="{data_of(piece.region)}"/>'
        for piece in design.cut_pieces
    )
    scale = 1 / pixel(design)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{PIXELS}" height="{PIXELS}" shape-rendering="crispEdges">'
        f'<g transform="matrix({scale} 0 0 {-scale} {-box.left * scale} {box.top * scale})">{paths}</g></svg>'
    )
    image = Image.open(io.BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=svg))))
    return np.array(image.convert("RGBA"))


def color_of(piece: Piece) -> str:
    return piece.drawn.color or "#808080"


def data_of(region: Region) -> str:
    parts = []
    for ring in region:
        parts.append(f"M{ring.start.real:.5f} {ring.start.imag:.5f}")
        for curve in ring.segments():
            parts.append(("L" if len(curve) == 1 else "C") + " ".join(f"{z.real:.5f} {z.imag:.5f}" for z in curve))
        parts.append("Z")
    return "".join(parts)


def report(results: Iterable[Result]) -> int:
    listed = list(results)
    good = [each for each in listed if not each.crash and not each.refused]
    crashed = [each for each in listed if each.crash]
    print(f"drawings {len(listed)}, not read {sum(each.refused for each in listed)}, crashed {len(crashed)}")
    print(f"pieces {sum(each.pieces for each in good)}, segments {sum(each.segments[0] for each in good)}", end="")
    print(f" before, {sum(each.segments[1] for each in good)} after")
    for name, i in (("read", 0), ("underlap", 1), ("less-bulk", 2)):
        values = np.array([each.seconds[i] for each in good]) * 1000
        middle, late = np.percentile(values, (50, 95))
        print(f"{name}: median {middle:.1f} ms, 95 % {late:.1f} ms, total {values.sum() / 1000:.0f} s")
    codes = Counter(code for each in good for code in each.codes)
    print("findings:", ", ".join(f"{code} {number}" for code, number in sorted(codes.items())))
    closed = [each for each in good if "gap-closed" in each.codes]
    plain = [each for each in good if "gap-closed" not in each.codes]
    for title, some in (("no gap closed", plain), ("gap closed", closed)):
        changed = sorted((each for each in some if each.changed), key=lambda each: -sum(n for _, n in each.changed))
        print(f"{title}: {len(some)} drawings, {len(changed)} changed")
        for each in changed[:25]:
            print(f"    {each.name}: {dict(each.changed)}")
    print("why blocks changed:")
    for cause in CAUSES:
        numbers = [dict(each.causes).get(cause, 0) for each in good]
        print(f"    {cause:14} {sum(number > 0 for number in numbers):5} drawings {sum(numbers):6} blocks")
    for each in crashed[:10]:
        print(each.name, each.crash)
    return 1 if crashed else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--no-render", action="store_true")
    given = parser.parse_args()
    files = sorted(given.folder.glob("*.svg"))[:: given.every]
    with ProcessPoolExecutor(given.workers) as pool:
        return report(told(pool.map(run, files, [not given.no_render] * len(files), chunksize=8)))


def told(results: Iterable[Result]) -> Iterator[Result]:
    """The results, with a line on standard error for each that has something to look at, and for every hundredth."""
    for number, each in enumerate(results, 1):
        odd = [cause for cause, _ in each.causes if cause != "gap closed"]
        if each.crash or odd or number % 100 == 0:
            print(number, each.name, *odd, each.crash, file=sys.stderr, flush=True)
        yield each


if __name__ == "__main__":
    sys.exit(main())
