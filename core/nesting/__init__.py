"""The engine that lays irregular parts on rectangles: geometry in, placements out; knows no cloth."""

from .check import Fault, faults
from .engine import BEST, BETTER, QUICK, Effort, candidates, fill, fit, strip
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
    "placed",
    "strip",
]
