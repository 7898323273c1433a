"""Where in a picture something is, as findings say it.

Terminology
    spot        a place in the picture, told by how far it is from the left and from the bottom of the finished picture
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from clothpath.design import Design
from clothpath.units import both

__all__ = ["corner_of", "pairs_told", "place_words", "spots_on"]


def corner_of(design: Design) -> complex:
    """The lower left corner of the finished picture.

    Raises:
        ValueError: nothing is cut.
    """
    box = design.finished_box
    return complex(box.left, box.bottom)


def spots_on(piece: str, spots: Sequence[complex], corner: complex, most: int) -> str:
    """The piece and its spots, from the lowest up, `most` of them with their places."""
    relative = sorted((spot - corner for spot in spots), key=lambda spot: (round(spot.imag, 1), round(spot.real, 1)))
    shown = ", at ".join(place_words(spot) for spot in relative[:most])
    more = f" and {len(relative) - most} more" if len(relative) > most else ""
    return f"{piece} at {shown} of the picture{more}"


def place_words(spot: complex) -> str:
    """A place counted from a lower left corner: "1 in (25.4 mm) from the left and 2 in (50.8 mm) from the bottom"."""
    return f"{both(max(0.0, spot.real))} from the left and {both(max(0.0, spot.imag))} from the bottom"


def pairs_told(design: Design, pairs: Iterable[tuple[str, str]], most: int) -> str:
    """Pairs of piece ids by their labels, each pair once, up to so many."""
    labels = {piece.id: piece.label for piece in design.pieces}
    told = list(dict.fromkeys(f'"{labels[lower]}" and "{labels[upper]}"' for lower, upper in pairs))
    return "; ".join(told[:most]) + (f"; and {len(told) - most} more pairs" if len(told) > most else "")
