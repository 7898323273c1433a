"""What only another library can write by hand without tedium: clipped blocks, double lines, polygons of maps."""

from __future__ import annotations

import io
from collections.abc import Sequence
from math import pi
from typing import Any

import ezdxf
import pytest
from dxf_text import read
from ezdxf.xclip import XClip

from clothpath.curves import box_of
from clothpath.design import Design
from clothpath.regions import region_area


def drawn(document: Any, binary: bool = False) -> tuple[Design, set[str]]:
    """The design of a drawing, and the codes of the findings."""
    if binary:
        data = io.BytesIO()
        document.write(data, fmt="bin")
        outcome = read(data.getvalue())
    else:
        text = io.StringIO()
        document.write(text)
        outcome = read(text.getvalue().encode())
    return outcome.value, {finding.code for finding in outcome.findings}


def clipped(path: Sequence[tuple[float, float]], inverted: bool = False, **attributes: Any) -> Any:
    """A block, inserted once and clipped: a disk of radius 10, a square apart from it, an open line."""
    document = ezdxf.new("R2010", units=4)
    block = document.blocks.new("leaf")
    block.add_circle((0, 0), 10)
    block.add_lwpolyline([(50, 0), (60, 0), (60, 10), (50, 10)], close=True)
    block.add_line((-30, 3), (30, 3))
    insert = document.modelspace().add_blockref("leaf", (0, 0), dxfattribs=attributes)
    clip = XClip(insert)
    clip.set_block_clipping_path(path)
    if inverted:
        clip.invert_clipping_path(ignore_acad_compatibility=True)
    return document


@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
def test_a_clip_by_two_corners_halves_the_disk_and_drops_the_rest(binary: bool) -> None:
    """DXF Reference, SPATIAL_FILTER 10: "always 2 or more"; two are the corners of a rectangle."""
    design, codes = drawn(clipped([(0, -20), (20, 20)]), binary)
    (half,) = design.pieces
    assert region_area(half.region) == pytest.approx(50 * pi, rel=1e-4)
    assert half.region.box.left == pytest.approx(0, abs=1e-6)
    (line,) = design.markings
    assert (line.path.start, line.path.end) == (pytest.approx(3j), pytest.approx(20 + 3j))
    assert codes == {"block-clipped", "open-line"}


def test_a_clip_by_a_polygon_follows_it() -> None:
    """A right angle with its corner in the center: a quarter of the disk."""
    design, _ = drawn(clipped([(0, 0), (30, 0), (0, 30)]))
    assert region_area(design.pieces[0].region) == pytest.approx(25 * pi, rel=1e-4)


def test_the_clip_is_scaled_and_turned_with_its_block() -> None:
    design, _ = drawn(clipped([(0, -20), (20, 20)], xscale=2, yscale=2, rotation=90))
    box = design.pieces[0].region.box
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx((-20, 0, 20, 20), abs=1e-4)


def test_what_lies_wholly_inside_is_as_it_was() -> None:
    design, codes = drawn(clipped([(-100, -100), (100, 100)]))
    assert [region_area(piece.region) for piece in design.pieces] == pytest.approx([100 * pi, 100], rel=1e-5)
    assert codes == {"block-clipped", "open-line"}


def test_a_clip_inside_an_outline_is_the_outline() -> None:
    design, _ = drawn(clipped([(-2, -2), (2, 2)]))
    assert region_area(design.pieces[0].region) == pytest.approx(16)


def test_a_clip_that_is_switched_off_does_nothing() -> None:
    document = clipped([(0, -20), (20, 20)])
    XClip(document.modelspace()[0]).disable_clipping()
    design, codes = drawn(document)
    assert region_area(design.pieces[0].region) == pytest.approx(100 * pi, rel=1e-5)
    assert "block-clipped" not in codes


def test_an_inverted_clip_is_told() -> None:
    design, codes = drawn(clipped([(0, -20), (20, 20)], inverted=True))
    assert region_area(design.pieces[0].region) == pytest.approx(100 * pi, rel=1e-5)
    assert "clip-inverted" in codes


def test_a_closed_double_line_is_a_ring() -> None:
    """MLINE: the standard style has lines at 0.5 and -0.5; with its sides 1 apart, the ring is 101^2 - 99^2."""
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_mline(
        [(0, 0), (100, 0), (100, 100), (0, 100)], close=True, dxfattribs={"justification": 1}
    )
    design, codes = drawn(document)
    assert sum(region_area(piece.region) for piece in design.pieces) == pytest.approx(400)
    assert codes == set()


def test_a_filled_polygon_of_maps_is_an_area_with_a_hole() -> None:
    """MPOLYGON, read like HATCH."""
    document = ezdxf.new("R2010", units=4)
    polygon = document.modelspace().add_mpolygon(color=3, fill_color=3)
    polygon.paths.add_polyline_path([(0, 0), (30, 0), (30, 30), (0, 30)], is_closed=True, flags=1)
    polygon.paths.add_polyline_path([(10, 15, 1), (20, 15, 1)], is_closed=True, flags=16)
    design, codes = drawn(document)
    (piece,) = design.pieces
    assert region_area(piece.region) == pytest.approx(900 - 25 * pi, rel=1e-4)
    assert box_of([piece.region.outer]).width == 30
    assert codes == set()
