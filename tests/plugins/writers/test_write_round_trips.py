"""SVG to DXF to SVG: what is read from a written file and written again keeps shape, fabrics, names and orientation."""

import numpy as np
import pytest
import shapely
from test_write_within_budget import FINE_MM
from writer_sheets import crab_sheet

from clothpath.curves import flattened
from clothpath.cutplan import Blade, CutSheet, as_laid, sheets
from clothpath.design import Design
from clothpath.layout import Demand, Layout, MatLayout, Placement, Swatch
from clothpath.plugins.writers.dxf import DxfSettings, DxfWriter
from clothpath.plugins.writers.svg import SvgSettings, SvgWriter
from clothpath.regions import Region, as_polygon, region_area
from clothpath.registry import installed


def read(name: str, data: bytes) -> Design:
    reader = installed().readers[name]
    return reader.read(data, reader.settings()).value


def as_drawn(design: Design) -> CutSheet:
    """A design laid on the crab's mat just as it is drawn, right side up."""
    mat = crab_sheet().mat
    keys = list(dict.fromkeys(piece.fabric for piece in design.pieces))
    fabrics = tuple(next(f for f in design.fabrics if f.key == key) for key in keys)
    swatches = tuple(
        Swatch(
            key,
            "right-side-up",
            0,
            0,
            mat.width,
            mat.height,
            0.0,
            tuple(Placement(design.name, p.id, 1, False, 0.0, 0) for p in design.pieces if p.fabric == key),
        )
        for key in keys
    )
    layout = Layout((Demand(design),), tuple(fabrics), mat, (MatLayout(swatches),))
    return sheets(as_laid(layout, Blade()), "mat")[0]


def deviation(a: Region, b: Region) -> float:
    return shapely.hausdorff_distance(as_polygon(a, FINE_MM), as_polygon(b, FINE_MM))


@pytest.mark.parametrize(
    ("svg", "dxf"),
    [
        (SvgSettings(), DxfSettings()),
        (SvgSettings(unit="in", style="fills"), DxfSettings(unit="in")),
        (SvgSettings(), DxfSettings(version="R2010", curves="arcs")),
    ],
)
def test_svg_to_dxf_to_svg(svg: SvgSettings, dxf: DxfSettings) -> None:
    meant = [cut for cut in crab_sheet().cuts if cut.kind == "cut" and cut.ring == 0]
    first = read("svg", SvgWriter().write(crab_sheet(), svg).value)
    second = read("dxf", DxfWriter().write(as_drawn(first), dxf).value)
    third = read("svg", SvgWriter().write(as_drawn(second), svg).value)
    for design in (first, second, third):
        assert len(design.pieces) == 7
        fabrics = [piece.fabric for piece in design.pieces]
        assert [fabrics.count(key) for key in dict.fromkeys(fabrics)] == [2, 5]
        assert [len(piece.region.holes) for piece in design.pieces] == [0, 0, 2, 0, 0, 0, 0]
    assert [piece.id for piece in first.pieces][:3] == ["leg-left-1", "leg-right-1", "shell-1"]
    assert first.pieces[2].label == "Shell, Coral print, copy 1"
    # two writings and readings by arcs, each within 0.01 mm; the page's corner may come out elsewhere
    shift = third.pieces[0].region.box.center - first.pieces[0].region.box.center
    for a, b, cut in zip(first.pieces, third.pieces, meant, strict=True):
        assert deviation(a.region, Region(cut.outline, ())) <= 0.01 or a.region.holes
        assert abs(region_area(a.region) - region_area(b.region)) < 0.5  # mm2, of up to 2600
        moved = flattened(b.region.outer, FINE_MM) - shift
        lines = [np.column_stack((p.real, p.imag)) for p in (moved, flattened(a.region.outer, FINE_MM))]
        assert shapely.hausdorff_distance(*(shapely.LinearRing(line) for line in lines)) <= 0.02
    assert abs(shift) < 0.01
