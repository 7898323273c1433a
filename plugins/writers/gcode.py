"""G-code cut files for a drag knife or a knife that is turned along the cut.

Unit, plane and distance mode are stated. The program stops before its first move and goes on when the operator starts
it. Between lines the knife is lifted; z = 0 is where its tip touches the mat. Feed and depth are the machine's and the
cloth's, so nothing is written that the machine profile does not state. What a person found to work for a fabric goes
before the writer's own settings, and is told in a comment.

Terminology
    safe height     above everything that stands on the table; for the first and the last move
    lift            the height for moves between lines
    drag knife      turns by itself; who allows for its offset is the blade's matter
    tangential      a knife that an axis turns into the direction of the cut, in degrees counterclockwise from x

Sources: RS-274/NGC (NISTIR 6556): G0 to G3, G17, G20, G21, G40, G49, G90, M0, M2, comments in parentheses, arc centers
by I and J from the start of the arc; ISO 6983-1.
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

from pydantic import Field

from clothpath.contracts import Declared, Millimeters, hookimpl
from clothpath.curves import Affine, box_of, transformed
from clothpath.cutplan import CutPlan, CutSheet
from clothpath.files.frame import look_mirrored, to_file, untold
from clothpath.files.limits import MOST_TOLERANCE_MM, LimitSettings, within_points, within_reach
from clothpath.files.linework import Layer, Markings, blade_of, carried, layers, lines, marks_first, sheet_title
from clothpath.files.names import ascii_text
from clothpath.findings import Finding, Outcome, warning
from clothpath.fitting.arcs import ArcChain, arc_of, fitted, polyline
from clothpath.units import Length

__all__ = ["GcodeSettings", "GcodeWriter"]

LEAST_SAGITTA_MM: Final = 0.0005
"""An arc flatter than this is written as a straight move."""
CLOSE_ANGLE: Final = 1.0
"""A tangential knife is not turned by itself for less than this, in degrees."""

_MM: Final = {"mm": 1.0, "in": 25.4}
_DIGITS: Final = {"mm": 4, "in": 5}
_UNIT_WORD: Final = {"mm": "G21", "in": "G20"}
_UNIT_NAME: Final = {"mm": "millimeters", "in": "inches"}


class GcodeSettings(LimitSettings):
    """How a G-code file is written."""

    unit: Literal["mm", "in"] = Field("mm", description="The unit of all coordinates.")
    curves: Literal["arcs", "lines"] = Field(
        "arcs", description="Whether curves are cut by G2 and G3 or by short lines."
    )
    tolerance: Annotated[Millimeters, Field(gt=0, le=MOST_TOLERANCE_MM)] = Field(
        0.005, description="Farthest that arcs or lines may stray from the curve."
    )
    safe_height: Annotated[Millimeters, Field(gt=0)] = Field(
        25.0, description="Height of the first and the last move, above all that stands on the table."
    )
    lift: Annotated[Millimeters, Field(gt=0)] = Field(5.0, description="Height of moves between lines.")
    depth: Annotated[Millimeters, Field(ge=0)] = Field(
        0.0,
        description="How far below the first touch of the mat the tip cuts where no depth was tried; "
        "0 mm if it was set by hand.",
    )
    feed: Annotated[Millimeters, Field(gt=0)] | None = Field(
        None, description="Way cut in a minute, as a length, where no speed was tried."
    )
    knife: Literal["drag", "tangential"] = Field("drag", description="A knife that trails, or one that an axis turns.")
    turning_axis: Literal["A", "B", "C"] = Field("C", description="The axis that turns a tangential knife.")
    corner: float = Field(
        20.0, gt=0, lt=180, description="Degrees from which a tangential knife is lifted to turn at a corner."
    )
    markings: Markings = Field("leave-out", description="Whether a pen draws the markings before the knife is put in.")


class GcodeWriter:
    """Writes G-code."""

    name: Final = "gcode"
    summary: Final = "G-code for a drag or tangential knife, with arcs"
    suffix: Final = ".ngc"
    settings: Final = GcodeSettings
    run_as_is: Final = True

    def writes(self, sheet: CutSheet, settings: GcodeSettings) -> CutSheet:
        """All that is cut, after the markings where a pen draws them."""
        return marks_first(carried(sheet, settings.markings))

    def declared(self, sheet: CutSheet, settings: GcodeSettings) -> Declared:
        """Where the machine counts from."""
        return replace(blade_of(sheet), frame=untold(settings, sheet.mat))

    def write(self, sheet: CutSheet, settings: GcodeSettings) -> Outcome[bytes]:
        """The file.

        Raises:
            Refusal: the machine does not reach so far, or a line has more points than it takes.
        """
        kept = self.writes(sheet, settings)
        on = layers(kept)
        found = lines(kept, on)
        onto = Affine.scale(1 / _MM[settings.unit]) @ to_file(settings, kept.mat)
        paths = [transformed(line.path, onto) for line in found]
        within_reach(settings, box_of(paths), _MM[settings.unit])
        tolerance = settings.tolerance / _MM[settings.unit]
        if settings.curves == "arcs":
            chains = fitted(paths, tolerance)
        else:
            chains = [polyline(path, tolerance) for path in paths]
        within_points(settings, ((line.title, len(of.points)) for line, of in zip(found, chains, strict=True)))
        sets = [_tool_set(of, kept.plan, settings) for of in on]
        scribe = _Scribe(settings)
        program = [*_header(kept, settings)]
        layer = -1
        for n, (line, chain) in enumerate(zip(found, chains, strict=True)):
            if settings.markings == "draw" and (n == 0 or line.cut.kind != found[n - 1].cut.kind):
                program += scribe.tool("pen" if line.cut.kind == "mark" else "knife")
            if line.layer != layer:
                layer = line.layer
                program += _about(on[layer], kept.plan)
                scribe.tool_set = sets[layer]
            program.append(_comment(line.title))
            for _ in range(line.cut.passes):
                program += scribe.line(chain, line.cut.kind == "cut")
        program += [f"G0 Z{scribe.number(settings.safe_height / _MM[settings.unit])}", "M2"]
        findings = (*_findings(on, sets), *look_mirrored(settings, kept.mat))
        return Outcome(("\n".join(program) + "\n").encode("ascii"), findings)


@dataclass(frozen=True, slots=True)
class _ToolSet:
    """How a layer is run: mm below the first touch, and mm a minute; None: nobody stated it."""

    depth: float
    feed: float | None


def _tool_set(layer: Layer, plan: CutPlan, settings: GcodeSettings) -> _ToolSet:
    """What the profile states for a layer: as tried on its fabric, else the writer's settings, else its speeds."""
    if layer.fabric is None:
        pace, depth = plan.speeds.cutting, 0.0
        stated = settings.feed
    else:
        tried, pace = plan.tried_on(layer.fabric.key), plan.pace(layer.fabric.key)
        depth = settings.depth
        if tried.depth is not None:
            depth = tried.depth.mm if isinstance(tried.depth, Length) else 0.0
        stated = settings.feed if tried.speed is None else None
    if stated is None and pace is not None:
        stated = pace * 60
    return _ToolSet(depth, stated)


def _about(layer: Layer, plan: CutPlan) -> Iterator[str]:
    if layer.fabric is None:
        yield _comment(layer.title)
        return
    yield _comment(f"Fabric: {layer.title}")
    tried = plan.tried_on(layer.fabric.key)
    if tried.said or tried.remark:
        yield _comment(f"Found for {tried.cloth}: {tried.said}. {tried.remark}")


def _findings(on: Sequence[Layer], sets: Sequence[_ToolSet]) -> tuple[Finding, ...]:
    without = [layer.title for layer, tool in zip(on, sets, strict=True) if tool.feed is None]
    if not without:
        return ()
    message = "The file states no feed, because the machine profile states no speed."
    if len(without) < len(on):
        which = ", ".join(without)
        message = f"The file states no feed for {which}, so the machine goes on there as it is set or was told before."
    hint = 'Set the feed at the machine, or write the speed into its profile: [speed] with cutting = "80 mm/s" or such.'
    return (warning("feed-not-stated", message, "", hint),)


def _header(sheet: CutSheet, settings: GcodeSettings) -> Iterator[str]:
    """What the operator should know, the modes, and the stop before the first move."""
    corner = settings.origin.replace("-", " ")
    place = "the middle" if settings.origin == "center" else f"the {corner} corner"
    for said in (
        f"Clothpath: {sheet_title(sheet)}",
        f"Unit: {_UNIT_NAME[settings.unit]}. Plane: XY. Distances: absolute. Knife: {settings.knife}",
        f"X and Y are 0 at {place} of the mat; X runs {settings.x_axis}, Y runs {settings.y_axis}, seen from above",
        "Z is 0 where the tip touches the mat; Z+ is up",
        "CAUTION: the machine maker's manual comes first. Where it differs from this file, follow the manual",
        "CAUTION: no spindle runs. The knife is sharp: wear eye protection, keep hands and hair away",
        "CAUTION: try the file first without a knife, well above the mat",
        "Nothing moves before the operator starts the program again after the stop",
    ):
        yield _comment(said)
    yield f"{_UNIT_WORD[settings.unit]} G17 G90 G40 G49"
    yield "M0"


class _Scribe:
    """Writes moves; remembers the direction of a tangential knife."""

    def __init__(self, settings: GcodeSettings) -> None:
        self.settings = settings
        self.scale = 1 / _MM[settings.unit]
        self.digits = _DIGITS[settings.unit]
        self.angle = 0.0
        self.up = False
        self.tool_set = _ToolSet(0.0, None)

    def number(self, value: float) -> str:
        shown = f"{value:.{self.digits}f}".rstrip("0").rstrip(".")
        return "0" if shown == "-0" else shown

    def tool(self, name: str) -> list[str]:
        """A stop to change the tool."""
        self.up = False
        return [self.height(self.settings.safe_height), _comment(f"Put the {name} in, then start again"), "M0"]

    def height(self, mm: float) -> str:
        return f"G0 Z{self.number(mm * self.scale)}"

    def line(self, chain: ArcChain, cuts: bool) -> Iterator[str]:
        """Up, over to the start, down, along the line, up."""
        settings = self.settings
        turned = settings.knife == "tangential" and cuts
        if not self.up:
            yield self.height(settings.safe_height)
            self.up = True
        tool = self.tool_set
        feed = "" if tool.feed is None else f" F{self.number(tool.feed * self.scale)}"
        down = f"G1 Z{self.number(-tool.depth * self.scale)}{feed}"
        points = [complex(round(p.real, self.digits), round(p.imag, self.digits)) for p in chain.points.tolist()]
        over = f"G0 X{self.number(points[0].real)} Y{self.number(points[0].imag)}"
        lowered = False
        for start, end, bulge in zip(points[:-1], points[1:], chain.bulges.tolist(), strict=True):
            if start == end:
                continue
            if abs(end - start) * abs(bulge) / 2 < LEAST_SAGITTA_MM * self.scale:
                bulge = 0.0
            move = self._move(start, end, bulge)
            if not turned:
                if not lowered:
                    yield over
                    yield down
                    lowered = True
                yield move
                continue
            half = 2 * math.degrees(math.atan(bulge))
            chord = math.degrees(cmath.phase(end - start))
            leaving = self._nearest(chord - half)
            if not lowered:
                yield f"{over} {self._axis(leaving)}"
                yield down
                lowered = True
            elif abs(leaving - self.angle) >= settings.corner:
                yield self.height(settings.lift)
                yield f"G0 {self._axis(leaving)}"
                yield down
            elif abs(leaving - self.angle) >= CLOSE_ANGLE:
                yield f"G1 {self._axis(leaving)}"
            self.angle = leaving + 2 * half
            yield f"{move} {self._axis(self.angle)}"
        yield self.height(settings.lift)

    def _move(self, start: complex, end: complex, bulge: float) -> str:
        to = f"X{self.number(end.real)} Y{self.number(end.imag)}"
        if not bulge:
            return f"G1 {to}"
        center = arc_of(start, end, bulge).center - start
        word = "G3" if bulge > 0 else "G2"
        return f"{word} {to} I{self.number(center.real)} J{self.number(center.imag)}"

    def _nearest(self, degrees: float) -> float:
        """The angle with this direction that is nearest to where the knife stands, so that it never unwinds."""
        return degrees + 360 * round((self.angle - degrees) / 360)

    def _axis(self, degrees: float) -> str:
        shown = f"{round(degrees, 3) + 0.0:.3f}".rstrip("0").rstrip(".")
        return f"{self.settings.turning_axis}{shown}"


def _comment(said: str) -> str:
    """A comment line that does no harm in a dialect which knows other comments: no word such as M3, no semicolon."""
    plain = re.sub(r"[^A-Za-z0-9 .,:&'+/?-]", " ", ascii_text(said, 200))
    apart = re.sub(r"(?<=[A-Za-z])(?=[-+.]?\d)", " ", plain)
    return "(" + " ".join(apart.split()) + ")"


@hookimpl
def clothpath_writers() -> list[GcodeWriter]:
    """The G-code writer."""
    return [GcodeWriter()]
