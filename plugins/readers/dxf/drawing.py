"""The walk through a drawing: what of it is drawn, on which layer, in which color.

Terminology
    item        a stroke, a dot or words, with its ink
    ink         how an item is drawn: its layer, its paint, the element it comes from and the blocks around that
    paint       a color, or whose color is taken: a layer's (BYLAYER) or the block's (BYBLOCK)
    block       a named set of entities; INSERT puts it, or an array of it, into the drawing
    layer "0"   in a block: the layer on which the block is inserted

Source: DXF Reference, "Common Group Codes for Entities" (8 layer, 62 color, 420 true color, 60 visibility), LAYER (70
bit 1 frozen, 62 negative: off), BLOCK (70 bits 4 and 8: external), INSERT. Layers as the reference's "Common Group
Codes" have them: a frozen insert hides all of its block, an off one only what is on the insert's own layer.
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from typing import Final, TypeAlias

from clothpath.curves import Affine
from clothpath.files.names import text
from clothpath.files.reading import Deadline, allow_more
from clothpath.findings import Refusal, error
from clothpath.plugins.readers.dxf.clips import clip_of, within
from clothpath.plugins.readers.dxf.document import Opened
from clothpath.plugins.readers.dxf.leftovers import Leftovers
from clothpath.plugins.readers.dxf.plain import run_at
from clothpath.plugins.readers.dxf.shapes import CONVERTERS, Entity, Stroke, finite, plane, seen, spot

__all__ = ["Content", "Dot", "Ink", "Item", "Words", "content_of"]

LARGEST: Final = 1e9
"""A coordinate beyond this, in the drawing's unit, is damage."""
DEEPEST: Final = 64
"""Blocks within blocks beyond this are damage."""
UPRIGHT: Final = 0.9999
"""Cosine of the tilt from which on an entity is drawn foreshortened."""
INK: Final = "#000000"
"""Color 7, black on paper and white on a dark screen; also what nothing colors."""
BY_BLOCK: Final = 0
BY_LAYER: Final = 256

_ESCAPED: Final = re.compile(r"\\U\+([0-9A-Fa-f]{4})")
_TEXTS: Final = frozenset({"TEXT", "MTEXT"})
_SILENT: Final = frozenset({"VIEWPORT", "SEQEND", "ATTDEF", "DXFTAGSTORAGE"})


@dataclass(frozen=True, slots=True)
class Paint:
    """A color "#rrggbb", or the layer whose color it is, or (both empty) the block's."""

    color: str = ""
    layer: str = ""


@dataclass(frozen=True, slots=True)
class Ink:
    """How an item is drawn.

    Attributes:
        element: the handle, after those of the inserts around it; "" if the file has none.
        blocks: names of the blocks around it, outermost first.
    """

    kind: str
    layer: str
    paint: Paint
    element: str
    blocks: tuple[str, ...] = ()

    @property
    def where(self) -> str:
        return f'{self.kind}{" " if self.element else ""}{self.element} on layer "{self.layer}"'


@dataclass(frozen=True, slots=True)
class Dot:
    """A POINT: where it is, and its direction in degrees (group code 50)."""

    at: complex
    turn: float


@dataclass(frozen=True, slots=True)
class Words:
    """A text: what it says."""

    text: str


Drawable: TypeAlias = Stroke | Dot | Words


@dataclass(frozen=True, slots=True)
class Item:
    what: Drawable
    ink: Ink


@dataclass
class Content:
    """All that a drawing shows, in drawing order, and what was left out."""

    items: list[Item]
    leftovers: Leftovers
    colors: dict[str, str] = field(default_factory=dict)

    def color(self, ink: Ink) -> str:
        """The ink's color in the end, as "#rrggbb"."""
        return ink.paint.color or self.colors.get(ink.paint.layer.casefold(), INK)

    def leave_dots_and_words(self) -> None:
        """Note down that no piece comes of them."""
        for item in self.items:
            match item.what:
                case Dot():
                    self.leftovers.add("points", "", item.ink.element)
                case Words(said):
                    self.leftovers.add("words", said, item.ink.element)


def content_of(file: Opened, most_elements: int, deadline: Deadline) -> Content:
    """What the model space shows.

    Raises:
        Refusal: more than `most_elements` lines and arcs once blocks are inserted, or the deadline passes.
    """
    walk = _Walk(file, most_elements, deadline)
    items = walk.contents(file.document.modelspace(), ())
    return Content([item for item in items if walk.shown(item.ink)], walk.leftovers, walk.colors)


class _Walk:
    def __init__(self, file: Opened, most_elements: int, deadline: Deadline) -> None:
        self.file, self.most, self.deadline = file, most_elements, deadline
        self.left = most_elements
        self.blocks: dict[str, tuple[list[Item], float]] = {}
        self.leftovers = Leftovers()
        self.colors: dict[str, str] = {}
        self.hidden: dict[str, str] = {}
        for layer in file.document.layers:
            name = _readable(layer.dxf.name).casefold()
            self.colors[name] = _color(abs(layer.dxf.color), layer.dxf.get("true_color"))
            if layer.is_frozen():
                self.hidden[name] = "frozen"
            elif layer.dxf.color < 0:
                self.hidden[name] = "off"
            elif name == "defpoints":
                self.hidden[name] = "never printed"

    def contents(self, entities: Iterable[Entity], around: tuple[str, ...]) -> list[Item]:
        """The items of the model space or of a block, inserts resolved."""
        items: list[Item] = []
        for number, entity in enumerate(self._each(entities)):
            if number % 256 == 0:
                self.deadline.check()
            kind = entity.dxftype()
            try:
                if entity.dxf.hasattr("invisible") and entity.dxf.invisible:
                    self._leave("invisible", kind, entity)
                elif kind == "INSERT":
                    items.extend(self._inserted(entity, around))
                else:
                    items.extend(self._drawn(entity, kind))
            except Refusal:
                raise
            except ValueError as fault:
                self._leave("broken", f"{kind}: {text(str(fault))}", entity)
            except Exception:  # a damaged entity may raise anything in ezdxf; the rest of the drawing goes on
                self._leave("broken", f"{kind}: it is incomplete", entity)
        return items

    def _each(self, entities: Iterable[Entity]) -> Iterator[Entity]:
        """The entities, runs in place of their stand-ins."""
        for entity in entities:
            yield from run_at(entity, self.file.runs) or (entity,)

    def shown(self, ink: Ink) -> bool:
        why = self.hidden.get(ink.layer.casefold())
        if why is not None:
            self.leftovers.add(why, ink.layer, ink.element)
        return why is None

    def _drawn(self, entity: Entity, kind: str) -> list[Item]:
        drawables = self._drawables(entity, kind)
        if not drawables:
            return []
        layer = _readable(entity.dxf.get("layer", "0"))
        ink = Ink(kind, layer, _paint(entity, layer), entity.dxf.get("handle") or "")
        return [Item(drawable, ink) for drawable in drawables]

    def _drawables(self, entity: Entity, kind: str) -> list[Drawable]:
        if kind == "POINT":
            at = spot(entity.dxf.location)
            return [Dot(at, entity.dxf.get("angle", 0.0))] if abs(at) <= LARGEST else []
        if kind in _TEXTS:
            return [Words(_readable(entity.plain_text()))]
        convert = CONVERTERS.get(kind)
        if convert is None:
            if kind not in _SILENT:
                self._leave("kind", kind, entity)
            return []
        strokes = list(convert(entity))
        self._spend(sum(len(stroke.edge.segments) for stroke in strokes))
        if kind != "LINE" and _tilted(entity):
            self._leave("tilted", kind, entity)
        good: list[Drawable] = [stroke for stroke in strokes if finite(stroke.edge, LARGEST)]
        if len(good) < len(strokes):
            self._leave("broken", f"{kind}: a coordinate is no number or out of all bounds", entity)
        return good

    def _inserted(self, insert: Entity, around: tuple[str, ...]) -> list[Item]:
        name = insert.dxf.get("name", "")
        key, shown_name = name.casefold(), _readable(name)
        layer = _readable(insert.dxf.get("layer", "0"))
        block = self.file.document.blocks.get(name)
        if block is None:
            self._leave("no-block", shown_name, insert)
            return []
        if block.block is not None and block.block.dxf.get("flags", 0) & 12:
            self._leave("external", shown_name, insert)
            return []
        if key in around or len(around) >= DEEPEST:
            self._leave("recursive", shown_name, insert)
            return []
        if self.hidden.get(layer.casefold()) == "frozen":
            self._leave("frozen", layer, insert)
            return []
        for attribute in insert.attribs:
            self._leave("words", _readable(attribute.dxf.get("text", "")), attribute)
        if key not in self.blocks:
            found = self.contents(block, (*around, key))
            self.blocks[key] = found, max((_reach(item.what) for item in found), default=0.0)
        content, reach = self.blocks[key]
        content = self._clipped(insert, content, shown_name)
        if not content:
            return []
        rows, columns = max(1, insert.dxf.get("row_count", 1)), max(1, insert.dxf.get("column_count", 1))
        self._spend(sum(_cost(item) for item in content) * rows * columns)
        base = spot(block.block.dxf.base_point) if block.block is not None else 0j
        own = _own_ink(shown_name, layer, _paint(insert, layer), insert.dxf.get("handle") or "")
        placed: list[Item] = []
        for place in _places(insert, base, rows, columns):
            self.deadline.check()
            if not _stretch(place) * reach + abs(complex(place.e, place.f)) <= LARGEST:
                raise ValueError("it is scaled or placed out of all bounds")
            placed.extend(Item(_placed(item.what, place), own(item.ink)) for item in content)
        return placed

    def _clipped(self, insert: Entity, content: list[Item], block: str) -> list[Item]:
        """What of the block's content the insert shows."""
        clip = clip_of(insert)
        if clip is None:
            return content
        if clip.inverted:
            self._leave("clip-inverted", block, insert)
            return content
        self._leave("clip", block, insert)
        strokes = [item.what for item in content if isinstance(item.what, Stroke)]
        parts = iter(within(clip, strokes, self.deadline.check))
        return [
            replace(item, what=what)
            for item in content
            for what in (next(parts) if isinstance(item.what, Stroke) else [item.what])
        ]

    def _spend(self, count: int) -> None:
        self.left -= count
        if self.left < 0:
            raise Refusal(
                error(
                    "too-many-elements",
                    f"The drawing has more than {self.most:,} lines and arcs once its blocks are inserted.",
                    hint=f"Save only the parts that are to be cut, or {allow_more('dxf', 'most-elements')}.",
                )
            )

    def _leave(self, why: str, what: str, entity: Entity) -> None:
        self.leftovers.add(why, what, entity.dxf.get("handle") or "")


def _cost(item: Item) -> int:
    return len(item.what.edge.segments) if isinstance(item.what, Stroke) else 1


def _reach(what: Drawable) -> float:
    """How far from the origin the points that define it lie."""
    match what:
        case Stroke(edge):
            return max(abs(point) for segment in ((edge.start,), *edge.segments) for point in segment)
        case Dot(at):
            return abs(at)
        case Words():
            return 0.0


def _stretch(place: Affine) -> float:
    """At most so many times as long does the map make a line."""
    return math.hypot(place.a, place.b, place.c, place.d)


def _own_ink(block: str, layer: str, paint: Paint, handle: str) -> Callable[[Ink], Ink]:
    """What a block's inks become where it is inserted."""

    @cache
    def inserted(ink: Ink) -> Ink:
        color = paint if ink.paint == Paint() else Paint(layer=layer) if ink.paint.layer == "0" else ink.paint
        return replace(
            ink,
            layer=layer if ink.layer == "0" else ink.layer,
            paint=color,
            element=f"{handle}/{ink.element}",
            blocks=(block, *ink.blocks),
        )

    return inserted


def _places(insert: Entity, base: complex, rows: int, columns: int) -> Iterable[Affine]:
    """The map of each member of the array: the block scaled about its base point, put in its place, turned."""
    dxf = insert.dxf
    at = dxf.get("insert", (0.0, 0.0, 0.0))
    scaled = Affine.scale(dxf.get("xscale", 1.0), dxf.get("yscale", 1.0)) @ Affine.shift(-base)
    whole = (
        plane(dxf.get("extrusion", (0, 0, 1)), at[2]) @ Affine.shift(spot(at)) @ Affine.turn(dxf.get("rotation", 0.0))
    )
    across, up = dxf.get("column_spacing", 0.0), dxf.get("row_spacing", 0.0)
    for row in range(rows):
        for column in range(columns):
            yield whole @ Affine.shift(complex(column * across, row * up)) @ scaled


def _placed(what: Drawable, place: Affine) -> Drawable:
    match what:
        case Stroke():
            width = None if what.width is None else what.width * abs(place.determinant) ** 0.5
            return Stroke(seen(what.edge, place), what.closed, what.fill, width)
        case Dot():
            toward = place.apply(what.at + cmath.rect(1.0, math.radians(what.turn))) - place.apply(what.at)
            return Dot(place.apply(what.at), math.degrees(cmath.phase(toward)))
        case Words():
            return what


def _tilted(entity: Entity) -> bool:
    if not entity.dxf.hasattr("extrusion"):
        return False
    x, y, z = entity.dxf.extrusion
    return bool(abs(z) < UPRIGHT * math.sqrt(x * x + y * y + z * z))


def _paint(entity: Entity, layer: str) -> Paint:
    true = entity.dxf.get("true_color")
    index = entity.dxf.get("color", BY_LAYER)
    if true is not None or 0 < index < BY_LAYER:
        return Paint(color=_color(index, true))
    return Paint() if index == BY_BLOCK else Paint(layer=layer)


@lru_cache(maxsize=1024)
def _color(index: int, true: int | None) -> str:
    from ezdxf.colors import aci2rgb

    if true is not None:
        return f"#{true & 0xFFFFFF:06x}"
    return str(aci2rgb(index).to_hex()) if 0 < index < BY_LAYER and index != 7 else INK


@lru_cache(maxsize=4096)
def _readable(raw: str) -> str:
    """A name or text as people read it, on one line; DXF's escapes for other letters resolved."""
    return text(_ESCAPED.sub(lambda match: chr(int(match[1], 16)), str(raw)))
