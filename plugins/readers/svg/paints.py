"""What fills and strokes paint: plain colors, and what stands for gradients and patterns.

Cloth has one color, so a gradient is told by its first stop and a pattern by the first color in it, with a finding.
Source: paint servers, SVG 2, 14; gradient stops and their templates, SVG 2, 14.2; context-fill, SVG 2, 13.2.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from lxml import etree

from clothpath.picture.fabrics import NO_COLOR
from clothpath.plugins.readers.svg.document import local, place, reference_of
from clothpath.plugins.readers.svg.notes import Notes
from clothpath.plugins.readers.svg.style import ROOT_STYLE, Paint, Sheet, Style, color_of, paint_of, part_of_one, styled

__all__ = ["NOTHING", "Servers", "paints"]

NOTHING: Final = Paint()
TEMPLATES: Final = 8
"""Gradients that may take their stops from one another, one after the other."""


class Servers:
    """The gradients and patterns of a document."""

    def __init__(self, by_id: Mapping[str, etree._Element], sheet: Sheet | None, notes: Notes) -> None:
        self._by_id = by_id
        self._sheet = sheet
        self._notes = notes
        self._known: dict[str, Paint] = {}

    def paint(self, of: Paint, used_by: etree._Element) -> Paint:
        """The plain color that stands for a paint with a server."""
        server = self._by_id.get(of.server)
        kind = "" if server is None else local(server)
        if server is None or kind not in ("linearGradient", "radialGradient", "pattern"):
            self._notes.missing(used_by, f"#{of.server}")
            return Paint(of.color, of.opacity)
        if of.server not in self._known:
            self._known[of.server] = self._pattern(server) if kind == "pattern" else self._gradient(server)
        return self._known[of.server]

    def _gradient(self, server: etree._Element) -> Paint:
        stops: list[etree._Element] = []
        at: etree._Element | None = server
        for _ in range(TEMPLATES):
            if at is None:
                break
            stops = [child for child in at if local(child) == "stop"]
            if stops:
                break
            at = self._by_id.get(reference_of(at).removeprefix("#"))
        if not stops:
            return NOTHING
        seen = [self._stop(stop) for stop in stops]
        color = next((paint for paint in seen if paint.opacity > 0), NOTHING)
        if len({paint.color for paint in seen}) > 1:
            message = f"A gradient was taken as one color, {color.color}, that of its first stop."
            hint = "Give the shape one plain color if it is to be cut from another cloth."
            self._notes.add("note", "gradient", message, place(server), hint)
        return color

    def _stop(self, stop: etree._Element) -> Paint:
        style = self._style(stop)
        found = color_of(style["stop-color"] or "black", style["color"]) or ("#000000", 1.0)
        opacity = part_of_one(style["stop-opacity"] or "1")
        return Paint(found[0], found[1] * (1.0 if opacity is None else opacity))

    def _pattern(self, server: etree._Element) -> Paint:
        color = NO_COLOR
        for child in server.iter(etree.Element):
            paint = paint_of(child.get("fill") or "", "black")
            if paint is not None and paint.color is not None:
                color = paint.color
                break
        message = f"A pattern was taken as one color, {color}."
        self._notes.add("note", "pattern", message, place(server))
        return Paint(color)

    def _style(self, element: etree._Element) -> Style:
        style = ROOT_STYLE
        for each in [*reversed(list(element.iterancestors())), element]:
            style = styled(each, style, self._sheet)
        return style


def paints(
    element: etree._Element, style: Style, context: tuple[Paint, Paint], servers: Servers
) -> tuple[Paint, Paint]:
    """The fill and the stroke of an element as plain colors; nothing where nothing shows.

    Args:
        context: what context-fill and context-stroke stand for.
    """
    found: list[Paint] = []
    given = style.inherited
    for text, part in ((given["fill"], given["fill-opacity"]), (given["stroke"], given["stroke-opacity"])):
        if text == "none":
            found.append(NOTHING)
            continue
        if text.startswith("context-"):
            paint = context[0] if text == "context-fill" else context[1]
        else:
            paint = paint_of(text, given["color"]) or NOTHING
        if paint.server:
            paint = servers.paint(paint, element)
        if part != "1":
            opacity = part_of_one(part)
            paint = Paint(paint.color, paint.opacity * (1.0 if opacity is None else opacity))
        found.append(paint if paint.color is not None and paint.opacity > 0 else NOTHING)
    return found[0], found[1]
