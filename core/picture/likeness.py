"""Which regions are alike: the same up to a turn and a shift, or seen in a mirror; and the symmetry of each.

Terminology
    mirror image    the region flipped, x -> -x
    achiral         so like its mirror image that nobody can tell whether it was reversed
    order           how many turns of a full circle lay a region onto itself; 1: only the full turn
    axis            a line through the center in which a region is its own mirror image
    class           pieces that are alike, and those that are like their mirror image
    interchangeable pieces of one fabric that are alike under a turn that its grain allows: whichever lies where, the
                    quilt looks the same
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from clothpath.design import GRAIN_TURNS, Design, Grain, Piece
from clothpath.picture.registration import Rings, aligned, aligned_at, mirrored, rings
from clothpath.regions import Region

__all__ = [
    "LIKE_MM",
    "Class",
    "Likeness",
    "Symmetry",
    "interchangeable",
    "is_achiral",
    "likeness",
    "relative_turns",
    "symmetry",
]

LIKE_MM: Final = 0.05
"""Regions within this of each other are the same to the eye and to the needle."""

AXIS_DIGITS: Final = 3
"""Decimals to which the direction of an axis is told, in degrees; 179.9999 is 0."""


@dataclass(frozen=True, slots=True)
class Symmetry:
    """What lays a region onto itself.

    Attributes:
        order: turns by a multiple of 360/order degrees fit; 0: any turn does.
        axes_deg: the directions of the axes, in [0, 180), rising; of a region that fits under any turn only one of all.
    """

    order: int
    axes_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Class:
    """Pieces that are alike, in layering order.

    Attributes:
        pieces: ids of the first and all that are congruent to it.
        mirrored: ids of those that are congruent to its mirror image only.
    """

    pieces: tuple[str, ...]
    mirrored: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Likeness:
    """Derived knowledge about the pieces of a design that are cut; the pieces themselves stay as they are.

    Attributes:
        symmetries: piece id and its symmetry, in layering order.
        classes: every piece is in exactly one.
    """

    symmetries: tuple[tuple[str, Symmetry], ...]
    classes: tuple[Class, ...]


def relative_turns(grain: Grain) -> tuple[float, ...] | None:
    """The turns between two ways in which the grain lets a piece lie; None: any turn.

    A piece and its mirror image lie alike on the cloth if R(s) P = R(t) F P for two turns s, t that the grain allows:
    what counts is the difference s - t, so that bias (45, 135, ... degrees) has the quarter turns.
    """
    turns = GRAIN_TURNS[grain]
    if turns is None:
        return None
    return tuple(sorted({(s - t) % 360 for s in turns for t in turns}))


def is_achiral(region: Region, grain: Grain) -> bool:
    """Whether the region's mirror image matches it within `LIKE_MM` under a turn that the grain allows."""
    return _is_achiral(region, relative_turns(grain))


@lru_cache(maxsize=4096)
def _is_achiral(region: Region, turns: tuple[float, ...] | None) -> bool:
    own = rings(region)
    return _alike(mirrored(own), own, turns)


def _alike(one: Rings, other: Rings, turns: tuple[float, ...] | None) -> bool:
    """Whether one lies on the other within `LIKE_MM` under one of the turns; None: under any."""
    if turns is None:
        return bool(aligned(one, other, LIKE_MM))
    # the best turn of all is at least as good as the best of these, but for what least squares and maximum differ by
    if not aligned(one, other, 2 * LIKE_MM):
        return False
    return any(each.deviation <= LIKE_MM for each in aligned_at(one, other, turns))


def interchangeable(design: Design) -> tuple[Class, ...]:
    """The classes of pieces of one fabric that are alike as they are cut, under a turn that the grain allows.

    Only those of more than one piece; `mirrored` are pieces that are like the mirror image of the others and not like
    themselves: easily mixed up, and they do not fit.
    """
    found: list[Class] = []
    for fabric in design.fabrics:
        turns = relative_turns(fabric.grain)
        found += _classes([piece for piece in design.cut_pieces if piece.fabric == fabric.key], turns)
    order = {piece.id: i for i, piece in enumerate(design.cut_pieces)}
    several = [each for each in found if len(each.pieces) + len(each.mirrored) > 1]
    return tuple(sorted(several, key=lambda each: order[each.pieces[0]]))


def _classes(pieces: Sequence[Piece], turns: tuple[float, ...] | None) -> list[Class]:
    """The classes of the pieces, in the order of their first ones."""
    classes: list[tuple[Rings, list[str], list[str]]] = []
    for piece in pieces:
        own = rings(piece.region)
        for first, same, like_the_image in classes:
            if _alike(own, first, turns):
                same.append(piece.id)
                break
            if _alike(mirrored(own), first, turns):
                like_the_image.append(piece.id)
                break
        else:
            classes.append((own, [piece.id], []))
    return [Class(tuple(same), tuple(like_the_image)) for _, same, like_the_image in classes]


def symmetry(region: Region, tolerance: float = LIKE_MM) -> Symmetry:
    """The turns and axes of symmetry of the region."""
    own = rings(region)
    onto_itself = aligned(own, own, tolerance)
    order = 0 if any(each.any_turn for each in onto_itself) else max(1, len(onto_itself))
    # R(t) F with F: x -> -x is the reflection in the direction 90 + t/2 degrees
    axes = (round(90 + each.turn_deg / 2, AXIS_DIGITS) % 180 for each in aligned(mirrored(own), own, tolerance))
    return Symmetry(order, tuple(sorted(axes)))


def likeness(design: Design) -> Likeness:
    """The symmetries and the classes of the pieces that are cut, whatever they are cut from."""
    symmetries = tuple((piece.id, symmetry(piece.region)) for piece in design.cut_pieces)
    return Likeness(symmetries, tuple(_classes(design.cut_pieces, None)))
