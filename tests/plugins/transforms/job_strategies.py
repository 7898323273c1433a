"""Random jobs for the step `nest`: designs, fabrics, a mat and settings, from plain to awkward."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st

from clothpath.curves import Affine, Outline, circle, outline, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.layout import Demand, Layout, Margins, Mat, Stock
from clothpath.regions import Region, moved, region

IN = 25.4
MATS = ((12.0, 12.0), (8.0, 12.0), (12.0, 24.0), (24.0, 60.0), (300 / IN, 300 / IN))


@dataclass(frozen=True)
class Job:
    """What a test gives to `nest`."""

    layout: Layout
    settings: dict[str, Any]
    stock: tuple[Stock, ...] = ()


def star(radius: float, points: int, inner: float) -> Outline:
    turns = [cmath.rect(radius * (1 if n % 2 == 0 else inner), math.pi * n / points) for n in range(2 * points)]
    return polygon(turns)


def leaf(length: float, width: float, bend: float) -> Outline:
    """Two cubics with unlike sides: curved, pointed, and its own mirror image in no turn unless `bend` is 1."""
    up, down = complex(length / 3, width), complex(length / 3, -width * bend)
    return outline(0j, [(down, down + length / 3, complex(length)), (up + length / 3, up, 0j)])


def comma(size: float) -> Outline:
    """A C of two half circles, thick at one end."""
    return outline(
        complex(size),
        [
            (complex(size, 1.3 * size), complex(-size, 1.3 * size), complex(-size)),
            (complex(-size, 0.9 * size), complex(0.5 * size, 0.9 * size), complex(0.5 * size)),
            (complex(size),),
        ],
    )


@st.composite
def regions(draw: st.DrawFn) -> Region:
    size = draw(st.floats(3.0, 90.0))
    kind = draw(st.sampled_from(("star", "leaf", "comma", "ring", "box", "sliver", "frame")))
    if kind == "star":
        made = region(star(size / 2, draw(st.integers(3, 9)), draw(st.floats(0.3, 0.95))))
    elif kind == "leaf":
        made = region(leaf(size, size * draw(st.floats(0.1, 0.5)), draw(st.floats(0.2, 1.0))))
    elif kind == "comma":
        made = region(comma(size / 2))
    elif kind == "ring":
        made = region(circle(0j, size / 2), [circle(0j, size / 2 * draw(st.floats(0.2, 0.9)))])
    elif kind == "frame":
        made = region(rectangle(size, size), [rectangle(size * 0.8, size * 0.8, complex(size, size) * 0.1)])
    elif kind == "sliver":
        made = region(rectangle(size, draw(st.floats(0.3, 2.0))))
    else:
        made = region(rectangle(size, size * draw(st.floats(0.2, 1.0))))
    shift = complex(draw(st.floats(-500, 500)), draw(st.floats(-500, 500)))
    return moved(made, Affine.shift(shift) @ Affine.turn(draw(st.floats(0, 360))))


def rectangle(width: float, height: float, at: complex = 0j) -> Outline:
    return polygon([at, at + width, at + complex(width, height), at + complex(0, height)])


@st.composite
def fabrics(draw: st.DrawFn) -> tuple[Fabric, ...]:
    return tuple(
        Fabric(
            f"f{n}",
            f"Fabric {n}",
            preparation=draw(st.sampled_from(("fused", "bare"))),
            grain=draw(st.sampled_from(("any", "straight", "lengthwise", "directional", "bias"))),
            laid=draw(st.sampled_from((None, "right-side-up", "wrong-side-up"))),
        )
        for n in range(draw(st.integers(1, 4)))
    )


@st.composite
def designs(draw: st.DrawFn, name: str, known: tuple[Fabric, ...]) -> Design:
    pieces = tuple(
        Piece(
            f"p{n}",
            f"Piece {n}",
            draw(regions()),
            draw(st.sampled_from(known)).key,
            role="omit" if n and draw(st.integers(0, 9)) == 0 else "cut",
            order=n + 1,
            copies=draw(st.sampled_from((1, 1, 1, 2, 5))),
        )
        for n in range(draw(st.integers(1, 6)))
    )
    return Design(name, pieces, (), known)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    known = draw(fabrics())
    count = draw(st.sampled_from((1, 1, 1, 2, 3)))
    demands = tuple(Demand(draw(designs(f"d{n}", known)), draw(st.integers(1, 3))) for n in range(count))
    width, height = draw(st.sampled_from(MATS))
    margins = Margins(*(draw(st.sampled_from((0.0, 3.0, IN / 4, IN / 2))) for _ in range(4)))
    mat = Mat("mat", width * IN, height * IN, margins)
    settings: dict[str, Any] = {
        "spacing": draw(st.sampled_from(("0 mm", "1/8 in", "1/4 in", "5 mm"))),
        "swatch_margin": draw(st.sampled_from(("0 mm", "1/8 in", "10 mm"))),
        "gap": draw(st.sampled_from(("0 mm", "1/4 in", "1 cm"))),
        "turn_swatches": draw(st.booleans()),
    }
    if draw(st.integers(0, 3)) == 0:
        settings["test_cut"] = draw(st.sampled_from(("lower-left", "lower-right", "upper-left", "upper-right")))
    if draw(st.integers(0, 5)) == 0:
        settings["kits"] = draw(st.integers(2, 5))
    stock: tuple[Stock, ...] = ()
    if draw(st.integers(0, 3)) == 0:
        stock = (Stock("f0", 1016.0), Stock("f0", 254.0, 200.0, 2, "scrap", 3.175))[draw(st.integers(0, 1)) :]
    return Job(Layout(demands, known, mat), settings, stock)
