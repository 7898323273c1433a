"""Names that people, other scripts and bad intentions give to things come out right in every format."""

import csv
import io
import re
import unicodedata
from dataclasses import replace
from xml.etree import ElementTree

import ezdxf
import pypdfium2
import pytest
from gcodeparser import parse_gcode_lines
from second_opinions import dxf_layers, dxf_lines, eps_lines, gcode_lines, hpgl_lines, svg_lines
from writer_sheets import crab_layout, sheet_of

from clothpath.contracts import Settings
from clothpath.cutplan import CutSheet
from clothpath.layout import Demand, Layout
from clothpath.plugins.readers.json import JsonReader
from clothpath.plugins.writers.csv import CsvWriter
from clothpath.plugins.writers.dxf import DxfSettings, DxfWriter
from clothpath.plugins.writers.eps import EpsSettings, EpsWriter
from clothpath.plugins.writers.gcode import GcodeSettings, GcodeWriter
from clothpath.plugins.writers.hpgl import HpglSettings, HpglWriter
from clothpath.plugins.writers.json import JsonWriter
from clothpath.plugins.writers.pdf import PdfSettings, PdfWriter
from clothpath.plugins.writers.svg import SvgSettings, SvgWriter

HOSTILE = {
    "slashes": "../..\\crab/claw",
    "quotes": "the \"best\" 'crab' `of` all",
    "markup": "<b>&amp;]]><!-- --><?x?>",
    "device": "CON",
    "long": "x" * 300,
    "right-to-left": "سرطان البحر \u202egnp.svg",
    "emoji": "🦀 \U0001f469\u200d\U0001f52c",
    "line feeds": "crab\r\n0\nEOF\nM30\x1b[2J",
    "nothing": "",
    "control": "a\x00b\x07c\x85d\ufffe",
    "dxf codes": "%%u{\\fArial;crab}^J\\P",
    "parentheses": "crab) M3 S9999 (claw ; PD0,0;",
    "postscript": "crab) show (%%EOF\\",
    "accents": "e\u0301toile Größe",
}


def renamed(name: str) -> Layout:
    """The crab with every name replaced."""
    layout = crab_layout()
    design = layout.demands[0].design
    keys = {fabric.key: f"{name}{n}" for n, fabric in enumerate(design.fabrics)}
    ids = {piece.id: f"{name}{n}" for n, piece in enumerate(design.pieces)}
    fabrics = tuple(replace(fabric, key=keys[fabric.key], label=name) for fabric in design.fabrics)
    pieces = tuple(replace(p, id=ids[p.id], label=name, fabric=keys[p.fabric]) for p in design.pieces)
    marks = tuple(replace(mark, id=name, label=name, on=ids[mark.on or ""]) for mark in design.markings)
    bad = replace(design, name=name, pieces=pieces, fabrics=fabrics, markings=marks)
    swatches = tuple(
        replace(
            swatch,
            fabric=keys[swatch.fabric],
            placements=tuple(replace(p, design=name, piece=ids[p.piece]) for p in swatch.placements),
        )
        for swatch in layout.mats[0].swatches
    )
    return replace(layout, demands=(Demand(bad),), fabrics=fabrics, mats=(replace(layout.mats[0], swatches=swatches),))


@pytest.fixture(params=HOSTILE)
def sheet(request: pytest.FixtureRequest) -> CutSheet:
    return sheet_of(renamed(HOSTILE[request.param]))


def test_svg(sheet: CutSheet) -> None:
    data = SvgWriter().write(sheet, SvgSettings()).value
    root = ElementTree.fromstring(data)
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids)) == 3 + 2 + 7
    assert all(re.fullmatch(r"[A-Za-z][A-Za-z0-9-]*", name) for name in ids)  # NCName, XML namespaces
    assert len({len(name) <= 100 for name in ids}) == 1
    for element in root.iter("{http://www.w3.org/2000/svg}title"):
        assert not any(unicodedata.category(char) in ("Cc", "Cf") for char in element.text or "")
    assert len(svg_lines(data, 1)) == 11


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_dxf(sheet: CutSheet, version: str) -> None:
    data = DxfWriter().write(sheet, DxfSettings(version=version)).value
    layers = dxf_layers(data).keys() - {"0", "Defpoints"}
    assert len({name.upper() for name in layers}) == 3
    # the names of R12: 31 characters of A to Z, 0 to 9, $, - and _ (DXF reference, in either case by practice)
    assert all(re.fullmatch(r"[A-Za-z0-9$_-]{1,31}", name) for name in layers)
    assert len(dxf_lines(data, 1)) == 11
    audit = ezdxf.read(io.StringIO(data.decode("ascii"))).audit()
    assert (audit.errors, audit.fixes) == ([], [])


def test_pdf(sheet: CutSheet) -> None:
    document = pypdfium2.PdfDocument(PdfWriter().write(sheet, PdfSettings(paper="letter")).value)
    words = document[0].get_textpage().get_text_bounded()
    assert "mat 1 of 1" in words
    assert document.get_metadata_value("Title").endswith("mat 1 of 1")


def test_eps(sheet: CutSheet) -> None:
    data = EpsWriter().write(sheet, EpsSettings()).value
    text = data.decode("ascii")
    assert [line for line in text.split("\n") if line.startswith("%%EOF")] == ["%%EOF"]
    assert re.search(r"^%%Title: \((\\.|[^()\\])*\)$", text, re.MULTILINE)
    assert len(eps_lines(data)) == 11
    assert max(map(len, text.split("\n"))) <= 255


def test_hpgl(sheet: CutSheet) -> None:
    data = HpglWriter().write(sheet, HpglSettings()).value
    assert re.fullmatch(r"(IN|SP\d|P[UD](-?\d+,-?\d+(,-?\d+)*)?|;|\n)*", data.decode("ascii"))
    assert len(hpgl_lines(data)) == 9


def test_gcode(sheet: CutSheet) -> None:
    data = GcodeWriter().write(sheet, GcodeSettings()).value
    for line in data.decode("ascii").split("\n"):
        assert re.fullmatch(r"(\([^()]*\))?([A-Z]-?[\d.]+ ?)*", line)
        assert len(line) <= 256  # RS-274/NGC: most characters of a line
    words = {f"{line.command[0]}{line.command[1]}" for line in parse_gcode_lines(data.decode())}
    assert words <= {"G0", "G1", "G2", "G3", "G17", "G21", "G40", "G49", "G90", "M0", "M2"}
    assert len(gcode_lines(data)) == 9


def test_csv(sheet: CutSheet) -> None:
    (document,) = CsvWriter().compose(sheet.plan, Settings()).value
    table = list(csv.reader(io.StringIO(document.data.decode("utf-8-sig"), newline="")))
    assert len(table) == 1 + 7
    assert {len(row) for row in table} == {20}


def test_json_keeps_every_character(sheet: CutSheet) -> None:
    (document,) = JsonWriter().compose(sheet.plan, Settings()).value
    design = JsonReader().read(document.data, JsonReader().settings()).value
    (meant,) = (demand.design for demand in sheet.plan.layout.demands)
    assert [piece.label for piece in design.pieces] == [piece.label for piece in meant.pieces]
    assert [fabric.key for fabric in design.fabrics] == [fabric.key for fabric in meant.fabrics]
