"""Before-and-after pictures of the sewing geometry, for the docs, from three designs of the demo catalog.

    python tests/benchmarks/sewing_pictures.py [FOLDER]     (default: shared/docs/sewing)

Left: the finished picture. Right: the pieces as they are cut, each seen through those above it, every cut as a line.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from clothpath.curves import Affine
from clothpath.design import Design, Piece, mapped
from clothpath.plugins.readers.svg import SvgReader
from clothpath.plugins.transforms.less_bulk import LessBulk, LessBulkSettings
from clothpath.plugins.transforms.turn_under import TURN_UNDER, TurnUnderSettings
from clothpath.plugins.transforms.underlap import Underlap, UnderlapSettings
from clothpath.regions import Region, box_of_regions

ROOT = Path(__file__).parents[2]
WIDTH_MM = 110.0
GAP_MM = 12.0
INK = "#3b3b46"


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    lighthouse = design("lighthouse")
    picture(folder / "underlap.svg", lighthouse, Underlap().apply(lighthouse, UnderlapSettings()).value)
    turtle = design("turtle", 190.0)
    picture(folder / "less-bulk.svg", turtle, LessBulk().apply(turtle, LessBulkSettings()).value)
    sailboat = design("sailboat")
    picture(folder / "turn-under.svg", sailboat, TURN_UNDER.apply(sailboat, TurnUnderSettings()).value)


def design(name: str, width: float = WIDTH_MM) -> Design:
    """A design of the demo catalog at a width that suits a page, without its background."""
    reader = SvgReader()
    path = ROOT / "samples" / "tidepool" / "designs" / f"{name}.svg"
    read = reader.read(path.read_bytes(), reader.settings()).value
    read = replace(read, pieces=tuple(piece for piece in read.pieces if piece.id != "background"))
    box = read.finished_box
    return mapped(read, Affine.scale(width / box.width) @ Affine.shift(complex(-box.left, -box.bottom)))


def picture(path: Path, before: Design, after: Design) -> None:
    box = box_of_regions([piece.region for each in (before, after) for piece in each.pieces])
    width, height, pad = box.width, box.height, 4.0
    page = 2 * width + GAP_MM + 2 * pad, height + 2 * pad
    shift = width + GAP_MM
    body = [drawn(piece, 1.0, "none") for piece in before.pieces]
    body.append(f'<g transform="translate({shift:.2f} 0)">')
    body += [drawn(piece, 0.55, INK) for piece in after.pieces]
    body.append("</g>")
    view = f"{box.left - pad:.2f} {-box.top - pad:.2f} {page[0]:.2f} {page[1]:.2f}"
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{page[0]:.1f}mm" height="{page[1]:.1f}mm" viewBox="{view}">'
        f'<title>{path.stem}: the finished picture, and the pieces as they are cut</title><g transform="scale(1 -1)">'
        + "".join(body)
        + "</g></svg>\n",
        encoding="utf-8",
    )


def drawn(piece: Piece, opacity: float, stroke: str) -> str:
    fill = piece.drawn.fill or piece.drawn.color or "#808080"
    line = f' stroke="{stroke}" stroke-width=".35" stroke-linejoin="round"' if stroke != "none" else ""
    return f'<path fill="{fill}" fill-opacity="{opacity}" fill-rule="evenodd"{line} d="{data_of(piece.region)}"/>'


def data_of(region: Region) -> str:
    parts: list[str] = []
    for ring in region:
        parts.append("M" + pair(ring.start))
        for curve in ring.segments():
            parts.append(("L" if len(curve) == 1 else "C") + listed(curve))
        parts.append("Z")
    return "".join(parts)


def listed(points: Sequence[complex]) -> str:
    return " ".join(pair(point) for point in points)


def pair(point: complex) -> str:
    return f"{point.real:.2f} {point.imag:.2f}"


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "shared" / "docs" / "sewing")
