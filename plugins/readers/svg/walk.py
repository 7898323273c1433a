"""The walk through the document: every shape that is drawn, in drawing order, with its place on the page.

Terminology
    shape       one drawn element: its subpaths, the map to the page, its style, its names
    scene       what an element takes over from those around it
    page        millimeters, y up, origin at the lower left corner

Sources: rendering order and what is not rendered, SVG 2, 3.2 and 5.3 to 5.8 (defs, symbol, use, switch); nested
viewports, SVG 2, 8.2 and 8.6; display and visibility, SVG 2, 11.4; conditional processing, SVG 2, 5.9.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from lxml import etree

from clothpath.curves import Affine
from clothpath.plugins.readers.svg.document import SVG, XLINK, local
from clothpath.plugins.readers.svg.names import Names, named_group, own_label
from clothpath.plugins.readers.svg.notes import Notes
from clothpath.plugins.readers.svg.pathdata import Subpath
from clothpath.plugins.readers.svg.shapes import SHAPES, subpaths
from clothpath.plugins.readers.svg.style import ROOT_STYLE, Sheet, Style, sheet_of, styled
from clothpath.plugins.readers.svg.viewport import Axis, Viewport, box_from, fitted, length, parse_transform

__all__ = ["Limits", "Shape", "shapes_of"]

_CONTAINERS: Final = frozenset({"g", "a", "svg", "switch"})
_SILENT: Final = frozenset(
    {"", "defs", "symbol", "title", "desc", "metadata", "style", "script", "clipPath", "mask", "pattern", "marker",
     "linearGradient", "radialGradient", "filter", "view", "cursor", "font", "font-face", "color-profile", "solidcolor",
     "hatch", "mesh", "animate", "animateTransform", "animateMotion", "set", "animateColor"}
)  # fmt: skip
"""Elements that draw nothing by themselves."""
LANGUAGES: Final = ("en",)
"""Languages that a <switch> may ask for."""


@dataclass(frozen=True, slots=True)
class Limits:
    """How much of a drawing is taken on."""

    elements: int
    depth: int = 200


@dataclass(frozen=True, slots=True)
class Clip:
    """A clip-path or viewport that bounds what is drawn: its shapes, on the page."""

    shapes: tuple[Shape, ...]
    where: str


@dataclass(frozen=True, slots=True)
class Shape:
    """One drawn element."""

    element: etree._Element
    tag: str
    subpaths: tuple[Subpath, ...]
    to_page: Affine
    style: Style
    names: Names
    clips: tuple[Clip, ...]
    stroke_width: float
    """In the element's own user units."""


@dataclass(frozen=True, slots=True)
class _Scene:
    style: Style
    to_page: Affine
    viewport: Viewport
    names: Names
    clips: tuple[Clip, ...] = ()
    within: frozenset[str] = frozenset()
    """The ids that <use> elements around are showing."""
    depth: int = 0
    size: tuple[float, float] | None = None
    """Width and height that a <use> gives to the <svg> or <symbol> that it shows."""
    through_use: bool = False


class _Walk:
    """The state of one walk."""

    def __init__(self, root: etree._Element, sheet: Sheet | None, notes: Notes, limits: Limits) -> None:
        self.root = root
        self.sheet = sheet
        self.notes = notes
        self.limits = limits
        self.found: list[Shape] = []
        self.visited = 0
        self.by_id: dict[str, etree._Element] = {}
        for element in root.iter(etree.Element):
            name = element.get("id")
            if name:
                self.by_id.setdefault(name, element)

    def run(self, pending: list[tuple[etree._Element, _Scene]]) -> None:
        """Draw what is on the stack, last first, until nothing is left."""
        while pending:
            element, scene = pending.pop()
            self.visited += 1
            if self.visited > self.limits.elements:
                self.notes.refuse_too_many(self.limits.elements)
            pending.extend(reversed(list(self.step(element, scene))))

    def step(self, element: etree._Element, scene: _Scene) -> Iterable[tuple[etree._Element, _Scene]]:
        """Draw one element; the result is what is to be drawn inside it."""
        tag = local(element)
        if not self._is_svg(element):
            return ()
        if tag in _SILENT and not (tag == "symbol" and scene.through_use):
            return ()
        style = styled(element, scene.style, self.sheet)
        if style["display"] == "none":
            self.notes.hidden(element, "display")
            return ()
        if _number(style["opacity"], 1.0) <= 0:
            self.notes.hidden(element, "opacity")
            return ()
        font = self._font(style, scene)
        scene = replace(scene, style=style, depth=scene.depth + 1)
        if scene.depth > self.limits.depth:
            self.notes.too_deep(element, self.limits.depth)
            return ()
        own = style["transform"]
        if own and element is not self.root:
            affine = self._transform(element, own, style, scene, font)
            scene = replace(scene, to_page=scene.to_page @ affine)
        if tag in SHAPES:
            self._shape(element, tag, scene, font)
            return ()
        if tag in ("svg", "symbol") and element is not self.root:
            inner = self._viewport(element, tag, scene, font)
            return () if inner is None else self._children(element, inner)
        if tag == "use":
            return self._use(element, scene, font)
        if tag == "switch":
            chosen = next((child for child in element if local(child) and self._passes(child)), None)
            return () if chosen is None else [(chosen, self._grouped(element, scene))]
        if tag in _CONTAINERS or tag == "symbol":
            if not self._passes(element):
                return ()
            return self._children(element, self._grouped(element, scene))
        self.notes.not_cut(element, tag, style)
        return ()

    def _is_svg(self, element: etree._Element) -> bool:
        tag = element.tag
        return isinstance(tag, str) and (tag.startswith(f"{{{SVG}}}") or "}" not in tag)

    def _children(self, element: etree._Element, scene: _Scene) -> list[tuple[etree._Element, _Scene]]:
        scene = replace(scene, size=None, through_use=False)
        return [(child, scene) for child in element if isinstance(child.tag, str)]

    def _grouped(self, element: etree._Element, scene: _Scene) -> _Scene:
        return replace(scene, names=named_group(element, scene.names)) if element is not self.root else scene

    def _font(self, style: Style, scene: _Scene) -> float:
        """The font size of an element, in px, for em and ex."""
        return _font_size(style, scene.style, scene.viewport)

    def _transform(self, element: etree._Element, text: str, style: Style, scene: _Scene, font: float) -> Affine:
        viewport = scene.viewport
        reference = (viewport.width, viewport.height)
        affine = parse_transform(text, viewport, font, reference)
        if affine is None:
            self.notes.bad_value(element, "transform", text)
            return Affine()
        origin = style["transform-origin"]
        if origin:
            about = _origin(origin, viewport, font)
            if about is None:
                self.notes.bad_value(element, "transform-origin", origin)
            else:
                affine = Affine.shift(about) @ affine @ Affine.shift(-about)
        return affine

    def _shape(self, element: etree._Element, tag: str, scene: _Scene, font: float) -> None:
        if not self._passes(element):
            return
        style = scene.style
        if style["visibility"] != "visible":
            self.notes.hidden(element, "visibility")
            return

        def measure(name: str, axis: Axis) -> float | None:
            text = style.own.get(name) or element.get(name)
            if text is None or text.strip() == "auto":
                return None
            value = length(text, axis, scene.viewport, font)
            if value is None:
                self.notes.bad_value(element, name, text)
            return value

        paths, fault = subpaths(tag, measure, lambda name: element.get(name) or "")
        if fault is not None:
            self.notes.cut_at_fault(element, tag, fault)
        if not paths:
            self.notes.empty(element, tag)
            return
        width = length(style["stroke-width"], "other", scene.viewport, font)
        names = replace(scene.names, element=element.get("id") or "", label=own_label(element))
        self.found.append(
            Shape(element, tag, tuple(paths), scene.to_page, style, names, scene.clips, 1.0 if width is None else width)
        )

    def _viewport(self, element: etree._Element, tag: str, scene: _Scene, font: float) -> _Scene | None:
        """The scene inside a nested <svg>, or a <symbol> shown by <use>; None if it has no size."""
        outer = scene.viewport

        def given(name: str, axis: Axis, default: float) -> float:
            text = scene.style.own.get(name) or element.get(name)
            value = None if text is None or text.strip() == "auto" else length(text, axis, outer, font)
            return default if value is None else value

        x, y = (given("x", "x", 0.0), given("y", "y", 0.0)) if tag == "svg" else (0.0, 0.0)
        width, height = given("width", "x", outer.width), given("height", "y", outer.height)
        if scene.size is not None:
            width = scene.size[0] if scene.size[0] >= 0 else width
            height = scene.size[1] if scene.size[1] >= 0 else height
        if width <= 0 or height <= 0:
            self.notes.empty(element, tag)
            return None
        box = box_from(element.get("viewBox"))
        affine = Affine.shift(complex(x, y))
        inner = replace(outer, width=width, height=height)
        if box is not None:
            affine = affine @ fitted(box, width, height, element.get("preserveAspectRatio"))
            inner = replace(outer, width=box[2], height=box[3])
        scene = replace(scene, to_page=scene.to_page @ affine, viewport=inner, size=None)
        return self._grouped(element, scene)

    def _use(self, element: etree._Element, scene: _Scene, font: float) -> list[tuple[etree._Element, _Scene]]:
        if not self._passes(element):
            return []
        reference = (element.get("href") or element.get(f"{{{XLINK}}}href") or "").strip()
        if not reference.startswith("#"):
            self.notes.external(element, reference)
            return []
        target = self.by_id.get(reference[1:])
        if target is None:
            self.notes.missing(element, reference)
            return []
        if reference[1:] in scene.within or any(target is each for each in element.iterancestors()):
            self.notes.circular(element, reference)
            return []

        def given(name: str, axis: Axis) -> float | None:
            text = scene.style.own.get(name) or element.get(name)
            return None if text is None or text.strip() == "auto" else length(text, axis, scene.viewport, font)

        width, height = given("width", "x"), given("height", "y")
        size = (-1.0 if width is None else width, -1.0 if height is None else height)
        shift = Affine.shift(complex(given("x", "x") or 0.0, given("y", "y") or 0.0))
        inner = replace(
            scene,
            to_page=scene.to_page @ shift,
            names=named_group(element, scene.names),
            within=scene.within | {reference[1:]},
            size=size,
            through_use=True,
        )
        return [(target, inner)]

    def _passes(self, element: etree._Element) -> bool:
        """Whether the conditional attributes let the element be drawn."""
        language = element.get("systemLanguage")
        if language is not None:
            wanted = [word.strip().lower() for word in language.split(",")]
            if not any(word == own or word.startswith(f"{own}-") for word in wanted for own in LANGUAGES):
                return False
        extensions = element.get("requiredExtensions")
        return extensions is None


def shapes_of(
    root: etree._Element, to_page: Affine, view: tuple[float, float], notes: Notes, limits: Limits
) -> list[Shape]:
    """Every shape of the document that is drawn, in drawing order.

    Args:
        to_page: from the root's own coordinates to the page in mm.
        view: width and height of the root's viewport in those coordinates.
    """
    texts = [
        "".join(element.itertext())
        for element in root.iter(f"{{{SVG}}}style", "style")
        if (element.get("type") or "text/css").strip().lower() in ("text/css", "")
    ]
    sheet = sheet_of(root, texts) if any(text.strip() for text in texts) else None
    if sheet is not None:
        notes.sheet_left_out(sheet.left_out)
    walk = _Walk(root, sheet, notes, limits)
    viewport = Viewport(*view, *view)
    walk.run([(root, _Scene(ROOT_STYLE, to_page, viewport, Names()))])
    return walk.found


def _number(text: str, default: float) -> float:
    word = text.strip()
    try:
        return float(word[:-1]) / 100 if word.endswith("%") else float(word) if word else default
    except ValueError:
        return default


def _font_size(style: Style, parent: Style, viewport: Viewport) -> float:
    words = {
        "xx-small": 9.6,
        "x-small": 12.0,
        "small": 14.2,
        "medium": 16.0,
        "large": 19.2,
        "x-large": 24.0,
        "xx-large": 32.0,
    }
    text = style["font-size"].strip().lower()
    if text in words:
        return words[text]
    return length(text, "other", replace(viewport, width=16.0, height=16.0), 16.0) or 16.0


def _origin(text: str, viewport: Viewport, font: float) -> complex | None:
    """The point of a transform-origin, in user units of the viewport (transform-box: view-box)."""
    words = text.split()[:2]
    across = {"left": "0%", "center": "50%", "right": "100%"}
    down = {"top": "0%", "center": "50%", "bottom": "100%"}
    if len(words) == 1:
        words = ["50%", words[0]] if words[0] in ("top", "bottom") else [words[0], "50%"]
    if words[0] in ("top", "bottom") or words[1] in ("left", "right"):
        words.reverse()
    x = length(across.get(words[0], words[0]), "x", viewport, font)
    y = length(down.get(words[1], words[1]), "y", viewport, font)
    return None if x is None or y is None else complex(x, y)
