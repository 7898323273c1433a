"""What cloth and blade can bear. Limits are from memory (trade-facts), except where a check says otherwise."""

from __future__ import annotations

import cmath
import math

import pytest

from clothpath.curves import Affine, circle, polygon
from clothpath.design import Design, Fabric, Piece, Preparation
from clothpath.findings import Finding
from clothpath.plugins.transforms.bearable import Bearable, BearableSettings
from clothpath.regions import Region, moved, region, region_area


def rectangle(width: float, height: float) -> Region:
    return region(polygon([0, width, complex(width, height), 1j * height]))


def dumbbell(neck: float) -> Region:
    low, high = 10 - neck / 2, 10 + neck / 2
    corners = [
        0,
        20,
        20 + 1j * low,
        40 + 1j * low,
        40,
        60,
        60 + 20j,
        40 + 20j,
        40 + 1j * high,
        20 + 1j * high,
        20 + 20j,
        20j,
    ]
    return region(polygon(corners))


def wedge(degrees: float, length: float = 40) -> Region:
    half = math.radians(degrees / 2)
    return region(polygon([0, length * cmath.exp(-1j * half), length * cmath.exp(1j * half)]))


def design(of: Region, preparation: Preparation = "fused") -> Design:
    return Design("try", (Piece("p", "Petal", of, "cloth"),), (), (Fabric("cloth", "Cloth", preparation=preparation),))


def findings(of: Region, preparation: Preparation = "fused", **settings: object) -> list[Finding]:
    outcome = Bearable().apply(design(of, preparation), BearableSettings.model_validate(settings))
    return list(outcome.findings)


def codes(of: Region, preparation: Preparation = "fused", **settings: object) -> list[str]:
    return [finding.code for finding in findings(of, preparation, **settings)]


def test_several_pieces_are_told_in_one_finding_of_a_kind() -> None:
    of = (dumbbell(2), moved(dumbbell(2), Affine.shift(100)), moved(dumbbell(10), Affine.shift(200)))
    pieces = tuple(Piece(f"p{i}", f"Bone {i}", each, "cloth", order=i) for i, each in enumerate(of, start=1))
    told = Bearable().apply(Design("try", pieces, (), (Fabric("cloth", "Cloth"),)), BearableSettings()).findings
    (neck,) = [finding for finding in told if finding.code == "neck-narrow"]
    assert neck.message == '"Bone 1" and "Bone 2" have necks narrower than 3 mm.'
    assert neck.where == (
        "try: p1 at 1 3/16 in (30 mm) from the left and 3/8 in (10 mm) from the bottom of the picture; "
        "p2 at 5 1/8 in (130 mm) from the left and 3/8 in (10 mm) from the bottom of the picture"
    )


def test_many_pieces_are_counted() -> None:
    bones = [moved(dumbbell(2), Affine.shift(100 * i)) for i in range(10)]
    pieces = tuple(Piece(f"p{i}", f"Bone {i}", each, "cloth", order=i + 1) for i, each in enumerate(bones))
    told = Bearable().apply(Design("try", pieces, (), (Fabric("cloth", "Cloth"),)), BearableSettings()).findings
    (neck,) = [finding for finding in told if finding.code == "neck-narrow"]
    assert "and 4 more" in neck.message
    assert neck.where.endswith("; 4 more pieces")


def test_a_plain_piece_has_no_findings() -> None:
    assert codes(rectangle(40, 30)) == []
    assert codes(region(circle(0, 20), [circle(0, 8)])) == []


@pytest.mark.parametrize(("neck", "fused", "bare"), [(2.5, True, True), (4.0, False, True), (7.0, False, False)])
def test_a_neck_is_too_narrow_under_3_mm_fused_and_6_mm_bare(neck: float, fused: bool, bare: bool) -> None:
    assert ("neck-narrow" in codes(dumbbell(neck))) is fused
    assert ("neck-narrow" in codes(dumbbell(neck), "bare")) is bare


def test_a_finding_names_the_piece_and_the_place() -> None:
    (found,) = [each for each in findings(moved(dumbbell(2), Affine.shift(100 + 50j))) if each.code == "neck-narrow"]
    assert found.severity == "warning"
    assert "Petal" in found.message
    assert found.where == "try: p at 1 3/16 in (30 mm) from the left and 3/8 in (10 mm) from the bottom of the picture"
    assert found.hint


def test_a_slender_tip_is_a_narrow_point_and_a_plain_corner_is_not() -> None:
    # a disk of 3 mm stops 1.5 / sin(half the angle) - 1.5 mm before the tip: 4.3 mm at 30 degrees, 0.6 mm at 90
    assert "point-narrow" in codes(wedge(30))
    assert "point-narrow" not in codes(wedge(60))
    assert "point-narrow" not in codes(rectangle(40, 30))


def test_small_holes_and_small_pieces() -> None:
    assert codes(region(circle(0, 20), [circle(0, 1.5)])) == ["hole-small"]
    assert codes(region(circle(0, 20), [circle(0, 2.5)])) == []
    assert codes(rectangle(12, 12)) == ["piece-small"]
    assert codes(rectangle(13, 13)) == []


def test_nothing_is_said_of_paper_where_a_small_piece_is_bare() -> None:
    (fused,), (bare,) = findings(rectangle(12, 12)), findings(rectangle(12, 12), "bare")
    assert "on its paper" in fused.hint
    assert "paper" not in bare.hint


def test_a_piece_that_is_narrow_all_over_is_told_as_such() -> None:
    assert codes(rectangle(40, 2)) == ["piece-narrow"]


def test_sharp_corners_and_detail_finer_than_the_blade_follows() -> None:
    assert "corner-sharp" in codes(wedge(20))
    assert "corner-sharp" not in codes(wedge(28))
    notched = region(polygon([0, 20, 20.2 + 0.3j, 20.4, 40, 40 + 30j, 30j]))
    assert "detail-fine" in codes(notched)
    assert "detail-fine" not in codes(rectangle(40, 30))


def test_limits_can_be_set() -> None:
    assert codes(dumbbell(4), narrow_fused="5 mm") == ["neck-narrow"]
    assert "corner-sharp" in codes(wedge(28), sharp=40)


def test_nothing_is_rounded_unless_asked_for() -> None:
    before = design(wedge(20))
    assert Bearable().apply(before, BearableSettings()).value == before


def test_a_sharp_corner_is_rounded_at_the_stated_radius() -> None:
    before = design(wedge(20))
    outcome = Bearable().apply(before, BearableSettings.model_validate({"round-corners": "1 mm"}))
    (piece,) = outcome.value.pieces
    half = math.radians(10)
    # two right triangles less the sector between them
    lost = 1 / math.tan(half) - (math.pi / 2 - half)
    assert region_area(before.pieces[0].region) - region_area(piece.region) == pytest.approx(lost, abs=0.02)
    assert piece.picture == before.pieces[0].region
    assert "corner-sharp" not in [finding.code for finding in outcome.findings]
    # the other corners, of 80 degrees, stay sharp
    kept = {(round(node.real, 9), round(node.imag, 9)) for node in piece.region.outer.nodes[:, 0].tolist()}
    for corner in before.pieces[0].region.outer.nodes[1:, 0].tolist():
        assert (round(corner.real, 9), round(corner.imag, 9)) in kept


def test_a_sharp_notch_is_rounded_too() -> None:
    notched = region(polygon([0, 40, 40 + 30j, 22 + 30j, 20 + 15j, 18 + 30j, 30j]))
    outcome = Bearable().apply(design(notched), BearableSettings.model_validate({"round-corners": "1 mm"}))
    assert region_area(outcome.value.pieces[0].region) > region_area(notched) + 1
    assert "corner-sharp" not in [finding.code for finding in outcome.findings]
