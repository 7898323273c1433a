"""Less bulk: hidden cloth goes, the underlap stays, the picture does not change."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import Affine, area, circle, outline, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.plugins.transforms.less_bulk import LessBulk, LessBulkSettings
from clothpath.regions import Region, as_polygon, moved, region, region_area

U = 3 / 16 * 25.4


def rectangle(x: float, y: float, width: float, height: float) -> Region:
    return moved(region(polygon([0, width, complex(width, height), 1j * height])), Affine.shift(complex(x, y)))


def design(*regions: Region) -> Design:
    pieces = [Piece(f"p{i + 1}", f"p{i + 1}", each, "cloth", order=i + 1) for i, each in enumerate(regions)]
    return Design("try", tuple(pieces), (), (Fabric("cloth", "Cloth"),))


def cut(*regions: Region) -> list[Region]:
    return [piece.region for piece in LessBulk().apply(design(*regions), LessBulkSettings()).value.pieces]


def codes(*regions: Region) -> list[str]:
    return [finding.code for finding in LessBulk().apply(design(*regions), LessBulkSettings()).findings]


def test_beneath_a_disk_a_hole_is_cut_that_leaves_the_underlap() -> None:
    plate, disk = cut(rectangle(-50, -50, 100, 100), region(circle(0, 30)))
    assert len(plate.holes) == 1
    assert area(plate.holes[0]) == pytest.approx(-math.pi * (30 - U) ** 2, rel=1e-4)
    assert region_area(disk) == pytest.approx(math.pi * 900, rel=1e-5)


def test_a_piece_that_runs_beneath_another_ends_one_underlap_in() -> None:
    lower, _ = cut(rectangle(0, 0, 60, 40), rectangle(30, -10, 60, 60))
    assert region_area(lower) == pytest.approx(40 * (30 + U), rel=1e-6)
    assert len(lower.outer) == 4


def test_the_finished_picture_is_remembered() -> None:
    before = design(rectangle(-50, -50, 100, 100), region(circle(0, 30)))
    after = LessBulk().apply(before, LessBulkSettings()).value
    assert after.pieces[0].picture == before.pieces[0].region
    assert after.pieces[1] == before.pieces[1]
    assert after.finished_box == before.finished_box


def test_a_small_saving_is_not_worth_a_cut() -> None:
    assert codes(rectangle(0, 0, 60, 60), rectangle(20, 20, 18, 18)) == []


def test_cloth_that_holds_a_piece_together_stays() -> None:
    strip, block = rectangle(0, 20, 120, 20), rectangle(30, 0, 60, 60)
    assert codes(strip, block) == ["bulk-kept"]
    assert cut(strip, block)[0] == strip


def test_no_sliver_is_left() -> None:
    # the upper piece leaves a strip of 1 mm visible on one side; cutting the rest away leaves no less than the underlap
    lower, _ = cut(rectangle(0, 0, 60, 60), rectangle(-10, 1, 80, 80))
    assert lower.box.top == pytest.approx(1 + U, abs=1e-6)
    narrow = rectangle(0, 0, 60, 60), rectangle(-10, -10, 80, 68), rectangle(20, -10, 20, 90)
    # two strips of 2 mm, held together only by hidden cloth
    assert "bulk-kept" in codes(*narrow)
    assert len(cut(*narrow)) == 3


def test_a_piece_that_does_not_show_is_told() -> None:
    assert codes(rectangle(10, 10, 20, 20), rectangle(0, 0, 60, 60)) == ["piece-hidden"]


def test_a_tiny_piece_that_shows_is_not_taken_for_hidden() -> None:
    dot = region(circle(0, 0.5))  # 0.79 mm^2
    assert codes(dot) == []
    assert codes(dot, rectangle(0.4, -10, 20, 20)) == []
    assert codes(dot, rectangle(-0.3, -10, 20, 20)) == ["piece-hidden"]


def test_several_pieces_above_count_together() -> None:
    # two halves side by side over one plate: their common edge needs no cloth of the plate beneath it
    plate, *_ = cut(rectangle(-50, -50, 100, 100), rectangle(-30, -30, 30, 60), rectangle(0, -30, 30, 60))
    assert area(plate.holes[0]) == pytest.approx(-((60 - 2 * U) ** 2), rel=1e-6)


def leaf() -> Region:
    return region(outline(0j, [(18 - 20j, 42 - 20j, 60 + 0j), (42 + 20j, 18 + 20j, 0j)]))


SHAPES = st.sampled_from(
    [region(circle(0, 22)), rectangle(-20, -20, 40, 40), leaf(), region(circle(0, 30), [circle(0, 12)])]
)
PLACED = st.builds(
    lambda of, x, y, turn: moved(of, Affine.shift(complex(x, y)) @ Affine.turn(turn)),
    SHAPES,
    st.integers(-25, 25),
    st.integers(-25, 25),
    st.sampled_from([0, 30, 90, 200]),
)


@settings(max_examples=30)
@given(st.lists(PLACED, min_size=2, max_size=4))
def test_the_picture_does_not_change_and_the_underlap_stays(regions: list[Region]) -> None:
    before = [as_polygon(each, 0.002) for each in regions]
    after = [as_polygon(each, 0.002) for each in cut(*regions)]
    for i, (old, new) in enumerate(zip(before, after, strict=True)):
        assert new.is_valid
        assert new.difference(old).area < 0.05
        above = shapely.union_all(before[i + 1 :])
        shown_before, shown_after = old.difference(above), new.difference(shapely.union_all(after[i + 1 :]))
        # what showed still shows, and nothing else of it does
        assert shown_before.difference(new).buffer(-0.01).is_empty
        assert shown_after.difference(shapely.union(old, above)).buffer(-0.01).is_empty
        kept = shapely.MultiPolygon([part for part in shapely.get_parts(shown_before) if part.area > 1])
        assert kept.buffer(U - 0.1).intersection(old).difference(new.buffer(0.05)).area < 0.05
    assert shapely.union_all(before).difference(shapely.union_all(after)).buffer(-0.01).is_empty
