"""The engine that lays irregular parts on rectangles: geometry in, placements out; knows no cloth.

    from clothpath.nesting import Part, candidates, fill, fit, strip

    parts = [Part("leaf", outer, (), (0.0, 180.0), 12), Part("ring", outer, (hole,))]
    candidates(parts, 292, 292, spacing=3.2, margin=6.4)    # rectangles to choose from, the smallest first
    strip(parts, 292, spacing=3.2)                          # the narrowest rectangle of that height
    fit(parts, 292, 292, spacing=3.2).left                  # what finds no room in the rectangle
    fill(parts[:1], 292, 292, spacing=3.2).spots            # as many as find room

How it comes to its answers, one idea a module: parts are grown by half the spacing (`outline`), laid on a grid whose
cells are bits of whole numbers (`raster`), one after another at the leftmost free place (`place`), in many sequences
(`orders`), then slid together on their true outlines (`slide`). Copies of one part are laid in regular rows as well
(`regular`, `sections`). For a stated time a strip search runs in a process of its own (`timed`, `strip_worker`), parts
in holes staying where they are (`holes`). Parts of one shape are laid as copies of one (`likes`). A checker that shares
no code with all that refuses what is wrong (`check`).
"""

from .check import Fault, faults
from .engine import candidates, fill, fit, oversize, strip
from .job import BEST, BETTER, QUICK, WIDE, Effort
from .parts import BadPartError, Like, NestingError, Packing, Part, Points, Spot, UnprovedError, placed

__all__ = [
    "BEST",
    "BETTER",
    "QUICK",
    "WIDE",
    "BadPartError",
    "Effort",
    "Fault",
    "Like",
    "NestingError",
    "Packing",
    "Part",
    "Points",
    "Spot",
    "UnprovedError",
    "candidates",
    "faults",
    "fill",
    "fit",
    "oversize",
    "placed",
    "strip",
]
