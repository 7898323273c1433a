"""Margins: Steiner's formula for what is added, errors that name what vanishes or splits, tucked edges that stay flat.

3/16 in: common practice (trade-facts).
"""

from __future__ import annotations

import math

import pytest
import shapely

from clothpath.curves import Affine, circle, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.findings import Outcome
from clothpath.plugins.transforms.less_bulk import LessBulk, LessBulkSettings
from clothpath.plugins.transforms.turn_under import INSET, TURN_UNDER, InsetSettings, TurnUnderSettings
from clothpath.plugins.transforms.underlap import Underlap, UnderlapSettings
from clothpath.regions import Region, as_polygon, moved, region, region_area

IN = 25.4
MARGIN = 3 / 16 * IN


def rectangle(x: float, y: float, width: float, height: float) -> Region:
    return moved(region(polygon([0, width, complex(width, height), 1j * height])), Affine.shift(complex(x, y)))


def design(*regions: Region) -> Design:
    pieces = [
        Piece(f"p{i + 1}", f"p{i + 1}", each, "first" if i == 0 else "second", order=i + 1)
        for i, each in enumerate(regions)
    ]
    return Design("try", tuple(pieces), (), (Fabric("first", "First"), Fabric("second", "Second")))


def turned(of: Design, **settings: object) -> Outcome[Design]:
    return TURN_UNDER.apply(of, TurnUnderSettings.model_validate(settings))


def inset(of: Design, **settings: object) -> Outcome[Design]:
    return INSET.apply(of, InsetSettings.model_validate(settings))


def test_a_margin_all_round_follows_steiner() -> None:
    (piece,) = turned(design(rectangle(0, 0, 60, 40))).value.pieces
    assert region_area(piece.region) == pytest.approx(2400 + 200 * MARGIN + math.pi * MARGIN**2, rel=5e-5)
    assert piece.picture == rectangle(0, 0, 60, 40)


@pytest.mark.parametrize(("join", "corner"), [("mitre", 1.0), ("bevel", 0.5), ("round", math.pi / 4)])
def test_corners_are_round_mitred_or_beveled(join: str, corner: float) -> None:
    (piece,) = turned(design(rectangle(0, 0, 60, 40)), margin="10 mm", join=join).value.pieces
    assert region_area(piece.region) == pytest.approx(2400 + 2000 + 4 * corner * 100, rel=1e-4)


def test_holes_go_the_other_way() -> None:
    (piece,) = turned(design(region(circle(0, 30), [circle(0, 12)])), margin="5 mm").value.pieces
    assert region_area(piece.region) == pytest.approx(math.pi * (35**2 - 7**2), rel=1e-4)
    (piece,) = inset(design(region(circle(0, 30), [circle(0, 12)])), margin="5 mm").value.pieces
    assert region_area(piece.region) == pytest.approx(math.pi * (25**2 - 17**2), rel=1e-4)


def test_a_hole_that_closes_is_told() -> None:
    result = turned(design(region(circle(0, 30), [circle(0, 4)])))
    assert result.value.pieces[0].region.holes == ()
    assert "hole-closed" in [finding.code for finding in result.findings]


def test_a_fabric_has_its_own_margin() -> None:
    first, second = turned(
        design(rectangle(0, 0, 20, 20), rectangle(50, 0, 20, 20)), margin="5 mm", **{"by-fabric": {"second": "0 mm"}}
    ).value.pieces
    assert first.region.box.width == pytest.approx(30, abs=0.02)
    assert second.region == rectangle(50, 0, 20, 20)
    assert second.picture is None


def test_a_fabric_that_is_not_there_is_told() -> None:
    result = turned(design(rectangle(0, 0, 20, 20)), **{"by-fabric": {"third": "1 mm"}})
    assert "fabric-unknown" in [finding.code for finding in result.findings]


def test_a_piece_that_vanishes_is_an_error_that_names_it() -> None:
    result = inset(design(rectangle(0, 0, 40, 3)))
    (found,) = [finding for finding in result.findings if finding.severity == "error"]
    assert found.code == "piece-vanishes"
    assert "p1" in found.message


def test_a_piece_that_splits_is_an_error_that_names_it() -> None:
    dumbbell = region(polygon([0, 20, 20 + 8j, 40 + 8j, 40, 60, 60 + 20j, 40 + 20j, 40 + 12j, 20 + 12j, 20 + 20j, 20j]))
    (found,) = [finding for finding in inset(design(dumbbell), margin="2.5 mm").findings if finding.severity == "error"]
    assert found.code == "piece-splits"
    assert "p1" in found.where


def test_a_tucked_edge_gets_the_larger_of_turn_under_and_underlap_not_their_sum() -> None:
    two = design(rectangle(0, 0, 40, 40), rectangle(40, 0, 60, 40))
    for underlap, margin in ((6.35, 4.0), (3.0, 5.0)):
        tucked = Underlap().apply(two, UnderlapSettings.model_validate({"underlap": f"{underlap} mm"})).value
        lower = turned(tucked, margin=f"{margin} mm").value.pieces[0].region
        assert lower.box.right == pytest.approx(40 + max(underlap, margin), abs=0.03)
        assert lower.box.left == pytest.approx(-margin, abs=0.02)


def test_what_an_underlap_hardly_lacks_of_the_margin_makes_no_jog_beside_an_edge_that_stays() -> None:
    # cut back beneath the second, grown beneath the third: both edges lie 4.65 deep, the margin is 4.8
    three = design(rectangle(0, 0, 60, 40), rectangle(10, -10, 30, 35), rectangle(60, 0, 40, 40))
    underlap = {"underlap": "4.65 mm"}
    tucked = Underlap().apply(three, UnderlapSettings.model_validate(underlap)).value
    less = LessBulk().apply(tucked, LessBulkSettings.model_validate(underlap)).value
    lower = turned(less, margin="4.8 mm").value.pieces[0].region
    assert lower.box.right == pytest.approx(64.65, abs=0.02)
    assert lower.box.left == pytest.approx(-4.8, abs=0.02)


def test_what_was_cut_away_stays_away_and_its_edge_flat() -> None:
    stacked = design(rectangle(0, 0, 60, 40), rectangle(30, -10, 60, 60))
    less = LessBulk().apply(stacked, LessBulkSettings()).value
    lower = turned(less).value.pieces[0].region
    assert lower.box.right == pytest.approx(30 + MARGIN, abs=0.02)
    assert lower.box.left == pytest.approx(-MARGIN, abs=0.02)
    assert lower.box.top == pytest.approx(40 + MARGIN, abs=0.02)


def test_an_edge_deep_beneath_another_piece_gets_no_margin() -> None:
    lower, upper = turned(design(rectangle(0, 0, 60, 40), rectangle(30, -20, 60, 80))).value.pieces
    assert lower.region.box.right == pytest.approx(60, abs=1e-6)
    assert lower.region.box.left == pytest.approx(-MARGIN, abs=0.02)
    assert upper.region.box.left == pytest.approx(30 - MARGIN, abs=0.02)


def test_an_inset_leaves_tucked_edges_so_that_no_gap_opens() -> None:
    two = design(rectangle(0, 0, 40, 40), rectangle(40, 0, 60, 40))
    tucked = Underlap().apply(two, UnderlapSettings()).value
    lower, upper = inset(tucked, margin="1.5 mm").value.pieces
    assert lower.region.box.right == pytest.approx(40 + MARGIN, abs=0.02)
    assert lower.region.box.left == pytest.approx(1.5, abs=0.02)
    assert upper.region.box.left == pytest.approx(41.5, abs=0.02)
    both = shapely.union_all([as_polygon(lower.region), as_polygon(upper.region)])
    assert both.contains(shapely.box(1.6, 1.6, 98.4, 38.4))


def test_a_hole_that_a_margin_all_but_closes_beneath_another_piece_is_filled() -> None:
    ring, dot = region(circle(0, 30), [circle(0, 7)]), region(circle(0, 7))
    filled = turned(design(ring, dot))
    assert "hole-closed" not in [finding.code for finding in filled.findings]
    assert not filled.value.pieces[0].region.holes  # 7 - 3/16 in leaves 4.5 mm across, and the dot lies over it
    shown = turned(design(ring))
    assert len(shown.value.pieces[0].region.holes) == 1  # here the ground is to show in it


TWO = design(rectangle(0, 0, 40, 40), rectangle(40, 0, 60, 40))


def test_an_inset_without_underlap_tells_where_a_seam_opens() -> None:
    # the upper piece is taken back from x = 40, along which the two meet from y = 0 to 40
    (finding,) = [found for found in inset(TWO).findings if found.code == "seam-opens"]
    assert finding.severity == "warning"
    assert '"p1" and "p2"' in finding.message
    assert "1/16 in" in finding.message
    place = "p1 at 1 9/16 in (40 mm) from the left and 13/16 in (20 mm) from the bottom of the picture"
    assert finding.where == f"try: {place}"
    assert "underlap" in finding.hint


@pytest.mark.parametrize(
    "of",
    [
        Underlap().apply(TWO, UnderlapSettings()).value,
        design(rectangle(0, 0, 60, 40), rectangle(40, 0, 60, 40)),  # stacked: the lower piece runs on
        design(rectangle(0, 0, 40, 40), rectangle(41, 0, 60, 40)),  # apart
        design(region(circle(0, 20)), region(circle(40, 20))),  # they touch in a point
    ],
)
def test_no_seam_opens_where_none_meets(of: Design) -> None:
    assert "seam-opens" not in [finding.code for finding in inset(of).findings]


def test_no_seam_opens_beneath_a_piece_that_stays_or_grows() -> None:
    kept = inset(TWO, by_fabric={"second": "0 mm"})
    assert "seam-opens" not in [finding.code for finding in kept.findings]
    assert "seam-opens" not in [finding.code for finding in turned(TWO).findings]


def test_the_finished_size_does_not_change() -> None:
    before = design(rectangle(0, 0, 60, 40))
    assert turned(before).value.finished_box == before.finished_box
    assert inset(before).value.finished_box == before.finished_box
