"""Repairs to the tags of a file that ezdxf refuses, before it has to do without whole sections.

Terminology
    in step     group codes and values take turns, line by line; a line lost or slipped in puts the rest out of step
    marker      a tag (100, "AcDb…") that since R13 stands before the group codes of each class that an entity is of
    common      group codes that every entity shares; they stand before the marker of its own class

Many programs write R2000 files with entities as R12 has them; ezdxf refuses those, and with them the file.
Source: DXF Reference, "Subclass Markers", and the entities' own pages.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from contextlib import suppress
from typing import Any, Final

__all__ = ["completed", "in_step", "loadable", "marked"]

HIGHEST_CODE: Final = 1071

COMMON: Final = frozenset({5, 6, 8, 48, 60, 62, 67, 92, 102, 160, 310, 330, 347, 360, 370, 390, 410, 420, 430, 440})
BASE: Final = frozenset({5, 102, 330, 360})
"""Those that stand before any marker."""
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
DRAWN: Final = frozenset({"BLOCKS", "ENTITIES"})
STRUCTURE: Final = frozenset({"BLOCK", "ENDBLK", "ENDSEC", "EOF"})
STRAYING: Final = frozenset({8, 62, 420})
"""Common codes that are found behind an entity's own, where they mean nothing else."""


def in_step(lines: Iterable[str], lost: list[str]) -> Iterator[Any]:
    """The tags of a text; lines that stand where a group code should and are none are skipped, and told in `lost`."""
    from ezdxf.lldxf.types import DXFTag

    skipped = 0
    lines = iter(lines)
    for line in lines:
        word = line.strip()
        code = int(word) if word.removeprefix("-").isdecimal() and len(word) < 6 else None
        if code is None or not -5 <= code <= HIGHEST_CODE:
            skipped += 1
        elif (value := next(lines, None)) is not None and code != 999:
            yield DXFTag(code, value)
    if skipped:
        lost.append(
            f"{skipped} line{'s' if skipped != 1 else ''} out of step {'were' if skipped != 1 else 'was'} skipped"
        )


def completed(tags: Iterable[Any], lost: list[str]) -> Iterator[Any]:
    """The tags with each section ended; of a file cut short, without its last, incomplete entity (told in `lost`)."""
    from ezdxf.lldxf.types import DXFTag

    entity: list[Any] = []
    inside = False
    for tag in _while_readable(tags):
        if tag.code == 0:
            yield from entity
            entity = []
            if inside and tag.value in ("SECTION", "EOF"):
                yield DXFTag(0, "ENDSEC")
            inside = tag.value == "SECTION" or (inside and tag.value not in ("ENDSEC", "EOF"))
        entity.append(tag)
        if tag.code == 0 and tag.value == "EOF":
            yield tag
            return
    if inside:
        lost.append("its end is missing, and with it the last element")
        yield DXFTag(0, "ENDSEC")
    else:
        yield from entity
    yield DXFTag(0, "EOF")


def _while_readable(tags: Iterable[Any]) -> Iterator[Any]:
    """The tags of a binary file as far as there are bytes for them."""
    with suppress(IndexError, struct.error, UnicodeDecodeError, ValueError):
        yield from tags


def loadable(tags: Iterable[Any], lost: list[str]) -> Iterator[Any]:
    """The tags without elements that ezdxf refuses (told in `lost`), since one of them would cost the whole file."""
    from ezdxf.entities import factory
    from ezdxf.lldxf.extendedtags import ExtendedTags
    from ezdxf.lldxf.tagger import tag_compiler
    from ezdxf.lldxf.tags import Tags

    section = ""
    refused = 0
    for entity in _entities(tags):
        if entity[0].code == 0 and entity[0].value == "SECTION":
            section = entity[1].value if len(entity) > 1 else ""
        elif section in DRAWN and entity[0].code == 0 and entity[0].value not in STRUCTURE:
            try:
                factory.load(ExtendedTags(Tags(tag_compiler(iter(entity)))))
            except Exception:  # whatever a damaged element does to the parser
                refused += 1
                continue
        yield from entity
    if refused:
        lost.append(f"{refused} element{'s' if refused != 1 else ''} could not be read")


def _entities(tags: Iterable[Any]) -> Iterator[list[Any]]:
    """The tags in runs that begin with a group code of 0."""
    entity: list[Any] = []
    for tag in tags:
        if tag.code == 0 and entity:
            yield entity
            entity = []
        entity.append(tag)
    if entity:
        yield entity


def marked(tags: Iterable[Any]) -> Iterator[Any]:
    """The tags, with markers for entities that have none at all."""
    from ezdxf.lldxf.types import DXFTag

    for entity in _entities(tags):
        yield from _with_markers(entity, DXFTag)


def _with_markers(entity: list[Any], make: Any) -> list[Any]:
    marker = MARKERS.get(entity[0].value) if entity and entity[0].code == 0 else None
    if marker is None or any(tag.code == 100 for tag in entity):
        return entity
    own = next((i for i, tag in enumerate(entity) if i and tag.code not in COMMON), len(entity))
    base = next((i for i, tag in enumerate(entity) if i and tag.code not in BASE), len(entity))
    angles = ARC_ANGLES if entity[0].value == "ARC" else frozenset()
    rest = [tag for tag in entity[own:] if tag.code not in STRAYING]
    return [
        *entity[:base],
        make(100, "AcDbEntity"),
        *entity[base:own],
        *(tag for tag in entity[own:] if tag.code in STRAYING),
        make(100, marker),
        *(tag for tag in rest if tag.code not in angles),
        *([make(100, "AcDbArc"), *(tag for tag in rest if tag.code in angles)] if angles else []),
    ]
