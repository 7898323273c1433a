"""Small DXF drawings written tag by tag, what they must show, and a second opinion on them.

A case names its purpose and the part of the DXF reference, or the formula, that settles what it must show. Nothing here
is written by a library; the second opinion is that of GDAL's DXF reader.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import pyogrio
import pyogrio.raw
import pytest
import shapely

from clothpath.curves import Box as CurveBox
from clothpath.curves import area, box_of
from clothpath.design import Design
from clothpath.findings import Outcome
from clothpath.plugins.readers.dxf import DxfReader
from clothpath.regions import box_of_regions, region_area

MM: Final = {"$INSUNITS": 4}
Box = tuple[float, float, float, float]


def tags(*pairs: object) -> str:
    """Tags: group code, value, group code, value, …"""
    return "".join(f"{code}\n{value}\n" for code, value in zip(pairs[::2], pairs[1::2], strict=True))


def dxf(
    *entities: str, header: dict[str, int] | None = None, layers: Sequence[str] = (), blocks: Sequence[str] = ()
) -> str:
    """A drawing with these entities; `header` holds 16-bit variables (group code 70)."""
    variables = "".join(tags(9, name, 70, value) for name, value in (MM if header is None else header).items())
    table = tags(0, "TABLE", 2, "LAYER", 70, len(layers)) + "".join(layers) + tags(0, "ENDTAB") if layers else ""
    return (
        tags(0, "SECTION", 2, "HEADER", 9, "$ACADVER", 1, "AC1015")
        + variables
        + tags(0, "ENDSEC")
        + tags(0, "SECTION", 2, "TABLES")
        + table
        + tags(0, "ENDSEC")
        + tags(0, "SECTION", 2, "BLOCKS")
        + "".join(blocks)
        + tags(0, "ENDSEC")
        + tags(0, "SECTION", 2, "ENTITIES")
        + "".join(entities)
        + tags(0, "ENDSEC", 0, "EOF")
    )


SUBCLASSES: Final = {
    "LINE": "AcDbLine", "CIRCLE": "AcDbCircle", "ELLIPSE": "AcDbEllipse", "LWPOLYLINE": "AcDbPolyline",
    "SPLINE": "AcDbSpline", "INSERT": "AcDbBlockReference", "HATCH": "AcDbHatch", "POINT": "AcDbPoint",
    "SOLID": "AcDbTrace", "TRACE": "AcDbTrace", "TEXT": "AcDbText", "MTEXT": "AcDbMText", "ARC": "AcDbCircle",
    "IMAGE": "AcDbRasterImage", "DIMENSION": "AcDbDimension", "3DSOLID": "AcDbModelerGeometry", "3DFACE": "AcDbFace",
    "REGION": "AcDbModelerGeometry", "BODY": "AcDbModelerGeometry", "MESH": "AcDbSubDMesh", "WIPEOUT": "AcDbWipeout",
    "RAY": "AcDbRay", "XLINE": "AcDbXline", "LEADER": "AcDbLeader", "MPOLYGON": "AcDbMPolygon", "SHAPE": "AcDbShape",
}  # fmt: skip
"""Subclass markers (group code 100) that a drawing since R13 has; POLYLINE and VERTEX stay as R12 has them."""
COMMON: Final = frozenset({60, 62, 67, 420})
"""Group codes that every entity shares and that stand before its subclass marker."""


def entity(kind: str, *pairs: object, layer: str = "a") -> str:
    """An entity, with its subclass markers where it has one."""
    each = list(zip(pairs[::2], pairs[1::2], strict=True))
    handle = tags(*(value for pair in each if pair[0] == 5 for value in pair))
    common = tags(*(value for pair in each if pair[0] in COMMON for value in pair))
    own = [pair for pair in each if pair[0] not in (5, *COMMON)]
    if kind not in SUBCLASSES:
        return tags(0, kind) + handle + tags(8, layer) + common + tags(*(value for pair in own for value in pair))
    late = 50 if kind == "ARC" else math.inf
    first = tags(*(value for pair in own if pair[0] < late for value in pair))
    rest = tags(*(value for pair in own if pair[0] >= late for value in pair))
    head = tags(0, kind) + handle + tags(100, "AcDbEntity", 8, layer) + common + tags(100, SUBCLASSES[kind])
    return head + first + (tags(100, "AcDbArc") + rest if rest else "")


def line(x0: float, y0: float, x1: float, y1: float, *more: object, layer: str = "a") -> str:
    return entity("LINE", 10, x0, 20, y0, 11, x1, 21, y1, *more, layer=layer)


def circle(x: float, y: float, r: float, *more: object, layer: str = "a") -> str:
    return entity("CIRCLE", 10, x, 20, y, 40, r, *more, layer=layer)


def arc(x: float, y: float, r: float, start: float, end: float, *more: object) -> str:
    return entity("ARC", 10, x, 20, y, 40, r, 50, start, 51, end, *more)


def lwpolyline(vertices: Sequence[tuple[float, ...]], closed: bool = True, *more: object, layer: str = "a") -> str:
    points = "".join(tags(10, v[0], 20, v[1], *((42, v[2]) if len(v) > 2 else ())) for v in vertices)
    return entity("LWPOLYLINE", 90, len(vertices), 70, int(closed), *more, layer=layer) + points


def polyline(vertices: Sequence[tuple[float, ...]], flags: int, vertex_flags: Sequence[int] = ()) -> str:
    body = "".join(
        entity("VERTEX", 10, v[0], 20, v[1], 30, 0, *((42, v[2]) if len(v) > 2 else ()), 70, f)
        for v, f in zip(vertices, vertex_flags or [0] * len(vertices), strict=True)
    )
    return entity("POLYLINE", 66, 1, 10, 0, 20, 0, 30, 0, 70, flags) + body + entity("SEQEND")


def spline(
    degree: int,
    knots: Sequence[float],
    poles: Sequence[tuple[float, float]],
    weights: Sequence[float] = (),
    flags: int = 8,
) -> str:
    return (
        entity(
            "SPLINE",
            210,
            0,
            220,
            0,
            230,
            1,
            70,
            flags | (4 if weights else 0),
            71,
            degree,
            72,
            len(knots),
            73,
            len(poles),
            74,
            0,
        )
        + "".join(tags(40, knot) for knot in knots)
        + "".join(tags(41, weight) for weight in weights)
        + "".join(tags(10, x, 20, y, 30, 0) for x, y in poles)
    )


def layer(name: str, color: int = 7, flags: int = 0, *more: object) -> str:
    return tags(0, "LAYER", 2, name, 70, flags, 62, color, 6, "CONTINUOUS", *more)


def block(name: str, *entities: str, base: tuple[float, float] = (0, 0), flags: int = 0) -> str:
    head = tags(0, "BLOCK", 8, "0", 2, name, 70, flags, 10, base[0], 20, base[1], 30, 0, 3, name)
    return head + "".join(entities) + tags(0, "ENDBLK", 8, "0")


def insert(name: str, x: float = 0, y: float = 0, *more: object, layer: str = "a") -> str:
    return entity("INSERT", 2, name, 10, x, 20, y, *more, layer=layer)


def hatch(*paths: str, style: int = 0, layer: str = "a", color: int = 3) -> str:
    return (
        entity(
            "HATCH",
            62,
            color,
            10,
            0,
            20,
            0,
            30,
            0,
            210,
            0,
            220,
            0,
            230,
            1,
            2,
            "SOLID",
            70,
            1,
            71,
            0,
            91,
            len(paths),
            layer=layer,
        )
        + "".join(paths)
        + tags(75, style, 76, 1, 98, 0)
    )


def polyline_path(vertices: Sequence[tuple[float, float, float]], flags: int = 3) -> str:
    return (
        tags(92, flags, 72, 1, 73, 1, 93, len(vertices))
        + "".join(tags(10, x, 20, y, 42, b) for x, y, b in vertices)
        + tags(97, 0)
    )


def edge_path(*edges: str, flags: int = 1) -> str:
    return tags(92, flags, 93, len(edges)) + "".join(edges) + tags(97, 0)


def square(x: float, y: float, side: float, *more: object, layer: str = "a") -> str:
    return lwpolyline([(x, y), (x + side, y), (x + side, y + side), (x, y + side)], True, *more, layer=layer)


@dataclass(frozen=True)
class Case:
    """A drawing and what it must show.

    Attributes:
        source: the part of the DXF reference, or the formula, that settles it.
        areas: of the pieces, in mm^2, in drawing order.
        box: of all pieces, in mm.
        codes: findings that must be among those made; every other finding is forbidden.
        lines: open lines that become markings.
        alike: another parser sees the same box of everything drawn.
    """

    purpose: str
    source: str
    text: str
    areas: tuple[float, ...] = ()
    box: Box | None = None
    codes: frozenset[str] = frozenset()
    holes: int = 0
    lines: int = 0
    colors: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()
    alike: bool = True


def case(
    purpose: str,
    source: str,
    text: str,
    areas: Sequence[float] = (),
    box: Box | None = None,
    codes: str = "",
    **more: object,
) -> Case:
    return Case(purpose, source, text, tuple(areas), box, frozenset(codes.split()), **more)  # type: ignore[arg-type]


def read(text: str | bytes, **given: object) -> Outcome[Design]:
    data = text if isinstance(text, bytes) else text.encode("cp1252")
    reader = DxfReader()
    assert reader.recognizes(data[:4096]) > 0
    return reader.read(data, reader.settings.model_validate(given))


def expected(case: Case) -> dict[str, object]:
    """What the case says, as `shown` would put it."""
    return {
        "codes": case.codes,
        "areas": pytest.approx(case.areas, rel=1e-5),
        "holes": case.holes,
        "lines": case.lines,
        "turned right": True,
        **({"box": pytest.approx(case.box, abs=1e-4)} if case.box else {}),
        **({"colors": case.colors} if case.colors else {}),
        **({"layers": case.layers} if case.layers else {}),
    }


def shown(case: Case) -> dict[str, object]:
    """What the reader makes of the case's drawing; only what the case speaks of."""
    outcome = read(case.text)
    pieces = outcome.value.pieces
    found = {
        "codes": {finding.code for finding in outcome.findings},
        "areas": tuple(region_area(piece.region) for piece in pieces),
        "holes": sum(len(piece.region.holes) for piece in pieces),
        "lines": len(outcome.value.markings),
        "turned right": all(
            area(p.region.outer) > 0 and all(area(hole) < 0 for hole in p.region.holes) for p in pieces
        ),
        "box": _edges(box_of_regions(piece.region for piece in pieces)),
        "colors": tuple(piece.drawn.color for piece in pieces),
        "layers": tuple(piece.drawn.layer for piece in pieces),
    }
    return {name: value for name, value in found.items() if name in expected(case)}


def _edges(box: CurveBox) -> Box:
    return box.left, box.bottom, box.right, box.top


def second_opinion(case: Case) -> tuple[Box, Box]:
    """The box of all that is drawn, in mm, by our reader and by GDAL's."""
    design = read(case.text).value
    ours = box_of([ring for piece in design.pieces for ring in piece.region] + [m.path for m in design.markings])
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.5", "DXF_ENCODING": "CP1252"})
    _, _, geometry, _ = pyogrio.raw.read(case.text.encode("cp1252"), columns=[])
    left, bottom, right, top = shapely.total_bounds(shapely.from_wkb(geometry)) * design.source.mm_per_unit
    return _edges(ours), (left, bottom, right, top)
