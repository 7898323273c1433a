"""Every cut format in every setting: each line of the sheet is in the file, in its order, where it was meant to be.

Budgets: design.md section 8; 0.01 mm, for HPGL one plotter unit of 0.025 mm (HP-GL reference).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from second_opinions import Line, dxf_lines, eps_lines, gcode_lines, hpgl_lines, pdf_lines, svg_lines
from writer_sheets import crab_sheet, sheet_of_outlines

from clothpath.contracts import CutWriter
from clothpath.curves import Outline, Path, flattened, outline
from clothpath.plugins.writers.dxf import DxfWriter
from clothpath.plugins.writers.eps import EpsWriter
from clothpath.plugins.writers.gcode import GcodeWriter
from clothpath.plugins.writers.hpgl import HpglWriter
from clothpath.plugins.writers.pdf import PdfWriter
from clothpath.plugins.writers.svg import SvgWriter

FINE_MM = 0.0005
"""How finely the meant line is flattened to compare."""

Read = Callable[[bytes], list[Line]]

CASES: list[tuple[CutWriter, dict[str, Any], Read, float]] = [
    (SvgWriter(), {}, lambda data: svg_lines(data, 1), 0.01),
    (SvgWriter(), {"unit": "in"}, lambda data: svg_lines(data, 25.4), 0.01),
    (SvgWriter(), {"unit": "px"}, lambda data: svg_lines(data, 25.4 / 96), 0.01),
    (SvgWriter(), {"unit": "px", "density": 72}, lambda data: svg_lines(data, 25.4 / 72), 0.01),
    (SvgWriter(), {"unit": "px", "density": 90, "style": "fills"}, lambda data: svg_lines(data, 25.4 / 90), 0.01),
    (SvgWriter(), {"markings": "leave-out"}, lambda data: svg_lines(data, 1), 0.01),
    (DxfWriter(), {}, lambda data: dxf_lines(data, 1), 0.01),
    (DxfWriter(), {"unit": "in", "version": "R2010"}, lambda data: dxf_lines(data, 25.4), 0.01),
    (DxfWriter(), {"curves": "arcs"}, lambda data: dxf_lines(data, 1), 0.01),
    (DxfWriter(), {"curves": "polylines", "unit": "in"}, lambda data: dxf_lines(data, 25.4), 0.01),
    (DxfWriter(), {"version": "R12"}, lambda data: dxf_lines(data, 1), 0.01),
    (DxfWriter(), {"version": "R12", "curves": "polylines", "unit": "in"}, lambda data: dxf_lines(data, 25.4), 0.01),
    (PdfWriter(), {}, pdf_lines, 0.01),
    (EpsWriter(), {}, eps_lines, 0.01),
    (HpglWriter(), {}, hpgl_lines, 0.025),
    (HpglWriter(), {"markings": "draw"}, hpgl_lines, 0.025),
    (GcodeWriter(), {}, gcode_lines, 0.01),
    (GcodeWriter(), {"unit": "in", "depth": "1 mm"}, gcode_lines, 0.01),
    (GcodeWriter(), {"curves": "lines", "markings": "draw"}, gcode_lines, 0.01),
    (GcodeWriter(), {"knife": "tangential"}, gcode_lines, 0.01),
]
NAMES = [" ".join([writer.name, *map(str, chosen.values())]) for writer, chosen, _, _ in CASES]


def deviation(line: Line, meant: Path) -> float:
    """The Hausdorff distance, by shapely."""
    points = flattened(meant, FINE_MM)
    if isinstance(meant, Outline):
        points = np.append(points, points[0])
    a, b = (shapely.LineString(np.column_stack((p.real, p.imag))) for p in (line.points, points))
    return shapely.hausdorff_distance(a, b)


@pytest.mark.parametrize(("writer", "chosen", "read", "budget"), CASES, ids=NAMES)
def test_every_line_is_where_it_was_meant_to_be(
    writer: CutWriter, chosen: dict[str, Any], read: Read, budget: float
) -> None:
    chosen_settings = writer.settings(**chosen)
    sheet = crab_sheet()
    found = read(writer.write(sheet, chosen_settings).value)
    meant = writer.writes(sheet, chosen_settings).cuts
    assert len(found) == len(meant)
    assert max(deviation(line, cut.path) for line, cut in zip(found, meant, strict=True)) <= budget
    assert [line.closed for line in found] == [isinstance(cut.path, Outline) for cut in meant]


places = st.builds(complex, st.integers(10, 60), st.integers(10, 60))
outlines = st.builds(
    outline, places, st.lists(st.one_of(st.tuples(places), st.tuples(places, places, places)), min_size=2, max_size=5)
).filter(lambda ring: len(set(ring.nodes[:, 0].tolist())) > 1)


@pytest.mark.parametrize(("writer", "chosen", "read", "budget"), CASES, ids=NAMES)
@settings(max_examples=4, phases=[Phase.generate])  # shrinking would take minutes
@given(st.lists(outlines, min_size=1, max_size=3))
def test_any_outline_is_where_it_was_meant_to_be(
    writer: CutWriter, chosen: dict[str, Any], read: Read, budget: float, rings: list[Outline]
) -> None:
    chosen_settings = writer.settings(**chosen)
    sheet = sheet_of_outlines(rings)
    found = read(writer.write(sheet, chosen_settings).value)
    meant = writer.writes(sheet, chosen_settings).cuts
    assert len(found) == len(meant)
    assert max(deviation(line, cut.path) for line, cut in zip(found, meant, strict=True)) <= budget


@pytest.mark.parametrize(("writer", "chosen", "read", "budget"), CASES, ids=NAMES)
def test_same_sheet_same_bytes(writer: CutWriter, chosen: dict[str, Any], read: Read, budget: float) -> None:
    chosen_settings = writer.settings(**chosen)
    assert writer.write(crab_sheet(), chosen_settings).value == writer.write(crab_sheet(), chosen_settings).value


@pytest.mark.parametrize(("writer", "chosen", "read", "budget"), CASES, ids=NAMES)
def test_what_the_file_carries_is_what_the_writer_says(
    writer: CutWriter, chosen: dict[str, Any], read: Read, budget: float
) -> None:
    chosen_settings = writer.settings(**chosen)
    kinds = [cut.kind for cut in writer.writes(crab_sheet(), chosen_settings).cuts]
    drawn = {"draw": 2, "leave-out": 0}[chosen_settings.markings]
    assert kinds.count("mark") == drawn
    assert kinds.count("cut") == 9
