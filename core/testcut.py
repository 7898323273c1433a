"""A small figure to try a blade on before the cloth is cut: a scallop shell with a pearl.

It has what shows a blade that is set wrong: a sharp notch between waves and a point at the hinge (an offset that nobody
allowed for rounds them), long bends (too little depth leaves threads), and a small round hole (an overcut too short
leaves it hanging). It is a design of its own, so that every writer writes it and every measurer proves it as any other.
Cut first, it also turns a dragged blade into line.
"""

from __future__ import annotations

import cmath
import math
from typing import Final

from clothpath.curves import Affine, Box, Curve, Outline, backwards, circle, outline, transformed
from clothpath.cutplan import Blade, CutPlan, as_laid
from clothpath.design import Design, Fabric, Piece, Side
from clothpath.layout import Demand, Layout, Mat, MatLayout, Placement, Swatch
from clothpath.regions import region

__all__ = ["FREE_MM", "SIZE_MM", "figure", "plan_of"]

SIZE_MM: Final = 12.0
"""How wide the figure is."""
FREE_MM: Final = 20.0
"""The side of the square that a layout keeps free for it."""
WAVES: Final = 5
RISE: Final = 0.12
"""How far a wave of the rim bulges, as a share of the shell's reach from the hinge."""
FAN: Final = math.radians(104)
"""How wide the shell opens."""
NAME: Final = "test-cut"


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


def plan_of(mat: Mat, free: Box, blade: Blade, laid: Side = "right-side-up") -> CutPlan:
    """The plan that cuts just the figure, in the middle of a box that the layout keeps free.

    Raises:
        ValueError: the box is smaller than the figure.
    """
    shell, pearl = figure()
    if min(free.width - shell.box.width, free.height - shell.box.height) < 0:
        raise ValueError(f"a test cut of {shell.box.width:g} x {shell.box.height:g} mm does not fit the box")
    cloth = Fabric(NAME, "Test cut", laid=laid)
    design = Design(NAME, (Piece("shell", "Shell", region(shell, [pearl]), NAME),), (), (cloth,))
    middle = complex(free.width, free.height) / 2
    placement = Placement(NAME, "shell", 1, laid == "wrong-side-up", 0.0, middle)
    swatch = Swatch(NAME, laid, free.left, free.bottom, free.width, free.height, 0.0, (placement,))
    return as_laid(Layout((Demand(design),), (cloth,), mat, (MatLayout((swatch,)),)), blade)
