"""The placement guide: each design at its finished size, to lay the pieces on or to see through to.

The picture is shown from the right side, with numbers in layering order, center lines, the block edge where it is
known, hidden edges dashed, and markings. A first sheet has check squares and names the pieces; the picture follows on
sheets of letter or A4 paper to be joined, or on one page of its own size. What lines mean is common practice. Pieces
that are alike are told, for any of them fits; and mirror images, for they do not.
"""

from __future__ import annotations

import cmath
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Final, Literal

from pydantic import Field

from clothpath.contracts import Document, DocumentWriter, Millimeters, Settings, hookimpl
from clothpath.curves import Affine, Box, Points, open_path
from clothpath.cutplan import CutPlan
from clothpath.cutting.testcut import TEST_CUT
from clothpath.design import GRAIN_TURNS, Design, Grain, fabric_of
from clothpath.files.names import file_name, text
from clothpath.findings import Outcome
from clothpath.pages.fonts import respelled
from clothpath.pages.handling import piece_words
from clothpath.pages.joining import EDGE_MM, FORM, PAPER_MM, draw_map, draw_tile, window_of
from clothpath.pages.lettering import draw_grain, grain_room
from clothpath.pages.page import about
from clothpath.pages.paper import (
    FONT_MM,
    LEADING_MM,
    PT,
    SQUARES,
    Page,
    document,
    draw_band,
    squares_width,
    width_of,
    wrapped,
)
from clothpath.pages.placing import Guide, GuidePiece, guide_of
from clothpath.pages.sorting import sorting_words
from clothpath.pages.tiling import tiled

__all__ = ["PlacementGuide", "PlacementGuideSettings"]

OVERLAP_MM: Final = 12.0
GAP_MM: Final = 6.0
BEYOND_MM: Final = 6.0
"""How far center lines run on beyond the picture."""
SEEN_MM, HIDDEN_MM, MARK_MM, THIN_MM = (points * 25.4 / 72 for points in (1.2, 0.4, 0.5, 0.4))
"""Widths of lines: edges that show, edges that lie beneath, markings, and the rest."""
DOT_MM, DOT_GAP_MM = 0.2, 0.9
"""Of dotted lines."""
DISC_MM: Final = 2.9
"""Radius of the disc on which a number stands."""
NUMBER_MM: Final = 3.4
ROW_MM: Final = 6.0
HIDDEN_DASH_MM: Final = 1.5
MAP_ROOM_MM: Final = 120.0
"""What the map of the sheets needs above the foot of the paper."""
INK: Final = "#22303a"
SOFT: Final = "#7a8992"
GRAY: Final = "#6e6e6e"


class PlacementGuideSettings(Settings):
    """How the guide is printed."""

    paper: Literal["letter", "a4", "whole"] = Field(
        "letter", description="sheets of this paper to be joined, or one page of the picture's own size"
    )
    block_width: Annotated[Millimeters, Field(gt=0)] | None = Field(None, description="finished width of the block")
    block_height: Annotated[Millimeters, Field(gt=0)] | None = Field(
        None, description="finished height of the block; the same as its width if not stated"
    )


class PlacementGuide:
    """Writes the guide of every design of a job."""

    name: Final = "placement-guide"
    summary: Final = "The picture at finished size on paper: numbers in layering order, hidden edges dashed"
    settings: Final = PlacementGuideSettings

    def compose(self, plan: CutPlan, settings: PlacementGuideSettings) -> Outcome[tuple[Document, ...]]:
        """One document a design."""
        block = None
        if settings.block_width is not None:
            block = (settings.block_width, settings.block_height or settings.block_width)
        demands = [demand for demand in plan.layout.demands if demand.design.name != TEST_CUT]
        made = []
        for demand in demands:
            which = f"-{demand.design.name}" if len(demands) > 1 else ""
            name = demand.design.name if len(demands) > 1 else plan.title or demand.design.name
            grains = _grains(plan, demand.design)
            data = _guide(demand.design, name, guide_of(demand.design, block), grains, settings.paper)
            made.append(Document(file_name(f"placement-guide{which}", ".pdf"), data))
        names = (name for demand in demands for name in _called(demand.design))
        return Outcome(tuple(made), respelled(names))


def _called(design: Design) -> Iterator[str]:
    """What people call things of a design."""
    yield design.name
    yield from (fabric.label or fabric.key for fabric in design.fabrics)
    yield from (piece.label or piece.id for piece in design.cut_pieces)


def _guide(
    design: Design,
    name: str,
    guide: Guide,
    grains: Mapping[str, tuple[Grain, float]],
    paper: Literal["letter", "a4", "whole"],
) -> bytes:
    stream = io.BytesIO()
    page = document(stream, _title(name, guide))
    whole = guide.whole
    around = Box(whole.left - BEYOND_MM, whole.bottom - BEYOND_MM, whole.right + BEYOND_MM, whole.top + BEYOND_MM)
    if paper == "whole":
        size = (max(around.width, PAPER_MM["letter"][0]), around.height)
        _cover(page, design, name, guide, PAPER_MM["letter"])
        page.end()
        page.size(*size)
        _picture(page, guide, grains, Affine.shift(-complex(around.left, around.bottom)))
        page.end()
    else:
        upright = PAPER_MM[paper]
        # a form counts from 0, so the picture is moved to where its box begins there
        onto = Affine.shift(-complex(around.left, around.bottom))
        page.canvas.beginForm(FORM, 0, 0, around.width * PT, around.height * PT)
        _picture(page, guide, grains, onto)
        page.canvas.endForm()
        boxes = [Box(0, 0, around.width, around.height)]
        ways = [(sheet, tiled(boxes, window_of(sheet), OVERLAP_MM)) for sheet in (upright, upright[::-1])]
        sheet, tiles = min(ways, key=lambda way: len(way[1]))
        top = _cover(page, design, name, guide, upright)
        draw_map(page, boxes, tiles, top)
        page.end()
        for tile in tiles:
            draw_tile(page, f"{text(name, 60)}, placement guide", tile, len(tiles), sheet)
            page.end()
    page.canvas.save()
    return stream.getvalue()


def _title(name: str, guide: Guide) -> str:
    return f"Placement guide: {text(name, 60)}, finished {about(guide.box.width)} by {about(guide.box.height)}"


def _cover(page: Page, design: Design, name: str, guide: Guide, paper: tuple[float, float]) -> float:
    """The check squares, what the lines mean and the names of the pieces; returns where the rest of the page begins."""
    page.size(*paper)
    said = [
        _title(name, guide),
        "Print at 100 % (actual size). The squares must measure 1 in and 25 mm.",
        "The picture is seen from the right side. Lay the pieces in the order of their numbers, 1 first.",
        "Thick lines are edges that show; dashed ones lie beneath a later piece; dotted gray ones are markings.",
        "Lines of long and short dashes are the centers" + ("; the outer frame is the block." if guide.block else "."),
    ]
    if any(fabric_of(design.fabrics, piece.fabric).grain != "any" for piece in design.cut_pieces):
        said.append(
            "Straight lines with arrows show the grain, along the selvage; one arrow only: the top of the print."
        )
    said += sorting_words(design)
    lines = wrapped(said, paper[0] - squares_width() - 2 * EDGE_MM)
    top = paper[1] - EDGE_MM
    draw_band(page, lines, complex(EDGE_MM, top))
    return _names(page, design, guide, top - max(SQUARES[0][0], len(lines) * LEADING_MM) - 2 * GAP_MM, paper)


def _names(page: Page, design: Design, guide: Guide, top: float, paper: tuple[float, float]) -> float:
    """Number, piece and fabric of every piece in two columns; a further sheet where they do not fit."""
    width = (paper[0] - 2 * EDGE_MM) / 2
    pieces = list(guide.pieces)
    while pieces:
        rows = max(1, int((top - EDGE_MM) / ROW_MM))
        rows = min(rows, -(-len(pieces) // 2))
        for n, each in enumerate(pieces[: 2 * rows]):
            column, row = divmod(n, rows)
            _name(page, design, each, complex(EDGE_MM + column * width, top - (row + 1) * ROW_MM), width)
        pieces = pieces[2 * rows :]
        top -= rows * ROW_MM + 2 * GAP_MM
        if pieces or top < MAP_ROOM_MM:
            page.end()
            page.size(*paper)
            top = paper[1] - EDGE_MM - GAP_MM
    return top


def _name(page: Page, design: Design, each: GuidePiece, at: complex, width: float) -> None:
    fabric = fabric_of(design.fabrics, each.piece.fabric)
    copies = f", {each.piece.copies} of it" if each.piece.copies > 1 else ""
    grain = f", grain {fabric.grain}" if fabric.grain != "any" else ""
    said = f"{', '.join(piece_words(each.piece.label or each.piece.id, fabric))}{copies}{grain}"
    with page.artifact():
        _disc(page, at + complex(DISC_MM, FONT_MM / 3), each.number)
        chip = Box(at.real + 8, at.imag - 0.6, at.real + 12, at.imag + 3.4)
        page.box(chip, fill=fabric.color)
        page.box(chip)
        size = FONT_MM * min(1.0, (width - 16) / max(width_of(said), 1))
        page.words(at + 14, said, size=size)


def _grains(plan: CutPlan, design: Design) -> dict[str, tuple[Grain, float]]:
    """For each piece its fabric's rule, and the direction of the selvage in the picture, in degrees, as it is laid."""
    rules = {piece.id: fabric_of(design.fabrics, piece.fabric).grain for piece in design.cut_pieces}
    # until a piece is laid, the first turn that its rule allows, undone
    found = {key: (rule, 90.0 - (GRAIN_TURNS[rule] or (0.0,))[0]) for key, rule in rules.items()}
    first = [
        where
        for mat in plan.layout.mats
        for swatch in mat.swatches
        for where in swatch.placements
        if where.design == design.name and where.piece in rules
    ]
    for where in reversed(first):
        back = where.affine.inverse()
        turn = math.degrees(cmath.phase(back.apply(1j) - back.apply(0j)))
        found[where.piece] = (rules[where.piece], turn)
    return found


def _picture(page: Page, guide: Guide, grains: Mapping[str, tuple[Grain, float]], onto: Affine) -> None:
    """The block and its centers, the edges from the lowest piece up, markings, grain lines, and the numbers on top."""
    canvas = page.canvas
    _frame(page, guide, onto)
    for each in guide.pieces:
        page.stroke(SOFT, HIDDEN_DASH_MM)
        canvas.setLineWidth(HIDDEN_MM * PT)
        for line in each.hidden:
            _polyline(page, line, onto)
        page.stroke(INK)
        canvas.setLineWidth(SEEN_MM * PT)
        for line in each.seen:
            _polyline(page, line, onto)
    page.stroke(GRAY)
    canvas.setLineWidth(MARK_MM * PT)
    canvas.setDash([DOT_MM * PT, DOT_GAP_MM * PT])
    canvas.setLineCap(1)
    for mark in guide.marks:
        page.path(mark, onto)
    canvas.setLineCap(0)
    page.stroke(INK)
    canvas.setLineWidth(THIN_MM * PT)
    for each in guide.pieces:
        grain, turn = grains[each.piece.id]
        found = grain_room(each.clear, turn) if grain != "any" else None
        if found is not None:
            draw_grain(page, onto.apply(found[0]), found[1], turn, grain)
    for each in guide.pieces:
        place = onto.apply(each.place)
        if each.leader is not None:
            to = onto.apply(each.leader)
            canvas.line(place.real * PT, place.imag * PT, to.real * PT, to.imag * PT)
            canvas.setFillColor(INK)
            canvas.circle(to.real * PT, to.imag * PT, 0.5 * PT, stroke=0, fill=1)
        _disc(page, place, each.number)


def _frame(page: Page, guide: Guide, onto: Affine) -> None:
    """The block edge, if it is known, and the center lines."""
    canvas, around = page.canvas, guide.block or guide.box
    page.stroke(SOFT)
    canvas.setLineWidth(THIN_MM * PT)
    if guide.block is not None:
        corner = onto.apply(complex(around.left, around.bottom))
        page.box(Box(corner.real, corner.imag, corner.real + around.width, corner.imag + around.height))
    canvas.setDash([4 * PT, 1.5 * PT, 1 * PT, 1.5 * PT])
    center = guide.center
    for half in (complex(around.width / 2 + BEYOND_MM), complex(0, around.height / 2 + BEYOND_MM)):
        page.path(open_path(center - half, [(center + half,)]), onto)
    canvas.setDash([])


def _polyline(page: Page, points: Points, onto: Affine) -> None:
    first, *rest = points.tolist()
    page.path(open_path(first, [(point,) for point in rest]), onto)


def _disc(page: Page, at: complex, number: int) -> None:
    """A number on a white disc."""
    canvas = page.canvas
    canvas.setDash([])
    canvas.setFillColor("#ffffff")
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(THIN_MM * PT)
    canvas.circle(at.real * PT, at.imag * PT, DISC_MM * PT, stroke=1, fill=1)
    canvas.setFillColor(INK)
    page.words_about(at, [str(number)], size=NUMBER_MM if number < 100 else NUMBER_MM * 0.75)
    canvas.setFillColor("#000000")


@hookimpl
def clothpath_writers() -> Sequence[DocumentWriter]:
    return [PlacementGuide()]
