"""SVG cut files. CSS Values and Units: 1in = 96px = 2.54cm; SVG 1.1: viewBox, groups, titles."""

import re
from dataclasses import replace
from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import pytest
import resvg_py
from PIL import Image
from writer_sheets import crab_sheet

from clothpath.plugins.writers.svg import SvgSettings, SvgWriter

SVG = "{http://www.w3.org/2000/svg}"


def written(**chosen: object) -> ElementTree.Element:
    return ElementTree.fromstring(SvgWriter().write(crab_sheet(), SvgSettings(**chosen)).value)


@pytest.mark.parametrize(
    ("chosen", "width", "height"),
    [
        ({}, "203.2mm", "304.8mm"),
        ({"unit": "in"}, "8in", "12in"),
        ({"unit": "px"}, "768px", "1152px"),
        ({"unit": "px", "density": 72}, "576px", "864px"),
        ({"unit": "px", "density": 90}, "720px", "1080px"),
    ],
)
def test_page_is_the_mat_in_the_stated_unit(chosen: dict[str, object], width: str, height: str) -> None:
    root = written(**chosen)
    assert (root.get("width"), root.get("height")) == (width, height)
    number = re.compile(r"[a-z]+$")
    assert root.get("viewBox") == f"0 0 {number.sub('', width)} {number.sub('', height)}"
    assert root.get("version") == "1.1"


def test_one_ungrouping_gives_the_fabrics() -> None:
    root = written()
    groups = [child for child in root if child.tag != f"{SVG}title"]
    assert {child.tag for child in groups} == {f"{SVG}g"}
    assert [group.get("id") for group in groups] == ["markings", "sand", "coral"]
    assert [group.find(f"{SVG}title").text for group in groups] == ["Markings, not cut", "Sand & shells", "Coral print"]
    for group in groups:
        assert {child.tag for child in group} == {f"{SVG}title", f"{SVG}path"}


def test_every_line_says_piece_fabric_and_copy() -> None:
    titles = {path.get("id"): path.find(f"{SVG}title").text for path in written().iter(f"{SVG}path")}
    assert titles["eye-2"] == "Eye, Coral print, copy 2"
    assert titles["shell-1"] == "Shell, Coral print, copy 1"
    assert titles["shell-1-mark-1"] == "Shell, Coral print, copy 1, marking 1"
    assert len(titles) == 7 + 2


def test_holes_go_with_their_piece_unless_they_are_cut_apart_from_it() -> None:
    sheet = crab_sheet()
    apart = replace(sheet, cuts=(*sheet.cuts[1::2], *sheet.cuts[::2]))
    root = ElementTree.fromstring(SvgWriter().write(apart, SvgSettings()).value)
    names = [path.get("id") for path in root.iter(f"{SVG}path")]
    assert {"shell-1", "shell-1-hole-1"} < set(names)
    assert len(names) == len(set(names))


def test_only_plain_elements_and_attributes() -> None:
    root = written(style="fills")
    assert {element.tag for element in root.iter()} == {f"{SVG}{name}" for name in ("svg", "title", "g", "path")}
    known = {"id", "d", "fill", "fill-rule", "stroke", "stroke-width", "width", "height", "viewBox", "version"}
    assert {name for element in root.iter() for name in element.attrib} <= known


def test_no_number_is_finer_than_it_need_be() -> None:
    for path in written().iter(f"{SVG}path"):
        for number in re.findall(r"-?[\d.]+", path.get("d")):
            assert re.fullmatch(r"-?\d+(\.\d{0,2}[1-9])?", number)


def test_density_is_declared_for_pixels_only() -> None:
    writer, sheet = SvgWriter(), crab_sheet()
    assert writer.declared(sheet, SvgSettings()).mm_per_unit is None
    assert writer.declared(sheet, SvgSettings(unit="px", density=72)).mm_per_unit == pytest.approx(25.4 / 72)


@pytest.mark.parametrize("style", ["fills", "strokes"])
def test_resvg_sees_holes_as_holes(style: str) -> None:
    # the shell's first hole is a circle of 6 mm about (72, 52) on the mat
    data = SvgWriter().write(crab_sheet(), SvgSettings(style=style, markings="leave-out")).value.decode()
    data = data.replace('fill="none"', 'fill="#c8553d"')
    png = resvg_py.svg_to_bytes(svg_string=data, width=1016, dpi=96, background="#ffffff")
    image = np.asarray(Image.open(BytesIO(bytes(png))).convert("RGB")).astype(int)
    per_mm = image.shape[1] / 203.2

    def color(x: float, y: float) -> list[int]:
        return image[round((304.8 - y) * per_mm), round(x * per_mm)].tolist()

    cloth, paper = [0xC8, 0x55, 0x3D], [255, 255, 255]
    assert color(72, 52) == paper
    assert color(60, 35) == cloth
    assert color(150, 250) == paper


def test_settings_that_are_not_there_are_refused() -> None:
    with pytest.raises(ValueError, match="density"):
        SvgSettings(density=80)
