"""The walk through the document: every shape that is drawn, in drawing order, with its place on the page.

Terminology
    page        millimeters, y up, origin at the lower left corner

Sources: what is rendered and in which order, SVG 2, 3.2 and 5.2 to 5.9 (defs, symbol, use, switch); nested viewports,
SVG 2, 8.2 and 8.6; display and visibility, SVG 2, 11.4; references of clip paths and masks, CSS Masking 1, 5 and 7.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from lxml import etree

from clothpath.curves import Affine, Box, box_of, transformed
from clothpath.plugins.readers.svg.document import SVG, local, reference_of
from clothpath.plugins.readers.svg.limits import Limits
from clothpath.plugins.readers.svg.names import Names, named_copy, named_group, own_label
from clothpath.plugins.readers.svg.notes import Notes
from clothpath.plugins.readers.svg.paints import NOTHING, Servers, paints
from clothpath.plugins.readers.svg.pathdata import Subpath
from clothpath.plugins.readers.svg.scene import SILENT, Clip, Kind, Scene, Shape, passes, rectangle, sized
from clothpath.plugins.readers.svg.shapes import SHAPES, subpaths
from clothpath.plugins.readers.svg.style import ROOT_STYLE, Sheet, Style, part_of_one, styled
from clothpath.plugins.readers.svg.viewport import (
    Axis,
    Viewport,
    box_from,
    fitted,
    font_size,
    is_flat,
    length,
    origin_from,
    parse_transform,
)

__all__ = ["Walk"]

MOST_DEPTH: Final = 500
"""Levels of groups and uses inside one another."""

_URL: Final = re.compile(r"""\s*url\(\s*(['"]?)#(.*?)\1\s*\)\s*""")

_Pending = list[tuple[etree._Element, Scene]]


class Walk:
    """One walk through one document."""

    def __init__(self, root: etree._Element, sheet: Sheet | None, notes: Notes, limits: Limits) -> None:
        self._root = root
        self._sheet = sheet
        self._notes = notes
        self._limits = limits
        self._found: list[Shape] = []
        self._clips: dict[tuple[str, Affine, Box | None], Clip] = {}
        self._by_id: dict[str, etree._Element] = {}
        for element in root.getroottree().iter(etree.Element):
            name = element.get("id")
            if name:
                self._by_id.setdefault(name, element)
        self._servers = Servers(self._by_id, sheet, notes)

    def shapes(self, to_page: Affine, viewport: Viewport) -> list[Shape]:
        """Every shape that is drawn, in drawing order.

        Args:
            to_page: from the root's own coordinates to the page in mm.
            viewport: the root's, in those coordinates.

        Raises:
            Refusal: a limit is passed.
        """
        return self._drawn([(self._root, Scene(ROOT_STYLE, to_page, viewport, Names()))])

    def _drawn(self, pending: _Pending) -> list[Shape]:
        """The shapes of what is on a stack, last first."""
        outer, self._found = self._found, []
        while pending:
            element, scene = pending.pop()
            self._limits.count_element()
            pending += reversed(self._step(element, scene))
        found, self._found = self._found, outer
        return found

    def _step(self, element: etree._Element, scene: Scene) -> _Pending:
        """Draw one element; the result is what is to be drawn inside it, in order."""
        tag = element.tag
        if not isinstance(tag, str):
            return []
        namespace, _, name = tag.rpartition("}")
        if namespace not in ("", "{" + SVG) or (name in SILENT and not (name == "symbol" and scene.size)):
            return []
        if not passes(element):
            return []
        style = styled(element, scene.style, self._sheet)
        if style.own:
            if style["display"] == "none":
                self._notes.hidden(element, "display")
                return []
            opacity = part_of_one(style["opacity"] or "1")
            if opacity is not None and opacity <= 0:
                self._notes.hidden(element, "opacity")
                return []
            scene = self._entered(element, scene, style, 1.0 if opacity is None else opacity)
        if name in SHAPES:
            self._shape(element, name, scene, style)
            return []
        if scene.depth >= MOST_DEPTH:
            self._notes.too_deep(element, MOST_DEPTH)
            return []
        return self._inside(element, name, replace(scene, style=sized(style, scene), depth=scene.depth + 1))

    def _entered(self, element: etree._Element, scene: Scene, style: Style, opacity: float) -> Scene:
        """The scene with the element's own transform, clips and opacity."""
        to_page = scene.to_page
        if style["transform"]:
            to_page = to_page @ self._transform(element, scene, style)
        clips = scene.clips
        inner = replace(scene, to_page=to_page, opacity=scene.opacity * opacity)
        for kind, text in (("clip", style["clip-path"]), ("mask", style["mask"])):
            if text not in ("", "none"):
                clip = self._clip(
                    element, "clip" if kind == "clip" else "mask", text, replace(inner, style=scene.style)
                )
                clips = clips if clip is None else (*clips, clip)
        if style["filter"] not in ("", "none"):
            self._notes.filtered(element)
        return replace(inner, clips=clips)

    def _inside(self, element: etree._Element, tag: str, scene: Scene) -> _Pending:
        """What an element that is no shape shows."""
        if tag == "use":
            return self._use(element, scene)
        if tag in ("svg", "symbol") and element is not self._root:
            return self._children(element, self._viewport(element, tag, scene))
        if tag == "switch":
            chosen = next((child for child in element if local(child) and passes(child)), None)
            return [] if chosen is None else [(chosen, replace(scene, names=named_group(element, scene.names)))]
        if tag in ("g", "a", "svg"):
            if element is not self._root:
                scene = replace(scene, names=named_group(element, scene.names))
            return self._children(element, scene)
        self._notes.not_cut(element, tag)
        return []

    def _children(self, element: etree._Element, scene: Scene | None) -> _Pending:
        if scene is None:
            return []
        scene = replace(scene, size=None) if scene.size else scene
        return [(child, scene) for child in element]

    def _shape(self, element: etree._Element, tag: str, scene: Scene, style: Style) -> None:
        if style["visibility"] != "visible":
            self._notes.hidden(element, "visibility")
            return
        font = font_size(style["font-size"], scene.style["font-size"], scene.viewport)
        paths = self._subpaths(element, tag, scene, style, font)
        if not paths:
            self._notes.empty(element, tag)
            return
        fill, stroke = paints(element, style, scene.context, self._servers)
        width = 1.0
        if stroke.color is not None:
            width = self._length(element, "stroke-width", style["stroke-width"], "other", scene, font, 1.0)
            if style["vector-effect"] == "non-scaling-stroke":
                width *= scene.viewport.mm_per_px / (abs(scene.to_page.determinant) ** 0.5 or 1.0)
        given = style.inherited
        if given["marker-start"] != "none" or given["marker-mid"] != "none" or given["marker-end"] != "none":
            self._notes.markers(element)
        names = scene.names
        if not names.alone:
            names = Names(names.groups, names.layer, element.get("id") or "", own_label(element), names.shown_by)
        self._found.append(
            Shape(
                element,
                tag,
                tuple(paths),
                scene.to_page,
                style,
                names,
                scene.clips,
                NOTHING if tag == "line" else fill,
                stroke if width > 0 else NOTHING,
                width,
                scene.opacity,
            )
        )

    def _subpaths(self, element: etree._Element, tag: str, scene: Scene, style: Style, font: float) -> list[Subpath]:
        def measure(name: str, axis: Axis) -> float | None:
            return self._given(element, name, axis, scene, style, font)

        def attribute(name: str) -> str:
            text = style.own.get(name) or element.get(name) or ""
            self._limits.check_text(text)
            return text

        paths, fault = subpaths(tag, measure, attribute)
        self._limits.count_points(sum(len(sub.straight) for sub in paths))
        if fault is not None:
            self._notes.cut_at_fault(element, tag, fault)
        return paths

    def _given(
        self, element: etree._Element, name: str, axis: Axis, scene: Scene, style: Style, font: float
    ) -> float | None:
        """A geometry property, from the style or the attribute; None if it is not given, or no length."""
        text = style.own.get(name) or element.get(name)
        if text is None or text.strip() == "auto":
            return None
        value = length(text, axis, scene.viewport, font)
        if value is None:
            self._notes.bad_value(element, name, text)
        return value

    def _length(
        self, element: etree._Element, name: str, text: str, axis: Axis, scene: Scene, font: float, default: float
    ) -> float:
        value = length(text, axis, scene.viewport, font)
        if value is None or value < 0:
            self._notes.bad_value(element, name, text)
            return default
        return value

    def _transform(self, element: etree._Element, scene: Scene, style: Style) -> Affine:
        viewport, text = scene.viewport, style["transform"]
        font = font_size(style["font-size"], scene.style["font-size"], viewport)
        reference = Box(0, 0, viewport.width, viewport.height)
        if style["transform-box"] in ("fill-box", "content-box", "stroke-box", "border-box"):
            reference = self._box(element, scene, style) or Box(0, 0, 0, 0)
        affine = parse_transform(text, viewport, font, (reference.width, reference.height))
        if affine is None:
            self._notes.bad_value(element, "transform", text)
            return Affine()
        origin = style["transform-origin"]
        if not origin:
            return affine
        about = origin_from(origin, reference, viewport, font)
        if about is None:
            self._notes.bad_value(element, "transform-origin", origin)
            return affine
        return Affine.shift(about) @ affine @ Affine.shift(-about)

    def _viewport(self, element: etree._Element, tag: str, scene: Scene) -> Scene | None:
        """The scene inside a nested <svg>, or a <symbol> shown by <use>; None if it has no size."""
        outer, style = scene.viewport, scene.style
        font = font_size(style["font-size"], style["font-size"], outer)

        def given(name: str, axis: Axis) -> float | None:
            return self._given(element, name, axis, scene, style, font)

        x, y = (given("x", "x") or 0.0, given("y", "y") or 0.0) if tag == "svg" else (0.0, 0.0)
        width, height = given("width", "x"), given("height", "y")
        if scene.size is not None:
            width = width if scene.size[0] is None else scene.size[0]
            height = height if scene.size[1] is None else scene.size[1]
        width = outer.width if width is None else width
        height = outer.height if height is None else height
        if width <= 0 or height <= 0 or is_flat(element.get("viewBox")):
            self._notes.empty(element, tag)
            return None
        names = named_group(element, scene.names)
        if style["overflow"] not in ("visible", "auto"):
            clip = rectangle(element, Box(x, y, x + width, y + height), scene)
            scene = replace(scene, clips=(*scene.clips, clip))
        box = box_from(element.get("viewBox"))
        affine = Affine.shift(complex(x, y))
        inner = replace(outer, width=width, height=height)
        if box is not None:
            affine = affine @ fitted(box, width, height, element.get("preserveAspectRatio"))
            inner = replace(outer, width=box[2], height=box[3])
        return replace(scene, to_page=scene.to_page @ affine, viewport=inner, names=names)

    def _use(self, element: etree._Element, scene: Scene) -> _Pending:
        reference = reference_of(element)
        name = reference[1:]
        if not reference.startswith("#"):
            self._notes.external(element, reference)
            return []
        target = self._by_id.get(name)
        if target is None:
            self._notes.missing(element, reference)
            return []
        if name in scene.showing or any(target is each for each in element.iterancestors()):
            self._notes.circular(element, reference)
            return []
        style = scene.style
        font = font_size(style["font-size"], style["font-size"], scene.viewport)
        x, y = (self._given(element, name, axis, scene, style, font) or 0.0 for name, axis in _CORNER)
        width, height = (self._given(element, name, axis, scene, style, font) for name, axis in _SIZE)
        alone = local(target) in SHAPES
        inner = replace(
            scene,
            to_page=scene.to_page @ Affine.shift(complex(x, y)),
            names=(named_copy(element, target, scene.names) if alone else named_group(element, scene.names)),
            showing=scene.showing | {name},
            size=(width, height),
            context=paints(element, style, scene.context, self._servers),
        )
        return [(target, inner)]

    def _clip(self, element: etree._Element, kind: Kind, text: str, scene: Scene) -> Clip | None:
        """The clip path or mask that an element names; None if there is none that can be used."""
        match = _URL.fullmatch(text)
        if match is None:
            self._notes.clip_unknown(element, kind, text)
            return None
        name = match[2]
        target = self._by_id.get(name)
        if target is None or local(target) != ("clipPath" if kind == "clip" else "mask"):
            self._notes.missing(element, f"#{name}")
            return None
        if f"{kind}:{name}" in scene.showing:
            self._notes.circular(element, f"#{name}")
            return None
        units = target.get("clipPathUnits" if kind == "clip" else "maskContentUnits")
        box = None
        if units == "objectBoundingBox":
            box = self._box(element, scene, styled(element, scene.style, self._sheet))
            if box is None:
                return Clip(kind, ())
        key = (f"{kind}:{name}", scene.to_page, box)
        found = self._clips.get(key)
        if found is None:
            found = self._clip_shapes(
                element, target, kind, box, replace(scene, showing=scene.showing | {f"{kind}:{name}"})
            )
            self._clips[key] = found
        return found

    def _clip_shapes(
        self, element: etree._Element, target: etree._Element, kind: Kind, box: Box | None, scene: Scene
    ) -> Clip:
        style = ROOT_STYLE
        for each in reversed(list(target.iterancestors())):
            style = styled(each, style, self._sheet)
        to_page = scene.to_page
        inner = replace(scene, style=style, clips=(), opacity=1.0, size=None)
        own = styled(target, style, self._sheet)
        if own.own:
            inner = self._entered(target, inner, own, 1.0)
            to_page = inner.to_page
        if box is not None:
            to_page = to_page @ Affine(a=box.width, d=box.height, e=box.left, f=box.bottom)
            inner = replace(inner, viewport=replace(inner.viewport, width=1.0, height=1.0))
        if kind == "mask":
            inner = replace(inner, clips=(*inner.clips, self._mask_region(element, target, scene)))
        allowed = target if kind == "mask" else [child for child in target if local(child) in (*SHAPES, "text", "use")]
        inner = replace(inner, style=own, to_page=to_page)
        shapes = self._drawn([(child, inner) for child in reversed(list(allowed))])
        return Clip(kind, tuple(shapes), own["mask-type"] == "alpha")

    def _mask_region(self, element: etree._Element, target: etree._Element, scene: Scene) -> Clip:
        """The rectangle that a mask covers: a tenth more than the object all round, if not given (Masking 1, 7.4)."""
        viewport, scale = scene.viewport, Affine()
        if target.get("maskUnits") != "userSpaceOnUse":
            box = self._box(element, scene, styled(element, scene.style, self._sheet)) or Box(0, 0, 0, 0)
            scale = Affine(a=box.width, d=box.height, e=box.left, f=box.bottom)
            viewport = replace(viewport, width=1.0, height=1.0)
        sides = [
            length(target.get(name) or default, axis, viewport, 16.0) or 0.0 for name, default, axis in _MASK_REGION
        ]
        region = Box(sides[0], sides[1], sides[0] + sides[2], sides[1] + sides[3])
        return rectangle(target, region, replace(scene, to_page=scene.to_page @ scale))

    def _box(self, element: etree._Element, scene: Scene, style: Style) -> Box | None:
        """The object bounding box of an element: of the geometry in it, in its own coordinates; None if it has none."""
        spoken, self._notes = self._notes, Notes()
        inner = replace(scene, style=style, to_page=Affine(), clips=(), depth=scene.depth + 1)
        tag = local(element)
        if tag in SHAPES:
            shapes = []
            font = font_size(style["font-size"], scene.style["font-size"], scene.viewport)
            paths = [sub.path() for sub in self._subpaths(element, tag, inner, style, font)]
        else:
            shapes = self._drawn(self._inside(element, tag, inner)[::-1]) if scene.depth < MOST_DEPTH else []
            paths = [transformed(sub.path(), shape.to_page) for shape in shapes for sub in shape.subpaths]
        self._notes = spoken
        return box_of(paths) if paths else None


_MASK_REGION: Final[tuple[tuple[str, str, Axis], ...]] = (
    ("x", "-10%", "x"),
    ("y", "-10%", "y"),
    ("width", "120%", "x"),
    ("height", "120%", "y"),
)
_CORNER: Final[tuple[tuple[str, Axis], ...]] = (("x", "x"), ("y", "y"))
_SIZE: Final[tuple[tuple[str, Axis], ...]] = (("width", "x"), ("height", "y"))
