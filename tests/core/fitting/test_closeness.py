"""Deviations against closed forms and against shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from blobs import blobs
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import Affine, Path, backwards, circle, flattened, length, open_path, polygon, transformed
from clothpath.fitting.closeness import chains, deviations, taken
from clothpath.regions import Region, xy


def off(a: Path, b: Path, sure: float = 0.001) -> float:
    return float(deviations(chains([a]), chains([b]), sure)[0])


@given(st.floats(1, 60), st.floats(-0.5, 0.5))
def test_concentric_circles_are_off_by_the_difference_of_their_radii(radius: float, by: float) -> None:
    assert off(circle(3 + 2j, radius), circle(3 + 2j, radius + by)) == pytest.approx(abs(by), abs=0.003)


def test_a_shift_is_its_own_length() -> None:
    square = polygon([0, 10, 10 + 10j, 10j])
    assert off(square, transformed(square, Affine.shift(0.3 + 0.4j))) == pytest.approx(0.5)


def test_a_spike_is_seen_from_either_side() -> None:
    plain, spiked = polygon([0, 30, 30 + 20j, 20j]), polygon([0, 14, 15 - 2j, 16, 30, 30 + 20j, 20j])
    assert off(plain, spiked) == pytest.approx(2)
    assert off(spiked, plain) == pytest.approx(2)


@settings(max_examples=12)
@given(blobs(), st.floats(0.97, 1.03), st.complex_numbers(max_magnitude=3), st.booleans())
def test_deviation_is_the_hausdorff_distance(figure: Region, scale: float, shift: complex, back: bool) -> None:
    """shapely measures it between the vertices of one line and the other, once both are dense."""
    other = transformed(figure.outer, Affine.shift(shift) @ Affine.scale(scale))
    other = backwards(other) if back else other
    dense = [shapely.LinearRing(xy(flattened(path, 0.0005))) for path in (figure.outer, other)]
    assert off(figure.outer, other) == pytest.approx(shapely.hausdorff_distance(*dense), abs=0.01)


@given(blobs(), st.integers(0, 400))
def test_rounding_to_plotter_units_is_off_by_less_than_a_unit(figure: Region, start: int) -> None:
    points = np.roll(flattened(figure.outer, 0.005), start)
    rounded = polygon(np.rint(points.view(np.float64) / 0.025).view(np.complex128) * 0.025)
    assert off(figure.outer, rounded) <= 0.005 + 0.025 / math.sqrt(2) + 0.001


@given(st.floats(0.02, 0.98), st.floats(0, 0.2))
def test_a_ring_that_starts_in_the_middle_of_a_long_side(at: float, by: float) -> None:
    """However far the nearest vertex of the other ring is from there."""
    plain = polygon([0, 100, 100 + 4j, 50 + 9j, 4j])
    elsewhere = transformed(polygon([100 * at, 100, 100 + 4j, 50 + 9j, 4j, 0]), Affine.shift(-1j * by))
    assert off(plain, elsewhere) == pytest.approx(by, abs=1e-3)
    assert off(elsewhere, plain) == pytest.approx(by, abs=1e-3)


def test_a_path_that_runs_on_past_its_start_follows_the_outline() -> None:
    ring = polygon([0, 30, 30 + 20j, 20j])
    beyond = open_path(0, [(30,), (30 + 20j,), (20j,), (0,), (1,)])
    assert off(ring, beyond) < 1e-9
    assert off(beyond, ring) < 1e-9


def test_a_path_that_stops_short_is_off_by_half_the_gap() -> None:
    """The midpoint of the gap is farthest from the two ends."""
    ring = polygon([0, 30, 30 + 20j, 20j])
    short = open_path(0, [(30,), (30 + 20j,), (20j,), (4j,)])
    assert off(ring, short) == pytest.approx(2, abs=0.01)


def test_many_pairs_at_once_are_each_pair_alone() -> None:
    rings = [circle(5 * k, 2 + k) for k in range(1, 6)]
    others = [transformed(ring, Affine.shift(0.01 * k)) for k, ring in enumerate(rings)]
    together = deviations(chains(rings), chains(others), 0.001)
    assert together == pytest.approx([off(a, b) for a, b in zip(rings, others, strict=True)])


def test_chains_are_as_long_as_their_paths_and_can_be_picked() -> None:
    paths = [circle(0, 10), polygon([0, 3, 3 + 4j]), open_path(0, [(6 + 8j,)])]
    found = chains(paths)
    assert found.length == pytest.approx([length(path) for path in paths], rel=1e-4)
    assert found.area == pytest.approx([math.pi * 100, 6, 0], rel=2e-4)
    picked = taken(found, np.array([2, 0]))
    assert picked.length == pytest.approx(found.length[[2, 0]])
    assert picked.area == pytest.approx(found.area[[2, 0]])


def test_no_paths_have_no_chains() -> None:
    with pytest.raises(ValueError, match="no paths"):
        chains([])
