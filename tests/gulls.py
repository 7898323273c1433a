"""A gull of Tidepool on one mat, for the tests of likeness, proof and measurers.

Gray is laid wrong side up on a cloth that lies turned by 90 degrees, white right side up, straw wrong side up with a
print that runs one way. The wings are mirror images of each other; the eye, the tail and the beak are symmetric, the
beak about a slanting axis.
"""

from __future__ import annotations

from dataclasses import replace

from clothpath.curves import Affine, circle, open_path, outline, polygon, transformed
from clothpath.cutplan import Blade, Cut, CutSheet, as_laid, sheets
from clothpath.design import Design, Fabric, Marking, Piece
from clothpath.layout import Demand, Layout, Mat, MatLayout, Placement, Swatch
from clothpath.regions import moved, region

WING = region(
    outline(0, [(30 - 6j, 52 + 4j, 60 + 22j), (44 + 18j,), (36 + 26j, 14 + 24j, 0)]),
    [circle(20 + 6j, 3)],
)
BODY = region(outline(0, [(18 - 14j, 46 - 10j, 58 + 4j), (50 + 16j, 22 + 20j, 6 + 14j), (0,)]))
EYE = region(circle(0, 4))
TAIL = region(polygon([0, 18, 9 + 22j]))
BEAK = moved(region(polygon([0, 20 + 4j, 20 - 4j])), Affine.turn(30))

MAT = Mat("mat-12x12", 304.8, 304.8)


def gull() -> Design:
    """The design: six pieces, two eyes."""
    pieces = (
        Piece("tail", "Tail", TAIL, "white", order=1),
        Piece("left-wing", "Left wing", moved(WING, Affine.shift(-20 + 30j)), "gray", order=2),
        Piece("right-wing", "Right wing", moved(WING, Affine.shift(140 + 30j) @ Affine.flip()), "gray", order=3),
        Piece("body", "Body", moved(BODY, Affine.shift(40 + 10j)), "white", order=4),
        Piece("eye", "Eye", EYE, "gray", order=5, copies=2),
        Piece("beak", "Beak", BEAK, "straw", order=6),
    )
    vein = open_path(46 + 14j, [(60 + 10j, 70 + 12j, 80 + 18j), (84 + 20j,)])
    return Design(
        "gull",
        pieces,
        (Marking("vein", "Vein", vein, on="body"),),
        (
            Fabric("white", "White", "#e8e8e8", laid="right-side-up", paper="leave"),
            Fabric("gray", "Gray", "#8090a0", laid="wrong-side-up", paper="keep"),
            Fabric("straw", "Straw", "#d8b848", "bare", grain="directional", laid="wrong-side-up"),
        ),
    )


def gull_layout(count: int = 1) -> Layout:
    """`count` gulls on one mat."""
    white, gray, straw = [], [], []
    for n in range(count):
        up = 46j * n
        white += [_at("tail", n + 1, False, 12, 8 + 14j + up), _at("body", n + 1, False, 157.5, 104 + 30j + up)]
        gray += [
            _at("left-wing", n + 1, True, 33, 60 + 20j + 1.6 * up),
            _at("right-wing", n + 1, True, 200, 70 + 80j + 1.6 * up),
            _at("eye", 2 * n + 1, True, 0, 140 + 20j + 1.6 * up),
            _at("eye", 2 * n + 2, True, 77, 140 + 36j + 1.6 * up),
        ]
        straw.append(_at("beak", n + 1, True, 0, 34 + 4j + 0.6 * up))
    height = 46.0 * (count - 1)
    swatches = (
        Swatch("white", "right-side-up", 10, 10, 120, 60 + height, 0.0, tuple(white)),
        Swatch("gray", "wrong-side-up", 140, 10, 150 + 1.6 * height, 160, 90.0, tuple(gray)),
        Swatch("straw", "wrong-side-up", 140, 180, 60, 40 + 0.6 * height, 0.0, tuple(straw)),
    )
    design = gull()
    mat = replace(MAT, height=MAT.height + 2 * height, width=MAT.width + 2 * height)
    return Layout((Demand(design, count),), design.fabrics, mat, (MatLayout(swatches),))


def _at(piece: str, copy: int, reverse: bool, turn: float, shift: complex) -> Placement:
    return Placement("gull", piece, copy, reverse, float(turn), complex(shift))


def gull_sheet(count: int = 1) -> CutSheet:
    """The one file of the mat."""
    return sheet_of(gull_layout(count))


def two_mats() -> Layout:
    """A gull on each of two mats."""
    one = gull_layout()
    eyes = {"eye": 2}

    def again(place: Placement) -> Placement:
        return replace(place, copy=place.copy + eyes.get(place.piece, 1))

    second = tuple(replace(s, placements=tuple(map(again, s.placements))) for s in one.mats[0].swatches)
    return replace(one, demands=(Demand(one.demands[0].design, 2),), mats=(*one.mats, MatLayout(second)))


def beside_sheet() -> CutSheet:
    """The one file of two mats beside each other, an inch apart."""
    return sheets(as_laid(two_mats(), Blade()), "all")[0]


def sheet_of(layout: Layout) -> CutSheet:
    return sheets(as_laid(layout, Blade()), "mat")[0]


def moved_cut(cut: Cut, affine: Affine) -> Cut:
    """The cut with outline and path under a map."""
    return replace(cut, outline=transformed(cut.outline, affine), path=transformed(cut.path, affine))


def moved_sheet(sheet: CutSheet, affine: Affine) -> CutSheet:
    """The sheet with everything in it under a map."""
    return replace(sheet, cuts=tuple(moved_cut(cut, affine) for cut in sheet.cuts))


def piece_cuts(sheet: CutSheet, piece: str) -> list[int]:
    """Indices of the cuts of the first copy of a piece."""
    return [n for n, cut in enumerate(sheet.cuts) if cut.ref.piece == piece and cut.ref.copy == 1 and cut.kind == "cut"]


def flipped_in_place(sheet: CutSheet, piece: str) -> CutSheet:
    """The sheet with one piece seen in a mirror, its box where it was."""
    which = piece_cuts(sheet, piece)
    center = sheet.cuts[which[0]].outline.box.center
    about = Affine.shift(center) @ Affine.flip() @ Affine.shift(-center)
    return replace(sheet, cuts=tuple(moved_cut(cut, about) if n in which else cut for n, cut in enumerate(sheet.cuts)))
