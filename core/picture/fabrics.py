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
from dataclasses import fields
from functools import lru_cache
from operator import attrgetter
from typing import Final

from clothpath.design import Drawn, Fabric, Piece

__all__ = ["NO_COLOR", "called", "color_name", "guessed", "slug", "telling_layers"]

NO_COLOR: Final = "#808080"
"""Of a fabric whose pieces have no color."""
HUES: Final = (
    (16.0, "red"), (45.0, "orange"), (70.0, "yellow"), (165.0, "green"), (190.0, "teal"), (260.0, "blue"),
    (305.0, "purple"), (345.0, "pink"), (361.0, "red"),
)  # fmt: skip
"""Plain words for hues below so many degrees; they agree with the names of CSS Color 4 where those are plain words."""
GRAY: Final = 0.12
"""Colors less saturated than this are black, gray or white (HLS, from 0 to 1)."""
DARKEST: Final = 0.06
LIGHTEST: Final = 0.9
PALE: Final = 0.65
"""Red from this lightness on is pink, orange tan."""
DULL: Final = 0.55
"""Red and orange that are darker than this and not vivid are brown."""

_FIELDS: Final = [field.name for field in fields(Piece)]
_FABRIC: Final = _FIELDS.index("fabric")
_values: Final = attrgetter(*_FIELDS)


def slug(text: str) -> str:
    """A key that a person can type: lower case letters and digits with hyphens; "" if nothing of `text` is left."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")


@lru_cache(maxsize=4096)
def color_name(color: str) -> str:
    """A key for "#rrggbb" that a person can tell apart: a plain word for the color, and the digits."""
    return f"{_color_word(color)}-{color[1:]}"


def _color_word(color: str) -> str:
    r, g, b = (int(color[i : i + 2], 16) / 255 for i in (1, 3, 5))
    hue, light, saturation = colorsys.rgb_to_hls(r, g, b)
    if saturation < GRAY or not DARKEST <= light <= LIGHTEST:
        return "black" if light < 0.2 else "white" if light > LIGHTEST else "gray"
    word = next(word for below, word in HUES if hue * 360 < below)
    if word == "orange" and light > PALE and saturation < 0.8:
        return "tan"
    dull = light < DULL and saturation < 0.65
    if (dull and word == "red") or (word == "orange" and (dull or light < 0.4)):
        return "brown"
    if word == "red" and light > PALE:
        return "pink"
    return "olive" if word == "yellow" and light < 0.4 else word


def called(fabrics: Sequence[Fabric], said: str) -> tuple[Fabric, ...]:
    """The fabrics that a person may mean by a word: those with this key or label, else those that begin so.

    More than one: the word is ambiguous; none: nothing is called so. Upper and lower case count as the same.
    """
    word = said.casefold()
    names = [(fabric.key.casefold(), fabric.label.casefold()) for fabric in fabrics]
    tries = (
        [word == key for key, _ in names],
        [word == label for _, label in names],
        [bool(word) and (key.startswith(word) or label.startswith(word)) for key, label in names],
    )
    meant = next((each for each in tries if any(each)), [])
    return tuple(fabric for fabric, means in zip(fabrics, meant, strict=False) if means)


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
        named.append(_cut_from(key, piece))
    return tuple(named), tuple(fabrics.values())


def _cut_from(fabric: str, piece: Piece) -> Piece:
    """The piece, cut from a fabric; `dataclasses.replace` takes several times as long."""
    values = list(_values(piece))
    values[_FABRIC] = fabric
    return Piece(*values)
