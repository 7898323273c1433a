"""What of a drawing was left out, counted by reason, and told in one finding each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Final

from clothpath.findings import Finding, note, warning

__all__ = ["Leftovers", "listed"]

PLACES: Final = 5
"""So many places are named in one finding; the rest is counted."""

_PICTURES: Final = frozenset({"IMAGE", "OLEFRAME", "OLE2FRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY"})
_TEXTS: Final = frozenset({"ARCALIGNEDTEXT", "RTEXT", "TOLERANCE", "ACAD_TABLE", "SHAPE"})
_MEASURES: Final = frozenset({"DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER"})
_ENDLESS: Final = frozenset({"RAY", "XLINE"})
_SOLIDS: Final = frozenset(
    {"3DSOLID", "BODY", "REGION", "SURFACE", "EXTRUDEDSURFACE", "LOFTEDSURFACE", "REVOLVEDSURFACE", "SWEPTSURFACE"}
)


def listed(places: list[str]) -> str:
    """The first places in words, and how many more there are."""
    more = len(places) - PLACES
    return "; ".join(places[:PLACES]) + (f" and {more} more" if more > 0 else "")


class Leftovers:
    """Reasons, what they are about, and where."""

    def __init__(self) -> None:
        self._counts: Counter[tuple[str, str]] = Counter()
        self._places: dict[tuple[str, str], list[str]] = {}

    def add(self, why: str, what: str, element: str) -> None:
        self._counts[why, what] += 1
        places = self._places.setdefault((why, what), [])
        if element and len(places) < PLACES:
            places.append(f"element {element}")

    def count(self, why: str, what: str) -> int:
        return self._counts[why, what]

    def findings(self) -> Iterator[Finding]:
        for (why, what), count in sorted(self._counts.items()):
            places = self._places[why, what]
            where = "; ".join(places) + (f" and {count - len(places)} more" if places and count > len(places) else "")
            yield _told(why, what, count, where)


def _told(why: str, what: str, count: int, where: str) -> Finding:
    things = f"{count} elements" if count != 1 else "1 element"
    were = "were" if count != 1 else "was"
    match why:
        case "frozen" | "off" | "never printed":
            return warning(
                "layer-hidden",
                f'{things} on layer "{what}" {were} left out: the layer is {why}.',
                where,
                "Show the layer in the drawing program if it is to be cut.",
            )
        case "invisible":
            return note("hidden", f"{things} ({what}) {were} left out, being marked as invisible.", where)
        case "words":
            return _words(f'Text {were} left out ("{what}"): letters cannot be cut.', where)
        case "points":
            return note("point", f"{count} single point{'s' if count != 1 else ''} left out: there is no line.", where)
        case "broken":
            return warning("broken-element", f"{things} could not be read ({what}).", where, "Draw it again.")
        case "tilted":
            return warning(
                "tilted",
                f"{things} ({what}) {were} drawn on a tilted plane and taken as seen from above.",
                where,
                "Lay the drawing flat (all z at 0) in the program that made it.",
            )
        case "no-block":
            return warning("block-missing", f'{things} {were} left out: the block "{what}" is not in the file.', where)
        case "external":
            return warning(
                "external-reference",
                f'{things} {were} left out: "{what}" is another file, and no other file is ever opened.',
                where,
                "Bind the reference into the drawing in the program that made it.",
            )
        case "clip":
            return note("block-clipped", f'Of the block "{what}" only the part inside its clip was read.', where)
        case "clip-inverted":
            return warning(
                "clip-inverted",
                f'Of the block "{what}" the drawing shows only what lies outside a clip; the whole block was read.',
                where,
                "Trim its lines in the program that made the drawing, and take the clip away.",
            )
        case "recursive":
            return warning("block-in-itself", f'The block "{what}" contains itself; that {were} left out.', where)
        case _:
            return _kind(what, things, were, where)


def _kind(kind: str, things: str, were: str, where: str) -> Finding:
    if kind in _PICTURES:
        return warning(
            "picture",
            f"{things} ({kind}) {were} left out: pictures and embedded objects cannot be cut.",
            where,
            "Trace the picture into lines in a drawing program.",
        )
    if kind in _TEXTS:
        return _words(f"{things} ({kind}) {were} left out: letters cannot be cut.", where)
    if kind in _MEASURES:
        return note("dimension", f"{things} ({kind}) {were} left out: measurements are not cut.", where)
    if kind in _ENDLESS:
        return note("endless-line", f"{things} ({kind}) {were} left out: a line without end helps only to draw.", where)
    if kind == "WIPEOUT":
        return warning(
            "wipeout",
            f"{things} ({kind}) {were} left out: an empty area that hides what lies beneath. What it hides was read.",
            where,
            "Trim or delete the hidden lines in the program that made the drawing.",
        )
    if kind in _SOLIDS:
        return warning(
            "solid",
            f"{things} ({kind}) {were} left out: a solid or a region stores its shape in a way that is not read.",
            where,
            "Explode it, once or twice, until it is lines, in the program that made the drawing.",
        )
    if kind in ("MESH", "POLYMESH", "HELIX"):
        return warning(
            "solid",
            f"{things} ({kind}) {were} left out: it is made for three dimensions.",
            where,
            "Draw its outline as a flat polyline.",
        )
    return warning(
        "kind-unknown",
        f"{things} of the kind {kind} {were} left out: it is no line in a plane.",
        where,
        "Explode or convert it to lines in the program that made it.",
    )


def _words(message: str, where: str) -> Finding:
    return warning("text", message, where, "Convert the text to lines in the drawing program if it is to be cut.")
