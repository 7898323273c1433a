"""Figures without symmetry, for the tests that tell a piece from its mirror image."""

import cmath
import math

from hypothesis import strategies as st

from clothpath.curves import circle, outline
from clothpath.regions import Region, region


@st.composite
def blobs(draw: st.DrawFn) -> Region:
    """A smooth figure without symmetry, with a hole off its center."""
    corners = draw(st.integers(6, 11))
    radii = draw(st.lists(st.floats(14, 30), min_size=corners, max_size=corners))
    radii[0], radii[1], radii[3] = 38.0, 11.0, 33.0
    points = [r * cmath.exp(2j * math.pi * k / corners) for k, r in enumerate(radii)]
    curves = [
        (
            points[k] + (points[(k + 1) % corners] - points[k - 1]) / 6,
            points[(k + 1) % corners] - (points[(k + 2) % corners] - points[k]) / 6,
            points[(k + 1) % corners],
        )
        for k in range(corners)
    ]
    return region(outline(points[0], curves), [circle(5 + 2j, 3)])
