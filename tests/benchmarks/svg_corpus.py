"""Paint what the SVG reader makes of a whole corpus and compare it with resvg's rendering of the originals.

    npm install --prefix ../npm @twemoji/svg bootstrap-icons
    python tests/benchmarks/svg_corpus.py ../npm/node_modules/@twemoji/svg ../npm/node_modules/bootstrap-icons/icons

A design is painted as a flat SVG: every piece in its color and in its order, every stroke in its width, no opacity; the
originals are rendered with their opacities taken out, since cloth has none. A pixel differs if its color lies outside
what the other picture shows in the pixel itself and its eight neighbors, so that anti-aliased edges are left aside.
Boxes of shapes are compared with those of svgelements. Prints a table of the files beyond the tolerance.
"""

from __future__ import annotations

import argparse
import io
import re
import sys
import time
from collections import Counter
from dataclasses import dataclass
from functools import reduce
from itertools import groupby
from pathlib import Path

import numpy as np
import resvg_py
import svgelements
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

_OPACITY = re.compile(r'\s(?:fill-|stroke-)?opacity="[^"]*"')
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
    """The rendering on white: (PIXELS, PIXELS, 3)."""
    png = resvg_py.svg_to_bytes(
        svg_string=svg, width=PIXELS, height=PIXELS, background="white", skip_system_fonts=True, dpi=96.0
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGB"))


def difference(ours: Picture, theirs: Picture) -> float:
    """The part of the drawn pixels (those that are not white in both) that differ, anti-aliased edges aside."""
    drawn = ((ours & theirs) != 255).any(axis=-1).sum()
    rows, columns = np.nonzero((np.maximum(ours, theirs) - np.minimum(ours, theirs) > COLOR_SLACK).any(axis=-1))
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


def box_error(design: Design, parsed: svgelements.SVG, source: str) -> float | None:
    """The largest distance between the boxes of filled shapes and those of svgelements, in px; None: not comparable.

    Shape by shape if both found as many, else of all shapes together.
    """
    if "clip-path" in source or "<use" in source or "stroke" in source:
        return None
    theirs = []
    for element in parsed.elements():
        if isinstance(element, svgelements.Shape) and element.fill is not None and element.fill.value is not None:
            found = element.bbox()
            if found is not None and (found[2] - found[0]) * (found[3] - found[1]) > 0:
                theirs.append(Box(*found))
    if not theirs or not design.pieces or design.source.size_mm is None:
        return None
    height = design.source.size_mm[1]
    mine = []
    for _, pieces in groupby(design.pieces, key=lambda piece: id(piece.drawn)):
        found = box_of(ring for piece in pieces for ring in piece.region)
        edges = (found.left, height - found.top, found.right, height - found.bottom)
        mine.append(Box(*(edge / MM_PER_PX for edge in edges)))
    if len(mine) != len(theirs):
        mine, theirs = [reduce(Box.union, mine)], [reduce(Box.union, theirs)]
    pairs = zip(mine, theirs, strict=True)
    return max(
        max(abs(a.left - b.left), abs(a.bottom - b.bottom), abs(a.right - b.right), abs(a.top - b.top))
        for a, b in pairs
    )


@dataclass(frozen=True)
class Result:
    """How one file compares.

    Attributes:
        apart: the part of the drawn pixels that differ.
        box: the error of the boxes in px; None: not compared.
        ours, theirs: seconds that the reader took, and svgelements.
    """

    apart: float
    box: float | None
    findings: tuple[Finding, ...]
    ours: float
    theirs: float


def compared(reader: SvgReader, settings: SvgSettings, path: Path) -> Result:
    """Read the file, paint it, and compare."""
    data = path.read_bytes()
    source = data.decode("utf-8")
    original = picture(_OPACITY.sub("", source))
    began = time.perf_counter()
    parsed = svgelements.SVG.parse(io.BytesIO(data))
    between = time.perf_counter()
    try:
        design, findings = _read(reader, data, settings)
    except Refusal as refusal:
        return Result(float((original != 255).any()), None, refusal.findings, 0.0, 0.0)
    ended = time.perf_counter()
    assert design.source.size_mm is not None
    apart = difference(picture(painted(design, design.source.size_mm)), original)
    return Result(apart, box_error(design, parsed, source), findings, ended - between, between - began)


def _read(reader: SvgReader, data: bytes, settings: SvgSettings) -> tuple[Design, tuple[Finding, ...]]:
    outcome = reader.read(data, settings)
    return outcome.value, outcome.findings


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--every", type=int, default=1, help="take only each n-th file")
    parser.add_argument("--first", type=int, default=0, help="and begin with this one")
    arguments = parser.parse_args()
    reader, settings = SvgReader(), SvgSettings(pixels_per_inch="96")
    files = [file for folder in arguments.folders for file in sorted(folder.glob("*.svg"))]
    files = files[arguments.first :: arguments.every]
    started = time.perf_counter()
    results = {file.name: compared(reader, settings, file) for file in files}
    boxes = {name: result.box for name, result in results.items() if result.box is not None}
    beyond = {name: result for name, result in results.items() if result.apart > TOLERATED}
    refused = [name for name, result in results.items() if any(each.severity == "error" for each in result.findings)]
    codes = Counter(code for result in results.values() for code in {each.code for each in result.findings})
    ours, theirs = (sum(times) for times in zip(*((each.ours, each.theirs) for each in results.values()), strict=True))
    far = {name: error for name, error in boxes.items() if error > BOX_PX}
    print(f"{len(files)} files in {time.perf_counter() - started:.0f} s; refused: {refused or 'none'}")
    print(f"within {TOLERATED:.1%} of the drawn pixels: {1 - len(beyond) / len(files):.2%} of the files")
    print(f"boxes: {len(boxes)} compared, largest error {max(boxes.values()):.5f} px, beyond {BOX_PX} px: {len(far)}")
    each, other = ours / len(files) * 1e3, theirs / len(files) * 1e3
    print(f"reading: {each:.2f} ms a file, svgelements {other:.2f}, ratio {ours / theirs:.2f}")
    for name, error in sorted(far.items()):
        print(f"  box {error:8.3f} px  {name}")
    for name, result in sorted(beyond.items()):
        why = ", ".join(sorted({finding.code for finding in result.findings} - {"unit-set"}))
        print(f"  {result.apart:8.3%}  {name}  {why}")
    print("findings, by files:", dict(codes.most_common()))
    return 0 if len(beyond) <= 0.005 * len(files) else 1


if __name__ == "__main__":
    sys.exit(main())
