"""The engine that lays irregular parts on rectangles: geometry in, placements out; knows no cloth."""

from .check import Fault, faults
from .engine import candidates, fill, fit, oversize, strip
from .job import BEST, BETTER, QUICK, Effort
from .parts import BadPartError, NestingError, Packing, Part, Points, Spot, UnprovedError, placed

__all__ = [
    "BEST",
    "BETTER",
    "QUICK",
    "BadPartError",
    "Effort",
    "Fault",
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
