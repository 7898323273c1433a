"""DXF cut files: R12, R2000 and R2010, in mm or inches, one layer a fabric with its color.

Closed lines become one entity each, in the order in which they are cut: SPLINE where there are curves (a chain of
cubic Béziers is the B-spline of degree 3 whose inner knots are threefold, so nothing is lost), LWPOLYLINE, or the old
POLYLINE of R12. The frame of the file (header, tables, blocks, objects) is what ezdxf writes of an empty drawing; it
ships as text, and the lines are put into it as tags. That is many times faster than to load ezdxf and to build
every entity.

Sources: DXF reference ($INSUNITS, $MEASUREMENT, entity groups, bulge = tan(angle/4)); Bézier chain as B-spline,
G. Farin, Curves and Surfaces for CAGD (5th ed., 2002), 8.5; layers 1 (boundary), 8 (not cut) and 11 (cut inside),
ASTM D6673-10.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.resources import files
from typing import Annotated, Final, Literal, Self, get_args

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from clothpath.contracts import Declared, Millimeters, hookimpl
from clothpath.curves import Affine, Path, Points, box_of, cubics, transformed
from clothpath.cutplan import CutSheet
from clothpath.files.frame import look_mirrored, to_file, untold
from clothpath.files.limits import MOST_TOLERANCE_MM, LimitSettings, within_points, within_reach
from clothpath.files.linework import Layer, Line, Markings, blade_of, carried, layers, lines, passes_note, passes_once
from clothpath.findings import Outcome, warning
from clothpath.fitting.arcs import ArcChain, fitted, polyline
from clothpath.pages.ink import ink

__all__ = ["DxfSettings", "DxfWriter"]

DIGITS: Final = 5
"""Decimals of a coordinate, in mm or inches: 0.00013 mm at worst."""
BULGE_DIGITS: Final = 8
"""Decimals of a bulge: 0.0000025 mm on a chord of 1 m."""

_INSUNITS: Final = {"mm": 4, "in": 1}
_MEASUREMENT: Final = {"mm": 1, "in": 0}
_MM: Final = {"mm": 1.0, "in": 25.4}
_NAMES: Final = {"mm": "millimeters", "in": "inches"}

Version = Literal["R12", "R2000", "R2010"]


class DxfSettings(LimitSettings):
    """How a DXF file is written."""

    version: Version = Field("R2000", description="The oldest software that must read it; R12 cannot state its unit.")
    unit: Literal["mm", "in"] = Field("mm", description="The unit of the drawing.")
    curves: Literal["best", "splines", "arcs", "polylines"] = Field(
        "best", description="What curves become; best: splines, and arcs in R12, which has no splines."
    )
    tolerance: Annotated[Millimeters, Field(gt=0, le=MOST_TOLERANCE_MM)] = Field(
        0.005, description="Farthest that arcs or a polyline may stray from the curve."
    )
    layers: Literal["fabric", "astm"] = Field(
        "fabric", description="One layer a fabric, or layers 1, 8 and 11 of ASTM D6673 for boundary, drawn and cut out."
    )
    markings: Markings = Field("draw", description="Whether markings are drawn, on a layer of their own.")

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if self.version == "R12" and self.curves == "splines":
            raise ValueError('version "R12" has no splines; set curves to "arcs", or version to "R2000"')
        return self


class DxfWriter:
    """Writes DXF."""

    name: Final = "dxf"
    summary: Final = "DXF R12, R2000 or R2010 in mm or inches, one layer a fabric"
    suffix: Final = ".dxf"
    settings: Final = DxfSettings

    def writes(self, sheet: CutSheet, settings: DxfSettings) -> CutSheet:
        """All that is cut, and the markings unless they are left out."""
        return passes_once(carried(sheet, settings.markings))

    def declared(self, sheet: CutSheet, settings: DxfSettings) -> Declared:
        """The unit, which R12 cannot state, and where the machine counts from."""
        mm = _MM[settings.unit] if settings.version == "R12" else None
        return replace(blade_of(sheet), mm_per_unit=mm, frame=untold(settings, sheet.mat))

    def write(self, sheet: CutSheet, settings: DxfSettings) -> Outcome[bytes]:
        """The file.

        Raises:
            Refusal: the machine does not reach so far, or a line has more points than it takes.
        """
        kept = self.writes(sheet, settings)
        scale = 1 / _MM[settings.unit]
        on = layers(kept)
        found = lines(kept, on)
        onto = Affine.scale(scale) @ to_file(settings, kept.mat)
        paths = [transformed(line.path, onto) for line in found]
        box = box_of(paths)
        within_reach(settings, box, _MM[settings.unit])
        shapes = _shapes(paths, settings)
        counts = [3 * len(shape) + 1 if isinstance(shape, Path) else len(shape.points) for shape in shapes]
        within_points(settings, ((line.title, count) for line, count in zip(found, counts, strict=True)))
        frame = _frame(settings.version)
        handles = iter(range(frame.next_handle, 1 << 48))
        table = [frame.layer_entry(name, color, handles) for name, color in _table(on, settings)]
        scribe = _Scribe(settings, frame.model_space, handles)
        entities = [
            scribe.entity(shape, _layer_name(line, on, settings)) for line, shape in zip(found, shapes, strict=True)
        ]
        text = frame.filled(
            {
                "$EXTMIN": _tags(10, box.left, 20, box.bottom, 30, 0.0),
                "$EXTMAX": _tags(10, box.right, 20, box.top, 30, 0.0),
                "$LIMMAX": _tags(10, kept.mat.width * scale, 20, kept.mat.height * scale),
                "$INSUNITS": _tags(70, _INSUNITS[settings.unit]),
                "$MEASUREMENT": _tags(70, _MEASUREMENT[settings.unit]),
                "layer count": f"{frame.own_layers + len(table)}\n",
                "layers": "".join(table),
                "entities": "".join(entities),
                "$HANDSEED": _tags(5, f"{next(handles):X}"),
            }
        )
        findings = [*passes_note(sheet, self.name), *look_mirrored(settings, kept.mat)]
        if settings.version == "R12":
            text = _tags(999, f"Coordinates are in {_NAMES[settings.unit]}") + text
            findings.append(
                warning(
                    "unit-not-stated",
                    f"DXF R12 cannot state its unit; the coordinates are in {_NAMES[settings.unit]}.",
                    hint=f"Choose {_NAMES[settings.unit]} where the cutting software asks.",
                )
            )
        return Outcome(text.encode("ascii"), tuple(findings))


def _shapes(paths: Sequence[Path], settings: DxfSettings) -> list[ArcChain | Path]:
    """What each path becomes: a polyline, or, where it stays a path, a spline."""
    curves = settings.curves
    if curves == "best":
        curves = "arcs" if settings.version == "R12" else "splines"
    tolerance = settings.tolerance / _MM[settings.unit]
    if curves == "arcs":
        return [*fitted(paths, tolerance)]
    return [path if curves == "splines" and not path.straight.all() else polyline(path, tolerance) for path in paths]


def _tags(*codes_and_values: float | str) -> str:
    """Group codes and values in turn, as lines of the file."""
    found: list[str] = []
    for code, value in zip(codes_and_values[::2], codes_and_values[1::2], strict=True):
        shown = str(round(value, DIGITS) + 0.0) if isinstance(value, float) else value
        found.append(f"{code:>3}\n{shown}\n")
    return "".join(found)


def _table(on: Sequence[Layer], settings: DxfSettings) -> list[tuple[str, int]]:
    """Names and colors of the file's own layers."""
    if settings.layers == "astm":
        return [(name, 7) for name in ("1", "8", "11")]
    return [(layer.id, _color_number(layer)) for layer in on]


def _layer_name(line: Line, on: Sequence[Layer], settings: DxfSettings) -> str:
    if settings.layers == "fabric":
        return on[line.layer].id
    if line.cut.kind == "mark":
        return "8"
    return "11" if line.cut.ring else "1"


def _color_number(layer: Layer) -> int:
    """The nearest color of the DXF color table."""
    if layer.fabric is None:
        return 7
    wanted = np.array([int(ink(layer.fabric.color)[i : i + 2], 16) for i in (1, 3, 5)])
    return 1 + int(np.abs(_palette() - wanted).sum(axis=1).argmin())


@cache
def _palette() -> NDArray[np.int64]:
    """(249, 3) red, green and blue of color numbers 1 to 249."""
    return np.array(_shipped("colors.txt").split(), dtype=np.int64).reshape(-1, 3)


@dataclass(frozen=True, slots=True)
class _Scribe:
    """Writes entities into the model space of a file."""

    settings: DxfSettings
    model_space: str
    handles: Iterator[int]

    def entity(self, shape: ArcChain | Path, layer: str) -> str:
        """The shape as one entity on its layer."""
        if isinstance(shape, Path):
            return self.spline(shape, layer)
        return self.old_polyline(shape, layer) if self.settings.version == "R12" else self.polyline(shape, layer)

    def spline(self, path: Path, layer: str) -> str:
        """The chain of cubics as one B-spline of degree 3 with threefold inner knots."""
        curves = cubics(path)
        points = np.append(curves[:, :3].ravel(), curves[-1, 3])
        count = len(curves)
        knots = np.repeat(np.arange(count + 1), [4, *[3] * (count - 1), 4]).tolist()
        return (
            self._opening("SPLINE", "AcDbSpline", layer)
            + _tags(70, 8, 71, 3, 72, len(knots), 73, len(points), 74, 0)
            + "".join(f" 40\n{knot}.0\n" for knot in knots)
            + "".join(f" 10\n{x}\n 20\n{y}\n 30\n0.0\n" for x, y in _rounded(points))
        )

    def polyline(self, chain: ArcChain, layer: str) -> str:
        """The polyline of R2000 and later."""
        vertices = _vertices(chain)
        return (
            self._opening("LWPOLYLINE", "AcDbPolyline", layer)
            + _tags(90, len(vertices), 70, int(chain.closed))
            + "".join(f" 10\n{x}\n 20\n{y}\n{bulge}" for x, y, bulge in vertices)
        )

    def old_polyline(self, chain: ArcChain, layer: str) -> str:
        """The polyline of R12: every vertex is an entity of its own."""
        closed = int(chain.closed)
        opening = _tags(0, "POLYLINE", 5, self._handle(), 8, layer, 66, 1, 10, 0.0, 20, 0.0, 30, 0.0, 70, closed)
        vertices = [
            f"  0\nVERTEX\n  5\n{self._handle()}\n  8\n{layer}\n 10\n{x}\n 20\n{y}\n 30\n0.0\n{bulge}"
            for x, y, bulge in _vertices(chain)
        ]
        return opening + "".join(vertices) + _tags(0, "SEQEND", 5, self._handle(), 8, layer)

    def _opening(self, kind: str, subclass: str, layer: str) -> str:
        return _tags(0, kind, 5, self._handle(), 330, self.model_space, 100, "AcDbEntity", 8, layer, 100, subclass)

    def _handle(self) -> str:
        return f"{next(self.handles):X}"


def _vertices(chain: ArcChain) -> list[tuple[float, float, str]]:
    """Coordinates of each vertex with the tag of the bulge that follows it; a closed chain ends before its start."""
    bulges = [f" 42\n{bulge:.{BULGE_DIGITS}f}\n" if bulge else "" for bulge in chain.bulges.tolist()]
    points, bulges = (chain.points[:-1], bulges) if chain.closed else (chain.points, [*bulges, ""])
    return [(x, y, bulge) for (x, y), bulge in zip(_rounded(points), bulges, strict=True)]


def _rounded(points: Points) -> list[list[float]]:
    rounded: list[list[float]] = (
        (np.round(np.ascontiguousarray(points).view(np.float64), DIGITS) + 0.0).reshape(-1, 2).tolist()
    )
    return rounded


@dataclass(frozen=True, slots=True)
class _Frame:
    """A DXF file without layers and lines.

    Attributes:
        text: with {names} where something goes.
        own_layers: how many it has already.
        layer: an entry of the layer table, likewise.
        model_space: the handle of the model space.
        next_handle: the first that is free.
    """

    text: str
    own_layers: int
    layer: str
    model_space: str
    next_handle: int

    def filled(self, contents: dict[str, str]) -> str:
        """The file with these contents; a variable that this version does not have is left out."""
        text = self.text
        for name, content in contents.items():
            text = text.replace(f"{{{name}}}\n", content, 1)
        return text

    def layer_entry(self, name: str, color: int, handles: Iterator[int]) -> str:
        """One entry of the layer table."""
        entry = self.layer.replace("{handle}", f"{next(handles):X}")
        return entry.replace("{name}", name).replace("{color}", str(color))


def _shipped(name: str) -> str:
    return (files("clothpath.shared") / "dxf" / name).read_text("ascii")


@lru_cache(maxsize=len(get_args(Version)))
def _frame(version: Version) -> _Frame:
    """The frame that ships for this version."""
    handles, _, rest = _shipped(f"frame-{version}.txt").partition("\n")
    layer, _, text = rest.partition("{frame}\n")
    model_space, next_handle = handles.split()
    table = text[text.index("  0\nTABLE\n  2\nLAYER\n") : text.index("{layers}")]
    return _Frame(text, table.count("  0\nLAYER\n"), layer, model_space, int(next_handle, 16))


@hookimpl
def clothpath_writers() -> list[DxfWriter]:
    """The DXF writer."""
    return [DxfWriter()]
