"""Open lines that all but close become pieces, and holes in pieces.

Terminology
    gap         what is open between two ends of lines that are meant to meet
    kin         outlines drawn as lines in one layer and color: nested in each other, they are pieces and holes
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence, Set
from dataclasses import replace
from itertools import count
from typing import Final, TypeAlias

import numpy as np

from clothpath.areas.chains import Gap, edges_of, joined
from clothpath.areas.nests import nested, parents
from clothpath.curves import OpenPath, Outline, length
from clothpath.design import Drawn, Marking, Piece
from clothpath.findings import note
from clothpath.fitting.pruning import BARE_MM
from clothpath.picture.fabrics import guessed
from clothpath.plugins.transforms.tidy.told import Told
from clothpath.regions import Region, region
from clothpath.units import both

__all__ = ["closed"]

DASHED_SHARE: Final = 0.1
"""Gaps that make up more of a loop than this are the gaps of a dashed line."""

Key: TypeAlias = "tuple[str, str | None]"


def closed(
    of_pieces: Sequence[Piece], markings: list[Marking], gap: float, told: Told
) -> tuple[list[Piece], list[Marking]]:
    """Pieces and markings, open lines that all but close made pieces."""
    pieces = list(of_pieces)
    before = -1
    while len(markings) != before:  # what an outline no longer touches may close in turn
        before = len(markings)
        pieces, markings = _closed_once(pieces, markings, gap, told)
    return _with_fabrics(pieces), markings


def _closed_once(
    pieces: list[Piece], markings: list[Marking], gap: float, told: Told
) -> tuple[list[Piece], list[Marking]]:
    groups: dict[Key, list[Marking]] = defaultdict(list)
    for marking in markings:
        if isinstance(marking.path, OpenPath) and marking.role == "mark" and marking.on is None:
            groups[_key(marking.drawn)].append(marking)
    used: set[str] = set()
    for key, group in groups.items():
        made = joined([edges_of(marking.path) for marking in group], gap)
        loops = [loop for loop in made.loops if loop.plain]
        new: list[Piece] = []
        for loop in loops:
            gaps = [each for each in made.gaps if _touches(loop.path, each)]
            if sum(each.width for each in gaps) > DASHED_SHARE * length(loop.path):
                continue
            members = [group[i] for i in loop.edges]
            used.update(member.id for member in members)
            made_of = _piece(members[0], loop.path, {piece.id for piece in (*pieces, *new)})
            new.append(made_of)
            _tell_closed(made_of, members, gaps, told)
        if new:
            pieces = _with_holes(pieces, new, key, told)
    return pieces, [marking for marking in markings if marking.id not in used]


def _key(drawn: Drawn) -> Key:
    return drawn.layer, drawn.color


def _piece(line: Marking, outline: Outline, taken: Set[str]) -> Piece:
    """The piece that a line became; a line without an id of its own in the source is called by the next free number."""
    if line.drawn.element:
        return Piece(line.id, line.label, region(outline), "", drawn=line.drawn)
    name = f"piece-{next(n for n in count(len(taken) + 1) if f'piece-{n}' not in taken)}"
    return Piece(name, name, region(outline), "", drawn=line.drawn)


def _touches(path: Outline, gap: Gap) -> bool:
    """Whether the gap was closed in this path."""
    return bool((np.abs(path.nodes[:, 0] - gap.at) <= BARE_MM).any())


def _tell_closed(made: Piece, members: Sequence[Marking], gaps: Sequence[Gap], told: Told) -> None:
    first, several = members[0], len(members) > 1
    lines = f"{len(members)} open lines" if several else "an open line"
    for each in gaps:
        became = f'{"they are" if several else "it is"} no marking now, but the outline of the piece "{made.id}"'
        message = f"A gap of {_gap_size(each.width)} in {lines} was closed: {became}."
        told.add(note, "gap-closed", message, first, each.at)
    if not gaps:
        what = f"{len(members)} lines that meet" if several else "A line that returns to its start"
        message = f'{what} {"were" if several else "was"} taken for the outline of the piece "{made.id}".'
        told.add(note, "lines-joined", message, first, first.path.start)


def _gap_size(mm: float) -> str:
    """A gap in inches and mm; one that no ruler shows with two digits."""
    return both(mm) if mm > 1 else f"{mm / 25.4:.2g} in ({mm:.2g} mm)"


def _with_holes(pieces: list[Piece], new: list[Piece], key: Key, told: Told) -> list[Piece]:
    """The new outlines among the pieces: nested in line drawings of the same layer and color, they are holes."""
    kin = [piece for piece in pieces if _key(piece.drawn) == key and piece.drawn.fill is None and piece.picture is None]
    together = [*kin, *new]
    owner = [k for k, piece in enumerate(together) for _ in piece.region]
    rings = [ring for piece in together for ring in piece.region]

    def related(inner: int, outer: int) -> bool:
        return owner[inner] == owner[outer] or max(owner[inner], owner[outer]) >= len(kin)

    remade: list[list[Region]] = [[] for _ in together]
    for i, each in nested(rings, parents(rings, related=related)):
        remade[owner[i]].append(each)
    for piece, regions in zip(together, remade, strict=True):
        if not regions:
            message = "An outline within another one of the same layer and color was taken for a hole in it."
            told.add(note, "hole-assigned", message, piece, piece.region.outer.start)
    regions_of = {id(piece): regions for piece, regions in zip(together, remade, strict=True)}
    return [
        replace(piece, region=each) for piece in (*pieces, *new) for each in regions_of.get(id(piece), [piece.region])
    ]


def _with_fabrics(pieces: list[Piece]) -> list[Piece]:
    """Pieces without a fabric take that of another one of their layer and color, or of their color."""
    known = {_key(piece.drawn): piece.fabric for piece in reversed(pieces) if piece.fabric}
    by_color = {piece.drawn.color: piece.fabric for piece in reversed(pieces) if piece.fabric}
    first_guess = {piece.id: piece.fabric for piece in guessed([piece for piece in pieces if not piece.fabric])[0]}
    return [
        piece
        if piece.fabric
        else replace(
            piece, fabric=known.get(_key(piece.drawn)) or by_color.get(piece.drawn.color) or first_guess[piece.id]
        )
        for piece in pieces
    ]
