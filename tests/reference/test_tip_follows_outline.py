"""Every format's file, read back: the tip that trails its paths follows the outlines within 0.05 mm and closes them.

Offsets of 0.175 to 1 mm and an overcut of 0.5 to 1 mm are common practice. The file is read by its measurer, which
shares no code with its writer; the tip is traced by the simulator that tests/core/test_blade.py holds to the tractrix.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from clothpath.contracts import CutWriter, Measurer
from clothpath.curves import Affine, OpenPath, Outline, Path, circle, flattened, open_path, outline, polygon
from clothpath.cutplan import Blade, CutPlan, CutSheet, as_laid, sheets
from clothpath.cutting.blade import FOLLOWED_MM, followed
from clothpath.cutting.cutorder import in_order
from clothpath.cutting.tips import allowed
from clothpath.design import Design, Fabric, Marking, Piece
from clothpath.layout import Demand, Layout, Mat, MatLayout, Placement, Swatch
from clothpath.plugins.measurers.dxf import DxfMeasurer
from clothpath.plugins.measurers.eps import EpsMeasurer
from clothpath.plugins.measurers.gcode import GcodeMeasurer
from clothpath.plugins.measurers.hpgl import HpglMeasurer
from clothpath.plugins.measurers.pdf import PdfMeasurer
from clothpath.plugins.measurers.svg import SvgMeasurer
from clothpath.plugins.transforms.drag_knife import DragKnife, DragKnifeSettings
from clothpath.plugins.writers.dxf import DxfWriter
from clothpath.plugins.writers.eps import EpsWriter
from clothpath.plugins.writers.gcode import GcodeWriter
from clothpath.plugins.writers.hpgl import HpglWriter
from clothpath.plugins.writers.pdf import PdfWriter
from clothpath.plugins.writers.svg import SvgWriter
from clothpath.proof import prove
from clothpath.regions import region

FORMATS: dict[str, tuple[CutWriter, Measurer, dict[str, Any]]] = {
    "svg": (SvgWriter(), SvgMeasurer(), {"unit": "in"}),
    "svg-px": (SvgWriter(), SvgMeasurer(), {"unit": "px", "density": 72}),
    "dxf": (DxfWriter(), DxfMeasurer(), {"unit": "mm"}),
    "dxf-R12": (DxfWriter(), DxfMeasurer(), {"unit": "in", "version": "R12"}),
    "pdf": (PdfWriter(), PdfMeasurer(), {}),
    "eps": (EpsWriter(), EpsMeasurer(), {}),
    "hpgl": (HpglWriter(), HpglMeasurer(), {}),
    "gcode": (GcodeWriter(), GcodeMeasurer(), {}),
    "gcode-lines": (GcodeWriter(), GcodeMeasurer(), {"curves": "lines", "unit": "in"}),
}
LEAF = outline(0, [(20 - 10j, 50 - 5j, 60 + 20j), (50 + 30j, 15 + 28j, 0)])
STAR = polygon([(18 if i % 2 else 7) * np.exp(1j * np.pi * i / 5) for i in range(10)])
BLADES = (Blade(0.175, 0.5, "file"), Blade(0.25, 1.0, "file"), Blade(1.0, 1.0, "file"), Blade(0.5, 0.0, "file"))


def laid() -> Layout:
    """A leaf with two holes and a vein, a star, and a plain square, one of them turned, another reversed."""
    pieces = (
        Piece("leaf", "Leaf", region(LEAF, [circle(25 + 8j, 4), circle(42 + 12j, 1.5)]), "green", order=1),
        Piece("star", "Star", region(STAR), "green", order=2),
        Piece("square", "Square", region(polygon([0, 30, 30 + 30j, 30j])), "sand", order=3),
    )
    cloths = (Fabric("green", "Green", laid="wrong-side-up"), Fabric("sand", "Sand", laid="right-side-up"))
    vein = Marking("vein", "Vein", open_path(5 + 2j, [(20 + 12j, 40 + 4j, 55 + 18j)]), on="leaf")
    green = Swatch(
        "green",
        "wrong-side-up",
        10,
        10,
        150,
        90,
        0.0,
        (
            Placement("beach", "leaf", 1, True, 20.0, 80 + 20j),
            Placement("beach", "star", 1, True, 0.0, 120 + 60j),
        ),
    )
    sand = Swatch(
        "sand", "right-side-up", 10, 110, 60, 60, 90.0, (Placement("beach", "square", 1, False, 0, 10 + 10j),)
    )
    design = Design("beach", pieces, (vein,), cloths)
    return Layout((Demand(design),), cloths, Mat("mat-12x12", 304.8, 304.8), (MatLayout((green, sand)),))


def planned(blade: Blade, **chosen: Any) -> CutPlan:
    step = DragKnife()
    return step.apply(in_order(as_laid(laid(), blade)), DragKnifeSettings.model_validate(chosen), blade).value


def read_back(sheet: CutSheet, name: str) -> tuple[CutSheet, Any, Any, Measurer]:
    writer, measurer, chosen = FORMATS[name]
    settings = writer.settings.model_validate(chosen)
    declared = writer.declared(sheet, settings)
    data = writer.write(sheet, settings).value
    return writer.writes(sheet, settings), measurer.measure(data, declared).value, declared, measurer


def apart(a: Path, b: Path) -> float:
    """The largest distance of either's vertices from the other, by shapely; curves are finely flattened."""
    one, two = closed(a), closed(b)
    lines = [shapely.LineString(np.column_stack((p.real, p.imag))) for p in (one, two)]
    return max(
        float(shapely.distance(shapely.points(p.real, p.imag), line).max())
        for p, line in ((one, lines[1]), (two, lines[0]))
    )


def nearest(found: list[Path], to: Path) -> Path:
    """The line whose box is nearest to that of `to`."""
    box = to.box
    return min(found, key=lambda path: abs(path.box.center - box.center) + abs(path.box.width - box.width))


def closed(path: Path) -> Any:
    points = flattened(path, 0.002)
    return np.append(points, points[0]) if isinstance(path, Outline) else points


@pytest.mark.parametrize("blade", BLADES, ids=lambda blade: f"{blade.offset:g}-{blade.overcut:g}")
@pytest.mark.parametrize("name", FORMATS)
def test_the_tip_follows_every_outline_and_closes_it(name: str, blade: Blade) -> None:
    sheet, measured, declared, measurer = read_back(sheets(planned(blade), "mat")[0], name)
    budget, tip = allowed(sheet, declared, measurer.budget_mm)
    assert budget == FOLLOWED_MM
    assert tip is not None
    assert len(measured.lines) == len(sheet.cuts)
    meant = [cut for cut in sheet.cuts if cut.kind == "cut"]
    found = [tip(line.path) for line in measured.lines]
    for cut in meant:
        best = nearest(found, cut.outline)
        assert apart(best, cut.outline) < FOLLOWED_MM
    assert sum(isinstance(path, Outline) for path in found) == len(meant)
    proof = prove(sheet, measured, budget, tip)
    assert proof.ok, proof.findings
    assert proof.reversed_ok


@pytest.mark.parametrize("name", FORMATS)
def test_an_overcut_alone_is_proved_as_finely_as_a_plain_file(name: str) -> None:
    plan = planned(Blade(0.25, 0.0, "machine"), overcut="0.8 mm")
    sheet, measured, declared, measurer = read_back(sheets(plan, "mat")[0], name)
    budget, tip = allowed(sheet, declared, measurer.budget_mm)
    assert budget == measurer.budget_mm
    assert prove(sheet, measured, budget, tip).ok


@pytest.mark.parametrize("name", FORMATS)
def test_a_file_that_nobody_compensated_fails(name: str) -> None:
    blade = Blade(1.0, 1.0, "file")
    plain = in_order(as_laid(laid(), blade))
    sheet, measured, declared, measurer = read_back(sheets(plain, "mat")[0], name)
    told = replace(declared, blade_offset=1.0, overcut=1.0)
    assert not prove(sheet, measured, *allowed(sheet, told, measurer.budget_mm)).ok


@pytest.mark.parametrize("name", FORMATS)
def test_a_file_compensated_for_another_blade_fails(name: str) -> None:
    sheet, measured, declared, measurer = read_back(sheets(planned(Blade(1.0, 1.0, "file")), "mat")[0], name)
    told = replace(declared, blade_offset=0.5)
    assert not prove(sheet, measured, *allowed(sheet, told, measurer.budget_mm)).ok


@pytest.mark.parametrize("name", ["svg", "dxf", "gcode"])
def test_an_outline_left_open_by_a_thread_fails(name: str) -> None:
    blade = Blade(0.5, 1.0, "file")
    sheet = sheets(planned(blade), "mat")[0]
    short = [
        replace(cut, path=OpenPath(cut.path.nodes[:-4], cut.path.straight[:-4], complex(cut.path.nodes[-4, 0])))
        if cut.kind == "cut"
        else cut
        for cut in sheet.cuts
    ]
    kept, measured, declared, measurer = read_back(replace(sheet, cuts=tuple(short)), name)
    budget, tip = allowed(kept, declared, measurer.budget_mm)
    proof = prove(kept, measured, budget, tip)
    assert not proof.ok
    assert "open-outline" in {finding.code for finding in proof.findings}


def test_markings_are_drawn_where_they_are_meant() -> None:
    sheet, measured, declared, measurer = read_back(sheets(planned(Blade(1.0, 1.0, "file")), "mat")[0], "svg")
    _, tip = allowed(sheet, declared, measurer.budget_mm)
    assert tip is not None
    marks = [cut for cut in sheet.cuts if cut.kind == "mark"]
    assert marks
    for mark in marks:
        assert min(apart(tip(line.path), mark.outline) for line in measured.lines) < 0.01


def test_a_file_in_another_frame_is_followed_on_the_mat() -> None:
    writer, measurer = HpglWriter(), HpglMeasurer()
    settings = writer.settings.model_validate({"origin": "upper-left", "x-axis": "down", "y-axis": "right"})
    sheet = sheets(planned(Blade(0.25, 1.0, "file")), "mat")[0]
    declared = writer.declared(sheet, settings)
    assert declared.frame not in (None, Affine())
    measured = measurer.measure(writer.write(sheet, settings).value, declared).value
    kept = writer.writes(sheet, settings)
    assert prove(kept, measured, *allowed(kept, declared, measurer.budget_mm)).ok


def test_each_cut_stands_on_its_own() -> None:
    """One file a fabric leaves cuts out, and the tip still follows those that are in it."""
    for sheet in sheets(planned(Blade(1.0, 1.0, "file")), "fabric"):
        for cut in sheet.cuts:
            if cut.kind == "cut":
                assert apart(followed(cut.path, 1.0, 1.0), cut.outline) < FOLLOWED_MM
