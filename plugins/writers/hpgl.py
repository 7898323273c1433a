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
from clothpath.curves import Affine, Outline, Path, box_of, flattened, transformed
from clothpath.cutplan import CutSheet
from clothpath.findings import Outcome
from clothpath.frame import to_file, to_mat
from clothpath.limits import LimitSettings, within_points, within_reach
from clothpath.linework import Markings, blade_of, carried, layers, lines, marks_first

__all__ = ["HpglSettings", "HpglWriter"]

UNIT_MM: Final = 0.025
"""A plotter unit."""


class HpglSettings(LimitSettings):
    """How an HPGL file is written."""

    tolerance: Annotated[Millimeters, Field(gt=0)] = Field(
        0.005, description="Farthest that a straight move may stray from the curve."
    )
    markings: Markings = Field("leave-out", description="Whether a pen draws the markings before the blade cuts.")
    speed: int | None = Field(None, gt=0, description="Cutting speed in cm/s (VS); left to the machine if not stated.")
    force: int | None = Field(
        None, gt=0, description="Blade force as the machine counts it (FS); left to it if not stated."
    )


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
            Refusal: the machine does not reach so far, or a line has more points than it takes.
        """
        kept = self.writes(sheet, settings)
        found = lines(kept, layers(kept))
        onto = to_file(settings, kept.mat)
        paths = [transformed(line.path, onto) for line in found]
        within_reach(settings, box_of(paths))
        steps = [_steps(path, settings.tolerance) for path in paths]
        within_points(settings, ((line.title, len(of)) for line, of in zip(found, steps, strict=True)))
        parts = ["IN;"]
        if settings.speed is not None:
            parts.append(f"VS{settings.speed};")
        if settings.force is not None:
            parts.append(f"FS{settings.force};")
        pen = 0
        for line, ((x, y), *rest) in zip(found, steps, strict=True):
            if line.layer + 1 != pen:
                pen = line.layer + 1
                parts.append(f"SP{pen};")
            stroke = f"PU{x},{y};PD" + ",".join(f"{x},{y}" for x, y in rest) + ";PU;"
            parts += [stroke] * line.cut.passes
        parts.append("PU0,0;SP0;")
        return Outcome(("\n".join(parts) + "\n").encode("ascii"))


def _steps(path: Path, tolerance: float) -> list[list[int]]:
    """The places of a line in plotter units, one after the other different."""
    points = flattened(path, tolerance)
    if isinstance(path, Outline):
        points = np.append(points, points[0])
    units = np.rint(points.view(np.float64) / UNIT_MM).astype(np.int64).reshape(-1, 2)
    moved = np.append(True, np.any(units[1:] != units[:-1], axis=1))
    steps: list[list[int]] = units[moved].tolist()
    return steps


@hookimpl
def clothpath_writers() -> list[HpglWriter]:
    """The HPGL writer."""
    return [HpglWriter()]
