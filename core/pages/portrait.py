"""A small picture of finished designs, for a person who looks for one among many.

Terminology
    portrait    the finished pictures of some designs side by side at one scale, each piece in its fabric's color
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from clothpath.curves import Affine, Outline, Path, transformed
from clothpath.design import Design
from clothpath.pages.ink import shade

__all__ = ["path_data", "portrait"]

SIDE_PX: Final = 360
"""The longer side of the picture."""
RIM_PX: Final = 6
APART: Final = 0.06
"""Between two designs, as a share of the height of the tallest."""
LINE_PX: Final = 1.0
KEPT: Final = 4
"""How many portraits a process keeps: jobs of one design in one size, for several machines, follow each other."""


@lru_cache(maxsize=KEPT)
def portrait(designs: tuple[Design, ...]) -> bytes:
    """The portrait as a PNG, `SIDE_PX` on its longer side; the same designs give the same bytes.

    Raises:
        ValueError: one of them has nothing to cut, or the picture cannot be drawn.
    """
    import resvg_py

    return bytes(resvg_py.svg_to_bytes(svg_string="".join(_drawing(designs)), dpi=96, skip_system_fonts=True))


def _drawing(designs: tuple[Design, ...]) -> Iterator[str]:
    boxes = [design.finished_box for design in designs]
    height = max(box.height for box in boxes)
    gap = APART * height
    width = sum(box.width for box in boxes) + gap * (len(boxes) - 1)
    scale = (SIDE_PX - 2 * RIM_PX) / max(width, height)
    size = (width * scale + 2 * RIM_PX, height * scale + 2 * RIM_PX)
    yield f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]:.0f}" height="{size[1]:.0f}">'
    yield f'<g stroke-width="{LINE_PX}" stroke-linejoin="round" stroke-linecap="round" fill-rule="evenodd">'
    left = 0.0
    for design, box in zip(designs, boxes, strict=True):
        to_page = Affine(
            a=scale,
            d=-scale,
            e=RIM_PX + (left - box.left) * scale,
            f=RIM_PX + (box.bottom + (height + box.height) / 2) * scale,
        )
        yield from _picture(design, to_page)
        left += box.width + gap
    yield "</g></svg>"


def _picture(design: Design, to_page: Affine) -> Iterator[str]:
    colors = {fabric.key: fabric.color for fabric in design.fabrics}
    for piece in sorted(design.cut_pieces, key=lambda piece: piece.order):
        color = colors[piece.fabric]
        data = "".join(path_data(transformed(ring, to_page)) for ring in piece.finished)
        yield f'<path fill="{color}" stroke="{shade(color)}" d="{data}"/>'
    for marking in design.markings:
        if marking.role == "mark":
            yield f'<path fill="none" stroke="#000000" d="{path_data(transformed(marking.path, to_page))}"/>'


def path_data(path: Path) -> str:
    """The path as SVG path data, to a hundredth of its unit (SVG 2, 9.3)."""
    steps = [
        ("L" if len(segment) == 1 else "C") + " ".join(f"{point.real:.2f} {point.imag:.2f}" for point in segment)
        for segment in path.segments()
    ]
    closed = "Z" if isinstance(path, Outline) else ""
    return f"M{path.start.real:.2f} {path.start.imag:.2f}" + "".join(steps) + closed
