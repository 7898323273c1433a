"""What each template says of itself: piece, fabric, reversed or not, and its grain.

Terminology
    label       piece, fabric, and whether the template is reversed, inside the outline and clear of its markings
    number      what a template has that is too small for its label, with its name if there is room; copies share it
    key         what the numbers mean, among the words that say how the templates are used
    dot         of the fabric's color, beside its name

A number stands inside its outline, so that it stays with the template; where even that has no room, beside it.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

import numpy as np
import shapely

from clothpath.curves import Affine
from clothpath.cutplan import CutSheet, PieceRef
from clothpath.design import Grain, Side
from clothpath.files.names import shown
from clothpath.fitting.closeness import chains
from clothpath.pages.handling import piece_words
from clothpath.pages.lettering import Ground, draw_grain, grain_room
from clothpath.pages.paper import FONT_MM, LEADING_MM, PT, Page, tint, width_of
from clothpath.regions import xy

__all__ = ["NOTES", "Label", "draw_labels", "key_of", "labels_of"]

NOTES: Final[dict[Side, str]] = {"wrong-side-up": "reversed", "right-side-up": "not reversed"}
SIZES_MM: Final = (3.2, 2.6, 2.0)
"""Sizes of letters that are tried for a label, the largest first."""
NUMBER_SIZES_MM: Final = (3.2, 2.4, 1.8)
TURNS: Final = (0.0, 90.0)
FLAT_MM: Final = 0.2
"""How finely outlines are flattened to find room."""
CLEAR_MM: Final = 0.6
"""What words keep clear of outlines and markings."""
DOT: Final = 0.9
"""A dot's diameter, and half of it the gap beside it, in sizes of the letters."""
BESIDE_MM: Final = (3.0, 5.0, 8.0, 12.0, 17.0)
"""How far from the middle of a small template its number may stand, the nearest first."""
WAYS: Final = 16
TOPS: Final = {90.0: "up", 180.0: "to the left across", 270.0: "down", 0.0: "to the right across"}
BESIDE_SIZE_MM: Final = 2.4
POINT_MM: Final = 0.25
"""Radius of the point to which a leader goes."""
DOT_RIM: Final = "#22303a"


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """Lines of words where they have room.

    Attributes:
        said: the lines; the one at `dotted` has the dot.
        size: of the letters, in mm.
        middle: on the mat.
        turn: in degrees.
    """

    said: tuple[str, ...]
    dotted: int
    size: float
    middle: complex
    turn: float = 0.0

    @property
    def shape(self) -> shapely.Polygon:
        """What they take on the mat."""
        return _rectangle(self.middle, *_measures(self.said, self.dotted, self.size), self.turn)


@dataclass(frozen=True, slots=True, eq=False)
class Label:
    """What one template says and where.

    Attributes:
        number: of the key; 0: the label says all.
        leader: the point of the template to which a line leads; None: the words stand on the template.
        grain: the fabric's rule.
        grain_line: middle and length of the grain line; None: none is wanted, or there is no room.
        selvage: direction of the selvage on the mat, toward the top of the print, in degrees.
    """

    ref: PieceRef
    color: str
    words: Words
    number: int
    leader: complex | None
    grain: Grain
    grain_line: tuple[complex, float] | None
    selvage: float


def labels_of(sheet: CutSheet) -> list[Label]:
    """The label of every template, in the order in which they are cut."""
    laid, fabrics = dict(sheet.laid), {fabric.key: fabric for fabric in sheet.fabrics}
    swatches = sheet.plan.layout.mats[sheet.mat_number - 1].swatches
    shapes = _shapes(sheet)
    everything: shapely.Geometry | None = None
    numbers: dict[tuple[str, str], int] = {}
    beside: list[complex] = []
    found: list[Label] = []
    for ref, (shape, marks) in shapes.items():
        if shape.is_empty:
            continue
        fabric, selvage = fabrics[ref.fabric], 90.0 + swatches[ref.swatch].turn
        inner = shapely.simplify(shapely.buffer(shape, -CLEAR_MM, quad_segs=2), FLAT_MM)
        clear = inner if marks.is_empty else shapely.difference(inner, shapely.buffer(marks, CLEAR_MM, quad_segs=2))
        ground = Ground(clear)
        said = (*piece_words(ref.label or ref.piece, fabric), NOTES[laid[ref.fabric]])
        words = _with_grain(ground, clear, said, selvage) if fabric.grain != "any" else None
        words = (
            words or _fitted(ground, said, len(said) - 2, SIZES_MM) or _fitted(ground, (", ".join(said),), 0, SIZES_MM)
        )
        number, leader = 0, None
        if words is None:
            number = numbers.setdefault((ref.design, ref.piece), len(numbers) + 1)
            words = _numbered(ground, inner, number, said[0])
        if words is None:
            leader = _middle(shape)
            everything = everything or shapely.union_all([shape for shape, _ in shapes.values()])
            words = Words((str(number),), 0, BESIDE_SIZE_MM, _beside(leader, everything, sheet, beside))
            beside.append(words.middle)
        line = None
        if fabric.grain != "any":
            line = grain_room(shapely.difference(clear, words.shape), selvage)
        found.append(Label(ref, fabric.color, words, number, leader, fabric.grain, line, selvage))
    return found


def _with_grain(ground: Ground, clear: shapely.Geometry, said: tuple[str, ...], selvage: float) -> Words | None:
    """The whole label in the largest letters that leave room for a grain line; the dot is beside the fabric."""
    for size in SIZES_MM:
        words = _fitted(ground, said, len(said) - 2, (size,))
        if words is not None and grain_room(shapely.difference(clear, words.shape), selvage) is not None:
            return words
    return None


def _numbered(clear: Ground, inner: shapely.Geometry, number: int, name: str) -> Words | None:
    """The number with the name, else alone; across markings only if there is no room beside them."""
    alone = (str(number),)
    return (
        _fitted(clear, (*alone, name), 0, SIZES_MM)
        or _fitted(clear, alone, 0, NUMBER_SIZES_MM)
        or _fitted(Ground(inner), alone, 0, NUMBER_SIZES_MM)
    )


def key_of(sheet: CutSheet, labels: Sequence[Label]) -> list[str]:
    """What the numbers mean, and the grain of the templates that have no room for a grain line."""
    laid, said = dict(sheet.laid), []
    names = {fabric.key: shown(fabric.label or fabric.key, 40) for fabric in sheet.fabrics}
    firsts = {label.number: label for label in reversed(labels) if label.number}
    ordered = sorted(firsts.values(), key=lambda label: (list(names).index(label.ref.fabric), label.number))
    for fabric, run in groupby(ordered, key=lambda label: label.ref.fabric):
        pieces = ", ".join(f"{label.number} {shown(label.ref.label or label.ref.piece, 40)}" for label in run)
        said.append(f"{names[fabric]}, {NOTES[laid[fabric]]}: {pieces}.")
    if said:
        said.insert(0, "Numbers on small templates:")
    for fabric in names:
        bare = [each for each in labels if each.ref.fabric == fabric and each.grain != "any" and not each.grain_line]
        ways = sorted({_way(label) for label in bare})
        if bare:
            where = "The grain" if len(ways) == 1 else "The grain, as it lies,"
            said.append(f"{where} of small {names[fabric]} templates runs {' or '.join(ways)}.")
    return said


def draw_labels(page: Page, labels: Sequence[Label], onto: Affine) -> None:
    """The words, dots and grain lines, none of which is part of the drawing."""
    canvas = page.canvas
    with page.artifact():
        for label in labels:
            middle = onto.apply(label.words.middle)
            if label.leader is not None:
                to = onto.apply(label.leader)
                start = middle + cmath.rect(BESIDE_SIZE_MM, cmath.phase(to - middle))
                canvas.setStrokeColor(tint(DOT_RIM))
                canvas.line(start.real * PT, start.imag * PT, to.real * PT, to.imag * PT)
                page.disk(to, POINT_MM, DOT_RIM, DOT_RIM)
            _draw_words(page, label.words, label.color, middle)
            if label.grain_line is not None:
                draw_grain(page, onto.apply(label.grain_line[0]), label.grain_line[1], label.selvage, label.grain)


def _draw_words(page: Page, words: Words, color: str, middle: complex) -> None:
    canvas, size = page.canvas, words.size
    leading = LEADING_MM / FONT_MM * size
    canvas.saveState()
    canvas.translate(middle.real * PT, middle.imag * PT)
    canvas.rotate(words.turn)
    for n, line in enumerate(words.said):
        level = leading * ((len(words.said) - 1) / 2 - n)
        shift = 0.75 * DOT * size if n == words.dotted else 0.0
        page.words_about(complex(shift, level), [line], size=size)
        if n == words.dotted:
            left = shift - width_of(line, size) / 2 - DOT * size
            page.disk(complex(left, level), DOT * size / 2, color, DOT_RIM)
    canvas.restoreState()


def _shapes(sheet: CutSheet) -> dict[PieceRef, tuple[shapely.Geometry, shapely.Geometry]]:
    """What is cut of each piece, and its markings."""
    flat = chains([cut.outline for cut in sheet.cuts], FLAT_MM)
    lines = [xy(points) for points in np.split(flat.points, flat.first[1:-1])]
    of_piece: dict[PieceRef, list[int]] = {}
    for n, cut in enumerate(sheet.cuts):
        of_piece.setdefault(cut.ref, []).append(n)
    found: dict[PieceRef, tuple[shapely.Geometry, shapely.Geometry]] = {}
    for ref, numbers in of_piece.items():
        rings = {sheet.cuts[n].ring: lines[n] for n in numbers if sheet.cuts[n].kind == "cut"}
        marks = [lines[n] for n in numbers if sheet.cuts[n].kind == "mark"]
        shape = shapely.Polygon(rings.pop(0), list(rings.values())) if 0 in rings else shapely.Polygon()
        found[ref] = (shape if shape.is_valid else shapely.make_valid(shape)), shapely.MultiLineString(marks)
    return found


def _measures(said: Sequence[str], dotted: int, size: float) -> tuple[float, float]:
    """Width and height of the lines."""
    width = max(width_of(line, size) + (1.5 * DOT * size if n == dotted else 0) for n, line in enumerate(said))
    return width, size * (LEADING_MM / FONT_MM * (len(said) - 1) + 1)


def _fitted(ground: Ground, said: tuple[str, ...], dotted: int, sizes: Sequence[float]) -> Words | None:
    """The lines in the largest letters that have room."""
    width, height = _measures(said, dotted, 1.0)
    for size in sizes:
        for turn in TURNS:
            middle = ground.room(width * size, height * size, turn)
            if middle is not None:
                return Words(said, dotted, size, middle, turn)
    return None


def _middle(shape: shapely.Geometry) -> complex:
    (x, y), _ = shapely.maximum_inscribed_circle(shape, tolerance=FLAT_MM).coords
    return complex(x, y)


def _beside(middle: complex, whole: shapely.Geometry, sheet: CutSheet, taken: Sequence[complex]) -> complex:
    """Where a number stands beside its template: off all templates if there is such a place, and on the mat."""
    half, mat = BESIDE_SIZE_MM, sheet.mat
    for place in _around(middle):
        on_mat = half < place.real < mat.width - half and half < place.imag < mat.height - half
        alone = all(abs(place - other) > 2 * half for other in taken)
        if on_mat and alone and not shapely.intersects(whole, _rectangle(place, 1.8 * half, 1.2 * half, 0.0)):
            return place
    return middle


def _around(middle: complex) -> Iterator[complex]:
    for far in BESIDE_MM:
        for way in range(WAYS):
            yield middle + cmath.rect(far, 2 * math.pi * way / WAYS)


def _rectangle(middle: complex, width: float, height: float, turn: float) -> shapely.Polygon:
    half = np.array([complex(x * width, y * height) / 2 for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
    return shapely.Polygon(xy(middle + half * cmath.rect(1.0, math.radians(turn))))


def _way(label: Label) -> str:
    """How the selvage of a template lies on the drawing."""
    if label.grain == "directional":
        return f"{TOPS[label.selvage % 360]} the drawing, toward the top of the print"
    return "up and down the drawing" if label.selvage % 180 == 90 else "across the drawing"
