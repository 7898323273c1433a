"""HPGL cut files for roll and flatbed cutters: pen up, pen down, absolute, 0.025 mm to the unit.

One pen a fabric, in the order in which they are cut. Curves become short straight moves within a chord tolerance.
Speed and force are written only where the machine profile states them: what a machine was set to by hand then stands.
A fabric of which it states none, after one of which it does, is cut as the machine is set by itself (VS and FS without
a number).

Source: HP-GL reference (plotter unit 0.025 mm; IN, SP, PU, PD, VS, FS).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final

import numpy as np
from pydantic import Field

from clothpath.contracts import Declared, Millimeters, hookimpl
from clothpath.curves import Outline, Path, box_of, flattened, transformed
from clothpath.cutplan import CutPlan, CutSheet
from clothpath.cutting.tried import NOTHING_TRIED
from clothpath.files.frame import look_mirrored, to_file, untold
from clothpath.files.limits import LimitSettings, within_points, within_reach
from clothpath.files.linework import Layer, Markings, blade_of, carried, layers, lines, marks_first
from clothpath.findings import Finding, Outcome, note

__all__ = ["HpglSettings", "HpglWriter"]

UNIT_MM: Final = 0.025
"""A plotter unit."""
MOST_TOLERANCE_MM: Final = 0.007
"""With more the proof could not hold: a rounded point is up to 0.018 mm off, and a plotter unit is the budget."""


class HpglSettings(LimitSettings):
    """How an HPGL file is written."""

    tolerance: Annotated[Millimeters, Field(gt=0, le=MOST_TOLERANCE_MM)] = Field(
        0.005, description="Farthest that a straight move may stray from the curve."
    )
    markings: Markings = Field("leave-out", description="Whether a pen draws the markings before the blade cuts.")
    speed: int | None = Field(None, gt=0, description="Cutting speed in cm/s (VS) where none was tried.")
    force: int | None = Field(None, gt=0, description="Blade force as the machine counts it (FS) where none was tried.")


class HpglWriter:
    """Writes HPGL."""

    name: Final = "hpgl"
    summary: Final = "HPGL for roll and flatbed cutters, one pen a fabric"
    suffix: Final = ".plt"
    settings: Final = HpglSettings
    run_as_is: Final = True

    def writes(self, sheet: CutSheet, settings: HpglSettings) -> CutSheet:
        """All that is cut, and the markings where a pen draws them."""
        return marks_first(carried(sheet, settings.markings))

    def declared(self, sheet: CutSheet, settings: HpglSettings) -> Declared:
        """Where the machine counts from."""
        return replace(blade_of(sheet), frame=untold(settings, sheet.mat))

    def write(self, sheet: CutSheet, settings: HpglSettings) -> Outcome[bytes]:
        """The file.

        Raises:
            Refusal: the machine does not reach so far, or a line has more points than it takes.
        """
        kept = self.writes(sheet, settings)
        on = layers(kept)
        found = lines(kept, on)
        onto = to_file(settings, kept.mat)
        paths = [transformed(line.path, onto) for line in found]
        within_reach(settings, box_of(paths))
        steps = [_steps(path, settings.tolerance) for path in paths]
        within_points(settings, ((line.title, len(of)) for line, of in zip(found, steps, strict=True)))
        parts = ["IN;"]
        tools = [_tool(layer, kept.plan, settings) for layer in on]
        held = _Tool()
        set_back: dict[str, None] = {}
        pen = 0
        for line, ((x, y), *rest) in zip(found, steps, strict=True):
            if line.layer + 1 != pen:
                pen = line.layer + 1
                tool = tools[line.layer]
                for command, before, now in (("VS", held.speed, tool.speed), ("FS", held.force, tool.force)):
                    if now != before:
                        parts.append(f"{command}{'' if now is None else f'{now:g}'};")
                        if now is None:
                            set_back[on[line.layer].title] = None
                held = tool
                parts.append(f"SP{pen};")
            stroke = f"PU{x},{y};PD" + ",".join(f"{x},{y}" for x, y in rest) + ";PU;"
            parts += [stroke] * line.cut.passes
        parts.append("PU0,0;SP0;")
        findings = (*_set_back(list(set_back)), *look_mirrored(settings, kept.mat))
        return Outcome(("\n".join(parts) + "\n").encode("ascii"), findings)


@dataclass(frozen=True, slots=True)
class _Tool:
    """What a pen is told: speed in cm/s and force, as far as they are stated."""

    speed: float | None = None
    force: float | None = None


def _tool(layer: Layer, plan: CutPlan, settings: HpglSettings) -> _Tool:
    tried = NOTHING_TRIED if layer.fabric is None else plan.tried_on(layer.fabric.key)
    pace = plan.speeds.cutting if layer.fabric is None else plan.pace(layer.fabric.key)
    speed = None if pace is None else round(pace / 10, 2)
    if tried.speed is None and settings.speed is not None:
        speed = settings.speed
    return _Tool(speed, settings.force if tried.force is None else tried.force)


def _set_back(titles: Sequence[str]) -> tuple[Finding, ...]:
    if not titles:
        return ()
    message = (
        f"No speed or no force is stated for {', '.join(titles)}, so the file sets the machine back to its own there."
    )
    hint = "Add what you found for it to the machine profile, as [[tried]]."
    return (note("set-back", message, "tried", hint),)


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
