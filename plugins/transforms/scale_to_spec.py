"""The step `scale-to-spec`: make the finished picture as large as the pattern promises.

Terminology
    finished size   width and height of all pieces that are cut, before underlap and margins
    residual        what is left between the picture and the other stated length once the longer one is met
    mix-up          a factor that betrays a unit or a pixel density taken for another
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final, Literal

from pydantic import Field

from clothpath.contracts import FromCatalog, Settings, StatedLength, Transform, hookimpl
from clothpath.curves import Affine
from clothpath.design import Design, mapped
from clothpath.findings import Finding, Outcome, Refusal, error, note
from clothpath.units import Length, both

__all__ = ["ScaleToSpec", "ScaleToSpecSettings", "mix_up"]

COARSEST_STEP_MM: Final = 25.4 / 4
"""Printed sizes are rounded to 1/8 or 1/4 in (common practice); "4 in" is not taken to mean anything from 3 1/2 up."""
RESIDUAL_SHARE: Final = 0.005
"""The residual that is let pass at any size, as a share of the stated length."""
SAME_FACTOR: Final = 0.004
"""How far a factor may be from a mix-up's and still be named, as a share: finer than 90 is from 96."""
MIX_UPS: Final[tuple[tuple[float, str], ...]] = (
    (96 / 72, "the drawing was made at 72 px to the inch and taken at 96"),
    (72 / 96, "the drawing was made at 96 px to the inch and taken at 72"),
    (96 / 90, "the drawing was made at 90 px to the inch and taken at 96"),
    (90 / 96, "the drawing was made at 96 px to the inch and taken at 90"),
    (25.4, "inches were taken for millimeters"),
    (1 / 25.4, "millimeters were taken for inches"),
    (2.54, "inches were taken for centimeters"),
    (1 / 2.54, "centimeters were taken for inches"),
    (10.0, "centimeters were taken for millimeters"),
    (0.1, "millimeters were taken for centimeters"),
)
"""Factors that mend a known mix-up (trade-facts: arithmetic), and what happened."""


class ScaleToSpecSettings(Settings):
    """The finished size; one length is enough, the picture keeps its proportions."""

    width: Annotated[StatedLength | None, FromCatalog()] = Field(None, description="finished width of the picture")
    height: Annotated[StatedLength | None, FromCatalog()] = Field(None, description="finished height of the picture")


def mix_up(factor: float) -> str:
    """What a scale factor betrays, in words; empty if it is no known mix-up."""
    return next((story for known, story in MIX_UPS if abs(factor / known - 1) < SAME_FACTOR), "")


def allowed_residual(stated: Length) -> float:
    """How far the other length may be off, in mm: half of its last stated fraction, or 0.5 %, whichever is larger."""
    return max(min(stated.step_mm, COARSEST_STEP_MM) / 2, RESIDUAL_SHARE * stated.mm)


class ScaleToSpec:
    """Uniform scale to the finished size."""

    name = "scale-to-spec"
    summary = "Make the picture as large as the pattern promises"
    stage: Literal["design"] = "design"
    lengths = "rescales"
    settings = ScaleToSpecSettings

    def apply(self, design: Design, settings: ScaleToSpecSettings) -> Outcome[Design]:
        """The picture at its finished size, with the lower left corner of its box at the origin.

        Raises:
            Refusal: nothing is cut, a length is not positive, or the two lengths contradict the drawing.
        """
        if not design.cut_pieces:
            raise Refusal(error("nothing-to-cut", "No piece of this drawing is cut.", design.name))
        box = design.finished_box
        stated = [length for length in (settings.width, settings.height) if length is not None]
        if any(length.mm <= 0 for length in stated):
            raise Refusal(error("size-not-positive", "A finished size must be more than nothing.", design.name))
        if not stated:
            factor = 1.0
            size = f"{both(box.width)} x {both(box.height)}"
            message = f"No finished size is stated; the drawing's own is kept: {size}."
            found = [note("size-as-drawn", message, design.name)]
        else:
            factor, found = _factor(design, settings.width, settings.height)
        if not 1e-4 < factor < 1e4:
            message = f"The finished size is {factor:.3g} times the size of the drawing, which cannot be meant."
            hint = "Check the unit of the size and of the drawing."
            raise Refusal(error("size-impossible", message, design.name, hint))
        if story := mix_up(factor):
            message = f"The drawing was scaled by {factor:.4f}, which is what it takes if {story}; it may be chance."
            found.append(note("size-mix-up", message, design.name, "The finished size is right now; nothing to do."))
        corner = complex(box.left, box.bottom)
        return Outcome(mapped(design, Affine.scale(factor) @ Affine.shift(-corner)), tuple(found))


def _factor(design: Design, width: Length | None, height: Length | None) -> tuple[float, list[Finding]]:
    box = design.finished_box
    drawn = {"width": box.width, "height": box.height}
    wanted = {name: length for name, length in (("width", width), ("height", height)) if length is not None}
    longer = max(wanted, key=lambda name: wanted[name].mm)
    factor = wanted[longer].mm / drawn[longer]
    found: list[Finding] = []
    for name, length in wanted.items():
        residual = drawn[name] * factor - length.mm
        if name == longer:
            continue
        told = (
            f"At the stated {longer} of {wanted[longer].text} the {name} comes out as {both(drawn[name] * factor)}, "
            f"stated is {length.text}"
        )
        if abs(residual) > allowed_residual(length):
            as_drawn = f"{both(box.width)} wide and {both(box.height)} high"
            hint = f"State one of the two only, or correct one; as drawn the picture is {as_drawn}."
            raise Refusal(error("size-contradicts", f"{told}: the drawing has other proportions.", design.name, hint))
        if abs(residual) >= 0.05:
            found.append(note("size-residual", f"{told}; that is within rounding.", design.name))
    return factor, found


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [ScaleToSpec()]
