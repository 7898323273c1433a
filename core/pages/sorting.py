"""What helps to sort pieces once they are cut: which of them are alike, and which only look so.

Terminology
    number      the place of a piece in the layering order, counted from 1 without gaps, as on the placement guide; on a
                job sheet a bare number would be read as that of a fabric rectangle
    alike       cut from one fabric and the same up to a turn that its grain allows: any of them fits
    pair        pieces that are alike, and others that are their mirror image: a left and a right wing
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from clothpath.design import Design, fabric_of
from clothpath.files.names import shown
from clothpath.findings import first_few, together
from clothpath.picture.likeness import interchangeable

__all__ = ["sorting_words"]

MOST: Final = 8
"""So many sentences are written; a picture of many equal pieces would fill the page."""
NAMED: Final = 6
"""So many pieces of a class are named; the rest is counted."""
LONGEST: Final = 40
"""Most letters of a name."""


def sorting_words(design: Design) -> tuple[str, ...]:
    """Sentences about the pieces that are alike, and about mirror images, by name; the largest classes first.

    As "petal-1 and petal-4 (red, 2 and 5 on the placement guide) are alike: any of them fits in any of these places."
    """
    classes = sorted(interchangeable(design), key=lambda each: -len(each.pieces) - len(each.mirrored))
    sides = [(each.pieces, each.mirrored) for each in classes[:MOST]]
    said = [
        f"{_named(design, some)} are alike: any of them fits in any of these places."
        for side in sides
        for some in side
        if len(some) > 1
    ]
    said += [
        f"{_named(design, own)} and {_named(design, others)} are mirror images: they do not fit in each other's places."
        for own, others in sides
        if others
    ]
    return tuple(said)


def _named(design: Design, some: Sequence[str]) -> str:
    """Pieces of one fabric by name, with the fabric and their numbers: "wing (brown, 2 on the placement guide)"."""
    ordered = sorted(design.cut_pieces, key=lambda piece: piece.order)
    own = [(number, piece) for number, piece in enumerate(ordered, 1) if piece.id in some]
    labels = Counter(shown(piece.label or piece.id, LONGEST) for _, piece in own)
    names = [label if count == 1 else f"{count} called {label}" for label, count in labels.items()]
    fabric = fabric_of(design.fabrics, own[0][1].fabric)
    where = (
        f"{shown(fabric.label or fabric.key, LONGEST)}, {_runs([number for number, _ in own])} on the placement guide"
    )
    return f"{together(first_few(names, NAMED))} ({where})"


def _runs(numbers: Sequence[int]) -> str:
    """Rising numbers in words, those that follow each other together: "1, 3 and 5 to 7"."""
    breaks = [i for i, (one, other) in enumerate(pairwise(numbers), 1) if other != one + 1]
    runs = [numbers[a:b] for a, b in pairwise([0, *breaks, len(numbers)])]
    words: list[str] = []
    for run in runs:
        words += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(n) for n in run]
    return together(words)
