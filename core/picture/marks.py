"""Which piece a marking is drawn on, and how much of it.

Terminology
    holder      of a path: the topmost piece that holds its middle, else the one that holds most of it
    lost        a marking, or the part of one, that lies on no piece

A marking is drawn on cloth, so none reaches beyond the piece that it is drawn on: a machine that takes it for a cut
would cut the neighbor. One that runs over several pieces is divided among them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import shapely

from clothpath.areas.stretches import inside
from clothpath.curves import Outline, Path, length
from clothpath.design import Marking, Piece
from clothpath.regions import Region, as_line, as_polygon

__all__ = ["Placed", "kept_on", "placed_on"]

BEYOND_MM: Final = 0.1
"""A marking that reaches no farther beyond its piece is left as it is: it was drawn up to the edge."""
SPECK_MM: Final = 1.0
"""Stretches of a divided marking that are shorter are left out."""
KEPT: Final = 256
"""Of how many pieces a process keeps what is drawn on them: jobs of one design in one size follow each other."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Markings on their pieces, the ids of those of which nothing is left, and of those that lost a part."""

    markings: tuple[Marking, ...]
    lost: tuple[str, ...] = ()
    shortened: tuple[str, ...] = ()


def placed_on(pieces: Sequence[Piece], markings: Sequence[Marking]) -> Placed:
    """The markings, each on its piece, divided where they run over several; those that are omitted stay as they are.

    Args:
        pieces: those that are cut.
    """
    if not markings:
        return Placed(())
    ranked = sorted(pieces, key=lambda piece: -piece.order)
    areas = [(piece.id, _area(piece.finished)) for piece in ranked]
    taken = {marking.id for marking in markings}
    found: list[Marking] = []
    lost: list[str] = []
    shortened: list[str] = []
    for marking in markings:
        if marking.role != "mark":
            found.append(marking)
            continue
        parts = list(_parts(marking.path, areas))
        on = [(piece, path) for piece, path in parts if piece is not None]
        if not on:
            lost.append(marking.id)
            found.append(replace(marking, on=None))
        elif len(on) < len(parts):
            shortened.append(marking.id)
        for n, (piece, path) in enumerate(on):
            found.append(replace(marking, id=_unused(marking.id, taken) if n else marking.id, path=path, on=piece))
    return Placed(tuple(found), tuple(lost), tuple(shortened))


def kept_on(region: Region, paths: Sequence[Path]) -> list[Path]:
    """What is left of paths on a piece once nothing of them reaches beyond its region."""
    return list(_kept(region, tuple(paths)))


@lru_cache(maxsize=KEPT)
def _kept(region: Region, paths: tuple[Path, ...]) -> tuple[Path, ...]:
    area = _area(region)
    return tuple(part for path in paths for part in _within(path, area))


def _area(region: Region) -> shapely.Geometry:
    area = shapely.make_valid(as_polygon(region))
    shapely.prepare(area)
    return area


def _within(path: Path, area: shapely.Geometry) -> list[Path]:
    line = as_line(path)
    if shapely.covers(area, line) or shapely.covers(shapely.buffer(area, BEYOND_MM), line):
        return [path]
    return [part for part in inside(path, area) if length(part) >= SPECK_MM]


def _parts(path: Path, areas: Sequence[tuple[str, shapely.Geometry]]) -> Iterator[tuple[str | None, Path]]:
    """The stretches of a path, each with the piece that it is drawn on; None for those on no piece."""
    line = as_line(path)
    touched = [(piece, area) for piece, area in areas if shapely.intersects(area, line)]
    if not touched:
        yield None, path
        return
    middle = _middle(path)
    holder = next((each for each in touched if shapely.covers(each[1], middle)), None)
    if holder is None:
        holder = max(touched, key=lambda each: float(shapely.length(shapely.intersection(each[1], line))))
    piece, area = holder
    kept = _within(path, area)
    yield from ((piece, part) for part in kept)
    if kept == [path]:
        return
    others = [each for each in areas if each[0] != piece]
    around = shapely.difference(shapely.buffer(shapely.envelope(shapely.union(line, area)), 1.0), area)
    for rest in inside(path, around):
        if length(rest) >= SPECK_MM:
            yield from _parts(rest, others)


def _middle(path: Path) -> shapely.Point:
    """A point within a closed path, the point half along an open one."""
    line = as_line(path)
    if isinstance(path, Outline) and len(line.coords) > 3:
        return shapely.Polygon(line).representative_point()
    return shapely.line_interpolate_point(line, 0.5, normalized=True)


def _unused(name: str, taken: set[str]) -> str:
    """The name with the next number that no marking has."""
    number = 2
    while f"{name}-{number}" in taken:
        number += 1
    taken.add(f"{name}-{number}")
    return f"{name}-{number}"
