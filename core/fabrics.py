"""A first guess at fabrics: what was drawn alike is cut from one cloth.

Terminology
    key     a fabric's name in config files: lower case letters and digits with hyphens
    telling layers tell the fabrics if a person has put things on them for that: two or more, each of a single color

The guess stands until the step `separate` settles the fabrics.
"""

from __future__ import annotations

import colorsys
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from clothpath.design import Drawn, Fabric, Piece

__all__ = ["NO_COLOR", "color_name", "guessed", "slug", "telling_layers"]

NO_COLOR: Final = "#808080"
"""Of a fabric whose pieces have no color."""


def slug(text: str) -> str:
    """A key that a person can type: lower case letters and digits with hyphens; "" if nothing of `text` is left."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")


def color_name(color: str) -> str:
    """A key for "#rrggbb" that a person can tell apart: a plain word for the hue, and the digits."""
    r, g, b = (int(color[i : i + 2], 16) / 255 for i in (1, 3, 5))
    hue, light, saturation = colorsys.rgb_to_hls(r, g, b)
    if saturation < 0.12 or light < 0.06 or light > 0.96:
        word = "black" if light < 0.2 else "white" if light > 0.9 else "gray"
    else:
        names = ("red", "orange", "yellow", "green", "green", "teal", "blue", "blue", "purple", "pink", "red")
        word = names[round(hue * 10)]
        if word in ("red", "orange", "yellow") and light < 0.35:
            word = "brown"
    return f"{word}-{color[1:]}"


def telling_layers(drawn: Sequence[Drawn]) -> bool:
    """Whether the layers tell the fabrics: two or more, nothing outside them, and no layer of several colors."""
    colors: dict[str, set[str | None]] = {}
    for each in drawn:
        colors.setdefault(each.layer, set()).add(each.color)
    return len(colors) > 1 and "" not in colors and all(len(found) == 1 for found in colors.values())


def guessed(pieces: Sequence[Piece]) -> tuple[tuple[Piece, ...], tuple[Fabric, ...]]:
    """The pieces with their fabrics named, by layer where layers tell, else by color; and the fabrics by first use."""
    by_layer = telling_layers([piece.drawn for piece in pieces])
    fabrics: dict[str, Fabric] = {}
    keys: dict[str, str] = {}
    named: list[Piece] = []
    for piece in pieces:
        color = piece.drawn.color
        what = piece.drawn.layer if by_layer else color or ""
        key = keys.get(what)
        if key is None:
            wanted = (slug(what) or "layer") if by_layer else color_name(color) if color else "no-color"
            key, number = wanted, 1
            while key in fabrics:
                number += 1
                key = f"{wanted}-{number}"
            keys[what] = key
            label = what if by_layer else key.rpartition("-")[0].replace("-", " ") if color else "no color"
            fabrics[key] = Fabric(key, label, color or NO_COLOR)
        named.append(replace(piece, fabric=key))
    return tuple(named), tuple(fabrics.values())
