"""Stock in a person's words: "2 fat quarters", "9 x 12 in", "1/2 yd", "yardage 44 in", "3 of 10 in square pinked".

Terminology
    words       one cloth, or several with commas between them; how many of it comes first
    across      the first size of a rectangle, from selvage to selvage; the second runs along the selvage
    called      what a person calls a fabric: its key, its label, or how either begins
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from clothpath.cloth.stocktable import StockTable, common_cuts
from clothpath.design import Fabric
from clothpath.findings import Finding, Outcome, Refusal, error, listed, nearest_word, warning
from clothpath.layout import Stock
from clothpath.picture.fabrics import called
from clothpath.units import LengthError, parse_length

__all__ = ["StockWordsError", "stock_for", "stock_in_words"]

EXAMPLES: Final = '"fat quarter", "2 of 9 x 12 in", "1/2 yd", "yardage 44 in" or "10 in square pinked"'
PINKED: Final = "1/8 in"
"""What a pinked edge loses (from memory)."""
_PINKED: Final = re.compile(r"[\s,]*\bpinked$")
_COUNT: Final = re.compile(r"(\d+)\s*(?:of\s+|×\s*|\s)(?=\S)")
_BY: Final = re.compile(r"\s*(?:x|×|\bby\b)\s*")
_LENGTH: Final = r"[\d½¼¾⅛⅜⅝⅞⅓⅔][^a-z\"″]*(?:[a-z]+|[\"″])"
_WIDE: Final = re.compile(
    rf"(?:yardage|bolt)\s+(?P<a>{_LENGTH})(?:\s+wide)?|(?P<b>{_LENGTH})\s+wide(?:\s+(?:yardage|bolt))?"
)
_RUNNING: Final = re.compile(
    rf"(?P<length>{_LENGTH})(?:\s+of\s+(?:yardage|cloth|fabric))?(?:\s+(?P<width>{_LENGTH})\s+wide)?"
)
_NUMBER: Final = re.compile(r"[\d\s./⁄½¼¾⅛⅜⅝⅞⅓⅔-]+")


class StockWordsError(ValueError):
    """The words name no cloth; the message says what would."""


def stock_in_words(fabric: str, said: str) -> tuple[Stock, ...]:
    """The stock that the words tell of, for the fabric of that name.

    Raises:
        StockWordsError: they tell of none.
    """
    parts = [part.strip() for part in said.split(",") if part.strip()]
    if not parts:
        raise StockWordsError(f"it does not say what cloth there is; write {EXAMPLES}")
    return tuple(_table(part).stock(fabric) for part in parts)


def stock_for(said: Sequence[Stock], fabrics: Sequence[Fabric]) -> Outcome[tuple[Stock, ...]]:
    """The stock with the keys of the fabrics that its names mean; what names none of them is left out, with a warning.

    Raises:
        Refusal: a name may mean several of the fabrics.
    """
    found: list[Stock] = []
    told: dict[Finding, None] = {}
    faults: dict[Finding, None] = {}
    keys = [fabric.cloth_key for fabric in fabrics]
    for each in said:
        meant = list(dict.fromkeys(fabric.cloth_key for fabric in called(fabrics, each.fabric)))
        if len(meant) == 1:
            found.append(replace(each, fabric=meant[0]))
        elif meant:
            message = f'"{each.fabric}" may mean {listed(meant)}.'
            faults[error("ambiguous-fabric", message, "--stock", "Write one of these keys.")] = None
        else:
            message = f'There is stock of "{each.fabric}", which is no fabric of this drawing.'
            told[warning("unknown-fabric", message, "--stock", nearest_word(each.fabric, keys))] = None
    if faults:
        raise Refusal(*faults)
    return Outcome(tuple(found), tuple(told))


def _table(said: str) -> StockTable:
    text = " ".join(said.lower().replace("_", " ").split())
    rim = {"rim": PINKED} if _PINKED.search(text) else {}
    text = _PINKED.sub("", text)
    for count, words in _counted(text):
        values = _common(words) or _rectangle(words) or _off_the_bolt(words)
        if values:
            return StockTable.model_validate({"count": count, **values, **rim})
    known = [cut["label"] for cut in common_cuts().values()]
    near = nearest_word(text, known)
    hint = near if near.startswith("Did") else f"write {EXAMPLES}"
    raise StockWordsError(f'"{said.strip()}" is no cloth. {hint[:1].upper()}{hint[1:]}')


def _counted(text: str) -> Iterable[tuple[int, str]]:
    """How the words may be divided into a number and a cloth, the whole as a cloth first."""
    yield 1, text
    match = _COUNT.match(text)
    if match and int(match[1]) >= 1:
        yield int(match[1]), text[match.end() :].strip()


def _common(words: str) -> Mapping[str, Any] | None:
    plain = _bare(words)
    for name, cut in common_cuts().items():
        if plain in (_bare(name), _bare(cut["label"])):
            return {"common": name}
    match = _WIDE.fullmatch(words)
    width = match and (match["a"] or match["b"])
    return {"common": "yardage", "width": width} if width and _is_length(width) else None


def _bare(name: str) -> str:
    return re.sub(r"[\s-]+", " ", name.lower()).removesuffix("s")


def _rectangle(words: str) -> Mapping[str, Any] | None:
    sides = _BY.split(words)
    if len(sides) != 2:
        return None
    width, height = sides
    if _NUMBER.fullmatch(width):
        unit = _NUMBER.match(height)
        width = f"{width} {height[unit.end() :] if unit else ''}"
    return {"width": width, "height": height} if _is_length(width) and _is_length(height) else None


def _off_the_bolt(words: str) -> Mapping[str, Any] | None:
    match = _RUNNING.fullmatch(words)
    if match is None or not _is_length(match["length"]):
        return None
    width = match["width"]
    if width is not None and not _is_length(width):
        return None
    own = {} if width is None else {"width": width}
    return {"common": "yardage", "height": match["length"], "label": f"{match['length']} of cloth", **own}


def _is_length(said: str) -> bool:
    try:
        return parse_length(said).mm > 0
    except LengthError:
        return False
