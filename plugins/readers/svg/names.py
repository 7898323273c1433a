"""Names as drawing programs write them: of elements, groups and layers.

Terminology
    label       what a person called a thing: an attribute whose local name is `label`, whatever its namespace;
                `data-name`; a <title>; else the id
    layer       a group that its program marks as one, or the outermost named group

An id cannot hold every character; programs write the others as _x20_ or _x0020_, which is undone in labels.
"""

from __future__ import annotations

import re
from typing import Final, NamedTuple, cast

from lxml import etree

from clothpath.plugins.readers.svg.document import local, text_in

__all__ = ["Names", "named_copy", "named_group", "own_label", "readable"]

_ESCAPED: Final = re.compile(r"_x([0-9A-Fa-f]{2,6})_")


class Names(NamedTuple):
    """The names around a shape and its own.

    Attributes:
        groups: labels of the named groups around it, outermost first.
        layer: the label of the innermost group that is marked as a layer; "" if none is.
        element: its own id; "" if none.
        label: its own label; "" if it has no name at all.
        shown_by: the id of the outermost <use> that shows it; "" if none.
        alone: whether that <use> shows nothing else, so that its name is the shape's.
    """

    groups: tuple[str, ...] = ()
    layer: str = ""
    element: str = ""
    label: str = ""
    shown_by: str = ""
    alone: bool = False


def readable(name: str) -> str:
    """An id as a person meant it: escapes undone, underscores as spaces."""

    def undone(match: re.Match[str]) -> str:
        code = int(match[1], 16)
        return chr(code) if 32 <= code <= 0x10FFFF and not 0xD800 <= code < 0xE000 else match[0]

    return _ESCAPED.sub(undone, name)


def own_label(element: etree._Element) -> str:
    """What a person called the element, or ""."""
    name = given = ""
    for attribute, value in cast("list[tuple[str, str]]", element.items()):
        if attribute.endswith("label") and attribute.rpartition("}")[2] == "label" and value.strip():
            return value.strip()
        if attribute == "data-name":
            given = value.strip()
        elif attribute == "id":
            name = value
    if given:
        return given
    for child in element:
        if local(child) == "title":
            title = " ".join(text_in(child).split())
            if title:
                return title
    return readable(name).replace("_", " ").strip() if name else ""


def named_copy(use: etree._Element, shape: etree._Element, around: Names) -> Names:
    """The names of a shape that a <use> shows by itself: those of the <use>, where it has any."""
    shown_by = around.shown_by or use.get("id") or ""
    label = own_label(use) or own_label(shape)
    return around._replace(element=shape.get("id") or "", label=label, shown_by=shown_by, alone=True)


def named_group(element: etree._Element, around: Names) -> Names:
    """The names inside a group."""
    label = own_label(element)
    shown_by = around.shown_by
    if local(element) == "use" and not shown_by:
        shown_by = element.get("id") or ""
    if not label:
        return around if shown_by == around.shown_by else around._replace(shown_by=shown_by)
    layer = label if _is_layer(element) else around.layer
    return around._replace(groups=(*around.groups, label), layer=layer, shown_by=shown_by)


def _is_layer(element: etree._Element) -> bool:
    for name, value in element.attrib.items():
        plain = str(name).rpartition("}")[2]
        if (plain == "groupmode" and value == "layer") or (plain == "layer" and value == "yes"):
            return True
    return False
