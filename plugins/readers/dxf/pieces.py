"""Strokes become pieces and markings.

Terminology
    group       strokes of one layer and color; loose ends are joined, and rings nested, within a group only
    ring        a closed loop, drawn closed or joined of loose edges, and the stroke it is named after
    fill        a HATCH or SOLID: an area drawn as such; one that fills a drawn ring colors it and is no second piece
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import shapely

from clothpath.chains import Joined, joined
from clothpath.curves import Affine, Outline, Path, area, backwards, flattened, outline
from clothpath.design import Drawn, Fabric, Marking, Piece
from clothpath.findings import Finding, note, warning
from clothpath.plugins.readers.dxf.drawing import Content, Stroke
from clothpath.plugins.readers.dxf.shapes import Shape, seen
from clothpath.regions import Region, regions_of, xy

__all__ = ["Picture", "picture_of"]

SAME_BOX_MM: Final = 0.1
"""A fill whose box agrees this well with a ring's, and whose area agrees within `SAME_AREA`, fills that ring."""
SAME_AREA: Final = 0.01
PLACES: Final = 5
"""So many places are named in one finding; the rest is counted."""


@dataclass
class Picture:
    """What the drawing shows, in mm."""

    pieces: tuple[Piece, ...] = ()
    markings: tuple[Marking, ...] = ()
    fabrics: tuple[Fabric, ...] = ()
    findings: list[Finding] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Ring:
    path: Outline
    stroke: Stroke
    at: int  # its place in drawing order


@dataclass(frozen=True, slots=True)
class _Area:
    region: Region
    stroke: Stroke
    at: int
    fill: str | None = None


def picture_of(content: Content, scale: float, gap: float) -> Picture:
    """Pieces, markings and fabrics of the strokes, `scale` mm to the unit, gaps up to `gap` mm closed."""
    picture = Picture()
    lines: dict[tuple[str, str], list[tuple[int, Stroke]]] = defaultdict(list)
    fills: dict[tuple[str, str], list[tuple[int, Stroke]]] = defaultdict(list)
    grow = Affine.scale(scale)
    for at, stroke in enumerate(content.strokes):
        if isinstance(stroke.shape, Shape):
            grown = replace(stroke, shape=replace(stroke.shape, edge=seen(stroke.shape.edge, grow)))
            if stroke.shape.filled:
                fills[stroke.handle, stroke.layer].append((at, grown))
            else:
                lines[stroke.layer, content.color(stroke)].append((at, grown))
    areas: list[_Area] = []
    chains: list[tuple[int, Stroke, Path]] = []
    for (layer, _), group in lines.items():
        rings, loose = _rings(group, gap, f'layer "{layer}"', picture.findings)
        chains += loose
        areas += _areas(rings)
    areas = _filled(
        areas, [found for group in fills.values() for found in _fill(group, gap, content, picture)], picture
    )
    areas.sort(key=lambda found: found.at)
    by_color = len({found.stroke.layer for found in areas}) < 2 and len({_color(content, f) for f in areas}) > 1
    taken: Counter[str] = Counter()
    pieces = [_piece(content, found, by_color, order, taken) for order, found in enumerate(areas, start=1)]
    marks = [_marking(content, chain, taken) for chain in sorted(chains, key=lambda chain: chain[0])]
    picture.pieces, picture.markings = tuple(pieces), tuple(marks)
    picture.fabrics = _fabrics(pieces)
    if marks:
        places = [f"{m.drawn.where} at {_place(m.path.start)}" for m in marks]
        picture.findings.append(
            note(
                "open-line",
                f"{len(marks)} open line{'s' if len(marks) != 1 else ''} taken for markings: they do not close, so "
                "they cannot be cut as a piece.",
                _listed(places),
                "If one belongs to a piece's outline, close it in the drawing, or allow a wider gap.",
            )
        )
    return picture


def _color(content: Content, found: _Area) -> str:
    return found.fill or content.color(found.stroke)


def _rings(
    group: Sequence[tuple[int, Stroke]], gap: float, where: str, findings: list[Finding]
) -> tuple[list[_Ring], list[tuple[int, Stroke, Path]]]:
    """Closed loops of a group, drawn so or joined, and what stays open."""
    rings: list[_Ring] = []
    loose: list[tuple[int, Stroke]] = []
    for at, stroke in group:
        shape = stroke.shape
        assert isinstance(shape, Shape)
        if shape.closed:
            rings.append(_Ring(outline(shape.edge.start, shape.edge.segments), stroke, at))
        else:
            loose.append((at, stroke))
    made = joined([stroke.shape.edge for _, stroke in loose if isinstance(stroke.shape, Shape)], gap)
    findings += _told(made, where)
    for run in made.loops:
        assert isinstance(run.path, Outline)
        at, stroke = loose[min(run.edges)]
        rings.append(_Ring(run.path, stroke, at))
    return rings, [(*loose[min(run.edges)], run.path) for run in made.chains]


def _told(made: Joined, where: str) -> Iterator[Finding]:
    if made.gaps:
        widest = max(gap.width for gap in made.gaps)
        yield note(
            "gap-closed",
            f"{len(made.gaps)} gap{'s' if len(made.gaps) != 1 else ''} between line ends closed, the widest "
            f"{round(widest, 3):g} mm.",
            f"{where}, at {_listed([_place(gap.at) for gap in made.gaps])}",
        )
    if made.repeated:
        count = len(made.repeated)
        yield note("repeated-line", f"{count} line{'s' if count != 1 else ''} drawn twice; taken once.", where)
    if made.bare:
        count = len(made.bare)
        yield note("line-without-length", f"{count} line{'s' if count != 1 else ''} without length left out.", where)
    if made.junctions:
        count = len(made.junctions)
        yield warning(
            "junction",
            f"At {count} place{'s' if count != 1 else ''} more than two lines meet; each area that they enclose was "
            "taken for a piece.",
            f"{where}, at {_listed([_place(at) for at in made.junctions])}",
            "Put lines that are only markings on a layer of their own.",
        )


def _areas(rings: Sequence[_Ring]) -> list[_Area]:
    """Regions of the rings of one group: a ring wholly inside another is its hole, one inside a hole a piece again."""
    rings = [ring for ring in rings if area(ring.path) != 0]
    if not rings:
        return []
    polygons = np.array([shapely.Polygon(xy(flattened(ring.path))) for ring in rings])
    shapely.prepare(polygons)
    inner, outer = shapely.STRtree(polygons).query(polygons, predicate="within")
    sizes = shapely.area(polygons)
    family = list(range(len(rings)))
    for small, large in zip(inner.tolist(), outer.tolist(), strict=True):
        if sizes[small] < sizes[large]:
            a, b = sorted((_head(family, small), _head(family, large)))
            family[b] = a
    members: dict[int, list[int]] = defaultdict(list)
    for i in range(len(rings)):
        members[_head(family, i)].append(i)
    areas: list[_Area] = []
    for group in members.values():
        named = {ring: rings[i] for i in group for ring in (rings[i].path, backwards(rings[i].path))}
        for found in regions_of([rings[i].path for i in group], "evenodd"):
            ring = named.get(found.outer, rings[group[0]])
            areas.append(_Area(found, ring.stroke, ring.at))
    return areas


def _head(family: list[int], i: int) -> int:
    while family[i] != i:
        family[i] = family[family[i]]
        i = family[i]
    return i


def _fill(group: Sequence[tuple[int, Stroke]], gap: float, content: Content, picture: Picture) -> list[_Area]:
    stroke = group[0][1]
    rings, _ = _rings(group, gap, f"element {stroke.handle}", picture.findings)
    return [replace(found, fill=content.color(found.stroke)) for found in _areas(rings)]


def _filled(areas: list[_Area], fills: list[_Area], picture: Picture) -> list[_Area]:
    """Areas drawn with lines take the color of the fills that cover them; other fills are areas of their own."""
    if not fills:
        return areas
    boxes = np.array([_box(found) for found in areas]).reshape(-1, 4)
    own: list[_Area] = []
    for fill in fills:
        near = np.flatnonzero(np.abs(boxes - _box(fill)).max(axis=1) <= SAME_BOX_MM) if len(boxes) else ()
        size = area(fill.region.outer)
        same = [i for i in near if abs(area(areas[i].region.outer) - size) <= SAME_AREA * size]
        if not same:
            own.append(fill)
        for i in same:
            areas[i] = replace(areas[i], fill=fill.fill)
    if len(own) < len(fills):
        count = len(fills) - len(own)
        picture.findings.append(
            note("fill-of-line", f"{count} fill{'s' if count != 1 else ''} lie in drawn outlines and color them only.")
        )
    return areas + own


def _box(found: _Area) -> tuple[float, float, float, float]:
    box = found.region.box
    return box.left, box.bottom, box.right, box.top


def _drawn(content: Content, stroke: Stroke, fill: str | None = None) -> Drawn:
    lined = not (isinstance(stroke.shape, Shape) and stroke.shape.filled)
    return Drawn(
        fill=fill,
        stroke=content.color(stroke) if lined else None,
        layer=stroke.layer,
        groups=(stroke.layer, *stroke.blocks),
        element=stroke.handle,
        where=f'{stroke.kind} {stroke.handle} on layer "{stroke.layer}"',
    )


def _piece(content: Content, found: _Area, by_color: bool, order: int, taken: Counter[str]) -> Piece:
    stroke = found.stroke
    name = stroke.blocks[-1] if stroke.blocks and not stroke.blocks[-1].startswith("*") else stroke.layer
    return Piece(
        id=_unique(stroke.handle or f"piece-{order}", taken),
        label=f"{name} {order}",
        region=found.region,
        fabric=_color(content, found) if by_color else stroke.layer,
        order=order,
        drawn=_drawn(content, stroke, found.fill),
    )


def _marking(content: Content, chain: tuple[int, Stroke, Path], taken: Counter[str]) -> Marking:
    at, stroke, path = chain
    return Marking(
        id=_unique(stroke.handle or f"line-{at + 1}", taken),
        label=f"{stroke.layer} line",
        path=path,
        drawn=_drawn(content, stroke),
    )


def _unique(wanted: str, taken: Counter[str]) -> str:
    taken[wanted] += 1
    while taken[wanted] > 1:
        name = f"{wanted}-{taken[wanted]}"
        if name not in taken:
            taken[name] += 1
            return name
        taken[wanted] += 1
    return wanted


def _fabrics(pieces: Iterable[Piece]) -> tuple[Fabric, ...]:
    found: dict[str, Fabric] = {}
    for piece in pieces:
        if piece.fabric not in found:
            found[piece.fabric] = Fabric(piece.fabric, piece.fabric, piece.drawn.color or "#808080")
    return tuple(found.values())


def _place(at: complex) -> str:
    return f"({round(at.real, 2):g}, {round(at.imag, 2):g}) mm"


def _listed(places: Sequence[str]) -> str:
    more = len(places) - PLACES
    return "; ".join(places[:PLACES]) + (f" and {more} more" if more > 0 else "")
