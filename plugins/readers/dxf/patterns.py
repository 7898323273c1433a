"""Pattern files of the sewn products industry: their layers say what each line is for.

Terminology (the standard's)
    boundary        the outline of a pattern piece; each piece stands in a block of its own
    cut-out         an outline inside a piece that is cut
    notch, drill    where the edge is nicked and where a hole is punched; here both become markings
    grain line      the direction that runs along the selvage
    mirror line     the fold of a piece of which only one half is drawn
    system text     "Piece Name: …", "Quantity: …" and their like

A piece is turned so that its grain line is upright, since up in a design runs along the selvage.
Source: ASTM D6673-10, Standard Practice for Sewn Products Pattern Data Interchange, table of layers. The keywords of
the system text and that "English" means inches and "Metric" millimeters: memory.
"""

from __future__ import annotations

import cmath
import math
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from clothpath.areas.chains import Edge, edges_of
from clothpath.areas.webs import reversed_edge
from clothpath.curves import Affine, Outline, Path, circle, flattened, open_path, outline, transformed
from clothpath.design import Drawn, Fabric, Marking, Piece
from clothpath.findings import Finding, note, warning
from clothpath.picture.fabrics import slug
from clothpath.plugins.readers.dxf.drawing import Content, Dot, Ink, Words
from clothpath.plugins.readers.dxf.pieces import Names, Picture, drawn_by
from clothpath.plugins.readers.dxf.rings import Chain, Placed, Ring, Terms, in_mm, nested, ringed
from clothpath.plugins.readers.dxf.shapes import Stroke, seen
from clothpath.regions import box_of_regions, moved

__all__ = ["is_pattern", "pattern_of", "stated_system"]

BOUNDARY: Final = "1"
POINTS: Final = frozenset({"2", "3"})
NOTCHES: Final = frozenset({"4", "80", "81", "82", "83"})
MIRROR: Final = "6"
GRAIN: Final = "7"
DRAWN: Final = {"8": "internal line", "14": "sew line"}
CUT_OUT: Final = "11"
DRILL: Final = "13"
UNUSED: Final = {
    "5": "grade reference lines", "9": "stripe lines", "10": "plaid lines", "84": "check curves", "85": "check curves",
    "86": "check curves", "87": "check curves",
}  # fmt: skip
LAYERS: Final = frozenset({BOUNDARY, *POINTS, *NOTCHES, MIRROR, GRAIN, *DRAWN, CUT_OUT, DRILL, *UNUSED, "12", "15"})

NOTCH_MM: Final = 4.8
"""Length of the line that stands for a notch given as a point: about 3/16 in, common practice."""
DRILL_MM: Final = 1.0
"""Radius of the circle that stands for a drill hole."""
ON_FOLD_MM: Final = 0.1
"""A side whose ends are this near to those of the mirror line lies on the fold."""
UPRIGHT_DEG: Final = 0.01

_SYSTEM_TEXT: Final = re.compile(r"\s*(piece name|size|quantity|material|units)\s*:\s*(.*?)\s*$", re.IGNORECASE)


@dataclass
class _Part:
    """What belongs to one pattern piece: strokes by layer, in mm; points; system text."""

    name: str
    strokes: dict[str, list[Placed]] = field(default_factory=lambda: defaultdict(list))
    dots: list[tuple[Dot, Ink]] = field(default_factory=list)
    texts: dict[str, str] = field(default_factory=dict)


def is_pattern(content: Content) -> bool:
    """Whether the layers are those of the standard and are used as it has them.

    Each layer in use has one of its numbers, the first has lines, turn and curve points are points only, and something
    beside numbers says so: such points, a grain line or system text.
    """
    used: dict[str, set[type]] = defaultdict(set)
    telling = False
    for item in content.items:
        used[item.ink.layer].add(type(item.what))
        telling = telling or (isinstance(item.what, Words) and _SYSTEM_TEXT.match(item.what.text) is not None)
    if not used.keys() <= LAYERS | {"0"} or Stroke not in used[BOUNDARY] or Stroke in used["2"] | used["3"] | used["0"]:
        return False
    return telling or bool(used.keys() & {*POINTS, GRAIN})


def stated_system(content: Content) -> str | None:
    """ "english" or "metric", if the file's own text says so."""
    said = (_SYSTEM_TEXT.match(item.what.text) for item in content.items if isinstance(item.what, Words))
    systems = (found[2].lower() for found in said if found is not None and found[1].lower() == "units")
    return next((system for system in systems if system in ("english", "metric")), None)


def pattern_of(content: Content, terms: Terms) -> Picture:
    """Pieces, markings and fabrics of a pattern file."""
    picture = Picture()
    names = Names()
    whole: list[tuple[float | None, list[Piece], list[Marking]]] = []
    for part in _parts(content, terms):
        pieces = _pieces(content, part, terms, names, picture.findings)
        markings = _markings(content, part, pieces, terms, names, picture.findings)
        whole.append((_grain(part), pieces, markings))
    turned = _turned(whole, picture.findings)
    pieces = [piece for found, _ in turned for piece in found]
    picture.pieces = tuple(replace(piece, order=order) for order, piece in enumerate(pieces, start=1))
    picture.markings = tuple(marking for _, found in turned for marking in found)
    picture.fabrics = _fabrics(picture.pieces, any(grain is not None for grain, _, _ in whole))
    count = len(picture.pieces)
    picture.findings.insert(
        0,
        note(
            "pattern-file",
            f"This is a pattern file after ASTM D6673: its boundaries were taken for {count} "
            f"piece{'s' if count != 1 else ''}, its notches, drill holes and inner lines for markings.",
        ),
    )
    picture.findings += _unused(content)
    return picture


def _parts(content: Content, terms: Terms) -> list[_Part]:
    parts: dict[tuple[str, str], _Part] = {}
    for at, item in enumerate(content.items):
        ink = item.ink
        key = (ink.element.partition("/")[0], ink.blocks[0]) if ink.blocks else ("", "")
        part = parts.setdefault(key, _Part(key[1]))
        match item.what:
            case Stroke():
                part.strokes[ink.layer].append(Placed(in_mm(item.what, terms.scale), ink, at))
            case Dot(place, turn):
                part.dots.append((Dot(place * terms.scale, turn), ink))
            case Words(said):
                if found := _SYSTEM_TEXT.match(said):
                    part.texts.setdefault(found[1].lower(), found[2])
    return list(parts.values())


def _pieces(content: Content, part: _Part, terms: Terms, names: Names, found: list[Finding]) -> list[Piece]:
    where = f'pattern piece "{part.name}"'
    rings, chains = ringed(part.strokes[BOUNDARY], where, terms, found)
    rings, chains = _unfolded(rings, chains, part, where, found)
    if chains:
        hint = 'Close it in the pattern program, or allow a wider gap: --set read.dxf.gap="1 mm".'
        found.append(warning("boundary-open", "A boundary does not close, so the piece cannot be cut.", where, hint))
    cut_outs, _ = ringed(part.strokes[CUT_OUT], where, terms, found)
    name = part.texts.get("piece name") or part.name or "piece"
    size = part.texts.get("size", "")
    return [
        Piece(
            id=names.unique(slug(f"{name} {size}") or "piece"),
            label=f"{name}, size {size}" if size else name,
            region=each.region,
            fabric=part.texts.get("material") or "cloth",
            copies=_quantity(part.texts.get("quantity", "")),
            drawn=drawn_by(content, each),
        )
        for each in nested([*rings, *cut_outs], terms, found)
        if each.ink.layer == BOUNDARY
    ]


def _quantity(said: str) -> int:
    """How many copies: "2", or "1,1" of left and right."""
    return max(1, sum(int(number) for number in re.findall(r"\d{1,3}", said)[:2]))


def _unfolded(
    rings: Sequence[Ring], chains: Sequence[Chain], part: _Part, where: str, found: list[Finding]
) -> tuple[list[Ring], list[Chain]]:
    """The boundaries, those of which one half up to the mirror line is drawn made whole."""
    whole, still_open = list(rings), list(chains)
    for placed in part.strokes[MIRROR]:
        fold = placed.stroke.edge
        for i, ring in enumerate(whole):
            if (half := _without_side(ring.path, fold)) is not None:
                whole[i] = replace(ring, path=_mirrored(half, fold))
                break
        else:
            chain = next((chain for chain in still_open if _on_fold(chain.path.start, chain.path.end, fold)), None)
            if chain is None:
                hint = "Look whether a half is missing."
                found.append(warning("fold-unclear", "A mirror line lies on no side of its piece.", where, hint))
                continue
            still_open.remove(chain)
            whole.append(Ring(_mirrored(edges_of(chain.path), fold), chain.ink, chain.at, chain.width))
        found.append(note("unfolded", "Half a piece was unfolded at its mirror line.", where))
    return whole, still_open


def _on_fold(start: complex, end: complex, fold: Edge) -> bool:
    a, b = fold.start, fold.end
    return any(abs(start - p) <= ON_FOLD_MM and abs(end - q) <= ON_FOLD_MM for p, q in ((a, b), (b, a))) and a != b


def _without_side(path: Outline, fold: Edge) -> Edge | None:
    """The outline from one end of its side on the fold all round to the other; None if it has no such side."""
    segments = path.segments()
    starts = [path.start, *(segment[-1] for segment in segments[:-1])]
    for i, (start, segment) in enumerate(zip(starts, segments, strict=True)):
        if len(segment) == 1 and _on_fold(start, segment[0], fold):
            return Edge(segment[0], tuple(segments[i + 1 :] + segments[:i]))
    return None


def _mirrored(half: Edge, fold: Edge) -> Outline:
    """The half and its mirror image beyond the fold, as one outline."""
    degrees = math.degrees(cmath.phase(fold.end - fold.start))
    there = Affine.turn(-degrees) @ Affine.shift(-fold.start)
    image = Affine.shift(fold.start) @ Affine.turn(degrees) @ Affine.scale(1, -1) @ there
    other = reversed_edge(seen(half, image))
    return outline(half.start, [*half.segments, (other.start,), *other.segments])


def _markings(
    content: Content, part: _Part, pieces: Sequence[Piece], terms: Terms, names: Names, found: list[Finding]
) -> list[Marking]:
    on = pieces[0].id if len(pieces) == 1 else None
    markings: list[Marking] = []

    def add(path: Path, label: str, drawn: Drawn) -> None:
        markings.append(Marking(names.unique(f"{on or 'marking'}-{slug(label)}"), label, path, drawn=drawn, on=on))

    for layer in (*DRAWN, *sorted(NOTCHES), DRILL):
        label = DRAWN.get(layer) or ("drill hole" if layer == DRILL else "notch")
        rings, chains = ringed(part.strokes[layer], f'pattern piece "{part.name}"', terms, found)
        drawn: list[Ring | Chain] = [*rings, *chains]
        for each in drawn:
            add(each.path, label, _drawn(content, each.ink))
    for dot, ink in part.dots:
        if ink.layer == DRILL:
            add(circle(dot.at, DRILL_MM), "drill hole", _drawn(content, ink))
        elif ink.layer in NOTCHES:
            add(open_path(dot.at, [(dot.at + NOTCH_MM * _inward(dot, pieces),)]), "notch", _drawn(content, ink))
    return markings


def _drawn(content: Content, ink: Ink) -> Drawn:
    return Drawn(None, content.color(ink), None, ink.layer, (ink.layer, *ink.blocks), ink.element, ink.where)


def _inward(dot: Dot, pieces: Sequence[Piece]) -> complex:
    """The direction of a notch: as the point states it, else square to the nearest edge, into the piece."""
    if dot.turn or not pieces:
        return cmath.rect(1.0, math.radians(dot.turn))
    points = [point for piece in pieces for point in (flattened(piece.region.outer),)]
    nearest = min(points, key=lambda run: float(abs(run - dot.at).min()))
    count = len(nearest)
    sides = [(complex(nearest[i]), complex(nearest[(i + 1) % count])) for i in range(count)]
    a, b = min(sides, key=lambda side: _distance(dot.at, *side))
    return 1j * (b - a) / abs(b - a)  # outlines run counterclockwise: the inside is on the left


def _distance(at: complex, a: complex, b: complex) -> float:
    along = ((at - a) * (b - a).conjugate()).real / abs(b - a) ** 2
    return abs(at - a - min(1.0, max(0.0, along)) * (b - a))


def _grain(part: _Part) -> float | None:
    """The direction of the grain line in degrees, in [0, 180); None if the piece has none."""
    for placed in part.strokes[GRAIN]:
        way = placed.stroke.edge.end - placed.stroke.edge.start
        if way:
            return math.degrees(cmath.phase(way)) % 180
    return None


def _turned(
    whole: Sequence[tuple[float | None, list[Piece], list[Marking]]], found: list[Finding]
) -> list[tuple[list[Piece], list[Marking]]]:
    """Each part with its grain line upright; all about one center if all have one grain, so that the picture holds."""
    grains = {grain for grain, pieces, _ in whole if pieces}
    every = [piece.region for _, pieces, _ in whole for piece in pieces]
    common = box_of_regions(every).center if len(grains) == 1 else None
    result: list[tuple[list[Piece], list[Marking]]] = []
    for grain, pieces, markings in whole:
        turn = 0.0 if grain is None else (90 - grain + 90) % 180 - 90
        if not pieces or abs(turn) < UPRIGHT_DEG:
            result.append((pieces, markings))
            continue
        center = box_of_regions(piece.region for piece in pieces).center if common is None else common
        by = Affine.shift(center) @ Affine.turn(turn) @ Affine.shift(-center)
        result.append(
            (
                [replace(piece, region=moved(piece.region, by)) for piece in pieces],
                [replace(marking, path=transformed(marking.path, by)) for marking in markings],
            )
        )
        message = f"The piece was turned by {turn:.4g} degrees, so that its grain line is upright."
        found.append(note("turned-to-grain", message, f'pattern piece "{pieces[0].label}"'))
    return result


def _fabrics(pieces: Iterable[Piece], grained: bool) -> tuple[Fabric, ...]:
    names = dict.fromkeys(piece.fabric for piece in pieces)
    return tuple(Fabric(name, name, grain="lengthwise" if grained else "any") for name in names)


def _unused(content: Content) -> list[Finding]:
    unused = {UNUSED[item.ink.layer]: None for item in content.items if item.ink.layer in UNUSED}
    if not unused:
        return []
    return [note("pattern-lines-left-out", f"Left out, since nothing is cut along them: {', '.join(sorted(unused))}.")]
