"""Underlap and less bulk together, on pictures of several pieces: whatever is done beneath, the picture stays.

The pieces of a block are cut apart by curves, so that three and four of them meet in points, and laid in any order.
"""

from __future__ import annotations

from itertools import accumulate

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.areas.booleans import difference, intersection
from clothpath.curves import Affine, Outline, area, circle, outline, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.plugins.transforms.less_bulk import LessBulk, LessBulkSettings
from clothpath.plugins.transforms.underlap import Underlap, UnderlapSettings
from clothpath.regions import Region, as_polygon, moved, region, region_area

FLAT_MM = 0.002
HAIR_MM = 0.015
"""What shows by no more than this twice over does not show: less than a thread, within the budget of 0.02 mm."""

BLOCK = region(polygon([0, 80, 80 + 60j, 60j]))
KNIVES = {
    "wave": region(outline(-5 + 30j, [(20 + 55j, 50 + 5j, 85 + 30j), (85 + 90j,), (-5 + 90j,)])),
    "slant": region(polygon([30 - 5j, 90 - 5j, 90 + 70j, 50 + 70j])),
    "disk": region(circle(38 + 32j, 17)),
    "corner": region(polygon([40 + 30j, 95 + 30j, 95 + 80j, 40 + 80j])),
}
"""Each cuts what it meets in two."""


def pieces_of(knives: tuple[str, ...]) -> list[Region]:
    parts = [BLOCK]
    for name in knives:
        parts = [part for each in parts for rule in (difference, intersection) for part in rule([each], [KNIVES[name]])]
    return [part for part in parts if region_area(part) > 20]


def design(regions: list[Region]) -> Design:
    pieces = [Piece(f"p{i}", f"p{i}", each, "cloth", order=i) for i, each in enumerate(regions, 1)]
    return Design("try", tuple(pieces), (), (Fabric("cloth", "Cloth"),))


def sewn(of: Design) -> Design:
    tucked = Underlap().apply(of, UnderlapSettings()).value
    return LessBulk().apply(tucked, LessBulkSettings()).value


def polygons(of: Design) -> list[shapely.Geometry]:
    return [as_polygon(piece.region, FLAT_MM) for piece in of.pieces]


def shown(of: Design) -> list[shapely.Geometry]:
    """What is seen of each piece once all are laid."""
    shapes = polygons(of)
    above = [*accumulate(reversed(shapes[1:]), shapely.union, initial=shapely.Polygon())]
    return [shape.difference(over) for shape, over in zip(shapes, reversed(above), strict=True)]


def started_at(ring: Outline, at: int) -> Outline:
    segments = list(ring.segments())
    at %= len(segments)
    starts = [ring.start, *(segment[-1] for segment in segments)]
    return outline(starts[at], [*segments[at:], *segments[:at]])


PICTURES = st.lists(st.sampled_from(sorted(KNIVES)), min_size=1, max_size=3, unique=True).flatmap(
    lambda names: st.permutations(pieces_of(tuple(names)))
)


@settings(max_examples=25, derandomize=True, deadline=None)
@given(PICTURES)
def test_every_piece_shows_what_it_showed_and_nothing_else(regions: list[Region]) -> None:
    before = design(list(regions))
    after = sewn(before)
    for piece, shape, was, now in zip(after.pieces, polygons(after), shown(before), shown(after), strict=True):
        assert shape.is_valid
        assert area(piece.region.outer) > 0
        assert all(area(hole) < 0 for hole in piece.region.holes)
        assert now.difference(was).buffer(-HAIR_MM).is_empty  # nothing shows beyond the finished picture
        assert was.difference(now).buffer(-HAIR_MM).is_empty
    covered = shapely.union_all(polygons(after))
    assert as_polygon(BLOCK, FLAT_MM).difference(covered).buffer(-HAIR_MM).is_empty


@settings(max_examples=8, derandomize=True, deadline=None)
@given(PICTURES, st.integers(0, 6))
def test_the_point_at_which_a_ring_starts_makes_no_difference(regions: list[Region], at: int) -> None:
    turned = [region(started_at(each.outer, at), [started_at(hole, at) for hole in each.holes]) for each in regions]
    for one, other in zip(polygons(sewn(design(list(regions)))), polygons(sewn(design(turned))), strict=True):
        assert one.symmetric_difference(other).buffer(-HAIR_MM).is_empty


@pytest.mark.parametrize("degrees", [30, 90, 217])
def test_a_picture_that_is_turned_has_its_pieces_turned(degrees: float) -> None:
    turn = Affine.turn(degrees)
    regions = pieces_of(("wave", "disk"))
    turned = design([moved(each, turn) for each in regions])
    for piece, other in zip(sewn(design(regions)).pieces, sewn(turned).pieces, strict=True):
        one = as_polygon(moved(piece.region, turn), FLAT_MM)
        assert one.symmetric_difference(as_polygon(other.region, FLAT_MM)).buffer(-HAIR_MM).is_empty


@pytest.mark.parametrize(
    ("names", "order"),
    [
        (("disk", "corner"), (0, 1, 2, 3)),
        (("slant", "disk"), (1, 3, 0, 2)),
        (("wave", "disk"), (1, 0, 2, 3)),
        (("disk", "wave"), (3, 1, 0, 2)),
        (("slant", "wave", "disk"), (0, 2, 4, 6, 1, 3, 5, 7)),
    ],
)
def test_no_outline_runs_out_along_one_curve_and_back_along_its_twin(
    names: tuple[str, ...], order: tuple[int, ...]
) -> None:
    parts = pieces_of(names)
    for shape in polygons(sewn(design([parts[i] for i in order]))):
        assert shape.is_valid, shapely.is_valid_reason(shape)
