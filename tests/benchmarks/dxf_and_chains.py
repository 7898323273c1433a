"""How fast loose edges are joined and DXF drawings read and tidied. Run: python tests/benchmarks/dxf_and_chains.py

Prints seconds of computing, so that what else runs on the machine counts little.
"""

from __future__ import annotations

import io
import math
import random
import statistics
import time
from collections.abc import Callable

import ezdxf

from clothpath.areas.chains import Edge, joined
from clothpath.plugins.readers.dxf import DxfReader, DxfSettings
from clothpath.plugins.transforms.tidy import Tidy, TidySettings


def squares(count: int) -> list[Edge]:
    """The sides of separate squares, shuffled."""
    corners = [20 * complex(k % 200, k // 200) for k in range(count)]
    edges = [
        Edge(a, ((b,),))
        for at in corners
        for a, b in ((at, at + 10), (at + 10, at + 10 + 10j), (at + 10 + 10j, at + 10j), (at + 10j, at))
    ]
    random.Random(1).shuffle(edges)
    return edges


def grid(side: int) -> list[Edge]:
    """A grid of which every side is shared by two squares, drawn twice, and every corner is a junction."""
    return [
        Edge(complex(x, y), ((complex(x + dx, y + dy),),))
        for x in range(side)
        for y in range(side)
        for dx, dy in ((1, 0), (0, 1), (1, 0), (0, 1))
    ]


def drawing(version: str) -> bytes:
    """Six pieces of sixty corners with a hole each, on six layers: polylines, splines and loose lines."""
    document = ezdxf.new(version, units=4)
    space = document.modelspace()
    for i in range(6):
        layer = {"layer": document.layers.add(f"fabric {i}", color=i + 1).dxf.name}
        turns = [2 * math.pi * k / 60 for k in range(60)]
        points = [(r * math.cos(t) + 150 * i, r * math.sin(t)) for t in turns for r in (60 + 12 * math.sin(5 * t),)]
        if i % 3 == 0:
            space.add_lwpolyline(points, close=True, dxfattribs=layer)
        elif i % 3 == 1:
            spline = space.add_spline(degree=3, dxfattribs=layer)
            spline.control_points = [*points, points[0]]
            spline.knots = [0] * 4 + list(range(1, 58)) + [58] * 4
        else:
            for a, b in zip(points, points[1:] + points[:1], strict=True):
                space.add_line(a, b, dxfattribs=layer)
        space.add_circle((150 * i, 0), 10, dxfattribs=layer)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def of_lines(sides: list[Edge], version: str) -> bytes:
    """A drawing of loose lines."""
    document = ezdxf.new(version, units=4)
    space = document.modelspace()
    for side in sides:
        space.add_line((side.start.real, side.start.imag), (side.end.real, side.end.imag))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def halved(count: int) -> list[Edge]:
    """Squares of loose sides, each with a line from side to side, shuffled."""
    lines = [Edge(at + 5, ((at + 5 + 10j,),)) for at in (20 * complex(k % 200, k // 200) for k in range(count))]
    lines += squares(count)
    random.Random(2).shuffle(lines)
    return lines


def seconds(call: Callable[[], object], times: int) -> float:
    """The median over so many calls."""
    spent = []
    for _ in range(times):
        began = time.process_time()
        call()
        spent.append(time.process_time() - began)
    return statistics.median(spent)


def main() -> None:
    for name, edges in (("separate squares", squares(25_000)), ("a grid of junctions", grid(158))):
        spent = seconds(lambda edges=edges: joined(edges), 3)
        print(f"join {len(edges):,} edges, {name}: {spent:.2f} s, {len(edges) / spent:,.0f} edges/s")
    reader, tidy = DxfReader(), Tidy()
    patient = DxfSettings(most_seconds=100)
    for name, sides in (("separate squares", squares(25_000)), ("squares, each halved", halved(20_000))):
        for version in ("R12", "R2000"):
            data = of_lines(sides, version)
            spent = seconds(lambda data=data: reader.read(data, patient), 3)
            print(f"{version}, {len(sides):,} loose lines, {name}, {len(data):,} bytes: read {spent:.2f} s")
    for version in ("R2000", "R2018"):
        data = drawing(version)
        design = reader.read(data, DxfSettings()).value
        read = seconds(lambda data=data: reader.read(data, DxfSettings()), 31)
        tidied = seconds(lambda design=design: tidy.apply(design, TidySettings()), 31)
        what = f"{version}, {len(data):,} bytes, {len(design.pieces)} pieces"
        print(f"{what}: read {1e3 * read:.1f} ms, tidy {1e3 * tidied:.1f} ms")


if __name__ == "__main__":
    main()
