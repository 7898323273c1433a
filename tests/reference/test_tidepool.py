"""Every Tidepool design in every format, measured by libraries and interpreters that are not the project's.

What was meant is read from job.json (rings on the mat, in mm); what was written is read with svgpathtools for SVG,
pdfplumber for PDF, a group-code reader with scipy's B-splines for DXF, an interpreter of HP-GL commands, and
gcodeparser with a blade that is pulled along step by step for G-code. Budgets are those of design.md section 8; a ring
in job.json is itself within 0.01 mm of its curve.
"""

from __future__ import annotations

import json
import re
import shutil
import xml.etree.ElementTree as ET
from collections.abc import Callable
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import numpy as np
import pdfplumber
import pytest
import shapely
import svgpathtools
from gcodeparser import parse_gcode_lines
from numpy.typing import NDArray
from scipy.interpolate import BSpline

from clothpath.cli import run

RING_MM = 0.01
INCH_MM = 25.4  # International Yard and Pound Agreement, 1959
UNITS_MM = {"mm": 1.0, "in": INCH_MM, "cm": 10.0, "px": INCH_MM / 96, "": INCH_MM / 96}  # CSS Values and Units, 5.2
SAMPLES = Path(str(files("clothpath.samples"))) / "tidepool"
Points = NDArray[np.complex128]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small size of every design for a machine of each format."""
    folder = tmp_path_factory.mktemp("tidepool")
    shutil.copytree(SAMPLES, folder / "catalog")
    catalog, sizes = folder / "catalog" / "catalog.toml", folder / "catalog" / "sizes.csv"
    text = re.sub(r"\[design\.size\.large\]\n(?:[a-z]+ = .*\n)+", "", catalog.read_text(encoding="utf-8"))
    catalog.write_text(text, encoding="utf-8")
    sizes.write_text("".join(line for line in sizes.read_text().splitlines(True) if ",large," not in line))
    templates = folder / "templates.toml"
    profile = Path(str(files("clothpath.shared"))) / "machines" / "paper-templates.toml"
    templates.write_text(
        profile.read_text().replace('name = "paper-templates"', 'name = "templates"').replace("letter", "mat")
    )
    machines = ["mat-12x12", "mat-30x30cm", "px-72", "roll-24", "flatbed-knife", "flatbed-drag-knife", str(templates)]
    asked = [word for name in machines for word in ("--machine", name)]
    assert run(["build", str(catalog), "--out", str(folder / "cut"), *asked, "--quiet"]) == 0
    return folder / "cut"


def svg_lines(path: Path, px_per_inch: float) -> list[Points]:
    """The cut lines in mm from the lower left of the page; SVG 1.1, 7.2 and 7.7: viewBox onto width and height."""
    root = ET.parse(path).getroot()
    width, unit = re.fullmatch(r"([\d.]+)([a-z]*)", root.attrib["width"]).groups()  # type: ignore[union-attr]
    height = re.match(r"[\d.]+", root.attrib["height"])[0]  # type: ignore[index]
    scale = INCH_MM / px_per_inch if unit in ("px", "") else UNITS_MM[unit]
    box = [float(number) for number in root.attrib["viewBox"].split()]
    per_unit = float(width) * scale / box[2]
    found = []
    for group in root:
        if group.attrib.get("id") != "markings":
            for element in group.iter("{http://www.w3.org/2000/svg}path"):
                t = np.linspace(0, 1, 96)
                for curve in svgpathtools.parse_path(element.attrib["d"]).continuous_subpaths():
                    points = np.concatenate([segment.poly()(t) for segment in curve])
                    found.append((points - complex(box[0], box[1])).conj() * per_unit + 1j * float(height) * scale)
    return found


def pdf_lines(path: Path) -> list[Points]:
    """Curves of the page in mm from the lower left of its trim box, which is the mat; 1/72 in to the unit.

    ISO 32000-1, 8.3.2.3 (user space) and 14.11.2 (the trim box: the page once it is cut to size).
    """
    found = []
    with pdfplumber.open(path) as document:
        for page in document.pages:
            left, bottom, *_ = (float(edge) for edge in page.page_obj.attrs["TrimBox"])
            for curve in page.curves:
                at: complex | None = None
                points: list[complex] = []
                t = np.linspace(0, 1, 96)
                for command, *ends in curve["path"]:
                    p = [complex(x, float(page.height) - y) for x, y in ends]
                    if command == "c" and at is not None:
                        a, b, c = p
                        s = 1 - t
                        points += list(s**3 * at + 3 * s**2 * t * a + 3 * s * t**2 * b + t**3 * c)
                    else:
                        points += p
                    at = p[-1] if p else at
                found.append((np.array(points) - complex(left, bottom)) * INCH_MM / 72)
    return found


def dxf_lines(path: Path) -> list[Points]:
    """Splines and polylines of the cut layers in mm; $INSUNITS 4 is mm (DXF reference, HEADER)."""
    lines = [line.strip() for line in path.read_text(encoding="utf-8").splitlines()]
    tags = list(zip((int(code) for code in lines[::2]), lines[1::2], strict=True))
    at = tags.index((9, "$INSUNITS"))
    assert tags[at + 1] == (70, "4")
    entities = tags[tags.index((2, "ENTITIES")) :]
    starts = [n for n, (code, _) in enumerate(entities) if code == 0]
    chains: list[Points] = []
    for start, end in pairwise(starts):
        kind, body = entities[start][1], entities[start + 1 : end]
        layer = next((value for code, value in body if code == 8), "")
        if layer.lower() == "markings":
            continue
        if kind == "SPLINE":
            degree = int(next(value for code, value in body if code == 71))
            knots = [float(value) for code, value in body if code == 40]
            xs = [float(value) for code, value in body if code == 10]
            ys = [float(value) for code, value in body if code == 20]
            spline = BSpline(knots, np.array(xs) + 1j * np.array(ys), degree)
            spans = np.unique(knots)
            chains.append(np.concatenate([spline(np.linspace(a, b, 96)) for a, b in pairwise(spans)]))
        elif kind == "LWPOLYLINE":
            xs = [float(value) for code, value in body if code == 10]
            ys = [float(value) for code, value in body if code == 20]
            assert not any(float(value) for code, value in body if code == 42), "straight polylines expected"
            chains.append(np.array(xs) + 1j * np.array(ys))
    return chains


def hpgl_lines(path: Path) -> list[Points]:
    """What the pen draws in mm; PU, PD and PA in absolute units of 0.025 mm (HP-GL reference)."""
    at, down = 0j, False
    found: list[list[complex]] = []
    for command in path.read_text(encoding="ascii").split(";"):
        name, numbers = command.strip()[:2].upper(), re.findall(r"-?\d+", command.strip()[2:])
        if name in ("PU", "PD"):
            down = name == "PD"
        if name in ("PU", "PD", "PA"):
            for x, y in zip(numbers[::2], numbers[1::2], strict=True):
                to = complex(int(x), int(y)) * 0.025
                if down:
                    if not found or found[-1][-1] != at:
                        found.append([at])
                    found[-1].append(to)
                at = to
    return [np.array(line) for line in found]


def dragged_lines(path: Path) -> list[Points]:
    """What the tip of a blade cuts that is pulled 0.5 mm behind the axis, in mm; G-code in millimeters (G21).

    The tip stays at its distance from the axis, on the line that joined them before the step (a tractrix in the limit).
    A cut begins with the blade toward the left of its axis, and runs 1 mm past its start.
    """
    offset, overcut, step = 0.5, 1.0, 0.05  # the first two as the machine profile says
    at, height, found = 0j, 9.0, list[list[Points]]()
    for line in parse_gcode_lines(path.read_text(encoding="ascii")):
        if line.command[0] != "G" or line.command[1] not in (0, 1, 2, 3):
            assert line.command != ("G", 20)
            continue
        to, height = complex(line.params.get("X", at.real), line.params.get("Y", at.imag)), line.params.get("Z", height)
        if line.command[1] == 0:
            found.append([])
        elif to != at:
            turn = {1: 0, 2: -1, 3: 1}[line.command[1]]
            center = at + complex(line.params["I"], line.params["J"]) if turn else 0j
            sweep = np.angle((to - center) / (at - center)) % (2 * np.pi * turn) if turn else 0.0
            count = max(2, int(abs(sweep * (at - center) if turn else to - at) / step) + 2)
            t = np.linspace(0, 1, count)
            found[-1].append(center + (at - center) * np.exp(1j * sweep * t) if turn else at + (to - at) * t)
        at = to
    lines = [np.concatenate(parts) for parts in found if parts]
    longest = max(map(len, lines))
    holder = np.array([np.append(line, np.full(longest - len(line), line[-1])) for line in lines])
    tip = holder - offset
    for n in range(1, longest):
        pull = tip[:, n - 1] - holder[:, n]
        tip[:, n] = holder[:, n] + offset * pull / np.abs(pull)
    return [_without_end(row[: len(line)], overcut) for row, line in zip(tip, lines, strict=True)]


def _without_end(points: Points, way: float) -> Points:
    """The polyline without so much of its end, half of which at most."""
    left = np.append(np.cumsum(np.abs(np.diff(points))[::-1])[::-1], 0)
    return points[left >= min(way, left[0] / 3)]


FORMATS: dict[str, tuple[Callable[[Path], list[Points]], float]] = {
    "mat-12x12": (lambda path: svg_lines(path, 96), 0.01),
    "mat-30x30cm": (lambda path: svg_lines(path, 96), 0.01),
    "px-72": (lambda path: svg_lines(path, 72), 0.01),
    "flatbed-knife": (dxf_lines, 0.01),
    "flatbed-drag-knife": (dragged_lines, 0.05),
    "templates": (pdf_lines, 0.01),
    "roll-24": (hpgl_lines, 0.025),
}


@pytest.mark.parametrize("machine", FORMATS)
def test_every_ring_is_in_the_file_where_it_was_meant_to_be(built: Path, machine: str) -> None:
    read, budget = FORMATS[machine]
    jobs = sorted(built.glob(f"*/*/{machine}/job.json"))
    assert len(jobs) == 12
    for job in jobs:
        meant = json.loads(job.read_text(encoding="utf-8"))
        for file in meant["files"]:
            if file["proof"] is None:
                continue
            lines = [line for line in read(built / file["path"]) if len(line) > 2]
            tree = shapely.STRtree([_line(line) for line in lines])
            mat = meant["mats"][file["mat"] - 1]
            for swatch in mat["swatches"]:
                for piece in swatch["pieces"]:
                    for ring in piece["rings_mm"]:
                        target = shapely.LinearRing(ring)
                        near = [tree.geometries[n] for n in tree.query(target, "dwithin", budget + RING_MM)]
                        off = min((shapely.hausdorff_distance(target, line) for line in near), default=9)
                        assert off <= budget + RING_MM, f"{job.parent}: {piece['piece']}: {off:.4f} mm"


def _line(points: Points) -> shapely.LineString:
    closed = np.append(points, points[0])
    return shapely.LineString(np.column_stack((closed.real, closed.imag)))


def signature(d: str) -> Points:
    """256 points at equal steps of arc length around a path, y up, centered, of unit size, counterclockwise."""
    points = np.concatenate(
        [segment.poly()(np.linspace(0, 1, 200)[:-1]) for segment in svgpathtools.parse_path(d)]
    ).conj()
    steps = np.abs(np.diff(points, append=points[:1]))
    walked = np.concatenate(([0], np.cumsum(steps)[:-1]))
    even = np.interp(np.arange(256) / 256 * steps.sum(), walked, points.real) + 1j * np.interp(
        np.arange(256) / 256 * steps.sum(), walked, points.imag
    )
    even = even - even.mean()
    if (even.conj() * np.roll(even, -1)).imag.sum() < 0:
        even = even[::-1]
    return even / np.linalg.norm(even)


def likeness(one: Points, other: Points) -> float:
    """1 for the same shape under a turn, less for others: the largest circular cross-correlation of unit signatures."""
    return float(np.abs(np.fft.ifft(np.fft.fft(one) * np.fft.fft(other).conj())).max())


# In the written file a piece must be seen in a mirror exactly if its fabric keeps its paper, hence is laid paper up and
# cut reversed (common practice). The seahorse is drawn reversed, so there it is the other way round.
@pytest.mark.parametrize(
    ("design", "reversed_pieces", "straight_pieces"),
    [
        ("whale", ["body", "belly", "fluke", "flipper"], ["spout-left", "spout-right"]),
        ("seahorse", ["belly"], ["long-blade", "short-blade", "back-fin", "crest", "body", "head"]),
    ],
)
def test_the_written_file_has_just_the_paper_up_pieces_reversed(
    built: Path, design: str, reversed_pieces: list[str], straight_pieces: list[str]
) -> None:
    written = ET.parse(built / design / "small" / "mat-12x12" / f"{design}-small-mat-12x12.svg")
    drawing = ET.parse(SAMPLES / "designs" / f"{design}.svg")
    drawn = {element.attrib.get("id", ""): element.attrib.get("d", "") for element in drawing.iter()}
    cut = {element.attrib.get("id", ""): element.attrib.get("d", "") for element in written.iter()}
    for piece in reversed_pieces + straight_pieces:
        meant, found = signature(drawn[piece]), signature(cut[f"{piece}-1"])
        straight, mirrored = likeness(meant, found), likeness(-meant[::-1].conj(), found)
        assert max(straight, mirrored) > 0.9999
        assert (mirrored > straight) is (piece in reversed_pieces), piece
