"""Bytes of a DXF file opened with ezdxf, within limits, damaged or not.

Terminology
    tag         a group code and its value; a DXF file is a sequence of them
    code page   the encoding of text before the 2007 version ($DWGCODEPAGE); later files are UTF-8
    recover     ezdxf's way of opening a damaged file: it mends what it can and says what it mended
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any, Final

from clothpath.files.names import text
from clothpath.files.reading import Deadline, ReadingSettings, ends_early
from clothpath.findings import Finding, Refusal, error, note, warning
from clothpath.plugins.readers.dxf.plain import Run, without_runs
from clothpath.plugins.readers.dxf.repairs import completed, in_step, loadable, marked

__all__ = ["BINARY", "Opened", "count_of", "opened", "seems_dxf", "states"]

BINARY: Final = b"AutoCAD Binary DXF\r\n\x1a\x00"
"""The first bytes of a binary file (DXF reference, "Binary DXF Files")."""
UNDRAWN: Final = frozenset({"CLASSES", "OBJECTS", "THUMBNAILIMAGE", "ACDSDATA"})
"""Sections in which nothing is drawn; they are skipped, so that damage in them does no harm."""
NEEDS_OBJECTS: Final = ("SPATIAL_FILTER", "MLINE")
"""Kinds for which the section of objects is read: the clips of blocks, and the styles of double lines."""
BETWEEN_CHECKS: Final = 4096
"""Tags read between two looks at the clock."""
SHARE_OF_TAGS: Final = 0.35
"""Of the time for a file, the part in which its tags must be read: making entities of them takes as long again."""

_VERSION: Final = re.compile(rb"\$ACADVER\s+1\s+(AC\d{4})")
_CODE_PAGE: Final = re.compile(rb"\$DWGCODEPAGE\s+3\s+([A-Za-z0-9_]+)")


def seems_dxf(head: bytes) -> float:
    """How sure it is, from 0 to 1, that a file that begins so is DXF: a section first, or some section at least."""
    if head.startswith(BINARY):
        return 1.0
    lines = [line.strip() for line in head.removeprefix(b"\xef\xbb\xbf").splitlines()]
    tags = [(code, value) for code, value in zip(lines[::2], lines[1::2], strict=False) if code != b"999"]
    if tags[:1] == [(b"0", b"SECTION")]:
        return 1.0
    return 0.4 if b"SECTION" in lines or (b"0", b"LINE") in tags else 0.0


def states(data: bytes, variable: str) -> bool:
    """Whether the file itself sets a header variable; ezdxf fills in what is missing."""
    return variable.encode("ascii") in data


def count_of(data: bytes, kind: str) -> int:
    """How many entities of a kind stand in the bytes, whether they could be read or not."""
    name = kind.encode("ascii")
    if data.startswith(BINARY):
        return data.count(b"\0" + name + b"\0")
    return len(re.findall(rb"^[ \t]*0[ \t]*\r?\n[ \t]*" + name + rb"[ \t]*\r?$", data, re.MULTILINE))


@dataclass(frozen=True)
class Opened:
    """The ezdxf document, the runs of plain lines that its stand-ins stand for, and what had to be mended."""

    document: Any
    runs: list[Run] = field(default_factory=list)
    damage: tuple[Finding, ...] = ()


def opened(data: bytes, settings: ReadingSettings, deadline: Deadline) -> Opened:
    """What is in the bytes.

    Raises:
        Refusal: nothing in it can be read, or its end is missing and the settings do not allow it.
    """
    from ezdxf.document import Drawing

    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)
    runs: list[Run] = []
    try:
        return Opened(Drawing.load(without_runs(_drawn_only(_tags(data), _skipped(data), deadline), runs)), runs)
    except Refusal:
        raise
    except Exception as fault:  # whatever a damaged file does to the parser
        file = _mended(data, deadline, fault)
    return replace(file, damage=(ends_early("dxf", settings),)) if _breaks_off(data) else file


def _breaks_off(data: bytes) -> bool:
    """Whether the file stops within a section; one that only leaves out the mark of its end does not."""
    return not count_of(data, "EOF") and count_of(data, "ENDSEC") < count_of(data, "SECTION")


def _mended(data: bytes, deadline: Deadline, fault: Exception) -> Opened:
    """By our own repairs, which keep all that is whole; else by those of ezdxf."""
    from ezdxf.document import Drawing

    lost: list[str] = []
    runs: list[Run] = []
    tags = _tags(data) if data.startswith(BINARY) else in_step(_text(data).splitlines(), lost)
    try:
        whole = _drawn_only(completed(tags, lost), UNDRAWN, deadline)
        document = Drawing.load(loadable(marked(without_runs(whole, runs)), lost))
    except Refusal:
        raise
    except Exception:  # as above
        return _recovered(data, deadline, fault)
    if lost:
        return Opened(document, runs, (_damaged(fault, " and ".join(lost)),))
    message = f"The file is not quite as the standard has it ({_words(fault)}); all of it was read."
    return Opened(document, runs, (note("not-standard", message),))


def _tags(data: bytes) -> Iterable[Any]:
    from ezdxf.lldxf.tagger import ascii_tags_loader, binary_tags_loader

    if data.startswith(BINARY):
        return binary_tags_loader(data, errors="surrogateescape")
    return ascii_tags_loader(io.StringIO(_text(data), newline=None))


def _text(data: bytes) -> str:
    return data.decode(_encoding(data), errors="surrogateescape").lstrip("\ufeff")


def _encoding(data: bytes) -> str:
    """By the version and the code page that the header states."""
    from ezdxf.tools.codepage import toencoding

    head = data[: 1 << 16]
    version = _VERSION.search(head)
    if data.startswith(b"\xef\xbb\xbf") or (version and version[1] >= b"AC1021"):
        return "utf-8"
    page = _CODE_PAGE.search(head)
    return str(toencoding(page[1].decode("ascii"))) if page else "cp1252"


def _skipped(data: bytes) -> frozenset[str]:
    """The sections that this file can do without."""
    return UNDRAWN - {"OBJECTS"} if any(count_of(data, kind) for kind in NEEDS_OBJECTS) else UNDRAWN


def _drawn_only(tags: Iterable[Any], without: frozenset[str], deadline: Deadline) -> Iterator[Any]:
    """The tags without some sections, until the deadline."""
    skipping = False
    tags = iter(tags)
    for number, tag in enumerate(tags):
        if number % BETWEEN_CHECKS == 0:
            deadline.check(share=SHARE_OF_TAGS)
        structure = tag.value if tag.code == 0 else ""
        if structure == "SECTION":
            name = next(tags, None)
            skipping = name is not None and name.value in without
            if not skipping:
                yield tag
                if name is not None:
                    yield name
        elif not skipping or structure == "EOF":
            yield tag
        elif structure == "ENDSEC":
            skipping = False


class _WatchedBytes(io.BytesIO):
    """Bytes that are read line by line until the deadline."""

    def __init__(self, data: bytes, deadline: Deadline) -> None:
        super().__init__(data)
        self._deadline, self._lines = deadline, 0

    def readline(self, size: int | None = -1, /) -> bytes:
        self._lines += 1
        if self._lines % BETWEEN_CHECKS == 0:
            self._deadline.check(share=SHARE_OF_TAGS)
        return super().readline(size)


def _recovered(data: bytes, deadline: Deadline, fault: Exception) -> Opened:
    from ezdxf import recover

    try:
        document, auditor = recover.read(_WatchedBytes(data, deadline))
    except Refusal:
        raise
    except Exception as worse:
        raise Refusal(
            error(
                "unreadable",
                f"This is not a DXF drawing, or it is damaged beyond repair ({_words(worse)}).",
                hint="Open it in the program that made it and save it again as DXF, version R12 or 2000.",
            )
        ) from worse
    mended = f"{len(auditor.errors) + len(auditor.fixes)} places were mended"
    return Opened(document, damage=(_damaged(fault, mended),))


def _damaged(fault: Exception, what: str) -> Finding:
    return warning(
        "damaged",
        f"The file is damaged ({_words(fault)}): {what}.",
        hint="Compare the picture with the drawing, or save it again as DXF from the program that made it.",
    )


def _words(fault: Exception) -> str:
    """The fault as one short line."""
    return text(str(fault)).rstrip(".") or type(fault).__name__
