"""Paint what the SVG reader makes of a whole corpus and compare it with resvg's rendering of the originals.

    npm install --prefix ../npm @twemoji/svg bootstrap-icons
    python tests/benchmarks/svg_corpus.py ../npm/node_modules/@twemoji/svg ../npm/node_modules/bootstrap-icons/icons

A design is painted as a flat SVG: every piece in its color and in its order, every stroke in its width, no opacity; the
originals are rendered with their opacities taken out, since cloth has none. A pixel differs if its color lies outside
what the other picture shows in the pixel itself and its eight neighbors, so that anti-aliased edges are left aside.
Boxes of shapes are compared with those of svgelements. Where they differ, resvg judges: it paints the one shape by
itself, and the box of the pixels that are painted by half or more is compared with ours.

Prints a table of the files beyond the tolerances with what explains each; exit status 1 if one has no explanation, or
too many differ.
"""

from __future__ import annotations

import argparse
import io
import re
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import groupby
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np
import resvg_py
import svgelements
from lxml import etree
from numpy.typing import NDArray
from PIL import Image

from clothpath.curves import Box, Outline, box_of
from clothpath.curves import Path as Line
from clothpath.design import Design
from clothpath.findings import Finding, Refusal
from clothpath.plugins.readers.svg import SvgReader, SvgSettings

PIXELS = 1024
TOLERATED = 0.005
"""Part of the drawn pixels that may differ."""
COLOR_SLACK = 24
"""Levels of 255 that a channel may be outside the neighborhood of the other picture."""
MM_PER_PX = 25.4 / 96
BOX_PX = 0.1
EXPLAINED = {
    "text": "text is no outline: nothing of it can be cut",
    "bitmap": "a picture of pixels cannot be cut",
    "gradient": "cloth has one color: a gradient is shown in that of its first stop",
    "pattern": "cloth has one color: a pattern is shown in its first",
    "filter-ignored": "cloth has no blur or shadow: filters are left out",
    "markers-ignored": "arrowheads are left out",
    "wide-stroke": "a wide open line is a piece of its own width",
    "wide-line": "a wide closed line is cut along its middle",
    "open-line": "an open line is a marking, painted without fill",
}
"""What a finding of the reader explains, by its code."""

_OPACITY = re.compile(r'\s(?:fill-|stroke-)?opacity="[^"]*"')
_SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})
Picture = NDArray[np.uint8]
Indices = NDArray[np.intp]


def painted(design: Design, page: tuple[float, float]) -> str:
    """The design as a flat SVG of the page's size, in mm."""
    width, height = page
    size = f'width="{PIXELS}" height="{PIXELS}" viewBox="0 0 {width} {height}" preserveAspectRatio="none"'
    found = [f'<svg xmlns="http://www.w3.org/2000/svg" {size}>']
    drawn = [(piece.order, piece.drawn, list(piece.region)) for piece in design.pieces]
    drawn += [(0, marking.drawn, [marking.path]) for marking in design.markings]
    for _, how, lines in drawn:
        data = " ".join(_data(line, height) for line in lines)
        stroke = f'stroke="{how.stroke}" stroke-width="{how.stroke_width}"' if how.stroke else ""
        found.append(f'<path fill="{how.fill or "none"}" fill-rule="evenodd" {stroke} d="{data}"/>')
    return "".join([*found, "</svg>"])


def _data(line: Line, height: float) -> str:
    def at(*points: complex) -> str:
        return " ".join(f"{point.real:.7f} {height - point.imag:.7f}" for point in points)

    steps = [f"L{at(*segment)}" if len(segment) == 1 else f"C{at(*segment)}" for segment in line.segments()]
    return f"M{at(line.start)}{''.join(steps)}{'Z' if isinstance(line, Outline) else ''}"


def picture(svg: str) -> Picture:
    """The rendering on white: (PIXELS, PIXELS, 4), opaque."""
    png = resvg_py.svg_to_bytes(
        svg_string=svg, width=PIXELS, height=PIXELS, background="white", skip_system_fonts=True, dpi=96.0
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGBA"))


def difference(ours: Picture, theirs: Picture) -> float:
    """The part of the drawn pixels (those that are not white in both) that differ, anti-aliased edges aside."""
    drawn = np.count_nonzero((ours & theirs).view(np.uint32) != 0xFFFFFFFF)
    beyond = np.maximum(ours, theirs) - np.minimum(ours, theirs) > COLOR_SLACK
    rows, columns = np.nonzero(beyond.view(np.uint32)[..., 0])
    apart = _outside(ours, theirs, rows, columns) & _outside(theirs, ours, rows, columns)
    return float(apart.sum() / max(1, drawn))


def _outside(one: Picture, other: Picture, rows: Indices, columns: Indices) -> NDArray[np.bool_]:
    """Whether the pixels of one picture lie outside what the other shows around them."""
    around = np.stack(
        [
            other[(rows + down).clip(0, PIXELS - 1), (columns + right).clip(0, PIXELS - 1)]
            for down in (-1, 0, 1)
            for right in (-1, 0, 1)
        ]
    )
    around = around.astype(np.int16)
    here = one[rows, columns].astype(np.int16)
    low, high = around.min(axis=0) - COLOR_SLACK, around.max(axis=0) + COLOR_SLACK
    result: NDArray[np.bool_] = ((here < low) | (here > high)).any(axis=-1)
    return result


@dataclass(frozen=True)
class BoxFault:
    """How far the boxes of one shape are apart.

    Attributes:
        error: the largest distance between their sides, in px.
        number: of the shape, among all shapes of the file; None: of all together.
        ours: the box that our reader gives it, in px, y down.
    """

    error: float
    number: int | None
    ours: Box


def box_fault(design: Design, parsed: svgelements.SVG, source: str) -> BoxFault | None:
    """Where the boxes of filled shapes are farthest from those of svgelements; None: not comparable.

    Shape by shape if both found as many, else of all shapes together.
    """
    if "clip-path" in source or "<use" in source or "stroke" in source:
        return None
    theirs: list[tuple[int | None, Box]] = []
    shapes = [each for each in parsed.elements() if isinstance(each, svgelements.Shape)]
    for number, element in enumerate(shapes):
        if element.fill is not None and element.fill.value is not None:
            found = element.bbox()
            if found is not None and (found[2] - found[0]) * (found[3] - found[1]) > 0:
                theirs.append((number, Box(*found)))
    if not theirs or not design.pieces or design.source.size_mm is None:
        return None
    height = design.source.size_mm[1]
    mine = []
    for _, pieces in groupby(design.pieces, key=lambda piece: id(piece.drawn)):
        found = box_of(ring for piece in pieces for ring in piece.region)
        edges = (found.left, height - found.top, found.right, height - found.bottom)
        mine.append(Box(*(edge / MM_PER_PX for edge in edges)))
    if len(mine) != len(theirs):
        mine, theirs = [reduce(Box.union, mine)], [(None, reduce(Box.union, (box for _, box in theirs)))]
    faults = [BoxFault(_apart(own, other), number, own) for own, (number, other) in zip(mine, theirs, strict=True)]
    return max(faults, key=lambda fault: fault.error)


def _apart(a: Box, b: Box) -> float:
    """The largest distance between the sides of two boxes."""
    return max(abs(a.left - b.left), abs(a.bottom - b.bottom), abs(a.right - b.right), abs(a.top - b.top))


def painted_box(data: bytes, number: int | None) -> Box:
    """The box, in user units, of the pixels that resvg paints by half or more of one shape (None: of all), in black."""
    root = etree.fromstring(data)
    shapes: list[Any] = [each for each in root.iter(etree.Element) if each.tag.rpartition("}")[2] in _SHAPES]
    for at, shape in enumerate(shapes):
        shape.set("fill", "black" if number in (None, at) else "none")
    dark = picture(etree.tostring(root, encoding="unicode"))[..., 0] < 128
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    left, top, width, height = (float(word) for word in root.get("viewBox").split())
    per_pixel = max(width, height) / PIXELS
    x, y = left - (per_pixel * PIXELS - width) / 2, top - (per_pixel * PIXELS - height) / 2
    sides = (columns[0], rows[0], columns[-1] + 1, rows[-1] + 1)
    return Box(*(float(o + side * per_pixel) for o, side in zip((x, y, x, y), sides, strict=True)))


@dataclass(frozen=True)
class Result:
    """How one file compares.

    Attributes:
        apart: the part of the drawn pixels that differ.
        box: where the boxes differ most; None: not compared.
        judged: how far our box is from what resvg paints, in px, where the boxes differ; else None.
        ours, theirs: seconds of processor time that the reader took, and svgelements.
    """

    name: str
    apart: float
    box: BoxFault | None
    judged: float | None
    findings: tuple[Finding, ...]
    ours: float
    theirs: float

    @property
    def explanations(self) -> list[str]:
        """What explains that it differs; empty if nothing does, or it does not."""
        codes = {each.code for each in self.findings}
        found = [EXPLAINED[code] for code in sorted(codes & EXPLAINED.keys())] if self.apart > TOLERATED else []
        if self.judged is not None and self.judged <= BOX_PX:
            who = "resvg paints our box"
            sliver = "the rest is a sliver too thin to be seen" if "sliver-dropped" in codes else "svgelements is wrong"
            found.append(f"{who} within {self.judged:.3f} px: {sliver}")
        return found


def compared(path: Path) -> Result:
    """Read the file, paint it, and compare."""
    data = path.read_bytes()
    source = data.decode("utf-8")
    original = picture(_OPACITY.sub("", source))
    began = time.process_time()
    parsed = svgelements.SVG.parse(io.BytesIO(data))
    between = time.process_time()
    try:
        design, findings = _read(data)
    except Refusal as refusal:
        drawn = float((original != 255).any())
        return Result(path.name, drawn, None, None, refusal.findings, 0.0, 0.0)
    ended = time.process_time()
    assert design.source.size_mm is not None
    apart = difference(picture(painted(design, design.source.size_mm)), original)
    box = box_fault(design, parsed, source)
    judged = None
    if box is not None and box.error > BOX_PX:
        judged = _apart(painted_box(data, box.number), box.ours)
    return Result(path.name, apart, box, judged, findings, ended - between, between - began)


def _read(data: bytes) -> tuple[Design, tuple[Finding, ...]]:
    outcome = SvgReader().read(data, SvgSettings(pixels_per_inch="96"))
    return outcome.value, outcome.findings


def told(results: Sequence[Result]) -> int:
    """Print the summary and the table; how many files have no explanation."""
    boxes = [result.box.error for result in results if result.box is not None]
    beyond = [result for result in results if result.apart > TOLERATED]
    far = [result for result in results if result.box is not None and result.box.error > BOX_PX]
    refused = [each.name for each in results if any(finding.severity == "error" for finding in each.findings)]
    ours, theirs = sum(each.ours for each in results), sum(each.theirs for each in results)
    print(f"{len(results)} files; refused: {refused or 'none'}")
    print(f"within {TOLERATED:.1%} of the drawn pixels: {1 - len(beyond) / len(results):.2%} of the files")
    print(f"boxes: {len(boxes)} compared, within {BOX_PX} px: {1 - len(far) / max(1, len(boxes)):.2%}")
    each, other = ours / len(results) * 1e3, theirs / len(results) * 1e3
    print(f"reading, CPU: {each:.2f} ms a file, svgelements {other:.2f}, ratio {ours / theirs:.2f}")
    unexplained = 0
    for result in results:
        if result in beyond or result in far:
            unexplained += not result.explanations
            error = result.box.error if result.box else 0.0
            why = "; ".join(result.explanations) or "UNEXPLAINED"
            print(f"  pixels {result.apart:8.3%}  box {error:6.3f} px  {result.name:40} {why}")
    codes = Counter(code for result in results for code in {finding.code for finding in result.findings})
    print("findings, by files:", dict(codes.most_common()))
    return unexplained


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--every", type=int, default=1, help="take only each n-th file")
    parser.add_argument("--first", type=int, default=0, help="and begin with this one")
    parser.add_argument("--jobs", type=int, default=1, help="files at a time")
    arguments = parser.parse_args()
    started = time.perf_counter()
    missing = 0
    differing = total = 0
    with Pool(arguments.jobs) as pool:
        for folder in arguments.folders:
            files = sorted(folder.glob("*.svg"))[arguments.first :: arguments.every]
            results = pool.map(compared, files, chunksize=20)
            print(f"--- {folder}, after {time.perf_counter() - started:.0f} s")
            missing += told(results)
            differing += sum(result.apart > TOLERATED for result in results)
            total += len(results)
            sys.stdout.flush()
    return 0 if differing <= 0.005 * total and not missing else 1


if __name__ == "__main__":
    sys.exit(main())
