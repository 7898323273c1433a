"""What a machine takes at most: how far it reaches, and how many points a line may have.

A file beyond a limit is refused with what to do; nothing is cut off and no line is thinned in silence.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Final

from pydantic import Field

from clothpath.contracts import Millimeters
from clothpath.curves import Box
from clothpath.files.frame import FrameSettings
from clothpath.findings import Finding, Refusal, error
from clothpath.units import both

__all__ = ["MOST_TOLERANCE_MM", "LimitSettings", "within_points", "within_reach"]

MOST_TOLERANCE_MM: Final = 0.009
"""The largest tolerance of a curve in a file; with more the proof could not hold: 0.01 mm are allowed."""


class LimitSettings(FrameSettings):
    """Settings of writers for machines with limits."""

    most_x: Annotated[Millimeters, Field(gt=0)] | None = Field(
        None, description="Farthest from end to end that the machine reaches along its x; no limit if not stated."
    )
    most_y: Annotated[Millimeters, Field(gt=0)] | None = Field(
        None, description="Farthest from end to end that the machine reaches along its y; no limit if not stated."
    )
    most_points: int | None = Field(
        None, gt=1, description="Most points of one line that the machine takes; no limit if not stated."
    )


def within_reach(settings: LimitSettings, box: Box, unit_mm: float = 1.0) -> None:
    """See that the machine reaches all of `box`, along its own axes.

    Args:
        unit_mm: the size of the unit that the box is counted in.

    Raises:
        Refusal: it does not.
    """
    faults: list[Finding] = []
    for axis, size, most in (("x", box.width * unit_mm, settings.most_x), ("y", box.height * unit_mm, settings.most_y)):
        if most is not None and size > most:
            faults.append(
                error(
                    "beyond-reach",
                    f"The cuts take {both(size)} along the machine's {axis}, and it reaches {both(most)}.",
                    f"most-{axis}",
                    "Lay the pieces out on a smaller mat, or correct the machine profile.",
                )
            )
    if faults:
        raise Refusal(*faults)


def within_points(settings: LimitSettings, counts: Iterable[tuple[str, int]]) -> None:
    """See that no line has too many points.

    Args:
        counts: title and number of points of each line.

    Raises:
        Refusal: one has.
    """
    most = settings.most_points
    faults = [
        error(
            "too-many-points",
            f"{title} takes {count} points, and the machine takes {most} a line.",
            "most-points",
            "Let arcs or splines stand for curves where the format has them, raise the setting tolerance as far as it "
            "goes, or divide the piece.",
        )
        for title, count in counts
        if most is not None and count > most
    ]
    if faults:
        raise Refusal(*faults)
