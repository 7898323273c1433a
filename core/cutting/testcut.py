"""A small figure to try a blade on before the cloth is cut: a scallop shell with a pearl.

It has what shows a blade that is set wrong: sharp notches between waves and a point at the hinge (an offset that nobody
allowed for rounds them), long bends (too little depth leaves threads), and a small round hole (an overcut too short
leaves it hanging). It is a design of its own on a scrap of its own, so that every writer writes it and every measurer
proves it as any other. The scrap is of the cloth of which most is cut on the mat, lies as that does, is cut with the
settings found for it. Cut first, it also turns a dragged blade into line. A test cut is common practice.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Literal

from clothpath.curves import Affine, Box, Curve, Outline, backwards, circle, length, outline, transformed
from clothpath.cutplan import Cut, CutPlan, MatCuts, PieceRef
from clothpath.cutting.tried import NOTHING_TRIED
from clothpath.design import Design, Fabric, Piece, fabric_of
from clothpath.layout import Demand, Layout, MatLayout, Placement, Swatch
from clothpath.regions import moved, region

__all__ = ["FREE_MM", "SIZE_MM", "TEST_CUT", "Corner", "figure", "free_corner", "with_test_cuts", "without_test_cuts"]

Corner = Literal["lower-left", "lower-right", "upper-left", "upper-right"]

SIZE_MM: Final = 12.0
"""How wide the figure is."""
FREE_MM: Final = 20.0
"""The side of the scrap that it is cut from."""
WAVES: Final = 5
RISE: Final = 0.12
"""How far a wave of the rim bulges, as a share of the shell's reach from the hinge."""
FAN: Final = math.radians(104)
"""How wide the shell opens."""
TEST_CUT: Final = "test-cut"
"""The name of the figure's design, and what the keys of its scraps of cloth begin with."""
CORNERS: Final[tuple[Corner, ...]] = ("lower-right", "upper-right", "upper-left", "lower-left")


def figure(center: complex = 0j, width: float = SIZE_MM) -> tuple[Outline, Outline]:
    """The outline of the shell, counterclockwise, and of its hole; `width` in mm."""
    shell, pearl = _shell(), backwards(circle(0.6j, 0.1))
    box = shell.box
    to = Affine.shift(center) @ Affine.scale(width / box.width) @ Affine.shift(-box.center)
    return transformed(shell, to), transformed(pearl, to)


def _shell() -> Outline:
    """The shell with its hinge at 0, opening upward, its rim at the distance 1."""
    first, step = math.pi / 2 - FAN / 2, FAN / WAVES
    rim = [cmath.rect(1, first + i * step) for i in range(WAVES + 1)]
    right: Curve = (0.42 * rim[0] - 0.04j, 0.8 * rim[0] - 0.16j, rim[0])
    left: Curve = (0.8 * rim[-1] - 0.16j, 0.42 * rim[-1] - 0.04j, 0j)
    waves: list[Curve] = []
    for i in range(WAVES):
        out = RISE * cmath.rect(1, first + (i + 0.5) * step) * 4 / 3
        waves.append((rim[i] + out, rim[i + 1] + out, rim[i + 1]))
    return outline(0j, [right, *waves, left])


def free_corner(layout: Layout, mat: int, corner: Corner | None) -> Box | None:
    """A square of `FREE_MM` in a corner of the usable area where no fabric rectangle lies; None: there is none.

    Without a corner the first that is free is taken, and boxes that nothing may touch are kept clear of. A corner that
    is named is taken even from such a box, for that is how a layout keeps it free.
    """
    usable, taken = layout.mat.usable, [swatch.box for swatch in layout.mats[mat].swatches]
    for name in CORNERS if corner is None else (corner,):
        left = usable.left if name.endswith("left") else usable.right - FREE_MM
        bottom = usable.bottom if name.startswith("lower") else usable.top - FREE_MM
        box = Box(left, bottom, left + FREE_MM, bottom + FREE_MM)
        if not any(_share(box, other) for other in (taken if corner else [*taken, *layout.mat.keep_out])):
            return box
    return None


def with_test_cuts(plan: CutPlan, corner: Corner | None = None) -> tuple[CutPlan, tuple[int, ...]]:
    """The plan with the figure cut first on every mat that has a free corner, and the numbers of the other mats."""
    shell, pearl = figure()
    shape = region(shell, [pearl])
    pieces: dict[str, Piece] = {}
    scraps: dict[str, Fabric] = {}
    mats: list[MatLayout] = []
    cuts: list[MatCuts] = []
    crowded: list[int] = []
    tried = dict(plan.tried)
    for n, (mat, planned) in enumerate(zip(plan.layout.mats, plan.mats, strict=True)):
        free = free_corner(plan.layout, n, corner)
        if free is None:
            crowded.append(n + 1)
            mats.append(mat)
            cuts.append(planned)
            continue
        cloth = _most_cut(plan, planned.cuts)
        scrap = _scrap(cloth)
        found = plan.tried_on(cloth.key) if cloth else NOTHING_TRIED
        if found is not NOTHING_TRIED:
            tried[scrap.key] = found
        scraps[scrap.key] = scrap
        one = pieces.get(scrap.key, Piece(f"shell-{len(pieces) + 1}", "Shell", shape, scrap.key, copies=0))
        laid, flipped = scrap.laid or "right-side-up", scrap.reversed
        placement = Placement(TEST_CUT, one.id, one.copies + 1, flipped, 0.0, complex(FREE_MM, FREE_MM) / 2)
        pieces[scrap.key] = replace(one, copies=one.copies + mat.times)
        swatch = Swatch(scrap.key, laid, free.left, free.bottom, FREE_MM, FREE_MM, 0.0, (placement,))
        ref = PieceRef(len(mat.swatches), scrap.key, TEST_CUT, one.id, one.copies + 1, one.label)
        rings = [*enumerate(moved(shape, swatch.affine @ placement.affine))][::-1]
        mats.append(replace(mat, swatches=(*mat.swatches, swatch)))
        first = (Cut(ref, ring, "cut", path, path, found.passes or 1) for ring, path in rings)
        cuts.append(MatCuts((*first, *planned.cuts)))
    if not pieces:
        return plan, tuple(crowded)
    design = Design(TEST_CUT, tuple(pieces.values()), (), tuple(scraps.values()))
    layout = replace(
        plan.layout,
        demands=(*plan.layout.demands, Demand(design, 1)),
        fabrics=(*plan.layout.fabrics, *scraps.values()),
        mats=tuple(mats),
    )
    return replace(plan, layout=layout, mats=tuple(cuts), tried=tuple(tried.items())), tuple(crowded)


def without_test_cuts(layout: Layout) -> Layout:
    """The layout without the figures and their scraps: what cloth it takes, for a scrap is at hand."""
    demands = tuple(demand for demand in layout.demands if demand.design.name != TEST_CUT)
    scraps = {fabric.key for fabric in layout.fabrics} - {f.key for demand in demands for f in demand.design.fabrics}
    mats = tuple(
        replace(mat, swatches=tuple(swatch for swatch in mat.swatches if swatch.fabric not in scraps))
        for mat in layout.mats
    )
    fabrics = tuple(fabric for fabric in layout.fabrics if fabric.key not in scraps)
    return replace(layout, demands=demands, fabrics=fabrics, mats=mats)


def _most_cut(plan: CutPlan, cuts: Sequence[Cut]) -> Fabric | None:
    """The fabric of which most is cut; None: nothing is."""
    way: dict[str, float] = {}
    for cut in cuts:
        if cut.kind == "cut":
            way[cut.ref.fabric] = way.get(cut.ref.fabric, 0.0) + length(cut.outline)
    return fabric_of(plan.layout.fabrics, max(way, key=way.__getitem__)) if way else None


def _scrap(cloth: Fabric | None) -> Fabric:
    """The cloth of a test cut, which is a fabric of its own."""
    if cloth is None:
        return Fabric(TEST_CUT, "Test cut", laid="right-side-up", preparation="bare")
    label = f"Test cut on {cloth.label or cloth.key}"
    return replace(cloth, key=f"{TEST_CUT}-{cloth.key}", label=label, grain="any", cloth=cloth.cloth_key)


def _share(a: Box, b: Box) -> bool:
    return a.left < b.right and b.left < a.right and a.bottom < b.top and b.bottom < a.top
