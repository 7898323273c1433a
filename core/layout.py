"""A layout: which piece lies where on which swatch on which mat, in millimeters, y up.

Terminology
    mat         the sticky carrier of a given size that goes through the machine; its usable area lies inside its
                margins
    swatch      the rectangle of one fabric stuck to a mat (a "fabric rectangle" on pages for people)
    placement   one copy of one piece on its swatch: flip, then turn, then shift
    demand      a design and how many of it are wanted
    stock       the cloth that there is of a fabric
    cut from    where in the stock a swatch is cut

Coordinates
    on the swatch   origin at the cloth's lower left corner as it lies before the swatch is turned; +y is up in the
                    drawing, along the selvage
    on the mat      origin at the lower left corner of the mat itself, not of its usable area
    on the stock    origin at its lower left corner; +y runs along the selvage
A placement flips if and only if its fabric is laid wrong side up. Turns are counted on the swatch, after the flip.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from clothpath.curves import Affine, Box
from clothpath.design import Design, Fabric, Piece, Side, piece_of
from clothpath.regions import Region, moved

__all__ = [
    "CutFrom",
    "Demand",
    "Layout",
    "Margins",
    "Mat",
    "MatLayout",
    "Placed",
    "Placement",
    "Stock",
    "Swatch",
    "placed",
]


@dataclass(frozen=True, slots=True)
class Margins:
    """What a mat's usable area keeps clear of its edges, in mm."""

    left: float = 0.0
    bottom: float = 0.0
    right: float = 0.0
    top: float = 0.0


@dataclass(frozen=True, slots=True)
class Mat:
    """The carrier that goes through the machine.

    Attributes:
        name: the machine profile's name.
        width, height: of the mat itself, in mm.
        keep_out: boxes on the mat that nothing may touch.
    """

    name: str
    width: float
    height: float
    margins: Margins = Margins()
    keep_out: tuple[Box, ...] = ()

    @property
    def usable(self) -> Box:
        """The usable area, in mat coordinates."""
        m = self.margins
        return Box(m.left, m.bottom, self.width - m.right, self.height - m.top)


@dataclass(frozen=True, slots=True)
class Stock:
    """A rectangle of one fabric that there is, in mm; height runs along the selvage. None: as much as is wanted.

    Attributes:
        fabric: the key of the cloth (`Fabric.cloth_key`), which may be that of several fabrics.
        label: what a person calls it ("fat quarter").
        rim: what is lost along every edge (selvage, pinking); the rectangle includes it.
        outline: of an irregular scrap, with the lower left corner of its box at (0, 0); None: the whole rectangle.
    """

    fabric: str
    width: float
    height: float | None = None
    count: int = 1
    label: str = ""
    rim: float = 0.0
    outline: Region | None = None


@dataclass(frozen=True, slots=True)
class Demand:
    """A design and how many of it are wanted; `design.name` is unique in a layout."""

    design: Design
    count: int = 1


@dataclass(frozen=True, slots=True)
class Placement:
    """One copy of one piece on its swatch: p -> shift + R(turn) F p, F the flip x -> -x if `reversed`.

    Attributes:
        design, piece: the names of the design and the piece.
        copy: from 1, over all copies of this piece of this design in the layout.
        reversed: whether it is flipped.
        turn: degrees counterclockwise on the swatch, after the flip.
        shift: mm on the swatch, after flip and turn.
    """

    design: str
    piece: str
    copy: int
    reversed: bool
    turn: float
    shift: complex

    @property
    def affine(self) -> Affine:
        """From the picture to the swatch."""
        turned = Affine.shift(self.shift) @ Affine.turn(self.turn)
        return turned @ Affine.flip() if self.reversed else turned


@dataclass(frozen=True, slots=True)
class Swatch:
    """A rectangle of one fabric on a mat.

    Attributes:
        fabric: the key of its fabric.
        laid: which side faces up.
        x, y: its lower left corner on the mat, as it lies there.
        width, height: as it lies on the mat; where `turn` is 90 or 270, the cloth's own height is `width`.
        turn: 0, 90, 180 or 270 degrees counterclockwise that the cloth is turned on the mat.
    """

    fabric: str
    laid: Side
    x: float
    y: float
    width: float
    height: float
    turn: float = 0.0
    placements: tuple[Placement, ...] = ()

    @property
    def box(self) -> Box:
        """Where it lies on the mat."""
        return Box(self.x, self.y, self.x + self.width, self.y + self.height)

    @property
    def cloth_size(self) -> tuple[float, float]:
        """Width across the cloth and height along the selvage, as it is cut."""
        return (self.width, self.height) if self.turn % 180 == 0 else (self.height, self.width)

    @property
    def affine(self) -> Affine:
        """From the swatch to the mat."""
        corner = {
            0.0: complex(self.x, self.y),
            90.0: complex(self.x + self.width, self.y),
            180.0: complex(self.x + self.width, self.y + self.height),
            270.0: complex(self.x, self.y + self.height),
        }[self.turn % 360]
        return Affine.shift(corner) @ Affine.turn(self.turn)


@dataclass(frozen=True, slots=True)
class MatLayout:
    """One mat with its swatches, cut `times` times.

    Copies are numbered as on the first time; at the nth time the copies come out whose numbers are higher by n - 1
    times what the mat holds of the piece.
    """

    swatches: tuple[Swatch, ...]
    times: int = 1


@dataclass(frozen=True, slots=True)
class CutFrom:
    """Where in the stock one swatch is cut, for one time that its mat is cut.

    Attributes:
        mat, swatch, time: indices from 0.
        stock: index into `layout.stock`.
        number: which piece of that stock, from 1.
        box: on the stock, in mm.
        turned: whether the cloth's own width runs along the stock's selvage.
    """

    mat: int
    swatch: int
    time: int
    stock: int
    number: int
    box: Box
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Layout:
    """Which piece lies where on which swatch on which mat.

    Attributes:
        demands: what is laid out.
        fabrics: the fabrics of all designs, pooled by key.
        mat: the carrier.
        mats: the mats in order; empty before a layout step has run.
        stock: the cloth that there is; a fabric that it does not name can be had as wanted.
        cut_from: where each swatch of a fabric with stock is cut.
    """

    demands: tuple[Demand, ...]
    fabrics: tuple[Fabric, ...]
    mat: Mat
    mats: tuple[MatLayout, ...] = ()
    stock: tuple[Stock, ...] = field(default=())
    cut_from: tuple[CutFrom, ...] = ()

    def piece(self, placement: Placement) -> Piece:
        """The piece that a placement places.

        Raises:
            KeyError: there is no such design or piece.
        """
        for demand in self.demands:
            if demand.design.name == placement.design:
                return piece_of(demand.design, placement.piece)
        raise KeyError(placement.design)


@dataclass(frozen=True, slots=True)
class Placed:
    """One piece where it lies.

    Attributes:
        mat, swatch: indices from 0 into `layout.mats` and its swatches.
        affine: from the picture to the mat.
        region: the piece's region on the mat.
    """

    mat: int
    swatch: int
    placement: Placement
    piece: Piece
    affine: Affine
    region: Region


def placed(layout: Layout) -> Iterator[Placed]:
    """Every placed piece of a layout, mat by mat, swatch by swatch."""
    for m, mat in enumerate(layout.mats):
        for s, swatch in enumerate(mat.swatches):
            to_mat = swatch.affine
            for placement in swatch.placements:
                piece = layout.piece(placement)
                affine = to_mat @ placement.affine
                yield Placed(m, s, placement, piece, affine, moved(piece.region, affine))
