"""HPGL cut files for roll and flatbed cutters: pen up, pen down, absolute, 0.025 mm to the unit.

One pen a fabric, in the order in which they are cut. Curves become short straight moves within a chord tolerance.
Speed and force are written only if the settings state them: what a machine was set to by hand then stands.

Source: HP-GL reference (plotter unit 0.025 mm; IN, SP, PU, PD, VS, FS).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Final

import numpy as np
from pydantic import Field

from clothpath.contracts import Declared, Millimeters, hookimpl
from clothpath.curves import Affine, Outline, flattened, transformed
from clothpath.cutplan import CutSheet
from clothpath.findings import Outcome, Refusal, error
from clothpath.frame import FrameSettings, to_file, to_mat
from clothpath.linework import Line, Markings, blade_of, carried, layers, lines, marks_first

__all__ = ["HpglSettings", "HpglWriter"]

UNIT_MM: Final = 0.025
"""A plotter unit."""


class HpglSettings(FrameSettings):
    """How an HPGL file is written."""

    tolerance: Annotated[Millimeters, Field(gt=0)] = Field(
        0.005, description="Farthest that a straight move may stray from the curve."
    )
    markings: Markings = Field("leave-out", description="Whether a pen draws the markings before the blade cuts.")
    speed: int | None = Field(None, gt=0, description="Cutting speed in cm/s (VS); left to the machine if not stated.")
    force: int | None = Field(
        None, gt=0, description="Blade force as the machine counts it (FS); left to it if not stated."
    )
    most_points: int | None = Field(None, gt=1, description="Most points of one line that the machine takes.")


class HpglWriter:
    """Writes HPGL."""

    name: Final = "hpgl"
    summary: Final = "HPGL for roll and flatbed cutters, one pen a fabric"
    suffix: Final = ".plt"
    settings: Final = HpglSettings

    def writes(self, sheet: CutSheet, settings: HpglSettings) -> CutSheet:
        """All that is cut, and the markings where a pen draws them."""
        return marks_first(carried(sheet, settings.markings))

    def declared(self, sheet: CutSheet, settings: HpglSettings) -> Declared:
        """Where the machine counts from."""
        frame = to_mat(settings, sheet.mat)
        return replace(blade_of(sheet), frame=None if frame == Affine() else frame)

    def write(self, sheet: CutSheet, settings: HpglSettings) -> Outcome[bytes]:
        """The file.

        Raises:
            Refusal: a line has more points than the machine takes.
        """
        kept = self.writes(sheet, settings)
        found = lines(kept, layers(kept))
        onto = to_file(settings, kept.mat)
        parts = ["IN;"]
        if settings.speed is not None:
            parts.append(f"VS{settings.speed};")
        if settings.force is not None:
            parts.append(f"FS{settings.force};")
        pen = 0
        for line in found:
            if line.layer + 1 != pen:
                pen = line.layer + 1
                parts.append(f"SP{pen};")
            parts += [_strokes(line, onto, settings)] * line.cut.passes
        parts.append("PU0,0;SP0;")
        return Outcome(("\n".join(parts) + "\n").encode("ascii"))


def _strokes(line: Line, onto: Affine, settings: HpglSettings) -> str:
    """One line of the file: up to the start, down along the line."""
    points = flattened(transformed(line.path, onto), settings.tolerance)
    if isinstance(line.path, Outline):
        points = np.append(points, points[0])
    units = np.rint(points.view(np.float64) / UNIT_MM).astype(np.int64).reshape(-1, 2)
    moved = np.append(True, np.any(units[1:] != units[:-1], axis=1))
    steps = units[moved].tolist()
    if settings.most_points is not None and len(steps) > settings.most_points:
        raise Refusal(
            error(
                "too-many-points",
                f"{line.title} takes {len(steps)} points, and the machine takes {settings.most_points} a line.",
                hint="Raise the setting tolerance: a curve needs half the points at four times the tolerance.",
            )
        )
    (x, y), rest = steps[0], steps[1:]
    return f"PU{x},{y};PD" + ",".join(f"{x},{y}" for x, y in rest) + ";"


@hookimpl
def clothpath_writers() -> list[HpglWriter]:
    """The HPGL writer."""
    return [HpglWriter()]
