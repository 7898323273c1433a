"""The step `nest`, judged by the checker of layouts and by what a person at the mat would count and measure."""

from __future__ import annotations

import pytest

from clothpath.curves import circle, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.findings import Refusal
from clothpath.layout import Demand, Layout, Margins, Mat, placed
from clothpath.layoutcheck import Clearances, faults
from clothpath.plugins.transforms.nest import Nest, NestSettings
from clothpath.regions import region

IN = 25.4
DEFAULTS = Clearances(IN / 8, IN / 8, IN / 4)


def rectangle(width: float, height: float, name: str = "r", fabric: str = "red", copies: int = 1) -> Piece:
    corners = [0j, complex(width), complex(width, height), complex(0, height)]
    return Piece(name, name, region(polygon(corners)), fabric, copies=copies)


def flag(name: str, fabric: str, size: float = 40.0) -> Piece:
    """A right triangle with unlike legs: no turn makes it its own mirror image."""
    return Piece(name, name, region(polygon([0j, complex(size), complex(0, size / 2)])), fabric)


def fabric(key: str = "red", **kinds: object) -> Fabric:
    return Fabric(key, key.title(), **kinds)  # type: ignore[arg-type]


def mat(width: float = 12, height: float = 12, margin: float = 0.25) -> Mat:
    return Mat("mat", width * IN, height * IN, Margins(*[margin * IN] * 4))


def asked(*pieces: Piece, fabrics: tuple[Fabric, ...] = (), on: Mat | None = None, count: int = 1) -> Layout:
    known = fabrics or (fabric(),)
    return Layout((Demand(Design("tide", pieces, (), known), count),), known, on or mat())


def laid(layout: Layout, **settings: object) -> Layout:
    return Nest().apply(layout, NestSettings(**settings), layout.mat, ()).value  # type: ignore[arg-type]


def refused(layout: Layout, **settings: object) -> Refusal:
    with pytest.raises(Refusal) as caught:
        laid(layout, **settings)
    return caught.value


def test_two_fabrics_that_keep_their_paper_are_reversed_and_two_that_leave_it_are_not() -> None:
    """Common practice: paper up on the mat is cut reversed, right side up is not."""
    keys = ("keep-a", "keep-b", "leave-a", "leave-b")
    sides = ("wrong-side-up", "wrong-side-up", "right-side-up", "right-side-up")
    fabrics = tuple(fabric(key, laid=side) for key, side in zip(keys, sides, strict=True))
    made = laid(asked(*(flag(f"p-{key}", key) for key in keys), fabrics=fabrics))
    assert len(made.mats) == 1
    by_fabric = {each.piece.fabric: each for each in placed(made)}
    assert [by_fabric[key].placement.reversed for key in keys] == [True, True, False, False]
    assert [by_fabric[key].affine.determinant < 0 for key in keys] == [True, True, False, False]
    assert [swatch.laid for key in keys for swatch in made.mats[0].swatches if swatch.fabric == key] == list(sides)
    assert faults(made, DEFAULTS) == ()


def test_a_fabric_about_which_nobody_said_how_it_is_laid_lies_right_side_up() -> None:
    made = laid(asked(flag("p", "red")))
    assert [(s.laid, s.placements[0].reversed) for s in made.mats[0].swatches] == [("right-side-up", False)]


def test_swatches_are_cut_at_eighths_of_an_inch_and_stuck_at_half_inches() -> None:
    made = laid(asked(Piece("o", "o", region(circle(0j, 20.0)), "red"), flag("p", "blue"),
                      fabrics=(fabric(), fabric("blue"))))  # fmt: skip
    for swatch in made.mats[0].swatches:
        for size in (swatch.width, swatch.height):
            assert abs(size / (IN / 8) - round(size / (IN / 8))) < 1e-6
        for place in (swatch.x, swatch.y):
            assert abs(place / (IN / 2) - round(place / (IN / 2))) < 1e-6


def test_a_metric_mat_is_measured_in_half_and_whole_centimeters() -> None:
    made = laid(asked(flag("p", "red"), on=Mat("m", 300.0, 300.0, Margins(5, 5, 5, 5))))
    swatch = made.mats[0].swatches[0]
    assert [v % 5 for v in (swatch.width, swatch.height)] == [0, 0]
    assert [v % 10 for v in (swatch.x, swatch.y)] == [0, 0]


def test_copies_multiply_pieces_copies_and_counts() -> None:
    made = laid(asked(rectangle(20, 10, copies=3), count=2), copies=2)
    assert sorted(each.placement.copy for each in placed(made)) == list(range(1, 13))
    assert made.demands[0].count == 4
    assert faults(made, DEFAULTS) == ()


def test_a_piece_that_fills_the_usable_area_to_the_last_hair_is_laid() -> None:
    side = 11.5 * IN - 2 * IN / 8
    made = laid(asked(rectangle(side, side)))
    assert len(made.mats) == 1
    assert faults(made, DEFAULTS) == ()


def test_a_piece_that_fits_no_mat_names_itself_its_size_the_usable_area_and_the_way_out() -> None:
    refusal = refused(asked(rectangle(7.5 * IN, 12 * IN, "whale"), on=mat(8, 12)))
    (finding,) = refusal.findings
    assert finding.code == "piece-too-large"
    for said in ('"whale"', "7 1/2 in x 12 in", "190.5 mm x 304.8 mm", "7 1/2 in x 11 1/2 in"):
        assert said in finding.message
    assert "larger mat" in finding.hint
    assert "93 %" in finding.hint


def test_every_piece_that_is_too_large_is_named() -> None:
    refusal = refused(asked(rectangle(400, 10, "eel"), rectangle(10, 10, "crumb"), rectangle(10, 500, "mast")))
    assert [finding.where for finding in refusal.findings] == ["tide: eel", "tide: mast"]


def test_a_long_strip_lies_across_the_corner_where_its_grain_allows_it() -> None:
    strip = rectangle(13 * IN, 10, "eel")
    assert len(laid(asked(strip)).mats) == 1
    straight = refused(asked(strip, fabrics=(fabric(grain="straight"),)))
    assert 'grain = "any"' in straight.findings[0].hint


def test_nothing_to_cut_is_said() -> None:
    marked = Piece("m", "m", region(circle(0j, 9)), "red", role="omit")
    assert refused(asked(marked)).findings[0].code == "nothing-to-cut"


def test_the_same_job_twice_is_the_same_layout() -> None:
    pieces = (flag("a", "red"), flag("b", "red", 55), rectangle(30, 30, "c", "blue"), rectangle(44, 9, "d", "blue"))
    layout = asked(*pieces, fabrics=(fabric(), fabric("blue")), count=5)
    assert laid(layout) == laid(layout)
