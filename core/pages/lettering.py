"""Where words have room inside a printed shape, and the grain line that is drawn there.

Terminology
    room        a rectangle that lies wholly inside a shape; where it may turn, it does so counterclockwise
    grain line  a straight line along the selvage with an arrow at each end; where the print has one way up, at its top

Source: the grain line with its arrows: common practice.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely
from shapely.affinity import rotate

from clothpath.design import Grain
from clothpath.pages.paper import PT, Page, width_of

__all__ = ["GRAIN_LENGTHS_MM", "GRAIN_WIDTH_MM", "draw_grain", "grain_room", "room"]

PLACES: Final = 10
"""How many places are tried along each side of a shape's box."""
GRAIN_LENGTHS_MM: Final = (40.0, 28.0, 20.0, 14.0, 10.0)
"""Lengths of a grain line, the longest first."""
GRAIN_WIDTH_MM: Final = 3.6
"""What a grain line and its word take across."""
GRAIN_LETTERS_MM: Final = 1.8
ARROW_MM: Final = 1.6
LINE_MM: Final = 0.2


def room(shape: shapely.Geometry, width: float, height: float, turn: float = 0.0) -> complex | None:
    """The middle of a rectangle inside the shape, amid all places that it has; None: there is no room.

    Args:
        shape: one or more polygons, in mm.
        width, height: of the rectangle before it is turned, in mm.
        turn: of the rectangle, in degrees.
    """
    found: complex | None = None
    for part in sorted(shapely.get_parts(shape).tolist(), key=lambda each: -each.area):
        if part.geom_type == "Polygon" and part.area >= width * height and found is None:
            found = _room_in(part, width, height, turn)
    return found


def _room_in(shape: shapely.Polygon, width: float, height: float, turn: float) -> complex | None:
    level = rotate(shape, -turn, origin=(0, 0)) if turn else shape
    left, bottom, right, top = level.bounds
    if right - left < width or top - bottom < height:
        return None
    xs = np.linspace(left + width / 2, right - width / 2, PLACES)
    ys = np.linspace(bottom + height / 2, top - height / 2, PLACES)
    middles = (xs[:, None] + 1j * ys[None, :]).ravel()
    shapely.prepare(level)
    middles = middles[shapely.contains_xy(level, middles.real, middles.imag)]
    half = complex(width, height) / 2
    low, high = middles - half, middles + half
    middles = middles[shapely.covers(level, shapely.box(low.real, low.imag, high.real, high.imag))]
    if not len(middles):
        return None
    return complex(middles[int(np.argmin(np.abs(middles - middles.mean())))]) * _unit(turn)


def grain_room(shape: shapely.Geometry, turn: float) -> tuple[complex, float] | None:
    """Middle and length of the longest grain line that has room in the shape along a direction, in degrees."""
    for length in GRAIN_LENGTHS_MM:
        middle = room(shape, length, GRAIN_WIDTH_MM, turn)
        if middle is not None:
            return middle, length
    return None


def draw_grain(page: Page, middle: complex, length: float, turn: float, grain: Grain) -> None:
    """A grain line with its word; `turn` is its direction on the page, in degrees, toward the top of the print."""
    canvas = page.canvas
    said = "grain, top" if grain == "directional" and length > width_of("grain, top", GRAIN_LETTERS_MM) + 5 else "grain"
    upright = -90 < (turn + 180) % 360 - 180 <= 90
    canvas.saveState()
    canvas.setDash([])
    canvas.setLineWidth(LINE_MM * PT)
    canvas.translate(middle.real * PT, middle.imag * PT)
    canvas.rotate(turn if upright else turn + 180)
    end = length / 2 - 0.5
    level = -GRAIN_WIDTH_MM / 2 + ARROW_MM / 2
    canvas.line(-end * PT, level * PT, end * PT, level * PT)
    top = 1 if upright else -1
    for side in (top,) if grain == "directional" else (1, -1):
        for across in (ARROW_MM / 2.5, -ARROW_MM / 2.5):
            canvas.line(side * end * PT, level * PT, side * (end - ARROW_MM) * PT, (level + across) * PT)
    page.words_about(complex(0, GRAIN_WIDTH_MM / 2 - GRAIN_LETTERS_MM / 2), [said], size=GRAIN_LETTERS_MM)
    canvas.restoreState()


def _unit(turn: float) -> complex:
    return complex(math.cos(math.radians(turn)), math.sin(math.radians(turn)))
