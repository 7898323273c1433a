"""The tidy step: a drawing as its maker meant it, without the accidents of drawing.

Terminology
    accident    what nobody drew on purpose: an open gap, a line drawn twice, a node on a straight line, a curl
    speck       a piece or hole too small to be cut
    lobe        a part of an outline that crosses itself; the main one has the largest area
    twin        an outline that runs along another one all the way round

Stands before `separate`: open lines are still markings by default then, and those that all but close become pieces.
Tidying twice is tidying once. What is not clear is reported and left as it is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence, Set
from dataclasses import replace
from functools import cached_property
from itertools import count, pairwise
from typing import Final, Literal, TypeAlias

import numpy as np
from pydantic import Field

from clothpath.areas.booleans import resolved
from clothpath.areas.chains import Gap, edges_of, joined
from clothpath.areas.nests import nested, parents
from clothpath.areas.twins import near_in_box, same_line, same_region
from clothpath.contracts import Millimeters, Settings, Transform, hookimpl
from clothpath.curves import OpenPath, Outline, Path, area, backwards, box_of, boxes, length
from clothpath.design import Design, Drawn, Fabric, Marking, Piece
from clothpath.findings import Finding, Outcome, note, warning
from clothpath.fitting.pruning import BARE_MM, Pruned, pruned, pruned_each
from clothpath.fitting.tracks import TRACK_MM, crossings_in
from clothpath.picture.fabrics import guessed
from clothpath.regions import Region, as_polygon, region, region_area
from clothpath.units import both

__all__ = ["Tidy", "TidySettings", "clothpath_transforms"]

CLEAR_SHARE: Final = 0.01
"""A lobe smaller than this share of the main one is an accident."""
DASHED_SHARE: Final = 0.1
"""Gaps that make up more of a loop than this are the gaps of a dashed line."""
CANCELED_MM2: Final = 1e-6
"""A signed area this small, in mm^2, has no direction."""
TOLD: Final = 12
"""Findings of one code that are told one by one; the rest is counted."""

Key: TypeAlias = "tuple[str, str | None]"
Tell: TypeAlias = Callable[[str, str, str, str], Finding]


class TidySettings(Settings):
    """What counts as an accident."""

    gap: Millimeters = Field(0.5, description="widest gap between the ends of lines that is closed")
    smallest: Millimeters = Field(1.0, description="pieces and holes that are smaller than this both ways are dropped")
    same: Millimeters = Field(
        0.05, description="outlines that keep this near to each other all round are one, drawn twice"
    )


class Tidy:
    """Tidies pieces and markings."""

    name = "tidy"
    summary = "Close gaps, drop what is drawn twice or too small, mend outlines that cross themselves"
    stage: Literal["design"] = "design"
    settings = TidySettings

    def apply(self, design: Design, settings: TidySettings) -> Outcome[Design]:
        """The design, tidied; every change is a finding."""
        told = _Told(design)
        markings = _without_repeats(design.markings, settings.same, told)
        pieces, markings = _closed(design.pieces, markings, settings.gap, told)
        pieces = _cleaned(pieces, settings.smallest, told)
        boxes([ring for piece in pieces for ring in piece.region])
        pieces = [kept for piece in pieces if (kept := _without_specks(piece, settings.smallest, told)) is not None]
        pieces = _without_twins(pieces, settings.same, told)
        return Outcome(_renewed(design, pieces, markings), told.findings())


class _Told:
    """What was done, as findings; places count from the picture's lower left corner."""

    def __init__(self, design: Design) -> None:
        self._design = design
        self._found: dict[str, list[Finding]] = defaultdict(list)

    @cached_property
    def _corner(self) -> complex:
        paths: list[Path] = [ring for piece in self._design.pieces for ring in piece.region]
        box = box_of([*paths, *(marking.path for marking in self._design.markings)])
        return complex(box.left, box.bottom)

    def add(self, tell: Tell, code: str, message: str, of: Piece | Marking, at: complex, hint: str = "") -> None:
        from_corner = at - self._corner
        place = f"{from_corner.real:.1f} mm from the left, {from_corner.imag:.1f} mm from the bottom"
        name = of.drawn.where or of.label or of.id
        self._found[code].append(tell(code, message, f"{name}, {place}", hint))

    def findings(self) -> tuple[Finding, ...]:
        told: list[Finding] = []
        for code, found in self._found.items():
            told += found[:TOLD]
            if len(found) > TOLD:
                told.append(
                    replace(found[0], message=f"{len(found) - TOLD} more of the same ({code}).", where="", hint="")
                )
        return tuple(told)


def _key(drawn: Drawn) -> Key:
    return drawn.layer, drawn.color


def _closed(
    of_pieces: Sequence[Piece], markings: list[Marking], gap: float, told: _Told
) -> tuple[list[Piece], list[Marking]]:
    """Pieces and markings, open lines that all but close made pieces."""
    pieces = list(of_pieces)
    before = -1
    while len(markings) != before:  # what an outline no longer touches may close in turn
        before = len(markings)
        pieces, markings = _closed_once(pieces, markings, gap, told)
    return _with_fabrics(pieces), markings


def _closed_once(
    pieces: list[Piece], markings: list[Marking], gap: float, told: _Told
) -> tuple[list[Piece], list[Marking]]:
    groups: dict[Key, list[Marking]] = defaultdict(list)
    for marking in markings:
        if isinstance(marking.path, OpenPath) and marking.role == "mark" and marking.on is None:
            groups[_key(marking.drawn)].append(marking)
    used: set[str] = set()
    for key, group in groups.items():
        made = joined([edges_of(marking.path) for marking in group], gap)
        loops = [loop for loop in made.loops if loop.plain]
        new: list[Piece] = []
        for loop in loops:
            gaps = [each for each in made.gaps if _touches(loop.path, each)]
            if sum(each.width for each in gaps) > DASHED_SHARE * length(loop.path):
                continue
            members = [group[i] for i in loop.edges]
            used.update(member.id for member in members)
            made_of = _piece(members[0], loop.path, {piece.id for piece in (*pieces, *new)})
            new.append(made_of)
            _tell_closed(made_of, members, gaps, told)
        if new:
            pieces = _with_holes(pieces, new, key, told)
    return pieces, [marking for marking in markings if marking.id not in used]


def _piece(line: Marking, outline: Outline, taken: Set[str]) -> Piece:
    """The piece that a line became; a line without an id of its own in the source is called by the next free number."""
    if line.drawn.element:
        return Piece(line.id, line.label, region(outline), "", drawn=line.drawn)
    number = next(n for n in count(len(taken) + 1) if f"piece-{n}" not in taken)
    return Piece(f"piece-{number}", f"piece {number}", region(outline), "", drawn=line.drawn)


def _touches(path: Outline, gap: Gap) -> bool:
    """Whether the gap was closed in this path: it then runs straight across."""
    nodes = path.nodes[:, 0]
    middles = (nodes + np.append(nodes[1:], path.end)) / 2
    return bool((np.abs(middles - gap.at) <= BARE_MM).any())


def _tell_closed(made: Piece, members: Sequence[Marking], gaps: Sequence[Gap], told: _Told) -> None:
    first, several = members[0], len(members) > 1
    lines = f"{len(members)} open lines" if several else "an open line"
    for each in gaps:
        became = f'{"they are" if several else "it is"} no marking now, but the outline of the piece "{made.id}"'
        message = f"A gap of {_gap_size(each.width)} in {lines} was closed: {became}."
        told.add(note, "gap-closed", message, first, each.at)
    if not gaps:
        what = f"{len(members)} lines that meet" if several else "A line that returns to its start"
        message = f'{what} {"were" if several else "was"} taken for the outline of the piece "{made.id}".'
        told.add(note, "lines-joined", message, first, first.path.start)


def _gap_size(mm: float) -> str:
    """A gap in inches and mm; one that no ruler shows with two digits."""
    return both(mm) if mm > 1 else f"{mm / 25.4:.2g} in ({mm:.2g} mm)"


def _with_holes(pieces: list[Piece], new: list[Piece], key: Key, told: _Told) -> list[Piece]:
    """The new outlines among the pieces: nested in line drawings of the same layer and color, they are holes."""
    kin = [piece for piece in pieces if _key(piece.drawn) == key and piece.drawn.fill is None and piece.picture is None]
    together = [*kin, *new]
    owner = [k for k, piece in enumerate(together) for _ in piece.region]
    rings = [ring for piece in together for ring in piece.region]

    def related(inner: int, outer: int) -> bool:
        return owner[inner] == owner[outer] or max(owner[inner], owner[outer]) >= len(kin)

    remade: list[list[Region]] = [[] for _ in together]
    for i, each in nested(rings, parents(rings, related=related)):
        remade[owner[i]].append(each)
    for piece, regions in zip(together, remade, strict=True):
        if not regions:
            message = "An outline within another one of the same layer and color was taken for a hole in it."
            told.add(note, "hole-assigned", message, piece, piece.region.outer.start)
    place = {id(piece): k for k, piece in enumerate(together)}
    return [
        part
        for piece in (*pieces, *new)
        for part in (_parts(piece, remade[place[id(piece)]]) if id(piece) in place else [piece])
    ]


def _parts(piece: Piece, regions: Sequence[Region]) -> list[Piece]:
    """The piece once for each region."""
    return [replace(piece, region=each) for each in regions]


def _with_fabrics(pieces: list[Piece]) -> list[Piece]:
    """Pieces without a fabric take that of another one of their layer and color, or of their color."""
    known = {_key(piece.drawn): piece.fabric for piece in reversed(pieces) if piece.fabric}
    by_color = {piece.drawn.color: piece.fabric for piece in reversed(pieces) if piece.fabric}
    first_guess = {piece.id: piece.fabric for piece in guessed([piece for piece in pieces if not piece.fabric])[0]}
    return [
        piece
        if piece.fabric
        else replace(
            piece, fabric=known.get(_key(piece.drawn)) or by_color.get(piece.drawn.color) or first_guess[piece.id]
        )
        for piece in pieces
    ]


def _cleaned(pieces: Sequence[Piece], smallest: float, told: _Told) -> list[Piece]:
    """The pieces without needless nodes and self-crossings; several where one falls apart, none where it is flat."""
    drawn = [piece for piece in pieces if piece.picture is None]
    results = iter(pruned_each([ring for piece in drawn for ring in piece.region]))
    tidied = [_tidied(piece, [next(results) for _ in piece.region], told) for piece in drawn]
    crossed = iter(crossings_in([tidy for tidy in tidied if tidy is not None]))
    regions = iter(tidied)
    found: list[Piece] = []
    for piece in pieces:
        if piece.picture is not None:
            found.append(piece)
        elif (tidy := next(regions)) is not None:
            at = next(crossed)
            if at is not None:
                found += _parts(piece, _mended(piece, tidy, at, smallest, told))
            else:
                found.append(piece if tidy is piece.region else replace(piece, region=tidy))
    return found


def _tidied(piece: Piece, results: Sequence[Pruned], told: _Told) -> Region | None:
    """The piece's region of pruned rings, the same one if nothing was pruned; None if it is flat."""
    rings: list[Outline] = []
    for number, (ring, result) in enumerate(zip(piece.region, results, strict=True)):
        _tell_pruned(piece, result, told)
        if result.outline is not None:
            rings.append(result.outline)
        elif number == 0:
            message = "An outline that encloses nothing was left out."
            told.add(note, "flat-outline", message, piece, ring.start)
            return None
    tidy = Region(_turned(rings[0], 1), tuple(_turned(ring, -1) for ring in rings[1:]))
    return piece.region if tidy == piece.region else tidy


def _turned(ring: Outline, sign: int) -> Outline:
    """The ring run counterclockwise (1) or clockwise (-1); as it is where its lobes cancel out and neither is right."""
    return backwards(ring) if sign * area(ring) < -CANCELED_MM2 else ring


def _tell_pruned(piece: Piece, result: Pruned, told: _Told) -> None:
    if result.bare:
        message = f"{_counted(len(result.bare), 'line')} without length dropped."
        told.add(note, "line-without-length", message, piece, result.bare[0])
    if result.spikes:
        message = f"{_counted(len(result.spikes), 'line')} that ran out and back along itself dropped."
        told.add(note, "line-drawn-twice", message, piece, result.spikes[0])
    if result.needless:
        message = f"{_counted(len(result.needless), 'point')} in the middle of straight lines dropped."
        told.add(note, "lines-merged", message, piece, result.needless[0])


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'s' if count != 1 else ''}"


def _mended(piece: Piece, crossed: Region, at: complex, smallest: float, told: _Told) -> list[Region]:
    """What a region that crosses itself was meant to be: its main lobes, if the rest is an accident; else as it is."""
    rings = list(crossed)
    right = resolved(rings, lambda winding: winding > 0)
    wrong = resolved(rings, lambda winding: winding < 0)
    if right:
        main = max(region_area(each) for each in right)

        def accident(lobe: Region) -> bool:
            return region_area(lobe) <= CLEAR_SHARE * main or max(lobe.box.width, lobe.box.height) < smallest

        kept = [_pruned_region(each, accident) for each in right if not accident(each)]
        if all(accident(lobe) for lobe in wrong) and all(as_polygon(each, TRACK_MM).is_valid for each in kept) and kept:
            if len(kept) == 1:
                told.add(note, "crossing-mended", "An outline that crosses itself was mended.", piece, at)
            else:
                message = f"An outline that crosses or touches itself was taken for {len(kept)} pieces."
                told.add(warning, "outline-split", message, piece, at, "Look whether that is what was meant.")
            return kept
    message = "The outline crosses itself, and it is not clear what was meant; it was left as it is."
    told.add(warning, "crossing-unclear", message, piece, at, "Mend the outline in the drawing program.")
    return [crossed]


def _pruned_region(of: Region, accident: Callable[[Region], bool]) -> Region:
    rings = [pruned(ring).outline or ring for ring in of]
    return region(rings[0], [hole for hole in rings[1:] if not accident(region(hole))])


def _without_specks(piece: Piece, smallest: float, told: _Told) -> Piece | None:
    """The piece without holes that are specks; None if it is one itself."""
    if piece.picture is not None:
        return piece
    if _is_speck(piece.region.outer, smallest):
        told.add(
            note,
            "speck-dropped",
            f"A speck of {_size(piece.region.outer)} was dropped.",
            piece,
            piece.region.outer.start,
        )
        return None
    holes = tuple(hole for hole in piece.region.holes if not _is_speck(hole, smallest))
    if len(holes) == len(piece.region.holes):
        return piece
    for hole in piece.region.holes:
        if hole not in holes:
            told.add(note, "speck-dropped", f"A hole of {_size(hole)} was closed.", piece, hole.start)
    return replace(piece, region=Region(piece.region.outer, holes))


def _is_speck(ring: Outline, smallest: float) -> bool:
    return max(ring.box.width, ring.box.height) < smallest


def _size(ring: Outline) -> str:
    return f"{ring.box.width:.2g} x {ring.box.height:.2g} mm"


def _without_twins(pieces: Sequence[Piece], same: float, told: _Told) -> list[Piece]:
    """Of two pieces with one and the same outline, the one that is filled, else the first."""
    dropped: set[int] = set()
    for i, near in enumerate(near_in_box(pieces, lambda piece: piece.region.outer, same)):
        piece = pieces[i]
        for j in near:
            first = pieces[j]
            if i in dropped or j in dropped or piece.role != first.role:
                continue
            if not same_region(first.region, piece.region, same):
                continue
            at = piece.region.outer.start
            if piece.fabric == first.fabric or (piece.drawn.fill is None) != (first.drawn.fill is None):
                lined = j if first.drawn.fill is None and piece.drawn.fill is not None else i
                dropped.add(lined)
                told.add(note, "outline-drawn-twice", "An outline was drawn twice; it is cut once.", pieces[lined], at)
            else:
                message = f'The piece lies exactly on the piece "{first.label or first.id}" of another fabric.'
                told.add(warning, "piece-on-piece", message, piece, at, "Leave one of them out if that is not meant.")
    return [piece for i, piece in enumerate(pieces) if i not in dropped]


def _without_repeats(markings: Sequence[Marking], same: float, told: _Told) -> list[Marking]:
    """Markings that have a length, each once."""
    long: list[Marking] = []
    for marking in markings:
        box = marking.path.box
        if max(box.width, box.height) > BARE_MM:
            long.append(marking)
        else:
            told.add(note, "line-without-length", "A line without length was dropped.", marking, marking.path.start)
    once: dict[int, None] = {}
    for i, near in enumerate(near_in_box(long, lambda marking: marking.path, same)):
        if any(j in once and _repeats(long[i], long[j], same) for j in near):
            message = "A marking was drawn twice; once is enough."
            told.add(note, "line-drawn-twice", message, long[i], long[i].path.start)
        else:
            once[i] = None
    return [long[i] for i in once]


def _repeats(one: Marking, other: Marking, same: float) -> bool:
    alike = (one.role, one.on, one.drawn.layer) == (other.role, other.on, other.drawn.layer)
    return alike and same_line(one.path, other.path, same)


def _renewed(design: Design, pieces: Sequence[Piece], markings: Sequence[Marking]) -> Design:
    """The design with these pieces in their order, and the fabrics that they name."""
    if list(pieces) == list(design.pieces) and list(markings) == list(design.markings):
        return design
    ordered = _numbered(pieces)
    ids = {piece.id for piece in ordered}
    kept = tuple(m if m.on is None or m.on in ids else replace(m, on=None) for m in markings)
    known = {fabric.key: fabric for fabric in design.fabrics}
    guesses = {fabric.key: fabric for fabric in guessed(ordered)[1]}
    names = dict.fromkeys(piece.fabric for piece in ordered)
    fabrics = tuple(known.get(name) or guesses.get(name) or Fabric(name, name) for name in names)
    return replace(design, pieces=ordered, markings=kept, fabrics=fabrics)


def _numbered(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """The pieces with unique ids, and with places in the layering order that rise."""
    taken: set[str] = set()
    named: list[Piece] = []
    for piece in pieces:
        name, number = piece.id, 1
        while name in taken:
            number += 1
            name = f"{piece.id}-{number}"
        taken.add(name)
        named.append(piece if name == piece.id else replace(piece, id=name))
    if all(before.order < after.order for before, after in pairwise(named)):
        return tuple(named)
    return tuple(replace(piece, order=order) for order, piece in enumerate(named, start=1))


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Tidy()]
