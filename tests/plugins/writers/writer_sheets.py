"""Cut sheets for the writers' tests: a crab of Tidepool on two fabrics, one reversed, with holes and markings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from clothpath.curves import Affine, Outline, circle, open_path, outline, polygon
from clothpath.cutplan import Blade, Cut, CutSheet, PieceRef, as_laid, sheets
from clothpath.design import Design, Fabric, Marking, Piece, mapped
from clothpath.layout import Demand, Layout, Margins, Mat, MatLayout, Placement, Swatch
from clothpath.regions import moved, region

__all__ = ["MAT", "crab", "crab_layout", "crab_sheet", "sheet_of", "sheet_of_outlines", "spread_sheet"]

MAT = Mat("mat-8x12", 203.2, 304.8, Margins(6.35, 6.35, 6.35, 6.35))

SHELL = outline(
    complex(10, 20),
    [
        (complex(14, 2), complex(62, -2), complex(72, 18)),
        (complex(84, 40), complex(66, 58), complex(42, 54)),
        (complex(30, 52), complex(24, 62), complex(14, 50)),
        (complex(10, 20),),
    ],
)
CLAW = outline(
    0,
    [
        (complex(6, -8), complex(22, -6), complex(26, 6)),
        (complex(14, 4),),
        (complex(24, 18),),
        (complex(10, 26), complex(-6, 16), 0),
    ],
)
LEG = polygon([0, 24 + 3j, 25 + 7j, 12 + 9j, 2 + 22j, -3 + 20j, 1 + 6j])
EYE = circle(0, 4.5)


def crab() -> Design:
    """Six pieces of two fabrics; the shell has two holes and a vein, and the claw a mark."""
    shell = region(SHELL, [circle(complex(34, 32), 6), circle(complex(56, 26), 4)])
    pieces = (
        Piece("leg-left", "Left leg", moved(region(LEG), Affine.shift(complex(4, 60))), "sand", order=1),
        Piece(
            "leg-right", "Right leg", moved(region(LEG), Affine.shift(complex(70, 60)) @ Affine.flip()), "sand", order=2
        ),
        Piece("shell", "Shell", shell, "coral", order=3),
        Piece("claw-left", "Left claw", moved(region(CLAW), Affine.shift(complex(-30, 10))), "coral", order=4),
        Piece(
            "claw-right",
            "Right claw",
            moved(region(CLAW), Affine.shift(complex(110, 10)) @ Affine.flip()),
            "coral",
            order=5,
        ),
        Piece("eye", "Eye", moved(region(EYE), Affine.shift(complex(40, 66))), "coral", order=6, copies=2),
    )
    vein = open_path(complex(20, 24), [(complex(30, 14), complex(50, 12), complex(64, 22)), (complex(60, 30),)])
    tooth = open_path(complex(-20, 16), [(complex(-12, 20),)])
    return Design(
        "crab",
        pieces,
        (Marking("vein", "Vein", vein, on="shell"), Marking("tooth", "Tooth", tooth, on="claw-left")),
        (
            Fabric("sand", "Sand & shells", "#e8d9a8", laid="right-side-up", paper="leave"),
            Fabric("coral", "Coral print", "#c8553d", laid="wrong-side-up", paper="keep"),
        ),
    )


def crab_layout() -> Layout:
    """The crab on one mat: sand right side up above, coral wrong side up below."""

    def at(piece: str, x: float, y: float, turn: float = 0.0, copy: int = 1) -> Placement:
        return Placement("crab", piece, copy, False, turn, complex(x, y))

    def reversed_at(piece: str, x: float, y: float, turn: float = 0.0, copy: int = 1) -> Placement:
        return Placement("crab", piece, copy, True, turn, complex(x, y))

    sand = Swatch(
        "sand", "right-side-up", 10, 230, 150, 50, 0.0, (at("leg-left", 6, -48), at("leg-right", 10, -48, 0.0))
    )
    coral = Swatch(
        "coral",
        "wrong-side-up",
        10,
        10,
        160,
        200,
        0.0,
        (
            reversed_at("shell", 96, 10),
            reversed_at("claw-left", 40, 90),
            reversed_at("claw-right", 220, 150, 20.0),
            reversed_at("eye", 200, 100, 90.0),
            reversed_at("eye", 160, 120, 0.0, 2),
        ),
    )
    design = crab()
    return Layout((Demand(design),), design.fabrics, MAT, (MatLayout((sand, coral)),))


def crab_sheet() -> CutSheet:
    """The crab's one mat as one file."""
    return sheet_of(crab_layout())


def sheet_of(layout: Layout) -> CutSheet:
    """The first mat of a layout, as it is laid."""
    return sheets(as_laid(layout, Blade()), "mat")[0]


def spread_sheet() -> CutSheet:
    """The crab on a mat of twice the size, its pieces twice as large: more than one sheet of paper takes."""
    layout = crab_layout()
    design = mapped(layout.demands[0].design, Affine.scale(2))
    mats = tuple(
        replace(
            mat,
            swatches=tuple(
                replace(
                    swatch,
                    x=2 * swatch.x,
                    y=2 * swatch.y,
                    width=2 * swatch.width,
                    height=2 * swatch.height,
                    placements=tuple(replace(p, shift=2 * p.shift) for p in swatch.placements),
                )
                for swatch in mat.swatches
            ),
        )
        for mat in layout.mats
    )
    mat = replace(layout.mat, name="mat-16x24", width=2 * layout.mat.width, height=2 * layout.mat.height)
    return sheet_of(replace(layout, demands=(Demand(design),), mat=mat, mats=mats))


def sheet_of_outlines(outlines: Sequence[Outline]) -> CutSheet:
    """Outlines as they lie on the mat, each cut on its own, from two fabrics in turn."""
    sheet = crab_sheet()
    cuts = []
    for n, ring in enumerate(outlines):
        ref = PieceRef(n % 2, ("sand", "coral")[n % 2], "crab", f"piece-{n}", 1, f"Piece {n}")
        cuts.append(Cut(ref, 0, "cut", ring, ring))
    return replace(sheet, cuts=tuple(cuts))
