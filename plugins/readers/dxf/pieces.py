"""A drawing's items become pieces, markings and fabrics.

Terminology
    group       strokes of one layer and color; loose ends are joined, and rings nested, within a group only
    fill        a HATCH or SOLID: an area drawn as such; one that fills a drawn outline colors it and is no second piece
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from clothpath.areas.twins import ALIKE_MM, alike, corners
from clothpath.design import Drawn, Fabric, Marking, Piece
from clothpath.findings import Finding, note, warning
from clothpath.picture.fabrics import guessed
from clothpath.plugins.readers.dxf.drawing import Content, Ink
from clothpath.plugins.readers.dxf.leftovers import listed
from clothpath.plugins.readers.dxf.rings import Area, Chain, Placed, Terms, in_mm, nested, ringed
from clothpath.plugins.readers.dxf.shapes import Stroke
from clothpath.units import both

__all__ = ["Names", "Picture", "drawn_by", "picture_of"]


WIDE_MM: Final = 1.0
"""From this width on a line may be meant as a shape, in mm."""


@dataclass
class Picture:
    """What the drawing shows, in mm."""

    pieces: tuple[Piece, ...] = ()
    markings: tuple[Marking, ...] = ()
    fabrics: tuple[Fabric, ...] = ()
    findings: list[Finding] = field(default_factory=list)


class Names:
    """Ids that are unique in a design."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self._counts: Counter[str] = Counter()

    def unique(self, wanted: str) -> str:
        """`wanted`, or with the first free number behind it."""
        name = wanted
        while name in self._taken:
            self._counts[wanted] += 1
            name = f"{wanted}-{self._counts[wanted] + 1}"
        self._taken.add(name)
        return name


def picture_of(content: Content, terms: Terms) -> Picture:
    """Pieces, markings and fabrics of a drawing."""
    picture = Picture()
    lines: dict[tuple[str, str], list[Placed]] = defaultdict(list)
    fills: dict[Ink, list[Placed]] = defaultdict(list)
    for at, item in enumerate(content.items):
        match item.what:
            case Stroke(fill=None):
                key = item.ink.layer, content.color(item.ink)
                lines[key].append(Placed(in_mm(item.what, terms.scale), item.ink, at))
            case Stroke():
                fills[item.ink].append(Placed(in_mm(item.what, terms.scale), item.ink, at))
    areas: list[Area] = []
    chains: list[Chain] = []
    for (layer, _), group in lines.items():
        rings, open_ones = ringed(group, f'layer "{layer}"', terms, picture.findings)
        areas += nested(rings, terms, picture.findings)
        chains += open_ones
    areas = _colored(areas, _fills(fills, content, terms, picture), picture)
    names = Names()
    pieces = [_piece(content, each, order, names) for order, each in enumerate(sorted(areas, key=_at), start=1)]
    picture.markings = tuple(_marking(content, chain, names) for chain in sorted(chains, key=_at))
    picture.pieces, picture.fabrics = guessed(pieces)
    if unnamed := [marking for marking in picture.markings if not marking.drawn.is_named_marking]:
        picture.findings.append(_open(unnamed, terms))
    picture.findings += _wide([*(piece.drawn for piece in picture.pieces), *(mark.drawn for mark in picture.markings)])
    return picture


def drawn_by(content: Content, of: Area | Chain) -> Drawn:
    """How the source draws it."""
    fill = of.fill if isinstance(of, Area) else None
    return Drawn(
        fill=fill,
        stroke=None if of.ink.kind in ("HATCH", "MPOLYGON", "SOLID", "TRACE") else content.color(of.ink),
        stroke_width=of.width,
        layer=of.ink.layer,
        groups=(of.ink.layer, *of.ink.blocks),
        element=of.ink.element,
        where=of.ink.where,
    )


def _at(of: Area | Chain) -> int:
    return of.at


def _fills(groups: dict[Ink, list[Placed]], content: Content, terms: Terms, picture: Picture) -> list[Area]:
    areas: list[Area] = []
    for ink, group in groups.items():
        rings, _ = ringed(group, ink.where, terms, picture.findings)
        fill = group[0].stroke.fill or "parity"
        areas += [replace(each, fill=content.color(ink)) for each in nested(rings, terms, picture.findings, fill)]
    return areas


def _colored(areas: list[Area], fills: list[Area], picture: Picture) -> list[Area]:
    """Areas drawn with lines take the color of the fills that cover them; other fills are areas of their own."""
    if not fills:
        return areas
    boxes = np.array([corners(each.region.outer) for each in areas]).reshape(-1, 4)
    apart: list[Area] = []
    for fill in fills:
        near = np.flatnonzero(np.abs(boxes - corners(fill.region.outer)).max(axis=1, initial=0) <= ALIKE_MM).tolist()
        same = [i for i in near if alike(areas[i].region.outer, fill.region.outer)]
        for i in same:
            areas[i] = replace(areas[i], fill=fill.fill)
        if not same:
            apart.append(fill)
    if len(apart) < len(fills):
        count = len(fills) - len(apart)
        message = f"{count} fill{'s lie' if count != 1 else ' lies'} within a drawn outline: taken for its color."
        picture.findings.append(note("fill-of-outline", message))
    return areas + apart


def _piece(content: Content, of: Area, order: int, names: Names) -> Piece:
    block = next((name for name in reversed(of.ink.blocks) if not name.startswith("*")), "")
    return Piece(
        id=names.unique(of.ink.element or f"piece-{order}"),
        label=f"{block or of.ink.layer} {order}",
        region=of.region,
        fabric="",
        order=order,
        drawn=drawn_by(content, of),
    )


def _marking(content: Content, of: Chain, names: Names) -> Marking:
    wanted = of.ink.element or f"line-{of.at + 1}"
    return Marking(names.unique(wanted), f"{of.ink.layer} line", of.path, drawn=drawn_by(content, of))


def _wide(drawn: Sequence[Drawn]) -> list[Finding]:
    wide = [each for each in drawn if (each.stroke_width or 0) >= WIDE_MM]
    if not wide:
        return []
    widest = max(each.stroke_width or 0 for each in wide)
    lines = f"{len(wide)} lines are" if len(wide) > 1 else "A line is"
    message = f"{lines} drawn up to {both(widest)} wide; the cut runs along the middle."
    hint = "Draw the two edges if the line itself is meant to be a piece."
    return [warning("wide-line", message, listed([each.where for each in wide]), hint)]


def _open(markings: Sequence[Marking], terms: Terms) -> Finding:
    one = len(markings) == 1
    what = "1 open line was" if one else f"{len(markings)} open lines were"
    return note(
        "open-line",
        f"{what} taken for {'a marking' if one else 'markings'}: {'it does' if one else 'they do'} not close.",
        listed([f"{each.drawn.where} from {terms.place(each.path.start)}" for each in markings]),
        "If one belongs to the edge of a piece, close it in the drawing, or have a wider gap closed: "
        '--set tidy.gap="1 mm", or gap = "1 mm" at the step tidy of a recipe.',
    )
