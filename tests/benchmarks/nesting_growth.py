"""Time and density of the quick search from 1 to 500 copies, as a plot.

    python tests/benchmarks/nesting_growth.py OUT.svg

Two cases: a detailed heart (200 points) alone, and hearts, leaves and stars in equal numbers, each laid in a strip as
high as a 12 in mat less its margins, 1/8 in apart.
"""

import math
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import shapely

from clothpath.nesting import Part, Points, strip

COUNTS = (1, 2, 3, 5, 8, 12, 20, 35, 60, 100, 180, 300, 500)
HEIGHT_MM, SPACING_MM = 292.1, 3.175
PANEL_W, PANEL_H, EDGE = 360, 240, 48
INKS = ("#28536b", "#b5651d")

Series = list[tuple[int, float]]


def heart() -> Points:
    t = np.linspace(0, 2 * math.pi, 200, endpoint=False)[::-1]
    y = 13 * np.cos(t) - 5 * np.cos(2 * t) - 2 * np.cos(3 * t) - np.cos(4 * t)
    return np.column_stack((20 * np.sin(t) ** 3, 20 * y / 16))


def leaf() -> Points:
    u = np.linspace(0, math.pi, 30)
    lower = np.column_stack((45 * u / math.pi, -8 * np.sin(u)))
    upper = np.column_stack((45 * u / math.pi, 12 * np.sin(u)))
    return np.concatenate((lower, upper[-2:0:-1]))


def star() -> Points:
    t = np.arange(10) * math.pi / 5
    r = np.where(np.arange(10) % 2 == 0, 18.0, 8.0)
    return np.column_stack((r * np.cos(t), r * np.sin(t)))


def mixed(count: int) -> list[Part]:
    shares = [count // 3 + (n < count % 3) for n in range(3)]
    return [
        Part(str(n), ring, (), None, k)
        for n, (ring, k) in enumerate(zip((heart(), leaf(), star()), shares, strict=True))
    ]


def measured(parts_of: Callable[[int], list[Part]]) -> tuple[Series, Series]:
    """Seconds and percent of the cloth used, for each count."""
    seconds, density = [], []
    for count in COUNTS:
        parts = parts_of(count)
        began = time.process_time()
        packing = strip(parts, HEIGHT_MM, SPACING_MM)
        seconds.append((count, time.process_time() - began))
        area = sum(part.count * shapely.Polygon(part.outer).area for part in parts)
        density.append((count, 100 * area / packing.area))
        print(f"{count:5} {seconds[-1][1]:8.3f} s {density[-1][1]:6.1f} %", flush=True)
    return seconds, density


def panel(left: float, title: str, series: Sequence[Series], ticks: Sequence[float], unit: str) -> list[str]:
    """One diagram: copies on a logarithmic axis, values from 0."""
    top = max(ticks)

    def at(count: float, value: float) -> tuple[float, float]:
        x = left + EDGE + (PANEL_W - EDGE) * math.log(count) / math.log(COUNTS[-1])
        return x, EDGE + PANEL_H * (1 - value / top)

    lines = [f'<text x="{left + EDGE}" y="{EDGE - 18}" font-weight="bold">{title}</text>']
    for tick in ticks:
        x, y = at(1, tick)
        lines.append(f'<path d="M{x:.1f},{y:.1f}h{PANEL_W - EDGE}" stroke="#ddd"/>')
        lines.append(f'<text x="{x - 6:.1f}" y="{y + 4:.1f}" text-anchor="end">{tick:g} {unit}</text>')
    for count in (1, 5, 20, 100, 500):
        x, y = at(count, 0)
        lines.append(f'<text x="{x:.1f}" y="{y + 18:.1f}" text-anchor="middle">{count}</text>')
    for ink, points in zip(INKS, series, strict=True):
        path = "L".join(f"{x:.1f},{y:.1f}" for x, y in (at(*point) for point in points))
        lines.append(f'<path d="M{path}" fill="none" stroke="{ink}" stroke-width="2"/>')
    return lines


def plot(alone: tuple[Series, Series], together: tuple[Series, Series]) -> str:
    """Both diagrams as an SVG document."""
    width, height = 2 * PANEL_W + 2 * EDGE, PANEL_H + 2 * EDGE + 24
    slowest = max(value for series in (alone[0], together[0]) for _, value in series)
    seconds = [tick / 2 for tick in range(math.ceil(2 * slowest) + 1)]
    body = panel(0, "Time", (alone[0], together[0]), seconds, "s")
    body += panel(PANEL_W + EDGE, "Cloth used", (alone[1], together[1]), (0, 20, 40, 60, 80), "%")
    for ink, name, x in zip(INKS, ("hearts", "hearts, leaves and stars"), (EDGE, EDGE + 90), strict=True):
        body.append(f'<text x="{x}" y="{height - 12}" fill="{ink}">{name}</text>')
    body.append(f'<text x="{width - EDGE}" y="{height - 12}" text-anchor="end">copies</text>')
    font = 'font-family="sans-serif" font-size="12"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" {font}>'
    paper = '<rect width="100%" height="100%" fill="white"/>'
    return "\n".join([head, paper, *body, "</svg>", ""])


def main() -> None:
    """Measures both cases and writes the plot."""
    alone = measured(lambda count: [Part("heart", heart(), (), None, count)])
    Path(sys.argv[1]).write_text(plot(alone, measured(mixed)))


if __name__ == "__main__":
    main()
