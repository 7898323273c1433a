"""How large a drawing is: what its numbers are in millimeters, and how sure that is.

Terminology
    page        the rectangle that width and height of the root element describe
    density     pixels to the inch; CSS says 96, older drawings meant 90, print-minded programs 72

Sources: 1in = 96px, CSS Values and Units 4, 6.2; sizing of the root, SVG 2, 8.2 and CSS 2.1, 10.3.2; older densities:
trade-facts (memory); paper sizes, ISO 216 (A4 210 x 297 mm) and ANSI/ASME Y14.1 (letter 8.5 x 11 in).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from lxml import etree

from clothpath.curves import Affine
from clothpath.findings import Finding, note, warning
from clothpath.plugins.readers.svg.document import local, place
from clothpath.plugins.readers.svg.viewport import PX_PER_UNIT, box_from, fitted, split_length
from clothpath.units import both

__all__ = ["Density", "Page", "page_of", "size_findings"]

Density = Literal["guess", "72", "90", "96"]
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


def page_of(root: etree._Element, wanted: Density) -> Page:
    """The page of the root element, with its unit as stated, or as `wanted` or the signs in the file say."""
    sides = [_side(root, name) for name in ("width", "height")]
    box = box_from(root.get("viewBox"))
    unit = next((side[1] for side in sides if side is not None and side[1]), None)
    px = [None if side is None else side[0] * PX_PER_UNIT[side[1]] for side in sides]
    if box is not None and px == [None, None]:
        px = [box[2], box[3]]
    density, reason = (CSS_DENSITY, "") if unit in ABSOLUTE else _density(root, px[0], px[1], wanted)
    width, height = (
        _in_mm(side, density) if side is not None else None if length is None else length * 25.4 / density
        for side, length in zip(sides, px, strict=True)
    )
    if box is not None:
        width = height * box[2] / box[3] if width is None and height is not None else width
        height = width * box[3] / box[2] if height is None and width is not None else height
    if box is not None and width is not None and height is not None:
        to_mm, view = fitted(box, width, height, root.get("preserveAspectRatio")), (box[2], box[3])
    else:
        to_mm, view = Affine.scale(25.4 / density), (px[0] or 0.0, px[1] or 0.0)
    return Page(to_mm, width, height, view, 25.4 / density, unit, None if unit in ABSOLUTE else density, reason)


def _in_mm(side: tuple[float, str], density: int) -> float:
    number, unit = side
    return number * MM_PER_UNIT[unit] if unit in ABSOLUTE else number * 25.4 / density


def _side(root: etree._Element, name: str) -> tuple[float, str] | None:
    parts = split_length(root.get(name) or "")
    return parts if parts is not None and parts[1] in PX_PER_UNIT and parts[0] > 0 else None


def _density(root: etree._Element, width: float | None, height: float | None, wanted: Density) -> tuple[int, str]:
    if wanted != "guess":
        return int(wanted), "as set"
    names = {str(name).rpartition("}")[2]: str(value) for name, value in root.attrib.items()}
    for name in ("export-xdpi", "export-ydpi"):
        if names.get(name, "") in ("72", "90"):
            return int(names[name]), f"the drawing was exported at {names[name]} to the inch"
    if width and height and not root.get("width", "").strip().endswith("%"):
        for density in (CSS_DENSITY, 72, 90):
            sides = sorted((width / density, height / density))
            for paper in PAPERS_IN:
                if all(abs(a - b) <= PAPER_SLACK_IN for a, b in zip(sides, sorted(paper), strict=True)):
                    return density, f"the page is then {both(width / density * 25.4)} wide, a paper size"
    if "enable-background" in names and names.get("x") == "0px" and names.get("y") == "0px":
        return 72, "the page is written as programs do that count 72 to the inch"
    return CSS_DENSITY, ""


def size_findings(root: etree._Element, page: Page) -> list[Finding]:
    """What was assumed about the size, and what the other readings would give."""
    if page.density is None:
        return []
    stated = " ".join(f'{name}="{root.get(name)}"' for name in ("width", "height", "viewBox") if root.get(name))
    where = f"line {root.sourceline}, <{local(root)} {stated}>" if stated else place(root)
    if page.width is None or page.height is None:
        message = "The drawing has no page and states no unit; its numbers were taken as px, 96 to the inch."
        return [warning("unit-assumed", message, where, "State the finished size, or set pixels-per-inch.")]

    def size(density: float) -> str:
        assert page.width is not None
        assert page.height is not None
        assert page.density is not None
        return f"{both(page.width * page.density / density)} by {both(page.height * page.density / density)}"

    said = "counts in px" if page.unit == "px" else "states no unit"
    why = f" because {page.reason}" if page.reason and page.reason != "as set" else ""
    message = (
        f"The drawing {said}; it was read at {page.density} px to the inch{why}: its page is {size(page.density)}."
    )
    others = "; ".join(f"at {each} it would be {size(each)}" for each in (72, 90, 96) if each != page.density)
    hint = f"{others[0].upper()}{others[1:]}. State the finished size, or set pixels-per-inch."
    if page.reason == "as set":
        return [note("unit-set", message, where)]
    return [warning("unit-assumed", message, where, hint)]
