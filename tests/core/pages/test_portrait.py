"""The small picture of finished designs: what lies on top shows, mirrored or not as drawn, at one scale."""

from __future__ import annotations

import io

from PIL import Image

from clothpath.curves import Affine, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.pages.portrait import portrait
from clothpath.regions import moved, region

RED, BLUE = (0xCC, 0x22, 0x22), (0x22, 0x44, 0xCC)


def square(name: str, side: float, fabric: str, order: int, at: complex = 0j) -> Piece:
    corners = [at, at + side, at + complex(side, side), at + complex(0, side)]
    return Piece(name, name, region(polygon(corners)), fabric, order=order)


def design(*pieces: Piece) -> Design:
    fabrics = (Fabric("red", "Red", "#cc2222"), Fabric("blue", "Blue", "#2244cc"))
    return Design("tide", pieces, (), fabrics)


def seen(*designs: Design) -> Image.Image:
    return Image.open(io.BytesIO(portrait(designs))).convert("RGB")


def test_what_is_laid_last_lies_on_top_and_up_is_up() -> None:
    image = seen(design(square("top", 50, "blue", 2, 50 + 50j), square("ground", 100, "red", 1)))
    width, height = image.size
    assert width == height == 360
    assert image.getpixel((width // 4, height // 4)) == RED
    assert image.getpixel((3 * width // 4, height // 4)) == BLUE
    assert image.getpixel((3 * width // 4, 3 * height // 4)) == RED


def test_a_hole_shows_what_lies_beneath() -> None:
    ring = square("ring", 100, "red", 2)
    hole = square("hole", 50, "red", 2, 25 + 25j).region.outer
    holed = Piece("ring", "ring", region(ring.region.outer, [hole]), "red", order=2)
    image = seen(design(square("ground", 100, "blue", 1), holed))
    assert image.getpixel((180, 180)) == BLUE
    assert image.getpixel((40, 180)) == RED


def test_designs_side_by_side_keep_one_scale() -> None:
    image = seen(design(square("large", 100, "red", 1)), design(square("small", 50, "blue", 1)))
    columns = range(image.size[0])
    red, blue = (sum(image.getpixel((x, image.size[1] // 2)) == color for x in columns) for color in (RED, BLUE))
    assert abs(red - 2 * blue) <= 3


def test_a_design_far_from_the_origin_is_drawn_alike() -> None:
    near = design(square("a", 30, "red", 1))
    far = design(Piece("a", "a", moved(near.pieces[0].region, Affine(e=1000, f=-500)), "red", order=1))
    assert portrait((near,)) == portrait((far,))
