"""What the engine is asked: the least strip, what goes into a rectangle, which rectangles to cut.

Every packing returned has passed the checker. Without seconds of effort nothing here reads a clock or a random source:
the same parts give the same packing, to the byte.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from .fits import packed_rectangle
from .job import QUICK, Effort, made_ready, tried_turns
from .likes import Likes
from .parts import BadPartError, Packing, Part, Points, UnprovedError
from .rects import packed_rectangles
from .strips import packed_strip
from .turns import lack

__all__ = ["candidates", "fill", "fit", "oversize", "strip"]

MOST_FILLED: Final = 3000
"""Copies beyond which a rectangle is not filled with one part."""


def strip(
    parts: Sequence[Part], height: float, spacing: float = 0.0, margin: float = 0.0, effort: Effort = QUICK
) -> Packing:
    """The narrowest rectangle of `height` mm found that takes every copy.

    Args:
        parts: what to lay, keys all different.
        height: mm, with its margins.
        spacing: least distance between two copies, mm.
        margin: least distance from all four sides, mm.
        effort: quick, or for how long to search.

    Raises:
        BadPartError: a part is no area, or taller than the strip in all its turns.
        NestingError: spacing, margin or height is not a length.
    """
    likes = Likes.of(parts)
    if likes.some_alike:
        packing = likes.proved(strip(likes.stand_ins, height, spacing, margin, likes.told(effort)), spacing, margin)
        if packing is not None:
            return packing
    job = made_ready(parts, spacing, margin, (height,))
    for blank in job.ready:
        short = lack(blank, float("inf"), height - 2 * margin)
        if short:
            raise BadPartError(
                blank.part.key, f"in its lowest allowed turn it is {short:.2f} mm too tall for the strip"
            )
    if not job.copies:
        return Packing(2 * margin, height, ())
    best = packed_strip(job, height, effort)
    if best is None:
        raise UnprovedError("no arrangement of the strip passed the check")
    return best


def fit(
    parts: Sequence[Part],
    width: float,
    height: float,
    spacing: float = 0.0,
    margin: float = 0.0,
    effort: Effort = QUICK,
    blocked: Sequence[Points] = (),
) -> Packing:
    """A packing of the rectangle; `left` names the copies that found no room (empty: all lie in it).

    Args:
        parts: what to lay, keys all different.
        width: mm, with its margins.
        height: mm, with its margins.
        spacing: least distance between two copies, mm.
        margin: least distance from all four sides and from the blocked areas, mm.
        effort: quick, or for how long to search where the quick search leaves something out.
        blocked: outlines in the rectangle's coordinates where nothing may lie: a keep-out area, or what an irregular
            scrap lacks of its box.

    Raises:
        BadPartError: a part is no area.
        NestingError: spacing, margin, width or height is not a length.
    """
    likes = Likes.of(parts)
    if likes.some_alike:
        found = fit(likes.stand_ins, width, height, spacing, margin, likes.told(effort), blocked)
        packing = likes.proved(found, spacing, margin, blocked)
        if packing is not None:
            return packing
    return packed_rectangle(made_ready(parts, spacing, margin, (width, height), blocked), width, height, effort)


def fill(
    parts: Sequence[Part],
    width: float,
    height: float,
    spacing: float = 0.0,
    margin: float = 0.0,
    effort: Effort = QUICK,
    blocked: Sequence[Points] = (),
) -> Packing:
    """As many copies as found room; each part's `count` is its upper limit, and `left` says what remains of it.

    Arguments and errors as for `fit`.
    """
    job = made_ready(parts, spacing, margin, (width, height), blocked)
    room = max(width - 2 * margin + spacing, 0.0) * max(height - 2 * margin + spacing, 0.0)
    most = {blank.part.key: min(int(room / blank.area) + 1, MOST_FILLED) for blank in job.ready}
    limited = [replace(part, count=min(part.count, most.get(part.key, 0))) for part in parts]
    packing = fit(limited, width, height, spacing, margin, effort, blocked)
    lying = {part.key: 0 for part in parts}
    for spot in packing.spots:
        lying[spot.key] += 1
    left = tuple((part.key, part.count - lying[part.key]) for part in parts if part.count > lying[part.key])
    return replace(packing, left=left)


def candidates(
    parts: Sequence[Part],
    max_width: float,
    max_height: float,
    spacing: float = 0.0,
    margin: float = 0.0,
    limit: int = 8,
    step: float = 0.0,
    effort: Effort = QUICK,
) -> tuple[Packing, ...]:
    """Up to `limit` rectangles of small area and unlike shape that take every copy, the smallest area first.

    Where they are cut at multiples of `step` mm, that area counts; the packings are as small as found. Of `effort` only
    the breadth counts.

    None is both wider and higher than another. Empty when no rectangle within `max_width` x `max_height` mm was found;
    `oversize` then tells whether a part is to blame.

    Raises:
        BadPartError: a part is no area.
        NestingError: spacing, margin or a size is not a length.
    """
    likes = Likes.of(parts)
    if likes.some_alike:
        found = candidates(likes.stand_ins, max_width, max_height, spacing, margin, limit, step, effort)
        packings = [likes.proved(packing, spacing, margin) for packing in found]
        if all(packings):
            return tuple(packing for packing in packings if packing)
    job = made_ready(parts, spacing, margin, (max_width, max_height))
    inner = (max_width - 2 * margin, max_height - 2 * margin)
    return tuple(packed_rectangles(job, *inner, limit, step, effort.breadth))


def oversize(parts: Sequence[Part], width: float, height: float, margin: float = 0.0) -> tuple[tuple[str, float], ...]:
    """Keys of the parts that fit into the rectangle in none of their turns, and by how many mm each is too large.

    Raises:
        BadPartError: a part is no area.
        NestingError: margin, width or height is not a length.
    """
    job = made_ready(parts, 0.0, margin, (width, height))
    inner = (width - 2 * margin, height - 2 * margin)
    lacks = {
        blank.part.key: lack(blank, *inner)
        for blank, some in zip(job.ready, tried_turns(job, *inner), strict=True)
        if not some
    }
    return tuple((key, short) for key, short in lacks.items() if short)
