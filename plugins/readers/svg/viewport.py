"""Lengths, transforms and viewports of SVG, in user units (1 px).

Terminology
    user unit   one px of the coordinate system in use
    viewport    the rectangle that percentages refer to
    viewBox     the rectangle of the drawing's own coordinates that is fitted into a viewport

Sources: units, CSS Values and Units 4, 6 (1in = 96px = 2.54cm = 72pt = 6pc, 1Q = 1/40 cm); percentages, SVG 2, 8.9;
viewBox and preserveAspectRatio, SVG 2, 8.2, 8.6 and 8.7; transform functions, CSS Transforms 1, 12 and 8 (grammar).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Final, Literal

from clothpath.curves import Affine, Box

__all__ = [
    "PX_PER_UNIT",
    "Axis",
    "Viewport",
    "box_from",
    "fitted",
    "font_size",
    "is_flat",
    "length",
    "origin_from",
    "parse_transform",
    "split_length",
]

Axis = Literal["x", "y", "other"]
PX_PER_UNIT: Final[dict[str, float]] = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96 / 2.54,
    "mm": 96 / 25.4,
    "q": 96 / 101.6,
    "pt": 96 / 72,
    "pc": 16.0,
}
FONT_WORDS: Final[dict[str, float]] = {
    "xx-small": 9.6,
    "x-small": 12.0,
    "small": 14.2,
    "medium": 16.0,
    "large": 19.2,
    "x-large": 24.0,
    "xx-large": 32.0,
}
"""Font sizes by word, in px (CSS Fonts 4, 2.5; medium is 16 px by common practice)."""
_ACROSS: Final = {"left": "0%", "center": "50%", "right": "100%"}
_DOWN: Final = {"top": "0%", "center": "50%", "bottom": "100%"}
_NUMBER: Final = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_LENGTH: Final = re.compile(rf"\s*({_NUMBER})\s*([a-zA-Z]*|%)\s*")
_NUMBERS: Final = re.compile(_NUMBER)
_BOX: Final = re.compile(r"[\s,]*" + rf"((?>{_NUMBER}))[\s,]*" * 4)
_ALIGN: Final = re.compile(r"x(Min|Mid|Max)Y(Min|Mid|Max)")
_FUNCTION: Final = re.compile(r"[\s,]*([A-Za-z0-9]+)\s*\(([^()]*)\)[\s,]*")
_ARGUMENT: Final = re.compile(rf"\s*({_NUMBER})\s*([a-zA-Z]*|%)\s*,?")


@dataclass(frozen=True, slots=True)
class Viewport:
    """What percentages and relative units refer to.

    Attributes:
        width, height: of the nearest viewport, in its user units.
        root_width, root_height: of the outermost one, for vw and vh.
        mm_per_px: what a px of the page was taken for.
        root_font: the font size of the root element, for rem.
    """

    width: float
    height: float
    root_width: float
    root_height: float
    mm_per_px: float
    root_font: float = 16.0

    def percent_of(self, axis: Axis) -> float:
        """What 100 % is along an axis; for other lengths the diagonal by the root of 2 (SVG 2, 8.9)."""
        if axis == "x":
            return self.width
        if axis == "y":
            return self.height
        return math.hypot(self.width, self.height) / math.sqrt(2)


def split_length(text: str) -> tuple[float, str] | None:
    """The number and the unit (in lower case) of a length, or None if it is none."""
    match = _LENGTH.fullmatch(text)
    if match is None:
        return None
    number = float(match[1])
    return (number, match[2].lower()) if math.isfinite(number) else None


def length(text: str, axis: Axis, viewport: Viewport, font: float) -> float | None:
    """A length in user units, or None if the text is no length; `font` is the font size for em and ex."""
    parts = split_length(text)
    if parts is None:
        return None
    number, unit = parts
    if unit in PX_PER_UNIT:
        return number * PX_PER_UNIT[unit]
    if unit == "%":
        return number / 100 * viewport.percent_of(axis)
    relative = {
        "em": font,
        "ex": font / 2,
        "ch": font / 2,
        "rem": viewport.root_font,
        "vw": viewport.root_width / 100,
        "vh": viewport.root_height / 100,
        "vmin": min(viewport.root_width, viewport.root_height) / 100,
        "vmax": max(viewport.root_width, viewport.root_height) / 100,
    }
    return number * relative[unit] if unit in relative else None


def font_size(text: str, parent: str, viewport: Viewport) -> float:
    """A font size in px, from the value of the property and that of the parent in px."""
    if text == parent and text.endswith("px"):
        return float(text[:-2])
    word = text.strip().lower()
    if word in FONT_WORDS:
        return FONT_WORDS[word]
    before = float(parent.removesuffix("px")) if parent.endswith("px") else 16.0
    if word in ("larger", "smaller"):
        return before * 1.2 if word == "larger" else before / 1.2
    value = length(word, "x", replace(viewport, width=before), before)
    return before if value is None or value < 0 else value


def origin_from(text: str, reference: Box, viewport: Viewport, font: float) -> complex | None:
    """The point of a transform-origin (CSS Transforms 1, 6), or None if it is malformed."""
    words = text.lower().split()[:2]
    if len(words) == 1:
        words = ["center", words[0]] if words[0] in ("top", "bottom") else [words[0], "center"]
    if len(words) < 2:
        return None
    if words[0] in ("top", "bottom") or words[1] in ("left", "right"):
        words.reverse()
    inside = replace(viewport, width=reference.width, height=reference.height)
    x = length(_ACROSS.get(words[0], words[0]), "x", inside, font)
    y = length(_DOWN.get(words[1], words[1]), "y", inside, font)
    return None if x is None or y is None else complex(x + reference.left, y + reference.bottom)


def box_from(text: str | None) -> tuple[float, float, float, float] | None:
    """The four numbers of a viewBox; None where it is missing, malformed, or not wider and higher than 0."""
    if text is None:
        return None
    found = _BOX.fullmatch(text)
    if found is None:
        return None
    left, top, width, height = map(float, found.groups())
    return (left, top, width, height) if math.isfinite(left + top + width + height) and min(width, height) > 0 else None


def is_flat(text: str | None) -> bool:
    """Whether a viewBox is of no width or height, which keeps its element from being drawn (SVG 2, 8.6)."""
    sides = [float(number) for number in _NUMBERS.findall(text or "")]
    return len(sides) == 4 and min(sides[2:]) == 0


def fitted(box: tuple[float, float, float, float], width: float, height: float, aspect: str | None) -> Affine:
    """The map from the coordinates of a viewBox to a viewport that begins at 0, 0 (SVG 2, 8.2).

    Args:
        aspect: the preserveAspectRatio attribute; what is malformed counts as not given (xMidYMid meet).
    """
    left, top, wide, high = box
    x, y = width / wide, height / high
    words = (aspect or "").split()
    words = words[1:] if words[:1] == ["defer"] else words
    align = words[0] if words else "xMidYMid"
    slice_ = words[1:] == ["slice"]
    known = _ALIGN.fullmatch(align)
    if align == "none" and len(words) <= 2:
        return Affine(a=x, d=y, e=-left * x, f=-top * y)
    if known is None or len(words) > 2 or (len(words) == 2 and words[1] not in ("meet", "slice")):
        known, slice_ = _ALIGN.fullmatch("xMidYMid"), False
    assert known is not None
    scale = max(x, y) if slice_ else min(x, y)
    part = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    shift_x = -left * scale + (width - wide * scale) * part[known[1]]
    shift_y = -top * scale + (height - high * scale) * part[known[2]]
    return Affine(a=scale, d=scale, e=shift_x, f=shift_y)


def parse_transform(text: str, viewport: Viewport, font: float, reference: tuple[float, float]) -> Affine | None:
    """The map of a transform attribute or property; None if it is malformed (the element is then drawn without).

    Args:
        reference: width and height of the reference box, for percentages in translate().
    """
    if text.strip() in ("", "none"):
        return Affine()
    found = Affine()
    position = 0
    for match in _FUNCTION.finditer(text):
        if match.start() != position:
            return None
        position = match.end()
        step = _step(match[1], match[2], viewport, font, reference)
        if step is None:
            return None
        found = found @ step
    return found if position == len(text) else None


def _step(name: str, inner: str, viewport: Viewport, font: float, reference: tuple[float, float]) -> Affine | None:
    values: list[tuple[float, str]] = []
    position = 0
    while match := _ARGUMENT.match(inner, position):
        values.append((float(match[1]), match[2].lower()))
        position = match.end()
    if inner[position:].strip() or not values or not all(math.isfinite(number) for number, _ in values):
        return None
    count = len(values)

    def shift(index: int) -> float:
        number, unit = values[index]
        if unit == "%":
            return number / 100 * reference[index]
        return length(f"{number}{unit}", "x", viewport, font) or 0.0

    def angle(index: int) -> float:
        number, unit = values[index]
        return number * {"rad": 180 / math.pi, "grad": 0.9, "turn": 360.0}.get(unit, 1.0)

    plain = [number / 100 if unit == "%" else number for number, unit in values]
    lower = name.lower()
    if lower == "matrix" and count == 6:
        return Affine(*plain)
    if lower == "translate" and count in (1, 2):
        return Affine(e=shift(0), f=shift(1) if count == 2 else 0.0)
    if lower == "translatex" and count == 1:
        return Affine(e=shift(0))
    if lower == "translatey" and count == 1:
        return Affine(f=length(f"{values[0][0]}{values[0][1]}", "y", viewport, font) or 0.0)
    if lower == "scale" and count in (1, 2):
        return Affine.scale(plain[0], plain[-1])
    if lower == "scalex" and count == 1:
        return Affine(a=plain[0])
    if lower == "scaley" and count == 1:
        return Affine(d=plain[0])
    if lower == "rotate" and count == 1:
        return Affine.turn(angle(0))
    if lower == "rotate" and count == 3:
        about = complex(plain[1], plain[2])
        return Affine.shift(about) @ Affine.turn(angle(0)) @ Affine.shift(-about)
    if lower == "skewx" and count == 1:
        return Affine(c=math.tan(math.radians(angle(0))))
    if lower == "skewy" and count == 1:
        return Affine(b=math.tan(math.radians(angle(0))))
    if lower == "skew" and count in (1, 2):
        return Affine(b=math.tan(math.radians(angle(1))) if count == 2 else 0.0, c=math.tan(math.radians(angle(0))))
    return None
