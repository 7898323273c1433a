"""Paint what the SVG reader makes of a whole corpus and compare it with resvg's rendering of the originals.

    npm install --prefix /tmp/npm @twemoji/svg bootstrap-icons
    python tests/benchmarks/svg_corpus.py /tmp/npm/node_modules/@twemoji/svg /tmp/npm/node_modules/bootstrap-icons/icons

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
from pathlib import Path

import numpy as np
import resvg_py
import svgelements
from numpy.typing import NDArray
from PIL import Image

from clothpath.contracts import Reader
from clothpath.curves import Box, Outline, Path as Line, box_of
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
Picture = NDArray[np.int16]
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
    """The rendering on white, (PIXELS, PIXELS, 4) with the coverage as fourth channel."""
    png = resvg_py.svg_to_bytes(svg_string=svg, width=PIXELS, height=PIXELS)
    image = np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGBA"), dtype=np.int16)
    result = image.copy()
    alpha = image[..., 3:] / 255
    result[..., :3] = np.round(image[..., :3] * alpha + 255 * (1 - alpha))
    return result


def difference(ours: Picture, theirs: Picture) -> float:
    """The part of the drawn pixels that differ, anti-aliased edges aside."""
    drawn = (ours[..., 3] > 0) | (theirs[..., 3] > 0)
    rows, columns = np.nonzero((np.abs(ours - theirs) > COLOR_SLACK).any(axis=-1))
    apart = _outside(ours, theirs, rows, columns) & _outside(theirs, ours, rows, columns)
    return float(apart.sum() / max(1, drawn.sum()))


def _outside(one: Picture, other: Picture, rows: Indices, columns: Indices) -> NDArray[np.bool_]:
    """Whether the pixels of one picture lie outside what the other shows around them."""
    around = np.stack(
        [
            other[(rows + down).clip(0, PIXELS - 1), (columns + right).clip(0, PIXELS - 1)]
            for down in (-1, 0, 1)
            for right in (-1, 0, 1)
        ]
    )
    here = one[rows, columns]
    low, high = around.min(axis=0) - COLOR_SLACK, around.max(axis=0) + COLOR_SLACK
    result: NDArray[np.bool_] = ((here < low) | (here > high)).any(axis=-1)
    return result


def box_error(design: Design, source: str) -> float | None:
    """The largest distance between the box of all filled shapes and that of svgelements, in px; None: not comparable."""
    if "clip-path" in source or "<use" in source or "stroke" in source:
        return None
    boxes = []
    for element in svgelements.SVG.parse(io.StringIO(source), reify=True).elements():
        if isinstance(element, svgelements.Shape) and element.fill is not None and element.fill.value is not None:
            box = element.bbox()
            if box is not None and (box[2] - box[0]) * (box[3] - box[1]) > 0:
                boxes.append(box)
    if not boxes or not design.pieces or design.source.size_mm is None:
        return None
    ours = box_of(ring for piece in design.pieces for ring in piece.region)
    height = design.source.size_mm[1]
    mine = Box(ours.left, height - ours.top, ours.right, height - ours.bottom)
    theirs = [min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes)]
    found = [value / MM_PER_PX for value in (mine.left, mine.bottom, mine.right, mine.top)]
    return max(abs(a - b) for a, b in zip(found, theirs, strict=True))


def compared(reader: Reader, settings: SvgSettings, path: Path) -> tuple[float, float | None, tuple[Finding, ...]]:
    """The part of the drawn pixels that differ, the error of the box in px, and the findings."""
    data = path.read_bytes()
    source = data.decode("utf-8")
    try:
        outcome = reader.read(data, settings)
    except Refusal as refusal:
        empty = picture(_OPACITY.sub("", source))
        return float((empty[..., 3] > 0).any()), None, refusal.findings
    design = outcome.value
    assert design.source.size_mm is not None
    ours, theirs = picture(painted(design, design.source.size_mm)), picture(_OPACITY.sub("", source))
    return difference(ours, theirs), box_error(design, source), outcome.findings


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--every", type=int, default=1, help="take only each n-th file")
    arguments = parser.parse_args()
    reader, settings = SvgReader(), SvgSettings(pixels_per_inch="96")
    files = [file for folder in arguments.folders for file in sorted(folder.glob("*.svg"))][:: arguments.every]
    beyond: list[tuple[float, str, str]] = []
    boxes: list[tuple[float, str]] = []
    codes: Counter[str] = Counter()
    unread = 0
    started = time.perf_counter()
    for file in files:
        part, error, findings = compared(reader, settings, file)
        codes.update({finding.code for finding in findings})
        unread += any(finding.severity == "error" for finding in findings)
        if part > TOLERATED:
            beyond.append((part, file.name, ", ".join(sorted({f.code for f in findings} - {"unit-set"}))))
        if error is not None:
            boxes.append((error, file.name))
    print(f"{len(files)} files in {time.perf_counter() - started:.0f} s; {unread} refused")
    print(f"within {TOLERATED:.1%}: {1 - len(beyond) / max(1, len(files)):.2%} of the files")
    far = [each for each in boxes if each[0] > BOX_PX]
    print(
        f"boxes compared: {len(boxes)}; largest error {max(boxes, default=(0.0, ''))}; beyond {BOX_PX} px: {len(far)}"
    )
    for error, name in sorted(far, reverse=True)[:20]:
        print(f"  box {error:8.3f} px  {name}")
    for part, name, why in sorted(beyond, reverse=True):
        print(f"  {part:8.3%}  {name}  {why}")
    print("findings, by files:", dict(codes.most_common()))
    return 0 if len(beyond) <= 0.005 * len(files) else 1


if __name__ == "__main__":
    sys.exit(main())
