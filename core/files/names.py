"""Names that any system and any format accepts, made from whatever people call a thing.

Terminology
    word        the readable rest of a text: letters, digits and marks of any script, joined by hyphens; a picture
                character becomes its Unicode name, so that a crab is still a crab
    file name   a word that every file system takes
    plain word  a word of A-Z, a-z, 0-9 and hyphens: for ids and layers of old formats
    in Latin    other scripts as they are written in Latin letters, whatever the language; pictures by their names
    text        what people read, on one line, with nothing in it that is not to be seen
    record      what the program itself wrote down of a job or a build, always under one name

Sources: reserved characters and device names, "Naming Files, Paths, and Namespaces" (Win32 documentation); normal form
C and general categories, Unicode Standard Annexes 15 and 44; names in XML, XML 1.0 (5th ed.) 2.3. A name of 255 bytes
is the limit of the common file systems, of which 120 leaves room for a folder's suffixes (common practice).
"""

from __future__ import annotations

import re
import string
import unicodedata
from collections.abc import Callable, Iterable
from itertools import groupby
from typing import Final

from clothpath.findings import nearest_word

__all__ = [
    "FILE_NAME_BYTES",
    "INDEX_FILE",
    "JOB_FILE",
    "NAME_PARTS",
    "ascii_text",
    "cell",
    "file_name",
    "heading",
    "in_latin",
    "plain_word",
    "shown",
    "sound_pattern",
    "text",
    "unique",
    "word",
]

JOB_FILE: Final = "job.json"
"""The record of a job, in its folder."""
INDEX_FILE: Final = "index.json"
"""The record of a build, on top of the folders of its jobs."""
FILE_NAME_BYTES: Final = 120
"""Longest file name, in bytes of UTF-8, its suffix included."""
NAMELESS: Final = "unnamed"
"""What is called so has no letter, digit or picture in its name."""

NAME_PARTS: Final = ("design", "size", "machine", "mat", "fabric", "format")
"""What a pattern of file names may have in braces."""
FORMULA_SIGNS: Final = ("=", "+", "-", "@")
"""A spreadsheet takes a cell that begins so for a formula (OWASP, CSV Injection)."""

_DEVICES: Final = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])(?=\.|$)", re.IGNORECASE)


def word(name: str) -> str:
    """The readable rest of `name`: letters, digits, dots and underscores, the rest hyphens; never empty."""
    found: list[str] = []
    for char in unicodedata.normalize("NFC", name):
        category = unicodedata.category(char)
        if category in ("Cf", "Mn", "Me", "Sk") and not char.isalnum():
            found.append(char if category == "Mn" and not "\ufe00" <= char <= "\ufe0f" else "")
        elif char.isalnum() or category == "Mc" or char in "._":
            found.append(char)
        elif category == "So":
            found.append(f"-{unicodedata.name(char, '').lower()}-")
        else:
            found.append("-")
    joined = re.sub(r"[-\s]*-[-\s]*|\s+", "-", "".join(found))
    return re.sub(r"\.{2,}", ".", joined).strip("-._ ") or NAMELESS


def file_name(name: str, suffix: str = "") -> str:
    """A file name that every system takes: no reserved character or device name, no leading or trailing dot.

    Args:
        suffix: with its dot; it stays whole where a long name is shortened.
    """
    safe = word(name)
    if _DEVICES.match(safe):
        safe = f"{safe.partition('.')[0]}-{safe.partition('.')[2]}".strip("-") + "-file"
    return _shortened(safe, FILE_NAME_BYTES - len(suffix.encode())) + suffix


def sound_pattern(pattern: str) -> str:
    """The pattern of file names itself, such as "{design}-{size}-{fabric}", if it can be filled in.

    Raises:
        ValueError: a brace does not close, or holds something else than one of `NAME_PARTS`.
    """
    known = ", ".join(f"{{{part}}}" for part in NAME_PARTS)
    try:
        parts = list(string.Formatter().parse(pattern))
    except ValueError:
        raise ValueError(f'"{pattern}" has a brace too many or too few. Known here: {known}') from None
    for _, part, spec, conversion in parts:
        if part is not None and (part not in NAME_PARTS or spec or conversion):
            near = nearest_word(part, NAME_PARTS)
            hint = near if near.startswith("Did") else f"Known here: {known}"
            raise ValueError(f'"{pattern}" has {{{part}}}. {hint}')
    return pattern


def plain_word(name: str, longest: int = 60) -> str:
    """`name` in A-Z, a-z, 0-9 and hyphens; letters of other scripts as they are written in Latin ones."""
    plain = in_latin(word(name))
    return re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-")[:longest].rstrip("-") or NAMELESS


def text(name: str, longest: int = 120) -> str:
    """`name` as people read it, on one line: no control, direction or unassigned characters, cut with an ellipsis."""
    seen = name
    if not (name.isascii() and name.isprintable()):
        seen = "".join(" " if c.isspace() else c for c in unicodedata.normalize("NFC", name))
        seen = "".join(c for c in seen if c == " " or unicodedata.category(c) not in ("Cc", "Cf", "Cn", "Co", "Cs"))
    seen = " ".join(seen.split())
    return seen if len(seen) <= longest else seen[: longest - 1].rstrip() + "…"


def cell(said: str, longest: int = 120) -> str:
    """As `text`, for a cell of a table: no spreadsheet takes it for a formula."""
    shown = text(said, longest)
    return f"'{shown}" if shown.startswith(FORMULA_SIGNS) else shown


def ascii_text(name: str, longest: int = 120) -> str:
    """As `text`, in printable ASCII: letters of other scripts as they are written in Latin ones, pictures by name."""
    plain = in_latin(text(name, longest).replace("…", "..."))
    return plain if len(plain) <= longest else f"{plain[: longest - 3]}..."


def shown(name: str, longest: int = 120) -> str:
    """As `text`, for a page: what runs from right to left is kept apart from the words around it (UAX 9, isolates)."""
    said = text(name, longest)
    turned = any(unicodedata.bidirectional(char) in ("R", "AL", "AN") for char in said)
    return f"\u2068{said}\u2069" if turned else said


def heading(title: str) -> str:
    """A title whose parts stand between commas, each as `shown`: it reads as the parts do where they stand alone."""
    return ", ".join(shown(part) for part in title.split(", "))


def unique(names: Iterable[str], made: Callable[[str], str]) -> tuple[str, ...]:
    """`made(name)` for each of the names in order, with "-2", "-3", … where two would differ in nothing but case."""
    taken: set[str] = set()
    found: list[str] = []
    for name in names:
        first = candidate = made(name)
        number = 1
        while unicodedata.normalize("NFC", candidate.casefold()) in taken:
            number += 1
            stem, dot, suffix = first.rpartition(".")
            candidate = f"{stem}-{number}.{suffix}" if dot and stem else f"{first}-{number}"
        taken.add(unicodedata.normalize("NFC", candidate.casefold()))
        found.append(candidate)
    return tuple(found)


def in_latin(said: str) -> str:
    """What can be seen of the words in printable ASCII; pictures by their names, in parentheses: "(crab)"."""
    if said.isascii():
        return said
    from anyascii import anyascii

    parts = []
    for picture, alike in groupby(said, lambda char: unicodedata.category(char) == "So"):
        letters = "".join(alike)
        parts.append(" ".join(f"({unicodedata.name(c, 'sign').lower()})" for c in letters) if picture else letters)
    return anyascii("".join(parts))


def _shortened(name: str, most: int) -> str:
    """`name` in at most `most` bytes, cut between characters."""
    data = name.encode()
    if len(data) <= most:
        return name
    return data[:most].decode(errors="ignore").strip("-._ ")
