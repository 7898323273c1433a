"""Subclass markers put back where a program forgot them.

Terminology
    marker      a tag (100, "AcDb…") that since R13 stands before the group codes of each class that an entity is of
    common      group codes that every entity shares; they stand before the marker of its own class

Many programs write R2000 files with entities as R12 has them; ezdxf refuses those, and with them the file.
Source: DXF Reference, "Subclass Markers", and the entities' own pages.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final

__all__ = ["marked"]

COMMON: Final = frozenset({5, 6, 8, 48, 60, 62, 67, 92, 102, 160, 310, 330, 347, 360, 370, 390, 410, 420, 430, 440})
MARKERS: Final[dict[str, str]] = {
    "LINE": "AcDbLine",
    "CIRCLE": "AcDbCircle",
    "ELLIPSE": "AcDbEllipse",
    "LWPOLYLINE": "AcDbPolyline",
    "SPLINE": "AcDbSpline",
    "HATCH": "AcDbHatch",
    "INSERT": "AcDbBlockReference",
    "POINT": "AcDbPoint",
    "SOLID": "AcDbTrace",
    "TRACE": "AcDbTrace",
    "TEXT": "AcDbText",
    "MTEXT": "AcDbMText",
    "ARC": "AcDbCircle",
}
"""The marker of each entity's own class; an arc's angles have a second one."""
ARC_ANGLES: Final = frozenset({50, 51})
STRAYING: Final = frozenset({8, 62, 420})
"""Common codes that are found behind an entity's own, where they mean nothing else."""


def marked(tags: Iterable[Any]) -> Iterator[Any]:
    """The tags, with markers for entities that have none at all."""
    from ezdxf.lldxf.types import DXFTag

    entity: list[Any] = []
    for tag in tags:
        if tag.code == 0:
            yield from _with_markers(entity, DXFTag)
            entity = []
        entity.append(tag)
    yield from _with_markers(entity, DXFTag)


def _with_markers(entity: list[Any], make: Any) -> list[Any]:
    marker = MARKERS.get(entity[0].value) if entity and entity[0].code == 0 else None
    if marker is None or any(tag.code == 100 for tag in entity):
        return entity
    own = next((i for i, tag in enumerate(entity) if i and tag.code not in COMMON), len(entity))
    angles = ARC_ANGLES if entity[0].value == "ARC" else frozenset()
    rest = [tag for tag in entity[own:] if tag.code not in STRAYING]
    return [
        *entity[:own],
        *(tag for tag in entity[own:] if tag.code in STRAYING),
        make(100, marker),
        *(tag for tag in rest if tag.code not in angles),
        *([make(100, "AcDbArc"), *(tag for tag in rest if tag.code in angles)] if angles else []),
    ]
