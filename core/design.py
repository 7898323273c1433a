"""A design: the finished picture, seen from the right side, in millimeters, y up.

Terminology (the trade's)
    piece           one appliqué piece: a region of one fabric, with its place in the layering order and its copies
    role            what a line of the drawing is for: cut, mark (drawn on, never cut), omit
    marking         a path that is drawn on a piece and never cut: a vein, an eye, a stitch line
    fabric          a cloth of the design: its preparation, its grain rule, how it is laid
    right side      the printed face of the cloth; wrong side: its back
    fused           paper-backed fusible web is pressed to the wrong side; bare: it is not
    laid            which side faces up on the mat
    grain           how a piece may be turned on its cloth
    layering order  what is laid first is 1
    finished size   the size of the picture before underlap and margins
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, Literal

from clothpath.curves import Affine, Box, Path, transformed
from clothpath.regions import Region, box_of_regions, moved

__all__ = [
    "GRAIN_TURNS",
    "Design",
    "Drawn",
    "Fabric",
    "Grain",
    "Marking",
    "Paper",
    "Piece",
    "Preparation",
    "Role",
    "Side",
    "Source",
    "default_grain",
    "fabric_of",
    "laid_from_paper",
    "mapped",
    "piece_of",
]

Role = Literal["cut", "mark", "omit"]
Side = Literal["right-side-up", "wrong-side-up"]
Preparation = Literal["fused", "bare"]
Paper = Literal["keep", "leave"]
Grain = Literal["any", "straight", "lengthwise", "directional", "bias"]

GRAIN_TURNS: Final[dict[Grain, tuple[float, ...] | None]] = {
    "any": None,
    "straight": (0.0, 90.0, 180.0, 270.0),
    "lengthwise": (0.0, 180.0),
    "directional": (0.0,),
    "bias": (45.0, 135.0, 225.0, 315.0),
}
"""Degrees, counterclockwise, by which a piece may be turned on its cloth, counted after the flip; None: any."""

MARKING_NAME: Final = re.compile(
    r"(?<![a-z])(stitch(es|ing)?|quilting|embroidery|mark(s|ings?)?|veins?)(?![a-z])", re.IGNORECASE
)
"""What layers of lines that are only drawn are called (common practice)."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """How the source draws a thing; what `separate` decides by.

    Attributes:
        fill, stroke: "#rrggbb" in lower case, or None where there is none.
        stroke_width: in mm of the picture as read, or None.
        layer: the layer's name; for SVG the outermost named group if no layer is marked as such; "" if none.
        groups: names of the groups around it, outermost first (layer included).
        element: the id or handle in the source; "" if none.
        where: the place for findings, in the source's own terms ("line 12, <path id='claw'>").
    """

    fill: str | None = None
    stroke: str | None = None
    stroke_width: float | None = None
    layer: str = ""
    groups: tuple[str, ...] = ()
    element: str = ""
    where: str = ""

    @property
    def color(self) -> str | None:
        """The color that tells its fabric: the fill, else the stroke."""
        return self.fill or self.stroke

    @property
    def is_named_marking(self) -> bool:
        """Whether the name of its layer, or of a group around it, says that it is a marking: "stitching"."""
        return any(MARKING_NAME.search(name) for name in (self.layer, *self.groups))


@dataclass(frozen=True, slots=True)
class Piece:
    """One appliqué piece.

    Attributes:
        id: unique in its design; the source's own id where it has one.
        label: what a person calls it.
        region: what is cut, seen in the finished picture from the right side.
        fabric: the key of its fabric.
        order: its place in the layering order, from 1; unique in its design.
        copies: how many of it one design needs.
        drawn: how the source draws it.
        picture: its region in the finished picture, where sewing geometry has made `region` differ; else None.
    """

    id: str
    label: str
    region: Region
    fabric: str
    role: Role = "cut"
    order: int = 1
    copies: int = 1
    drawn: Drawn = Drawn()
    picture: Region | None = None

    @property
    def called(self) -> str:
        """What a person calls it, with its id in brackets where that is another: config files name it by either."""
        return self.id if self.label in ("", self.id) else f"{self.label} ({self.id})"

    @property
    def finished(self) -> Region:
        """Its region in the finished picture, before underlap and margins."""
        return self.picture or self.region


@dataclass(frozen=True, slots=True)
class Marking:
    """A path drawn on the cloth and never cut; open or closed.

    Attributes:
        on: the id of the piece on which it is drawn; None: not known, or on none.
    """

    id: str
    label: str
    path: Path
    role: Role = "mark"
    drawn: Drawn = Drawn()
    on: str | None = None


@dataclass(frozen=True, slots=True)
class Fabric:
    """A cloth of the design.

    Attributes:
        key: its name in config files.
        label: what a person calls it.
        color: "#rrggbb", for pages and previews.
        paper: for fused cloth, whether the piece keeps its paper; None: nobody said.
        grain: how a piece may be turned on it.
        laid: which side faces up on the mat; `mirror` settles it, until then None.
        margin: what its pieces have more all round, to be turned under, in mm; negative: what a stitch covers instead.
        cloth: the key of the cloth that it is cut from, where one cloth is treated in several ways; "": its own key.
    """

    key: str
    label: str
    color: str = "#808080"
    preparation: Preparation = "fused"
    paper: Paper | None = None
    grain: Grain = "any"
    laid: Side | None = None
    cloth: str = ""
    margin: float = 0.0

    @property
    def cloth_key(self) -> str:
        """The key of the cloth that it is cut from: by it stock and what was tried on a machine are found."""
        return self.cloth or self.key

    @property
    def reversed(self) -> bool:
        """Whether its pieces are cut as seen in a mirror: exactly if it is laid wrong side up."""
        return self.laid == "wrong-side-up"


@dataclass(frozen=True, slots=True)
class Source:
    """What the reader found out about the drawing as a whole.

    Attributes:
        name: the file's name.
        reader: the name of the reader.
        stated_unit: the unit that the file states ("mm", "in", "px", …); None: none.
        mm_per_unit: what the reader took one unit of the drawing's own coordinates for.
        size_mm: the drawing's page as read, width and height; None: it has no page.
    """

    name: str = ""
    reader: str = ""
    stated_unit: str | None = None
    mm_per_unit: float = 1.0
    size_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Design:
    """One appliqué picture: pieces and fabrics, in layering order.

    Attributes:
        name: unique in its catalog.
        pieces: closed shapes, by their order: all that the reader found until `separate` settles the roles, then those
            that are cut or omitted.
        markings: paths that are only drawn: open ones from the reader, and those that `separate` makes so.
        fabrics: every fabric that a piece names, in order of first use.
    """

    name: str
    pieces: tuple[Piece, ...]
    markings: tuple[Marking, ...] = ()
    fabrics: tuple[Fabric, ...] = ()
    source: Source = Source()

    @property
    def cut_pieces(self) -> tuple[Piece, ...]:
        return tuple(piece for piece in self.pieces if piece.role == "cut")

    @property
    def finished_box(self) -> Box:
        """The box of the finished picture: every piece that is cut, before underlap and margins.

        Raises:
            ValueError: nothing is cut.
        """
        return box_of_regions(piece.finished for piece in self.cut_pieces)


def default_grain(preparation: Preparation) -> Grain:
    """Fused cloth may be turned at will, bare cloth by quarter turns (common practice)."""
    return "any" if preparation == "fused" else "straight"


def laid_from_paper(paper: Paper) -> Side:
    """Fused cloth that keeps its paper is laid paper up, wrong side up; else right side up (common practice)."""
    return "wrong-side-up" if paper == "keep" else "right-side-up"


def piece_of(design: Design, piece_id: str) -> Piece:
    """The piece with this id.

    Raises:
        KeyError: there is none.
    """
    for piece in design.pieces:
        if piece.id == piece_id:
            return piece
    raise KeyError(piece_id)


def fabric_of(fabrics: Iterable[Fabric], key: str) -> Fabric:
    """The fabric with this key.

    Raises:
        KeyError: there is none.
    """
    for fabric in fabrics:
        if fabric.key == key:
            return fabric
    raise KeyError(key)


def mapped(design: Design, affine: Affine) -> Design:
    """The whole picture under a map: to scale it, to shift it, or to turn a reversed drawing round."""
    scale = abs(affine.determinant) ** 0.5

    def drawn(of: Drawn) -> Drawn:
        return of if of.stroke_width is None else replace(of, stroke_width=of.stroke_width * scale)

    return replace(
        design,
        pieces=tuple(
            replace(
                piece,
                region=moved(piece.region, affine),
                picture=None if piece.picture is None else moved(piece.picture, affine),
                drawn=drawn(piece.drawn),
            )
            for piece in design.pieces
        ),
        markings=tuple(
            replace(marking, path=transformed(marking.path, affine), drawn=drawn(marking.drawn))
            for marking in design.markings
        ),
    )
