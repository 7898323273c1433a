"""The SVG reader against the specification, case by case, and against resvg.

Sources: SVG 2 and the CSS modules, by section beside each case in `svg_cases`; resvg as an independent rendering.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import resvg_py
from numpy.typing import NDArray
from PIL import Image
from svg_cases import CASES, Case, Expected, document

from clothpath.curves import Box, Outline
from clothpath.curves import Path as Line
from clothpath.design import Design
from clothpath.plugins.readers.svg import SvgReader, SvgSettings
from clothpath.regions import region_area

MM_PER_PX = 25.4 / 96
PX = 0.001
"""Boxes agree within this, in px."""
PART = 1e-4
"""Areas agree within this part."""
PIXELS = 200
NAMES = [f"{case.section}: {case.purpose}" for case in CASES]


def read(case: Case) -> Design:
    settings = SvgSettings(pixels_per_inch="96", wide_stroke="1000 mm")
    return SvgReader().read(document(case).encode(), settings).value


def as_expected(design: Design, path: Line | None, box: Box, color: str | None, area: float, holes: int) -> Expected:
    assert design.source.size_mm is not None
    high = design.source.size_mm[1]
    edges = (box.left, high - box.top, box.right, high - box.bottom)
    left, top, right, bottom = (edge / MM_PER_PX for edge in edges)
    return Expected(color or "", (left, top, right, bottom), area / MM_PER_PX**2, holes, path is not None)


def found_in(design: Design) -> list[Expected]:
    pieces = [
        as_expected(
            design, None, piece.region.box, piece.drawn.color, region_area(piece.region), len(piece.region.holes)
        )
        for piece in design.pieces
    ]
    lines = [as_expected(design, each.path, each.path.box, each.drawn.color, 0.0, 0) for each in design.markings]
    return pieces + lines


@pytest.mark.parametrize("case", CASES, ids=NAMES)
def test_case_is_read_as_the_specification_says(case: Case) -> None:
    found = sorted(found_in(read(case)), key=lambda each: (each.color, *np.round(each.box, 2)))
    expected = sorted(case.expected, key=lambda each: (each.color, *np.round(each.box, 2)))
    assert [(each.color, each.holes, each.marking) for each in found] == [
        (each.color, each.holes, each.marking) for each in expected
    ]
    for mine, theirs in zip(found, expected, strict=True):
        assert mine.box == pytest.approx(theirs.box, abs=PX)
        assert mine.area == pytest.approx(theirs.area, rel=PART, abs=1e-6)


def picture(svg: str, size: tuple[float, float]) -> NDArray[np.int16]:
    high = round(PIXELS * size[1] / size[0])
    png = resvg_py.svg_to_bytes(
        svg_string=svg,
        width=PIXELS,
        height=high,
        background="white",
        dpi=96.0,
        languages=["en"],
        skip_system_fonts=True,
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGB"), dtype=np.int16)


def painted(design: Design, size: tuple[float, float]) -> str:
    lines = [(piece.drawn, list(piece.region)) for piece in design.pieces]
    lines += [(marking.drawn, [marking.path]) for marking in design.markings]
    body = ""
    for drawn, paths in lines:
        data = " ".join(_data(path, size[1]) for path in paths)
        stroke = f'stroke="{drawn.stroke}" stroke-width="{drawn.stroke_width}"' if drawn.stroke else ""
        body += f'<path fill="{drawn.fill or "none"}" fill-rule="evenodd" {stroke} d="{data}"/>'
    high = round(PIXELS * size[1] / size[0])
    view = f'width="{PIXELS}" height="{high}" viewBox="0 0 {size[0]} {size[1]}" preserveAspectRatio="none"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {view}>{body}</svg>'


def _data(path: Line, height: float) -> str:
    def at(*points: complex) -> str:
        return " ".join(f"{point.real:.7f} {height - point.imag:.7f}" for point in points)

    steps = [f"{'L' if len(each) == 1 else 'C'}{at(*each)}" for each in path.segments()]
    return f"M{at(path.start)}{''.join(steps)}{'Z' if isinstance(path, Outline) else ''}"


RENDERED = [case for case in CASES if not case.resvg]


@pytest.mark.parametrize("case", RENDERED, ids=[f"{case.section}: {case.purpose}" for case in RENDERED])
def test_case_looks_as_resvg_paints_it(case: Case) -> None:
    design = read(case)
    size = design.source.size_mm
    assert size is not None
    apart = np.abs(picture(painted(design, size), size) - picture(document(case), size)).max(axis=-1) > 64
    edges = np.zeros_like(apart)
    edges[1:-1, 1:-1] = apart[1:-1, 1:-1] & apart[:-2, 1:-1] & apart[2:, 1:-1] & apart[1:-1, :-2] & apart[1:-1, 2:]
    assert edges.sum() <= 2


SAMPLES = sorted((Path(__file__).parents[3] / "samples" / "tidepool" / "designs").glob("*.svg"))


@pytest.mark.parametrize("file", SAMPLES, ids=[file.name for file in SAMPLES])
def test_sample_looks_as_resvg_paints_it(file: Path) -> None:
    """As the corpora in tests/benchmarks/svg_corpus.py: at most 0.5 % of the drawn pixels differ, edges aside."""
    design = SvgReader().read(file.read_bytes(), SvgSettings(wide_stroke="1000 mm")).value
    size = design.source.size_mm
    assert size is not None
    ours, theirs = picture(painted(design, size), size), picture(file.read_text("utf-8"), size)
    rows = min(len(ours), len(theirs))  # the two round the height of the page by themselves
    apart = np.abs(ours[:rows] - theirs[:rows]).max(axis=-1) > 64
    inner = apart[1:-1, 1:-1] & apart[:-2, 1:-1] & apart[2:, 1:-1] & apart[1:-1, :-2] & apart[1:-1, 2:]
    assert inner.sum() <= 0.005 * (theirs != 255).any(axis=-1).sum()


def test_there_are_enough_cases_and_each_is_its_own() -> None:
    assert len(CASES) >= 120
    assert len({document(case) for case in CASES}) == len(CASES)
    assert len(SAMPLES) >= 6
