"""Damage DXF drawings at random and read them: each must end in a design or in a refusal, within the limits.

    python tests/benchmarks/dxf_fuzz.py --seconds 3600 [--seed 1] [--keep FOLDER] [--last FILE] [FILE...]

Seeds are the cases of the reader's tests, files of every version, and the files given. Most damage is done to group
codes, values, elements and sections, in text and in binary files; some to bytes. What raised anything else, took longer
than the limit, or took more memory is kept and told; exit status 1 if there was one.
"""

from __future__ import annotations

import io
import random
import re
import struct
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from fuzzing import Damage, fuzzed

from clothpath.plugins.readers.dxf import DxfReader, DxfSettings

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "plugins" / "readers"))
import test_dxf_patterns as patterns
import test_dxf_shapes as shapes
import test_dxf_structure as structure
from dxf_text import block, dxf, insert
from test_dxf_clips import clipped
from test_dxf_files import VERSIONS, written

Tags = list[tuple[str, str]]

NUMBERS: Final = re.split(
    " ",
    "0 -0 1 -1 2 3 7 255 256 32767 -32768 65536 2147483647 1e-300 1e9 1e30 1e300 1e999 -1e999 nan 0.5 1,5 1.0 12abc",
)
WORDS: Final = re.split(
    " ",
    "LINE ARC CIRCLE ELLIPSE LWPOLYLINE POLYLINE VERTEX SEQEND SPLINE HATCH INSERT BLOCK ENDBLK SECTION ENDSEC EOF "
    "TABLE ENDTAB LAYER MLINE MPOLYGON 3DFACE SOLID TEXT MTEXT ATTRIB DIMENSION WIPEOUT SPATIAL_FILTER DICTIONARY "
    "ENTITIES BLOCKS HEADER TABLES OBJECTS AcDbEntity AcDbLine CLOTHPATH_RUN AC1009 AC1032 ANSI_932 disk leaf "
    "\\U+FFFF \ud83d %%c *Model_Space é",
)
CODES: Final = re.split(
    " ",
    "0 1 2 5 8 10 20 30 11 21 40 41 42 43 50 51 60 62 66 67 70 71 72 73 74 90 91 92 93 97 98 100 102 210 230 290 310 "
    "330 360 420 999 1001 1004 1071 -5 99999 x",
)


def tags_of(text: str) -> Tags:
    lines = text.splitlines()
    return list(zip(lines[::2], lines[1::2], strict=False))


def text_of(tags: Tags) -> str:
    return "".join(f"{code}\n{value}\n" for code, value in tags)


def binary_of(tags: Tags) -> bytes:
    """DXF Reference, "Binary DXF Files" and the ranges of "Group Code Value Types"; what is no number is 0."""
    parts = [b"AutoCAD Binary DXF\r\n\x1a\x00"]
    for code, value in tags:
        number = int(code) if code.strip().removeprefix("-").isdecimal() else 999
        number %= 1 << 16
        parts.append(struct.pack("<H", number))
        how = _form(number)
        try:
            parts.append(struct.pack(how, float(value) if how == "<d" else int(value)) if how else b"")
        except (ValueError, struct.error):
            parts.append(bytes(struct.calcsize(how)))
        if not how:
            parts.append(value.encode("utf-8", "surrogatepass") + b"\0")
    return b"".join(parts)


def _form(code: int) -> str:
    if 10 <= code < 60 or 110 <= code < 150 or 210 <= code < 240 or 460 <= code < 470 or 1010 <= code < 1060:
        return "<d"
    if 60 <= code < 80 or 170 <= code < 180 or 270 <= code < 290 or 370 <= code < 390 or 400 <= code < 410:
        return "<h"
    if 90 <= code < 100 or 420 <= code < 430 or 440 <= code < 460 or code == 1071:
        return "<i"
    if 160 <= code < 170:
        return "<q"
    return "<b" if 290 <= code < 300 else "<h" if 1060 <= code < 1071 else ""


def _spans(tags: Tags) -> list[tuple[int, int]]:
    """First and last tag of each element."""
    starts = [i for i, (code, _) in enumerate(tags) if code.strip() == "0"] or [0]
    return list(zip(starts, [*starts[1:], len(tags)], strict=True))


def _value(tags: Tags, pick: random.Random) -> Tags:
    i = pick.randrange(len(tags))
    code, value = tags[i]
    word = pick.random() < 0.2 or code.strip() in ("0", "2", "8", "100")
    return [*tags[:i], (code, pick.choice(WORDS if word else NUMBERS)), *tags[i + 1 :]] if value != "EOF" else tags


def _code(tags: Tags, pick: random.Random) -> Tags:
    i = pick.randrange(len(tags))
    return [*tags[:i], (pick.choice(CODES), tags[i][1]), *tags[i + 1 :]]


def _digits(tags: Tags, pick: random.Random) -> Tags:
    def other(value: str) -> str:
        return "".join(pick.choice("0123456789.-e") if c.isdigit() and pick.random() < 0.05 else c for c in value)

    return [(code, value if code.strip() == "0" else other(value)) for code, value in tags]


def _cut(tags: Tags, pick: random.Random) -> Tags:
    i = pick.randrange(len(tags))
    return tags[:i] + tags[i + pick.choice((1, 1, 1, 2, 5)) :]


def _repeat(tags: Tags, pick: random.Random) -> Tags:
    i = pick.randrange(len(tags))
    n = pick.choice((1, 1, 2, 4))
    return tags[: i + n] + tags[i : i + n] * pick.choice((1, 3, 30)) + tags[i + n :]


def _element_cut(tags: Tags, pick: random.Random) -> Tags:
    a, b = pick.choice(_spans(tags))
    return tags[:a] + tags[b:]


def _element_moved(tags: Tags, pick: random.Random) -> Tags:
    """One element, or several copies of it, somewhere else: entities outside sections, in blocks, blocks in blocks."""
    spans = _spans(tags)
    a, b = pick.choice(spans)
    to = pick.choice(spans)[0]
    return tags[:to] + tags[a:b] * pick.choice((1, 1, 5, 200)) + tags[to:]


def _sections_swapped(tags: Tags, pick: random.Random) -> Tags:
    starts = [i for i, tag in enumerate(tags) if tag[1] == "SECTION"]
    if len(starts) < 2:
        return tags
    i, j = sorted(pick.sample(starts, 2))
    return tags[:i] + tags[j:] + tags[i:j]


def _array(tags: Tags, pick: random.Random) -> Tags:
    """An insert, of a block that there is, in huge numbers or out of all proportion."""
    names = [value for i, (code, value) in enumerate(tags) if code == "2" and ("0", "BLOCK") in tags[max(0, i - 4) : i]]
    more = [("70", pick.choice(NUMBERS)), ("71", pick.choice(NUMBERS)), ("41", pick.choice(NUMBERS)), ("44", "3")]
    new = [("0", "INSERT"), ("100", "AcDbEntity"), ("8", "a"), ("100", "AcDbBlockReference"),
           ("2", pick.choice(names or ["disk"])), ("10", "0"), ("20", "0"), *pick.sample(more, 2)]  # fmt: skip
    to = pick.choice(_spans(tags))[0]
    return tags[:to] + new + tags[to:]


def _cut_short(tags: Tags, pick: random.Random) -> Tags:
    return tags[: pick.randrange(1, len(tags) + 1)]


CHANGES: Final[tuple[Callable[[Tags, random.Random], Tags], ...]] = (
    _value, _value, _value, _code, _digits, _cut, _repeat, _element_cut, _element_moved, _element_moved,
    _sections_swapped, _array, _cut_short,
)  # fmt: skip


def _bytes_changed(data: bytes, pick: random.Random) -> bytes:
    for _ in range(pick.randint(1, 6)):
        at = pick.randrange(len(data) + 1)
        end = min(len(data), at + pick.choice((0, 1, 1, 2, 8, 60)))
        new = pick.choice((b"", pick.randbytes(end - at), data[at:end] * 3, b"\n", b"\0", b"\xff"))
        data = data[:at] + new + data[end:]
    return data


def _damage_of(seeds: Sequence[Tags]) -> Damage:
    def damaged(pick: random.Random) -> tuple[bytes, str]:
        tags = pick.choice(seeds)
        if pick.random() < 0.1:
            tags = tags[: pick.choice(_spans(tags))[0]] + pick.choice(seeds)[pick.randrange(1, 9) :]
        for _ in range(pick.choice((0, 1, 1, 2, 3, 6))):
            tags = pick.choice(CHANGES)(tags, pick) or tags
        way = "binary" if pick.random() < 0.2 else "text"
        if way == "binary":
            data = binary_of(tags)
        else:
            data = text_of(tags).encode("utf-8", "surrogatepass")
            data = data.replace(b"\n", pick.choice((b"\n", b"\n", b"\n", b"\r\n", b"\r")))
        return (_bytes_changed(data, pick), f"{way} bytes") if pick.random() < 0.25 else (data, way)

    return damaged


def damage(files: Sequence[Path]) -> Damage:
    """Damage to the seeds; those from the tests, those of every version, and the files."""
    texts = [case.text for case in (*shapes.CASES, *structure.CASES)]
    nested = [block("disk", *structure.PLAIN), block("row", *(insert("disk", 30 * i, 0) for i in range(9)))]
    texts.append(dxf(*structure.PLAIN, insert("row", 0, 100), insert("row", 0, 300, 50, 30), blocks=nested))
    part = block("part", patterns.BODY, patterns.UPRIGHT, patterns.point(30, 0, "4"), patterns.point(30, 40, "13"))
    texts.append(dxf(insert("part", layer="1"), patterns.text("Units: METRIC"), blocks=[part]))
    texts += [written(version, binary=False).decode() for version in VERSIONS]
    clip = io.StringIO()
    clipped([(0, -20), (20, 20)]).write(clip)
    texts.append(clip.getvalue())
    texts += [file.read_text("utf-8", errors="surrogateescape") for file in files]
    return _damage_of([tags_of(text) for text in texts])


if __name__ == "__main__":
    sys.exit(fuzzed(DxfReader(), damage, "dxf", __doc__ or "", [DxfSettings()]))
