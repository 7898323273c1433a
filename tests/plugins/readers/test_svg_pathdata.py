"""Path data against svgelements, and where kurbopy cannot be trusted.

Sources: grammar, SVG 2, 9.3.9; reflected control points, SVG 2, 9.3.6 and 9.3.7; arcs, SVG 2, B.2. What kurbopy does
with arcs (2.7e-4 of the radius off), "zz", infinities and T after S: measured by this project.
"""

from __future__ import annotations

import numpy as np
import pytest
import svgelements
from hypothesis import example, given
from hypothesis import strategies as st

from clothpath.curves import flattened, open_path
from clothpath.plugins.readers.svg.pathdata import Subpath, parse_path, parse_points

numbers = st.integers(-9999, 9999).map(lambda value: f"{value / 100:g}")
COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "Z": 0}


@st.composite
def commands(draw: st.DrawFn) -> str:
    letter = draw(st.sampled_from("MLHVCSQTZmlhvcsqtz"))
    times = draw(st.integers(1, 2)) if letter.upper() in "LHVCSQT" else 1
    arguments = draw(
        st.lists(numbers, min_size=COUNTS[letter.upper()] * times, max_size=COUNTS[letter.upper()] * times)
    )
    return letter + draw(st.sampled_from([" ", ","])).join(arguments)


paths = st.lists(commands(), min_size=1, max_size=8).map(lambda parts: "M1 2" + "".join(parts))


def ends(subs: list[Subpath]) -> list[complex]:
    return [segment[-1] for sub in subs for segment in sub.path().segments()]


@given(paths)
def test_it_goes_where_svgelements_goes(data: str) -> None:
    found, fault = parse_path(data)
    theirs = [
        complex(part.end)
        for part in svgelements.Path(data)
        if not isinstance(part, svgelements.Move | svgelements.Close)
        and (complex(part.end) != complex(part.start) or part.length() > 0)
    ]
    assert fault is None
    assert ends(found) == pytest.approx(theirs, abs=1e-9)


@given(paths)
@example("M1 2c0 0 0 1 0 0ZS0 0 5 5")  # nothing to mirror after Z (SVG 2, 9.3.6); kurbopy would
@example("M1 2c0 0 0 1 3 0Z s0 0 5 5")
def test_curves_bend_as_those_of_svgelements(data: str) -> None:
    found, _ = parse_path(data)
    mine = [segment for sub in found for segment in sub.path().segments() if len(segment) == 3]
    theirs = [part for part in svgelements.Path(data) if isinstance(part, svgelements.CubicBezier)]
    quadratics = [part for part in svgelements.Path(data) if isinstance(part, svgelements.QuadraticBezier)]
    if not quadratics and len(mine) == len(theirs):
        for segment, part in zip(mine, theirs, strict=True):
            assert segment[:2] == pytest.approx((complex(part.control1), complex(part.control2)), abs=1e-9)


@pytest.mark.parametrize("radius", [1.0, 37.0, 1000.0])
def test_arcs_keep_their_radius(radius: float) -> None:
    found, _ = parse_path(f"M{radius} 0A{radius} {radius} 0 0 1 0 {radius}")
    points = flattened(open_path(found[0].start, found[0].path().segments()), radius * 1e-7)
    assert np.abs(np.abs(points) - radius).max() < 5e-6 * radius


@pytest.mark.parametrize(
    ("data", "segments", "fault"),
    [
        ("M0 0L9 9zz", 1, None),
        ("zz", 0, 0),
        ("M0 0L9 9L1e999 0L5 5", 1, 9),
        ("M1e999 0L5 5", 0, 1),
        ("M0 0L9 9 #", 1, 9),
        ("M0 0L9", 0, 6),
        ("M0 0 5 5 7", 1, 10),
        ("", 0, None),
        ("  \n ", 0, None),
        ("M0 0A5 5 0 2 0 9 9", 0, 5),
        ("M0 0a5 5 0 019 9", 4, None),
        ("M0 0,L9 9", 0, 4),
    ],
)
def test_faults_are_found_where_they_are(data: str, segments: int, fault: int | None) -> None:
    found, at = parse_path(data)
    assert len(ends(found)) == segments
    assert at == fault


def test_t_after_a_smooth_cubic_mirrors_nothing() -> None:
    found, _ = parse_path("M0 0S4 4 5 5T9 9")
    assert found[0].path().segments()[1][0] == pytest.approx(5 + 5j)
    assert found[0].path().segments()[1][-1] == 9 + 9j


def test_points() -> None:
    assert parse_points("1,2 3-4 5") == ([1 + 2j, 3 - 4j], 9)
    assert parse_points("1 2 x") == ([1 + 2j], 4)
    assert parse_points("") == ([], None)
