"""The step `nest`: lays pieces on swatches and swatches on mats.

Terminology
    spacing     least distance between two pieces
    gap         least distance between two swatches
    ruler       which lines a person's ruler shows: sizes of swatches and their places on the mat are read from them
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Literal

from pydantic import Field

from clothpath.contracts import LayoutStep, Millimeters, Settings, hookimpl
from clothpath.findings import Outcome, Refusal
from clothpath.layout import Layout, Mat, Stock
from clothpath.layoutcheck import Clearances, faults
from clothpath.mats.lay import laid_out
from clothpath.mats.wanted import Rules, multiplied

__all__ = ["Nest", "NestSettings"]

INCH_MM: Final = 25.4
RULER_STEP_MM: Final = {"inch": INCH_MM / 8, "metric": 5.0}
PLACE_STEP_MM: Final = {"inch": INCH_MM / 2, "metric": 10.0}
FAULT_HINT: Final = "The layout was made wrongly, which is a fault of this program: please report it with the drawing."


class NestSettings(Settings):
    """How pieces are laid on swatches and swatches on mats."""

    spacing: Millimeters = Field(INCH_MM / 8, ge=0, description="least distance between two pieces")
    swatch_margin: Millimeters = Field(
        INCH_MM / 8, ge=0, description="least distance between a piece and the edge of its swatch"
    )
    gap: Millimeters = Field(INCH_MM / 4, ge=0, description="least distance between two swatches on a mat")
    copies: int = Field(1, ge=1, description="how often every design is laid, on top of its own count")
    effort: Literal["quick", "better", "best"] = Field(
        "quick", description="quick is repeatable to the byte; better and best search for a stated time"
    )
    ruler: Literal["inch", "metric"] | None = Field(
        None, description="sizes and places in inches or in centimeters; left out: metric if the mat is in whole cm"
    )
    ruler_step: Millimeters | None = Field(
        None, gt=0, description='sizes of swatches are multiples of it; left out: "1/8 in" or "5 mm"'
    )
    place_step: Millimeters | None = Field(
        None, gt=0, description='swatches sit at multiples of it from the mat\'s edges; left out: "1/2 in" or "1 cm"'
    )
    turn_swatches: bool = Field(True, description="whether a swatch may lie on the mat turned by a quarter")


class Nest:
    """Lays every piece that is cut, as many copies as are wanted, on as few mats and as little cloth as it can."""

    name: Final = "nest"
    summary: Final = "Lays pieces on fabric rectangles and these on mats"
    stage: Final = "layout"
    settings: Final = NestSettings

    def apply(self, layout: Layout, settings: NestSettings, mat: Mat, stock: Sequence[Stock]) -> Outcome[Layout]:
        asked = multiplied(replace(layout, mat=mat, stock=tuple(stock)), settings.copies)
        rules = rules_of(settings, mat)
        laid = laid_out(asked, rules)
        found = faults(laid, Clearances(rules.spacing, rules.margin, rules.gap))
        if found:
            raise Refusal(*(replace(each, hint=FAULT_HINT) for each in found))
        return Outcome(laid)


def rules_of(settings: NestSettings, mat: Mat) -> Rules:
    """The rules that the settings state for this mat."""
    ruler = settings.ruler or ("metric" if _whole_centimeters(mat) else "inch")
    return Rules(
        spacing=settings.spacing,
        margin=settings.swatch_margin,
        gap=settings.gap,
        ruler_step=settings.ruler_step or RULER_STEP_MM[ruler],
        place_step=settings.place_step or PLACE_STEP_MM[ruler],
        turn_swatches=settings.turn_swatches,
        effort=settings.effort,
    )


def _whole_centimeters(mat: Mat) -> bool:
    return all(abs(size / 10 - round(size / 10)) < 1e-6 for size in (mat.width, mat.height))


@hookimpl
def clothpath_transforms() -> Sequence[LayoutStep]:
    return [Nest()]
