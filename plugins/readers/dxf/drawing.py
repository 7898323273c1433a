"""The walk through a drawing: what of it is drawn, on which layer, in which color.

Terminology
    stroke      what one entity draws, with its layer and paint; still in the drawing's unit
    paint       a color, or whose color it takes: its layer's (BYLAYER) or its block's (BYBLOCK)
    block       a named set of entities; INSERT puts it, or an array of it, into the drawing
    layer "0"   in a block: the layer on which the block is inserted

Source: DXF Reference, "Common Group Codes for Entities" (8 layer, 62 color, 420 true color, 60 visibility, 67 paper
space), LAYER table (70 bit 1 frozen, 62 negative: off), BLOCKS section, INSERT.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeAlias

from clothpath.curves import Affine
from clothpath.findings import Finding, Refusal, error, note, warning
from clothpath.plugins.readers.dxf.document import Deadline
from clothpath.plugins.readers.dxf.shapes import CONVERTERS, Mark, Shape, extruded, finite, point, seen

__all__ = ["Content", "Stroke", "drawn"]

LARGEST: Final = 1e9
"""A coordinate beyond this, in the drawing's unit, is damage."""
BY_LAYER: Final = 256
BY_BLOCK: Final = 0
INK: Final = "#000000"
"""Color 7, which is black on paper and white on a dark screen; also what nothing colors."""

Entity: TypeAlias = Any
Document: TypeAlias = Any

_TEXT: Final = frozenset({"TEXT", "MTEXT", "ATTRIB", "ATTDEF", "ARCALIGNEDTEXT", "RTEXT"})
_PICTURE: Final = frozenset({"IMAGE", "WIPEOUT", "OLEFRAME", "OLE2FRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY"})
_SILENT: Final = frozenset({"VIEWPORT", "SEQEND", "ENDBLK", "BLOCK", "ATTDEF", "ATTRIB", "DXFTAGSTORAGE"})


@dataclass(frozen=True, slots=True)
class Paint:
    """A color "#rrggbb", or the layer whose color it is, or (both empty) the block's."""

    color: str = ""
    layer: str = ""


@dataclass(frozen=True, slots=True)
class Stroke:
    """What one entity draws.

    Attributes:
        blocks: names of the blocks that it stands in, outermost first.
        text: what a text entity says; its shape is None.
    """

    shape: Shape | Mark | str
    kind: str
    layer: str
    paint: Paint
    handle: str
    blocks: tuple[str, ...] = ()


@dataclass
class Content:
    """All that a drawing draws, and what was left out."""

    strokes: list[Stroke] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    colors: dict[str, str] = field(default_factory=dict)

    def color(self, stroke: Stroke) -> str:
        """The stroke's color in the end, as "#rrggbb"."""
        return stroke.paint.color or self.colors.get(stroke.paint.layer.casefold(), INK)


def drawn(document: Document, most_elements: int, deadline: Deadline) -> Content:
    """What the model space draws.

    Raises:
        Refusal: more than `most_elements` once blocks are inserted, or the deadline passes.
    """
    walk = _Walk(document, most_elements, deadline)
    strokes = [s for s in walk.contents(document.modelspace(), ()) if walk.visible(s)]
    return Content(strokes, walk.findings(), walk.colors)


class _Walk:
    def __init__(self, document: Document, most_elements: int, deadline: Deadline) -> None:
        self.document, self.most, self.deadline = document, most_elements, deadline
        self.blocks: dict[str, list[Stroke]] = {}
        self.left_out: Counter[tuple[str, str]] = Counter()
        self.places: dict[tuple[str, str], str] = {}
        self.colors: dict[str, str] = {}
        self.hidden: dict[str, str] = {}
        self.budget = most_elements
        for layer in document.layers:
            self._know(layer)

    def _know(self, layer: Any) -> None:
        name = _clean(layer.dxf.name).casefold()
        self.colors[name] = _color(abs(layer.dxf.color), layer.dxf.get("true_color"))
        if layer.is_frozen():
            self.hidden[name] = "frozen"
        elif layer.dxf.color < 0:
            self.hidden[name] = "off"
        elif name == "defpoints":
            self.hidden[name] = "never printed"

    def contents(self, entities: Iterable[Entity], around: tuple[str, ...]) -> list[Stroke]:
        """The strokes of a layout or block, its inserts resolved."""
        strokes: list[Stroke] = []
        for number, entity in enumerate(entities):
            if number % 256 == 0:
                self.deadline.check()
            kind = entity.dxftype()
            if entity.dxf.get("invisible", 0):
                self._leave("hidden", kind, entity)
            elif kind == "INSERT":
                strokes.extend(self._inserted(entity, around))
            else:
                strokes.extend(self._strokes(entity, kind))
        return strokes

    def _strokes(self, entity: Entity, kind: str) -> list[Stroke]:
        shapes = self._shapes(entity, kind)
        self._spend(len(shapes))
        layer = _clean(entity.dxf.get("layer", "0"))
        paint = _paint(entity, layer)
        handle = entity.dxf.get("handle") or ""
        return [Stroke(shape, kind, layer, paint, handle) for shape in shapes]

    def _shapes(self, entity: Entity, kind: str) -> list[Shape | Mark | str]:
        if kind == "POINT":
            at = entity.dxf.location
            return [Mark(complex(at[0], at[1]), entity.dxf.get("angle", 0.0))]
        if kind in ("TEXT", "MTEXT"):
            return [_clean(entity.dxf.text if kind == "TEXT" else entity.text)]
        if kind not in CONVERTERS:
            if kind not in _SILENT:
                self._leave("text" if kind in _TEXT else "picture" if kind in _PICTURE else "kind", kind, entity)
            return []
        try:
            shapes = CONVERTERS[kind](entity)
        except Refusal:
            raise
        except Exception as fault:  # a damaged entity may raise anything; the rest of the drawing goes on
            self._leave("broken", f"{kind}: {fault}" if isinstance(fault, ValueError) else kind, entity)
            return []
        good = [shape for shape in shapes if finite(shape.edge, LARGEST)]
        if len(good) < len(shapes):
            self._leave("broken", f"{kind}: a coordinate is no number or out of all bounds", entity)
        return list(good)

    def _inserted(self, insert: Entity, around: tuple[str, ...]) -> list[Stroke]:
        name = _clean(insert.dxf.get("name", ""))
        block = self.document.blocks.get(insert.dxf.get("name", ""))
        if block is None:
            self._leave("no-block", name, insert)
            return []
        if block.block is not None and block.block.dxf.get("flags", 0) & 12:  # 4: external reference, 8: overlay
            self._leave("external", name, insert)
            return []
        key = name.casefold()
        if key in around:
            self._leave("recursive", name, insert)
            return []
        layer = _clean(insert.dxf.get("layer", "0"))
        if self.hidden.get(layer.casefold()) == "frozen":
            self._leave("frozen", layer, insert)
            return []
        if key not in self.blocks:
            self.blocks[key] = self.contents(block, (*around, key))
        content = self.blocks[key]
        places = _places(insert, point(block.block.dxf.base_point))
        self._spend(len(content) * len(places))
        paint = _paint(insert, layer)
        handle = insert.dxf.get("handle") or ""
        return [_within(stroke, place, name, layer, paint, handle) for place in places for stroke in content]

    def _spend(self, count: int) -> None:
        self.budget -= count
        if self.budget < 0:
            raise Refusal(
                error(
                    "too-many-elements",
                    f"The drawing has more than {self.most} elements once its blocks are inserted.",
                    hint="Save only the parts that are to be cut, or raise the setting most-elements.",
                )
            )
        if count > 256:
            self.deadline.check()

    def visible(self, stroke: Stroke) -> bool:
        why = self.hidden.get(stroke.layer.casefold())
        if why is None:
            return True
        self._note(why, stroke.layer, stroke.handle)
        return False

    def _leave(self, why: str, what: str, entity: Entity) -> None:
        self._note(why, what, entity.dxf.get("handle") or "")

    def _note(self, why: str, what: str, handle: str) -> None:
        self.left_out[why, what] += 1
        self.places.setdefault((why, what), f"element {handle}" if handle else "")

    def findings(self) -> list[Finding]:
        return [
            _left_out(why, what, count, self.places[why, what]) for (why, what), count in sorted(self.left_out.items())
        ]


def _within(stroke: Stroke, place: Affine, block: str, layer: str, paint: Paint, handle: str) -> Stroke:
    """A block's stroke where it is inserted."""
    own = stroke.paint
    if own == Paint():
        own = paint
    elif own.layer == "0":
        own = Paint(layer=layer)
    shape = stroke.shape
    if isinstance(shape, Shape):
        shape = replace(shape, edge=seen(shape.edge, place))
    elif isinstance(shape, Mark):
        turned = place.apply(complex(math.cos(math.radians(shape.turn)), math.sin(math.radians(shape.turn))))
        turned -= place.apply(0j)
        shape = Mark(place.apply(shape.at), math.degrees(math.atan2(turned.imag, turned.real)))
    return Stroke(
        shape,
        stroke.kind,
        layer if stroke.layer == "0" else stroke.layer,
        own,
        f"{handle}/{stroke.handle}",
        (block, *stroke.blocks),
    )


def _places(insert: Entity, base: complex) -> list[Affine]:
    """The map of each member of the array: scaled, turned and placed about the block's base point."""
    dxf = insert.dxf
    at = dxf.get("insert", (0, 0, 0))
    scaled = Affine.scale(dxf.get("xscale", 1.0), dxf.get("yscale", 1.0)) @ Affine.shift(-base)
    turned = Affine.turn(dxf.get("rotation", 0.0))
    plan = extruded(dxf.get("extrusion", (0, 0, 1)), at[2] if len(at) > 2 else 0.0)
    rows, columns = max(1, dxf.get("row_count", 1)), max(1, dxf.get("column_count", 1))
    if rows * columns > 1_000_000:
        rows = columns = 1000
    return [
        plan
        @ Affine.shift(complex(at[0], at[1]))
        @ turned
        @ Affine.shift(complex(column * dxf.get("column_spacing", 0.0), row * dxf.get("row_spacing", 0.0)))
        @ scaled
        for row in range(rows)
        for column in range(columns)
    ]


def _paint(entity: Entity, layer: str) -> Paint:
    true = entity.dxf.get("true_color")
    index = entity.dxf.get("color", BY_LAYER)
    if true is not None:
        return Paint(color=f"#{true & 0xFFFFFF:06x}")
    if index == BY_BLOCK:
        return Paint()
    if 0 < index < BY_LAYER:
        return Paint(color=_color(index, None))
    return Paint(layer=layer)


def _color(index: int, true: int | None) -> str:
    from ezdxf.colors import aci2rgb

    if true is not None:
        return f"#{true & 0xFFFFFF:06x}"
    if index == 7 or not 0 < index < BY_LAYER:
        return INK
    return str(aci2rgb(index).to_hex())


def _clean(text: str) -> str:
    """Text without what could not be decoded."""
    return str(text).encode("utf-8", "replace").decode("utf-8")


def _left_out(why: str, what: str, count: int, where: str) -> Finding:
    times = f"{count} elements" if count != 1 else "1 element"
    were = "were" if count != 1 else "was"
    match why:
        case "frozen" | "off" | "never printed":
            return warning(
                "layer-hidden",
                f'{times} on layer "{what}" {were} left out: the layer is {why}.',
                where,
                "Show the layer in the drawing program if it is to be cut.",
            )
        case "hidden":
            return note("hidden", f"{times} ({what}) {were} left out: marked as invisible.", where)
        case "text":
            return _text_left_out(what, count, where)
        case "picture":
            return warning(
                "picture",
                f"{times} ({what}) {were} left out: pictures and embedded objects cannot be cut.",
                where,
                "Trace the picture into lines in a drawing program.",
            )
        case "broken":
            return warning("broken-element", f"{times} could not be read ({what}).", where, "Draw it again.")
        case "no-block":
            return warning("block-missing", f'{times} insert the block "{what}", which is not in the file.', where)
        case "external":
            return warning(
                "external-reference",
                f'{times} refer to another file, "{what}"; it is not followed.',
                where,
                "Bind the reference into the drawing in the program that made it.",
            )
        case "recursive":
            return warning("block-in-itself", f'The block "{what}" contains itself; that was left out.', where)
        case _:
            return warning(
                "kind-unknown",
                f"{times} of the kind {what} {were} left out: it is not a line that can be cut.",
                where,
                "Explode or convert it to lines in the program that made it.",
            )


def _text_left_out(what: str, count: int, where: str) -> Finding:
    return warning(
        "text",
        f"{count} text{'s' if count != 1 else ''} ({what}) left out: letters cannot be cut as text.",
        where,
        "Convert the text to lines in the drawing program if it is to be cut.",
    )
