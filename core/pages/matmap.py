"""A plain drawing of a mat for people: where each fabric rectangle lies, with words that fit into it.

Terminology
    map         the drawing, in its own units (pixels), y down
    shown       how much of the mat's height is drawn: all, but of a long mat that is used by less than half, that part
    wordings    what may be written in a box of the map, the best first: the first that fits is
    upright     words that run from bottom to top, in boxes that are narrow and high
    edges       the nearer one of left and right, and of top and bottom: from there a person measures
    whole scrap an irregular scrap that lies on the mat as it is: its own outline is drawn inside its box
    scrap map   a small drawing of an irregular scrap, with the rectangles that are cut from it
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final, Literal

from clothpath.cloth.scraps import inscribed
from clothpath.cloth.stock import is_whole
from clothpath.curves import Affine, Box, flattened
from clothpath.layout import Layout, Mat, Stock
from clothpath.regions import Region, moved

__all__ = [
    "BoxOnMap",
    "MapLine",
    "MatMap",
    "Measure",
    "ScrapMap",
    "box_on_map",
    "map_of",
    "measured_from",
    "scrap_map",
    "whole_scrap",
]

WIDE: Final = 560.0
HIGH: Final = 500.0
"""The mat's largest size on the map."""
SCRAP_WIDE: Final = 120.0
SCRAP_HIGH: Final = 80.0
"""A scrap's largest size on its own map."""
RIM: Final = 26.0
"""What the map has around the mat, for words."""
SIZES: Final = (16.0, 14.0, 12.5)
"""Sizes of letters that are tried, the best first; the least can still be read where the map is printed small."""
LETTER: Final = 0.56
"""Average width of a letter, as a share of its size."""
LEADING: Final = 1.28
PADDING: Final = 5.0
LONG: Final = 2.0
"""A mat this many times as high as it is wide, or more, is drawn only as far as it is used."""
BEYOND: Final = 0.03
"""How much of a long mat's height is drawn beyond what is used."""
TINT: Final = 0.62
"""How much white a fabric's color is mixed with, so that black words can be read on it."""


@dataclass(frozen=True, slots=True)
class MatMap:
    """The whole drawing: its size, and where the mat is on it; `shown` mm of the mat's height, from the bottom."""

    width: float
    height: float
    left: float
    top: float
    wide: float
    high: float
    scale: float
    shown: float


@dataclass(frozen=True, slots=True)
class MapLine:
    """One line of words: its baseline from the middle of its box, and the size of its letters."""

    words: str
    y: float
    size: float


@dataclass(frozen=True, slots=True)
class BoxOnMap:
    """A fabric rectangle on the map, with its tint, and its words about a middle of their own.

    Attributes:
        outline: of a whole scrap, as points of a polygon.
    """

    x: float
    y: float
    width: float
    height: float
    fill: str
    upright: bool
    lines: tuple[MapLine, ...]
    middle_x: float
    middle_y: float
    outline: str = ""


@dataclass(frozen=True, slots=True)
class ScrapMap:
    """A scrap seen from the right side: the drawing's size, its outline, and (x, y, width, height) of rectangles."""

    width: float
    height: float
    outline: str
    boxes: tuple[tuple[float, float, float, float], ...]


@dataclass(frozen=True, slots=True)
class Measure:
    """How far a box is from the nearer edges of the mat, in mm."""

    across: float
    across_edge: Literal["left", "right"]
    along: float
    along_edge: Literal["bottom", "top"]


def map_of(mat: Mat, highest: float) -> MatMap:
    """The map on which a mat is as large as fits; `highest` is how far up anything lies on it, in mm."""
    shortened = mat.height > LONG * mat.width and highest < mat.height / 2
    shown = highest + BEYOND * mat.height if shortened else mat.height
    scale = min(WIDE / mat.width, HIGH / shown)
    wide, high = round(mat.width * scale, 2), round(shown * scale, 2)
    return MatMap(round(wide + 2 * RIM, 2), round(high + 2 * RIM, 2), RIM, RIM, wide, high, scale, shown)


def box_on_map(
    box: Box, on: MatMap, color: str, wordings: Sequence[Sequence[str]], scrap: Region | None = None
) -> BoxOnMap:
    """A box on the mat as it is drawn, with the first of the wordings that fits, or the last; a whole scrap in it.

    What is written on a whole scrap stands where there is cloth.
    """
    x, y = on.left + box.left * on.scale, on.top + (on.shown - box.top) * on.scale
    width, height = box.width * on.scale, box.height * on.scale
    rooms = sorted(inscribed(scrap, 0.0) if scrap else (), key=lambda room: -room.width * room.height) or [box]
    room, upright, lines = _fitted(wordings, rooms, on.scale)
    middle = complex(on.left, on.top + on.shown * on.scale) + room.center.conjugate() * on.scale
    outline = "" if scrap is None else _drawn(scrap, complex(on.left, on.top + on.shown * on.scale), on.scale)
    return BoxOnMap(
        round(x, 2),
        round(y, 2),
        round(width, 2),
        round(height, 2),
        _tinted(color),
        upright,
        lines,
        round(middle.real, 2),
        round(middle.imag, 2),
        outline,
    )


def scrap_map(stock: Stock, boxes: Sequence[Box]) -> ScrapMap:
    """The drawing of an irregular scrap with rectangles that are cut from it.

    Raises:
        ValueError: the stock is no irregular scrap.
    """
    if stock.outline is None or stock.height is None:
        raise ValueError("only an irregular scrap has a drawing")
    scale = min(SCRAP_WIDE / stock.width, SCRAP_HIGH / stock.height)
    corner = complex(1.0, 1.0 + stock.height * scale)
    shown = tuple(
        (
            round(corner.real + box.left * scale, 2),
            round(corner.imag - box.top * scale, 2),
            round(box.width * scale, 2),
            round(box.height * scale, 2),
        )
        for box in boxes
    )
    size = round(stock.width * scale + 2, 2), round(stock.height * scale + 2, 2)
    return ScrapMap(*size, _drawn(stock.outline, corner, scale), shown)


def _drawn(scrap: Region, corner: complex, scale: float) -> str:
    """The outline as points of a polygon on a map whose lower left corner is there."""
    points = (corner + p.conjugate() * scale for p in flattened(scrap.outer, 1 / scale).tolist())
    return " ".join(f"{p.real:.2f},{p.imag:.2f}" for p in points)


def whole_scrap(layout: Layout, mat: int, swatch: int) -> Region | None:
    """The outline on the mat of the irregular scrap that a swatch is as a whole; None for a rectangle."""
    on_mat = layout.mats[mat].swatches[swatch]
    cut = next((each for each in layout.cut_from if (each.mat, each.swatch) == (mat, swatch)), None)
    if cut is None or not is_whole(stock := layout.stock[cut.stock], cut) or stock.outline is None:
        return None
    seen = Affine.shift(complex(stock.width)) @ Affine.flip() if on_mat.laid == "wrong-side-up" else Affine()
    return moved(stock.outline, on_mat.affine @ seen)


def measured_from(box: Box, mat: Mat) -> Measure:
    """How far the box is from the nearer edges of the mat."""
    right, top = mat.width - box.right, mat.height - box.top
    from_left, from_bottom = box.left <= right, box.bottom <= top
    return Measure(
        max(0.0, box.left if from_left else right),
        "left" if from_left else "right",
        max(0.0, box.bottom if from_bottom else top),
        "bottom" if from_bottom else "top",
    )


def _fitted(
    wordings: Sequence[Sequence[str]], rooms: Sequence[Box], scale: float
) -> tuple[Box, bool, tuple[MapLine, ...]]:
    """The first wording that fits into one of the rooms, in the largest letters; lying words before upright ones."""
    for words in wordings:
        longest = max(map(_letters, words))
        for size in SIZES:
            need = (longest * LETTER * size + 2 * PADDING) / scale, (len(words) * LEADING * size + PADDING) / scale
            for upright, room in product((False, True), rooms):
                across, along = (room.height, room.width) if upright else (room.width, room.height)
                if need[0] <= across and need[1] <= along:
                    return room, upright, _set(words, size)
    return rooms[0], False, _set(wordings[-1], SIZES[-1])


def _letters(line: str) -> float:
    """How many letters of average width a line is as wide as."""
    wide = sum(unicodedata.east_asian_width(char) in "WF" for char in line)
    return len(line) + wide * (1 / LETTER - 1)


def _set(words: Sequence[str], size: float) -> tuple[MapLine, ...]:
    first = -(len(words) - 1) / 2 * LEADING * size + 0.35 * size
    return tuple(MapLine(line, round(first + n * LEADING * size, 2), size) for n, line in enumerate(words))


def _tinted(color: str) -> str:
    channels = (int(color[i : i + 2], 16) for i in (1, 3, 5))
    return "#" + "".join(f"{round(c + (255 - c) * TINT):02x}" for c in channels)
