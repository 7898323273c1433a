"""What an element takes over from those around it, and what the walk finds.

Terminology
    shape       one drawn element: its subpaths, the map to the page, its paints, its names
    scene       what an element takes over from those around it
    clip        a clip path, a mask or the edge of a nested viewport, outside which nothing is drawn

Sources: conditional processing, SVG 2, 5.9; inheritance of font sizes, CSS Fonts 4, 2.5.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from lxml import etree

from clothpath.curves import Affine, Box
from clothpath.plugins.readers.svg.names import Names
from clothpath.plugins.readers.svg.paints import NOTHING
from clothpath.plugins.readers.svg.pathdata import Subpath
from clothpath.plugins.readers.svg.style import ROOT_STYLE, Paint, Style
from clothpath.plugins.readers.svg.viewport import Viewport, font_size

__all__ = ["SILENT", "Clip", "Kind", "Scene", "Shape", "passes", "rectangle", "sized"]

LANGUAGES: Final = ("en",)
"""Languages that a <switch> may ask for."""
SILENT: Final = frozenset(
    [
        *("defs", "symbol", "title", "desc", "metadata", "style", "script", "clipPath", "mask", "pattern", "marker"),
        *(
            "linearGradient",
            "radialGradient",
            "filter",
            "view",
            "cursor",
            "font",
            "font-face",
            "color-profile",
            "hatch",
        ),
        *("animate", "animateTransform", "animateMotion", "animateColor", "set", "mpath", "discard", "solidcolor"),
    ]
)
"""Elements that draw nothing by themselves."""

Kind = Literal["clip", "mask"]


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """What bounds a shape: the shapes of a clip path, or of a mask by their light or opacity."""

    kind: Kind
    shapes: tuple[Shape, ...]
    by_alpha: bool = False


class Shape(NamedTuple):
    """One drawn element.

    Attributes:
        stroke_width: in its own user units.
        opacity: of the element and the groups around it, together.
    """

    element: etree._Element
    tag: str
    subpaths: tuple[Subpath, ...]
    to_page: Affine
    style: Style
    names: Names
    clips: tuple[Clip, ...]
    fill: Paint
    stroke: Paint
    stroke_width: float
    opacity: float


@dataclass(frozen=True, slots=True)
class Scene:
    """What an element takes over.

    Attributes:
        showing: the ids that <use> elements and clips around are showing, against going in circles.
        size: width and height that a <use> gives to the <svg> or <symbol> that it shows.
    """

    style: Style
    to_page: Affine
    viewport: Viewport
    names: Names
    clips: tuple[Clip, ...] = ()
    opacity: float = 1.0
    depth: int = 0
    showing: frozenset[str] = frozenset()
    size: tuple[float | None, float | None] | None = None
    context: tuple[Paint, Paint] = (NOTHING, NOTHING)


def passes(element: etree._Element) -> bool:
    """Whether the conditional attributes let an element be drawn (SVG 2, 5.9)."""
    if element.get("requiredExtensions") is not None:
        return False
    language = element.get("systemLanguage")
    if language is None:
        return True
    wanted = [word.strip().lower() for word in language.split(",")]
    return any(word == own or word.startswith(f"{own}-") for word in wanted for own in LANGUAGES)


def sized(style: Style, scene: Scene) -> Style:
    """The style with its font size in px, as children take it over."""
    before = scene.style["font-size"]
    if style["font-size"] == before:
        return style
    size = font_size(style["font-size"], before, scene.viewport)
    return Style({**style.inherited, "font-size": f"{size}px"}, style.own)


def rectangle(element: etree._Element, box: Box, scene: Scene) -> Clip:
    """An upright rectangle of the scene as a clip."""
    corners = [
        complex(box.left, box.bottom),
        complex(box.right, box.bottom),
        complex(box.right, box.top),
        complex(box.left, box.top),
    ]
    path = Subpath.along(corners[0], [(corner,) for corner in corners[1:]], True)
    shape = Shape(element, "rect", (path,), scene.to_page, ROOT_STYLE, Names(), (), Paint("#ffffff"), NOTHING, 0.0, 1.0)
    return Clip("clip", (shape,))
