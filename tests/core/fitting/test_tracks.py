"""Tracks: a curve has one polyline, whichever way it runs, so that pieces that meet along it leave no slit."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import backwards, open_path, outline
from clothpath.fitting.tracks import TRACK_MM, polygons_in, track_of
from clothpath.regions import region, xy

PLACES = st.builds(lambda x, y: complex(x, y) / 8, st.integers(-640, 640), st.integers(-640, 640))


@settings(max_examples=60, derandomize=True, deadline=None)
@given(PLACES, PLACES, PLACES, PLACES)
def test_a_curve_run_backwards_has_the_very_same_points(a: complex, b: complex, c: complex, d: complex) -> None:
    there = outline(a, [(b, c, d), (a,)])
    ways = [set(track_of([each]).start.tolist()) for each in (there, backwards(there))]
    assert ways[0] == ways[1]


@settings(max_examples=40, derandomize=True, deadline=None)
@given(PLACES, PLACES, PLACES, PLACES)
def test_a_track_keeps_near_its_curve(a: complex, b: complex, c: complex, d: complex) -> None:
    track = track_of([outline(a, [(b, c, d), (a,)])])
    if not len(track.start):
        return
    t = np.linspace(0, 1, 301)
    s = 1 - t
    exact = s**3 * a + 3 * s * s * t * b + 3 * s * t * t * c + t**3 * d  # Bernstein form
    edges = shapely.linestrings(np.stack((xy(track.start), xy(track.end)), axis=1))
    assert shapely.distance(shapely.multilinestrings(edges), shapely.points(xy(exact))).max() <= TRACK_MM + 1e-9


def test_two_pieces_that_meet_along_one_curve_leave_no_slit() -> None:
    seam = open_path(40j, [(20 + 55j, 45 + 7j, 80 + 31j)])
    upper = region(outline(40j, [*seam.segments(), (80 + 90j,), (90j,)]))
    lower = region(outline(80 + 31j, [*backwards(seam).segments(), (0j,), (80 + 0j,)]))
    both = shapely.union_all(polygons_in([upper, lower])[1])
    assert both.geom_type == "Polygon"
    assert both.length < 2 * (80 + 90) + 1e-9
