"""Strokes become rings and chains, and rings become areas.

Terminology
    placed      a stroke with its ink and its place in drawing order, in mm
    ring        a closed loop, drawn closed or joined of loose edges, under the ink of its first edge
    chain       what stays open
    area        a region that rings bound, under the ink of its outer ring
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import shapely

from clothpath.areas.chains import Edge
from clothpath.areas.junctions import Resolved, resolved
from clothpath.areas.nests import nested as nested_regions
from clothpath.areas.nests import parents
from clothpath.areas.twins import alike
from clothpath.curves import Curve, OpenPath, Outline, area, flattened, outline
from clothpath.files.reading import Deadline
from clothpath.findings import Finding, counted, note, warning
from clothpath.plugins.readers.dxf.drawing import Ink
from clothpath.plugins.readers.dxf.leftovers import listed
from clothpath.plugins.readers.dxf.shapes import Fill, Stroke
from clothpath.regions import Region, region, xy

__all__ = ["Area", "Chain", "Placed", "Ring", "Terms", "in_mm", "nested", "ringed"]

SHARE_BEFORE_JOINING: Final = 0.7
"""Of the time for a file, the part after which no joining is begun: it cannot be stopped."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What the joining goes by: mm to the drawing's unit, the widest gap that is closed in mm, and the deadline."""

    scale: float
    gap: float
    deadline: Deadline

    def place(self, at: complex) -> str:
        """A place in the drawing's own coordinates."""
        return f"({at.real / self.scale:.6g}, {at.imag / self.scale:.6g})"


@dataclass(frozen=True, slots=True)
class Placed:
    stroke: Stroke
    ink: Ink
    at: int


@dataclass(frozen=True, slots=True)
class Ring:
    path: Outline
    ink: Ink
    at: int
    width: float | None = None


@dataclass(frozen=True, slots=True)
class Chain:
    path: OpenPath
    ink: Ink
    at: int
    width: float | None = None


@dataclass(frozen=True, slots=True)
class Area:
    """A region; `fill` is the color of its inside, if it has one."""

    region: Region
    ink: Ink
    at: int
    width: float | None = None
    fill: str | None = None


def in_mm(stroke: Stroke, scale: float) -> Stroke:
    """The stroke, `scale` times as large."""
    if scale == 1:
        return stroke
    grown: list[Curve] = [
        (s[0] * scale,) if len(s) == 1 else (s[0] * scale, s[1] * scale, s[2] * scale) for s in stroke.edge.segments
    ]
    width = None if stroke.width is None else stroke.width * scale
    return Stroke(Edge(stroke.edge.start * scale, tuple(grown)), stroke.closed, stroke.fill, width)


def ringed(group: Sequence[Placed], where: str, terms: Terms, found: list[Finding]) -> tuple[list[Ring], list[Chain]]:
    """The closed loops of a group, drawn so or joined, and what stays open; what had to be decided goes to `found`."""
    rings: list[Ring] = []
    loose: list[Placed] = []
    for one in group:
        if one.stroke.closed:
            edge = one.stroke.edge
            rings.append(Ring(outline(edge.start, edge.segments), one.ink, one.at, one.stroke.width))
        else:
            loose.append(one)
    terms.deadline.check(share=SHARE_BEFORE_JOINING)
    how = resolved([one.stroke.edge for one in loose], terms.gap, terms.deadline.check)
    terms.deadline.check()
    found += _told(how, where, terms)
    made = how.made
    for loop in made.loops:
        first = loose[min(loop.edges)]
        rings.append(Ring(loop.path, first.ink, first.at, first.stroke.width))
    chains = [
        Chain(run.path, first.ink, first.at, first.stroke.width)
        for run in made.chains
        for first in (loose[min(run.edges)],)
    ]
    flat = [ring for ring in rings if _is_flat(ring.path)]
    if flat:
        message = f"{counted(len(flat), 'outline')} that enclose{'s' if len(flat) == 1 else ''} nothing left out."
        found.append(note("flat-outline", message, listed([ring.ink.where for ring in flat])))
    return sorted((ring for ring in rings if ring not in flat), key=lambda ring: ring.at), chains


def _is_flat(path: Outline) -> bool:
    """Whether the outline encloses nothing; one that crosses itself may do so though its signed area is none."""
    if area(path) != 0:
        return False
    points = flattened(path)
    return len(points) < 3 or shapely.make_valid(shapely.Polygon(xy(points))).area == 0


def nested(rings: Sequence[Ring], terms: Terms, found: list[Finding], fill: Fill = "parity") -> list[Area]:
    """Areas of the rings of one group: a ring in another one is its hole, and one in a hole an area again."""
    once = {ring.path: ring for ring in reversed(rings)}
    if len(once) < len(rings):
        again = [ring for ring in rings if once[ring.path] is not ring]
        message = f"{counted(len(again), 'outline')} drawn twice, one on the other; taken once."
        found.append(note("outline-drawn-twice", message, listed([ring.ink.where for ring in again])))
        return nested([ring for ring in rings if once[ring.path] is ring], terms, found, fill)
    parent = parents([ring.path for ring in rings], terms.deadline.check)
    twins = {i for i, up in enumerate(parent) if up is not None and alike(rings[i].path, rings[up].path)}
    if twins:  # drawn twice, they would leave a thread between
        message = f"{counted(len(twins), 'outline')} drawn twice, one just inside the other; taken once."
        found.append(note("outline-drawn-twice", message, listed([rings[i].ink.where for i in sorted(twins)])))
        return nested([ring for i, ring in enumerate(rings) if i not in twins], terms, found, fill)
    paths = [ring.path for ring in rings]
    if fill == "whole":
        return [_area(ring, region(ring.path)) for ring, up in zip(rings, parent, strict=True) if up is None]
    return [_area(rings[i], each) for i, each in nested_regions(paths, parent) if fill == "parity" or parent[i] is None]


def _area(ring: Ring, of: Region) -> Area:
    return Area(of, ring.ink, ring.at, ring.width)


def _told(how: Resolved, where: str, terms: Terms) -> Iterator[Finding]:
    made = how.made
    if made.gaps:
        widest = max(gap.width for gap in made.gaps)
        yield note(
            "gap-closed",
            f"{counted(len(made.gaps), 'gap')} between line ends closed, the widest {widest:.2g} mm.",
            f"{where}, at {_places([gap.at for gap in made.gaps], terms)}",
        )
    if made.repeated:
        yield note("repeated-line", f"{counted(len(made.repeated), 'line')} drawn twice; taken once.", where)
    if made.bare:
        yield note("line-without-length", f"{counted(len(made.bare), 'line')} without length left out.", where)
    if how.touched:
        ends = "a line ends" if len(how.touched) == 1 else "lines end"
        message = (
            f"At {counted(len(how.touched), 'place')} {ends} in the middle of another one; they were joined there."
        )
        yield note("end-on-line", message, f"{where}, at {_places(how.touched, terms)}")
    if how.crossed:
        message = f"At {counted(len(how.crossed), 'place')} lines of outlines cross; they were joined there."
        yield note("lines-joined-crossing", message, f"{where}, at {_places(how.crossed, terms)}")
    if made.junctions:
        yield warning(
            "junction",
            f"At {counted(len(made.junctions), 'place')} more than two lines meet; each area that they enclose was "
            "taken for a piece.",
            f"{where}, at {_places(made.junctions, terms)}",
            "Put lines that are only markings on a layer of their own.",
        )
    if how.crossing:
        yield note(
            "open-lines-cross",
            f"At {counted(len(how.crossing), 'place')} open lines cross one another. Lines that only cross enclose no "
            "piece: they were taken for markings.",
            f"{where}, at {_places(how.crossing, terms)}",
            "If they are the outline of a piece, trim them where they cross.",
        )


def _places(of: Sequence[complex], terms: Terms) -> str:
    return listed([terms.place(at) for at in of])
