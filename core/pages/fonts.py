"""Letters of any script on printed pages: the fonts that ship, and words in the order in which they are drawn.

Terminology
    font        one of those in `shared/fonts`, all of them embedded; the first that has a letter draws it
    run         letters side by side that one font draws
    respelled   what none of the fonts has: in Latin letters, or a picture by its name ("(crab)")
    visual      the order from left to right; what runs from right to left is turned round, Arabic letters joined

Sources: Unicode Bidirectional Algorithm, Unicode Standard Annex 9; joined forms of Arabic, The Unicode Standard, 9.2.
Points of Hebrew and Arabic vowels are left out, as is usual outside of schoolbooks (common practice).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from itertools import groupby
from typing import TYPE_CHECKING, Final, NamedTuple

from clothpath.files.names import in_latin, text
from clothpath.findings import Finding, listed, note

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont

__all__ = ["Run", "breakable", "first_font", "respelled", "runs"]

FIRST_FONT: Final = "DejaVuSans"
FONT_FILES: Final = {FIRST_FONT: "DejaVuSans.ttf", "WenQuanYiMicroHei": "WenQuanYiMicroHei.ttc"}
"""The fonts by name, in the order in which they are asked: most scripts; Chinese, Japanese and Korean."""
_ISOLATED: Final = re.compile("\u2068([^\u2069]*)(?:\u2069|$)")
"""What is kept apart from the words around it, where a line is broken to its end; the library knows no isolates."""
_STAND_IN: Final = "\ue000"
"""For what is kept apart, while the words around it are put in order: a letter that runs to the right (UAX 9, L)."""
KEPT: Final = 4096
"""So many lines of words are remembered."""


class Run(NamedTuple):
    """Letters from one font, in visual order, and how wide they are in sizes of the letters."""

    font: str
    said: str
    width: float


def first_font() -> str:
    """The name of the font of most words, ready for use."""
    _font(FIRST_FONT)
    return FIRST_FONT


@lru_cache(maxsize=KEPT)
def runs(said: str) -> tuple[Run, ...]:
    """One line of words as it is drawn, from left to right; what is written around foreign words runs to the right."""
    spelled = said if said.isascii() else _visual(_spelled(said))
    found = []
    for name, letters in groupby(spelled, _font_of):
        drawn = "".join(letters)
        font = name or FIRST_FONT
        found.append(Run(font, drawn, float(_font(font).stringWidth(drawn, 1.0))))
    return tuple(found)


def breakable(said: str) -> list[str]:
    """The words of a line, each with the space before it; scripts that write no spaces break at every letter."""
    found: list[str] = []
    for char in said:
        wide = unicodedata.east_asian_width(char) in "WF"
        if not found or char == " " or (wide and found[-1] != " "):
            found.append(char)
        else:
            found[-1] += char
    return found


def respelled(names: Iterable[str]) -> tuple[Finding, ...]:
    """A finding that tells which names are printed in other letters, because no font has theirs."""
    said = {shown: _spelled(shown) for name in names if not (shown := text(name)).isascii()}
    other = [f'{name}" as "{spelled}' for name, spelled in said.items() if _respells(name)]
    if not other:
        return ()
    hint = "Give it another label if people at the table would not know it by that."
    return (note("respelled", f"Printed in letters that the pages have: {listed(other)}.", hint=hint),)


def _respells(name: str) -> bool:
    return any(not _silent(char) and _font_of(char) is None for char in name)


def _spelled(said: str) -> str:
    """The words in letters that the fonts have."""
    found: list[str] = []
    for lost, group in groupby((c for c in said if not _silent(c)), lambda char: _font_of(char) is None):
        letters = "".join(group)
        found.append(in_latin(letters) if lost else letters)
    return "".join(found)


def _silent(char: str) -> bool:
    """Whether a character is not drawn by itself: selectors of a picture's look, tones, points of vowels."""
    if unicodedata.category(char) == "Sk":
        return ord(char) > 0xFFFF
    return unicodedata.category(char) == "Mn" and ("\ufe00" <= char <= "\ufe0f" or "\u0591" <= char <= "\u0670")


def _visual(said: str) -> str:
    if not any(unicodedata.bidirectional(char) in ("R", "AL", "AN") for char in said):
        return _unmarked(said)
    import arabic_reshaper
    from bidi.algorithm import get_display

    joined = "".join(c if _font_of(c) else unicodedata.normalize("NFKC", c) for c in arabic_reshaper.reshape(said))
    apart = iter([get_display(_unmarked(found[1])) for found in _ISOLATED.finditer(joined)])
    around = get_display(_unmarked(_ISOLATED.sub(_STAND_IN, joined)), base_dir="L")
    return "".join(next(apart) if char == _STAND_IN else char for char in around)


def _unmarked(said: str) -> str:
    """The words without characters that only say how others are set."""
    return "".join(char for char in said if unicodedata.category(char) != "Cf")


@lru_cache(maxsize=KEPT)
def _font_of(char: str) -> str | None:
    """The first font that has the character; for one that has no shape of its own, the first of all."""
    if char == " " or unicodedata.category(char) == "Cf":
        return FIRST_FONT
    return next((name for name in FONT_FILES if ord(char) in _font(name).face.charWidths), None)


@cache
def _font(name: str) -> TTFont:
    from importlib.resources import files

    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    font = TTFont(name, str(files("clothpath.shared") / "fonts" / FONT_FILES[name]))
    pdfmetrics.registerFont(font)
    return font
