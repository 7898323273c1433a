"""What helps to sort pieces once they are cut: which of them are alike, and which only look so.

Terminology
    number      the place of a piece in the layering order, counted from 1 without gaps, as on the placement guide
    alike       cut from one fabric and the same up to a turn that its grain allows: any of them fits
    pair        pieces that are alike, and others that are their mirror image: a left and a right wing
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from clothpath.design import Design
from clothpath.findings import together
from clothpath.picture.likeness import interchangeable

__all__ = ["sorting_words"]

MOST: Final = 8
"""So many sentences are written; a picture of many equal pieces would fill the page."""


def sorting_words(design: Design) -> tuple[str, ...]:
    """Sentences about the pieces that are alike, and about mirror images, by their numbers; the largest classes first.

    As "2 to 7 are alike: any of them fits in any of these places."
    """
    numbers = {piece.id: n for n, piece in enumerate(sorted(design.cut_pieces, key=lambda piece: piece.order), 1)}
    classes = sorted(interchangeable(design), key=lambda each: -len(each.pieces) - len(each.mirrored))
    sides = [([numbers[piece] for piece in each.pieces], [numbers[piece] for piece in each.mirrored])
             for each in classes[:MOST]]  # fmt: skip
    said = [
        f"{_runs(some)} are alike: any of them fits in any of these places."
        for side in sides
        for some in side
        if len(some) > 1
    ]
    pairs = "; ".join(f"{_runs(own)} of {_runs(others)}" for own, others in sides if others)
    if pairs:
        said.append(f"Mirror images, which do not fit in each other's places: {pairs}.")
    return tuple(said)


def _runs(numbers: Sequence[int]) -> str:
    """Rising numbers in words, those that follow each other together: "1, 3 and 5 to 7"."""
    breaks = [i for i, (one, other) in enumerate(pairwise(numbers), 1) if other != one + 1]
    runs = [numbers[a:b] for a, b in pairwise([0, *breaks, len(numbers)])]
    words: list[str] = []
    for run in runs:
        words += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(n) for n in run]
    return together(words)
