"""How large a drawing is: what its numbers are in millimeters, and how sure that is.

Terminology
    page        the rectangle that width and height of the root element describe
    density     pixels to the inch; CSS says 96, older drawings meant 90, print-minded programs 72

Sources: 1in = 96px, CSS Values and Units 4, 6.2; sizing of the root, SVG 2, 8.2 and CSS 2.1, 10.3.2; older densities:
trade-facts (memory); paper sizes, ISO 216 (A4 210 x 297 mm) and ANSI/ASME Y14.1 (letter 8.5 x 11 in).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final, Literal

from clothpath.curves import Affine, Box
from clothpath.findings import Finding, note, warning
from clothpath.plugins.readers.svg.viewport import PX_PER_UNIT, box_from, fitted, split_length
from clothpath.units import both

__all__ = ["BareUnit", "Density", "Page", "page_of", "size_findings"]

Density = Literal["guess", "72", "90", "96"]
BareUnit = Literal["px", "mm", "cm", "in", "pt"]
MOST_MM: Final = 1e6
"""Pages larger than this have no size that means anything, in mm."""
AS_SET: Final = "as set"
DENSITIES: Final = (72, 90, 96)
MM_PER_UNIT: Final = {"in": 25.4, "cm": 10.0, "mm": 1.0, "q": 0.25, "pt": 25.4 / 72, "pc": 25.4 / 6}
ABSOLUTE: Final = frozenset(MM_PER_UNIT)
CSS_DENSITY: Final = 96
PAPERS_IN: Final = ((8.5, 11.0), (8.5, 14.0), (11.0, 17.0), (210 / 25.4, 297 / 25.4), (297 / 25.4, 420 / 25.4))
PAPER_SLACK_IN: Final = 0.02
"""A page this near to a paper size is that paper."""


@dataclass(frozen=True, slots=True)
class Page:
    """The page of a drawing and what was taken for its unit.

    Attributes:
        to_mm: from the drawing's coordinates to the page in mm, y down.
        width, height: of the page in mm; None: the drawing has no page.
        mm_per_px: what a px of the page was taken for.
        view: the size of the viewport that percentages refer to, in the drawing's coordinates.
        unit: as the file states it; None: none.
        density: px to the inch that was taken, where that had to be.
        reason: why that density, "" if it is only the standard's.
    """

    to_mm: Affine
    width: float | None
    height: float | None
    view: tuple[float, float]
    mm_per_px: float
    unit: str | None
    density: int | None
    reason: str

    @property
    def mm_per_unit(self) -> float:
        """Of the drawing's own coordinates."""
        return self.to_mm.a if self.to_mm.a == self.to_mm.d else abs(self.to_mm.determinant) ** 0.5


def page_of(given: Mapping[str, str], density: Density, bare: BareUnit) -> Page:
    """The page of the root element, with its unit as stated, or as the settings or the signs in the file say.

    Args:
        given: the attributes of the root, `width` and `height` as its style has them.
        bare: what a width or height without unit is in; where there is none either, what the numbers are in.
    """
    sides = [_side(given, name) for name in ("width", "height")]
    box = box_from(given.get("viewBox"))
    unit = next((side[1] for side in sides if side is not None and side[1]), None)
    if box is not None and sides == [None, None]:
        sides = [(box[2], ""), (box[3], "")]
    if bare != "px":
        sides = [side if side is None or side[1] else (side[0], bare) for side in sides]
    known = (unit or bare) in ABSOLUTE
    px = [None if side is None else side[0] * PX_PER_UNIT[side[1]] for side in sides]
    per_inch, reason = (CSS_DENSITY, "") if known else _density(given, px[0], px[1], density)
    mm_per_px = MM_PER_UNIT[bare] if unit is None and known and box is None else 25.4 / per_inch
    width, height = (
        _in_mm(side, per_inch) if side is not None else None if length is None else length * 25.4 / per_inch
        for side, length in zip(sides, px, strict=True)
    )
    if box is not None:
        width = height * box[2] / box[3] if width is None and height is not None else width
        height = width * box[3] / box[2] if height is None and width is not None else height
    if box is not None and width is not None and height is not None:
        to_mm, view = fitted(box, width, height, given.get("preserveAspectRatio")), (box[2], box[3])
    else:
        to_mm, view = Affine.scale(mm_per_px), ((width or 0.0) / mm_per_px, (height or 0.0) / mm_per_px)
    return Page(to_mm, width, height, view, mm_per_px, unit, None if known else per_inch, reason)


def _side(given: Mapping[str, str], name: str) -> tuple[float, str] | None:
    parts = split_length(given.get(name, ""))
    return parts if parts is not None and parts[1] in PX_PER_UNIT and parts[0] > 0 else None


def _in_mm(side: tuple[float, str], density: int) -> float:
    number, unit = side
    return number * MM_PER_UNIT[unit] if unit in ABSOLUTE else number * 25.4 / density


def _density(given: Mapping[str, str], width: float | None, height: float | None, wanted: Density) -> tuple[int, str]:
    """Pixels to the inch, and what speaks for it; "" if only the standard does."""
    if wanted != "guess":
        return int(wanted), AS_SET
    names = {name.rpartition("}")[2]: value for name, value in given.items()}
    for name in ("export-xdpi", "export-ydpi"):
        if names.get(name, "") in ("72", "90"):
            return int(names[name]), f"the drawing was exported at {names[name]} to the inch"
    if width and height:
        for density in (CSS_DENSITY, 72, 90):
            sides = sorted((width / density, height / density))
            for paper in PAPERS_IN:
                if all(abs(a - b) <= PAPER_SLACK_IN for a, b in zip(sides, sorted(paper), strict=True)):
                    return density, "the page is then a paper size"
    if "enable-background" in names and names.get("x") == "0px" and names.get("y") == "0px":
        return 72, "the page is written as programs do that count 72 to the inch"
    return CSS_DENSITY, ""


def size_findings(given: Mapping[str, str], page: Page, picture: Box, where: str) -> list[Finding]:
    """What was assumed about the size, how sure that is, and what the other readings would give.

    Args:
        picture: the box of all that is drawn, as the page was read.
        where: the root's place.
    """
    if page.density is None:
        return []
    size = partial(_size, picture)
    stated = ", ".join(f'{name}="{given[name]}"' for name in ("width", "height", "viewBox") if given.get(name))
    where = f"{where}: {stated}" if stated else where
    said = "counts in px" if page.unit == "px" else "states no unit"
    if page.width is None or page.height is None:
        said = f"has no page and {said}"
    if page.reason == AS_SET:
        message = (
            f"The drawing {said}; it was read at {page.density} px to the inch, as set: the picture is {size(1.0)}."
        )
        return [note("unit-set", message, where)]
    sure = f"fairly sure, for {page.reason}" if page.reason else "a guess, by the standard for web pages"
    message = f"The drawing {said}; it was read at {page.density} px to the inch ({sure}): the picture is {size(1.0)}."
    others = [f"at {each} px to the inch {size(page.density / each)}" for each in DENSITIES if each != page.density]
    way = f"--set read.svg.pixels-per-inch={next(each for each in DENSITIES if each != page.density)}"
    if page.unit is None:
        way += " or --set read.svg.bare-unit=mm"
        others.append(f"in millimeters {size(page.density / 25.4)}")
        others.append(f"in inches {size(float(page.density))}")
    hint = f"It would be {'; '.join(others)}. State the finished size, or which was meant, such as {way}."
    return [warning("unit-assumed", message, where, hint)]


def _size(picture: Box, factor: float) -> str:
    if not max(picture.width, picture.height) * factor < MOST_MM:
        return "more than a kilometer"
    return f"{both(picture.width * factor)} x {both(picture.height * factor)}"
