"""Where words have room inside a printed shape, and the grain line that is drawn there.

Terminology
    room        a rectangle that lies wholly inside a shape; where it may turn, it does so counterclockwise
    ground      a shape in which room is looked for again and again, for words of other sizes
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

__all__ = ["GRAIN_LENGTHS_MM", "GRAIN_WIDTH_MM", "Ground", "draw_grain", "grain_room", "room"]

PLACES: Final = np.linspace(0.0, 1.0, 8)
"""The places that are tried along each side of a shape's box, as parts of the way."""
GRAIN_LENGTHS_MM: Final = (40.0, 28.0, 20.0, 14.0, 10.0)
"""Lengths of a grain line, the longest first."""
GRAIN_WIDTH_MM: Final = 3.6
"""What a grain line and its word take across."""
GRAIN_LETTERS_MM: Final = 1.8
ARROW_MM: Final = 1.6
LINE_MM: Final = 0.2


class Ground:
    """A shape in which room is looked for; `shape` is one or more polygons, in mm."""

    def __init__(self, shape: shapely.Geometry) -> None:
        polygons = [part for part in shapely.get_parts(shape).tolist() if part.geom_type == "Polygon"]
        self.parts = sorted(((part.area, part) for part in polygons), key=lambda each: -each[0])
        self.level: dict[tuple[int, float], shapely.Polygon] = {}

    def room(self, width: float, height: float, turn: float = 0.0) -> complex | None:
        """The middle of a rectangle inside the shape, amid all places that it has; None: there is no room.

        Args:
            width, height: of the rectangle before it is turned, in mm.
            turn: of the rectangle, in degrees.
        """
        for n, (area, _) in enumerate(self.parts):
            if area < width * height:
                return None
            middle = _room_in(self._leveled(n, turn), width, height)
            if middle is not None:
                return middle * _unit(turn)
        return None

    def _leveled(self, n: int, turn: float) -> shapely.Polygon:
        """A part turned so that a rectangle in it lies level."""
        if (n, turn) not in self.level:
            part = self.parts[n][1]
            self.level[n, turn] = rotate(part, -turn, origin=(0, 0)) if turn else part
            shapely.prepare(self.level[n, turn])
        return self.level[n, turn]


def room(shape: shapely.Geometry, width: float, height: float, turn: float = 0.0) -> complex | None:
    """As `Ground.room`, for a shape in which nothing else is looked for."""
    return Ground(shape).room(width, height, turn)


def _room_in(level: shapely.Polygon, width: float, height: float) -> complex | None:
    left, bottom, right, top = level.bounds
    if right - left < width or top - bottom < height:
        return None
    xs = left + width / 2 + PLACES * (right - left - width)
    ys = bottom + height / 2 + PLACES * (top - bottom - height)
    middles = (xs[:, None] + 1j * ys[None, :]).ravel()
    middles = middles[shapely.contains_xy(level, middles.real, middles.imag)]
    half = complex(width, height) / 2
    low, high = middles - half, middles + half
    middles = middles[shapely.covers(level, shapely.box(low.real, low.imag, high.real, high.imag))]
    if not len(middles):
        return None
    return complex(middles[int(np.argmin(np.abs(middles - middles.mean())))])


def grain_room(shape: shapely.Geometry, turn: float) -> tuple[complex, float] | None:
    """Middle and length of the longest grain line that has room in the shape along a direction, in degrees."""
    ground = Ground(shape)
    for length in GRAIN_LENGTHS_MM:
        middle = ground.room(length, GRAIN_WIDTH_MM, turn)
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
