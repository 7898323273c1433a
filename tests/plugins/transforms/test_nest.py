"""The step `nest`, judged by the checker of layouts and by what a person at the mat would count and measure."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from job_strategies import Job, jobs  # type: ignore[import-not-found]
from pydantic import ValidationError

from clothpath.curves import Affine, Box, circle, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.files.layoutfile import shelved
from clothpath.findings import Finding, Refusal
from clothpath.layout import Demand, Layout, Margins, Mat, MatLayout, Stock, placed
from clothpath.plugins.transforms.nest import Nest, NestSettings
from clothpath.proving.layoutcheck import Clearances, faults
from clothpath.regions import moved, region

IN = 25.4
REASONS = {"piece-too-large", "piece-larger-than-stock", "stock-short", "nothing-to-cut"}
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
    (finding,) = refusal.findings
    assert finding.where == "tide: mast, eel"
    assert '"mast" is' in finding.message
    assert '"eel" is' in finding.message
    assert "crumb" not in finding.message


def test_the_size_that_is_told_for_all_pieces_fits() -> None:
    sides = {"eel": (400.0, 90.0), "crumb": (10.0, 10.0), "mast": (10.0, 500.0), "sail": (330.0, 320.0)}

    def scaled(percent: int) -> Layout:
        return asked(*(rectangle(w * percent / 100, h * percent / 100, name) for name, (w, h) in sides.items()))

    (finding,) = refused(scaled(100)).findings
    told = int(finding.hint.split(" %")[0].rpartition(" ")[2])
    assert faults(laid(scaled(told)), DEFAULTS) == ()
    refused(scaled(told + 1))


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


def test_a_timed_search_is_kept_and_gives_the_same_layout_again() -> None:
    layout = asked(flag("a", "red"), flag("b", "red", 55), count=2)
    with shelved({}, "tide small mat") as first:
        found = laid(layout, effort="better", seconds=1)
    assert faults(found, DEFAULTS) == ()
    assert len(first.added) == 1
    with shelved(first.added, "tide small mat") as second:
        again = Nest().apply(layout, NestSettings(effort="better", seconds=1), layout.mat, ())
    assert again.value == found
    assert [finding.code for finding in again.findings] == ["layout-kept"]
    assert second.added == {}


def test_a_kept_layout_that_breaks_a_rule_is_not_used() -> None:
    layout = asked(flag("a", "red"), flag("b", "red", 55))
    with shelved({}, "") as first:
        laid(layout, effort="better", seconds=1)
    ((key, one),) = first.added.items()
    (swatch,) = one.mats[0].swatches
    lost = replace(swatch, placements=swatch.placements[:1])
    spoilt = replace(one, pinned=True, mats=(MatLayout((lost,)),))
    with shelved({key: spoilt}, ""):
        made = laid(layout)
    assert faults(made, DEFAULTS) == ()
    assert made.mats != spoilt.mats


@settings(max_examples=25)
@given(jobs())
def test_any_job_is_laid_soundly_or_refused_with_a_reason(job: Job) -> None:
    """`nest` runs the checker itself and refuses what fails it, so a fault would show as a code that is not listed."""
    try:
        made = Nest().apply(job.layout, NestSettings(**job.settings), job.layout.mat, job.stock).value
        findings: tuple[Finding, ...] = ()
    except Refusal as refusal:
        findings = refusal.findings
    unreasonable = [each for each in findings if each.code not in REASONS or not each.hint]
    assert unreasonable == []
    if findings:
        return
    wanted = sum(p.copies * d.count for d in job.layout.demands for p in d.design.pieces if p.role == "cut")
    brought = sum(mat.times * len(swatch.placements) for mat in made.mats for swatch in mat.swatches)
    assert brought == wanted * job.settings.get("kits", 1)


def test_kits_are_cut_from_one_mat_several_times() -> None:
    """Two designs pooled by fabric: a mat takes one whale, so six kits are one mat cut six times."""
    known = (fabric(), fabric("blue"))
    first = Design("whale", (rectangle(9 * IN, 7 * IN, "body"), rectangle(2 * IN, 2 * IN, "eye", "blue")), (), known)
    second = Design("gull", (rectangle(4 * IN, 1 * IN, "wing", copies=2),), (), known)
    layout = Layout((Demand(first), Demand(second)), known, mat())
    made = laid(layout, kits=6)
    assert [each.times for each in made.mats] == [6]
    assert [demand.count for demand in made.demands] == [6, 6]
    by_fabric = {swatch.fabric: {each.design for each in swatch.placements} for swatch in made.mats[0].swatches}
    assert by_fabric == {"red": {"whale", "gull"}, "blue": {"whale"}}


def test_filling_takes_as_many_as_arithmetic_says() -> None:
    """11 1/2 in less 1/8 in all round is 11 1/4; 2 in squares 1/8 apart: 5 x 2 + 4 x 1/8 = 10 1/2, so 5 x 5."""
    made = laid(asked(rectangle(2 * IN, 2 * IN), fabrics=(fabric(grain="straight"),)), arrangement="fill")
    assert len(made.mats) == 1
    assert made.demands[0].count == 25


def test_filling_with_what_takes_more_than_a_mat_says_so() -> None:
    pieces = [rectangle(8 * IN, 8 * IN, name) for name in "ab"]
    outcome = Nest().apply(asked(*pieces), NestSettings(arrangement="fill"), mat(), ())
    assert outcome.findings[0].code == "fill-takes-mats"


def test_as_drawn_keeps_every_distance_and_turns_a_reversed_sheet_over_in_its_place() -> None:
    """Two fabrics side by side: on the mat each piece's box is where the drawing has it, shifted by one vector."""
    known = (fabric(), fabric("blue", laid="wrong-side-up"))
    left, right = flag("l", "red"), flag("r", "blue")
    apart = replace(right, region=moved(right.region, Affine.shift(150 + 7j)))
    made = laid(asked(left, apart, fabrics=known), arrangement="as-drawn")
    boxes = {each.placement.piece: each.region.box for each in placed(made)}
    shift = boxes["l"].center - left.region.box.center
    assert abs(boxes["r"].center - apart.region.box.center - shift) < 1e-9
    assert [each.placement.reversed for each in placed(made)] == [False, True]
    assert all(each.placement.turn == 0 for each in placed(made))
    assert faults(made, DEFAULTS) == ()


def test_kits_as_drawn_are_one_mat_cut_several_times() -> None:
    made = laid(asked(flag("a", "red")), arrangement="as-drawn", kits=3)
    assert [(each.times, len(each.swatches)) for each in made.mats] == [(3, 1)]
    assert faults(made, DEFAULTS) == ()


def test_as_drawn_with_fabrics_that_overlap_keeps_each_fabrics_own_arrangement() -> None:
    known = (fabric(), fabric("blue"))
    outcome = Nest().apply(
        asked(rectangle(80, 80, "sea"), flag("sail", "blue"), fabrics=known),
        NestSettings(arrangement="as-drawn"),
        mat(),
        (),
    )
    assert [finding.code for finding in outcome.findings] == ["as-drawn-by-fabric"]
    assert faults(outcome.value, DEFAULTS) == ()


def test_as_drawn_with_pieces_too_close_says_which_and_by_how_much() -> None:
    near = replace(flag("b", "red"), region=moved(flag("b", "red").region, Affine.shift(41 + 0j)))
    refusal = refused(asked(flag("a", "red"), near), arrangement="as-drawn")
    (finding,) = refusal.findings
    assert finding.code == "pieces-too-close"
    assert "b (copy 1)" in finding.where + finding.message
    assert 'arrangement = "nest"' in finding.hint


def test_as_drawn_that_is_too_large_says_so() -> None:
    far = replace(flag("b", "blue"), region=moved(flag("b", "blue").region, Affine.shift(300 + 0j)))
    refusal = refused(asked(flag("a", "red"), far, fabrics=(fabric(), fabric("blue"))), arrangement="as-drawn")
    assert refusal.findings[0].code == "as-drawn-too-large"


def test_the_corner_for_a_test_cut_and_a_keep_out_stay_free() -> None:
    pieces = [rectangle(40, 30, name) for name in "abcdefgh"]
    made = laid(
        asked(*pieces),
        test_cut="lower-left",
        keep_out=[{"left": "6 in", "bottom": "0 in", "width": "1 in", "height": "12 in"}],
    )
    usable = made.mat.usable
    assert made.mat.keep_out[-1] == Box(usable.left, usable.bottom, usable.left + IN, usable.bottom + IN)
    assert faults(made, DEFAULTS) == ()
    assert all(s.box.right <= 6 * IN + 1e-6 or s.box.left >= 7 * IN - 1e-6 for m in made.mats for s in m.swatches)


def test_a_fixed_swatch_lies_where_it_is_told_in_the_size_it_is_cut() -> None:
    known = (fabric(), fabric("blue"))
    fixed = [{"fabric": "blue", "left": "3 in", "bottom": "2 in", "width": "5 in", "height": "4 in"}]
    made = laid(asked(flag("a", "red"), flag("b", "blue"), fabrics=known), fixed=fixed)
    (blue,) = (s for s in made.mats[0].swatches if s.fabric == "blue")
    assert (blue.x, blue.y, blue.width, blue.height) == pytest.approx((3 * IN, 2 * IN, 5 * IN, 4 * IN))
    assert faults(made, DEFAULTS) == ()


def test_a_fixed_swatch_of_an_unknown_fabric_is_an_error_with_the_nearest_word() -> None:
    refusal = refused(asked(flag("a", "red")), fixed=[{"fabric": "rad", "left": "3 in", "bottom": "2 in"}])
    assert 'Did you mean "red"?' in refusal.findings[0].hint


def test_swatches_come_from_the_stock_and_from_nothing_else() -> None:
    stock = (Stock("red", 9 * IN, 4 * IN, 2, "scrap"),)
    made = Nest().apply(asked(*(rectangle(3 * IN, 3 * IN, n) for n in "abcd")), NestSettings(), mat(), stock).value
    assert sorted({(cut.stock, cut.number) for cut in made.cut_from}) == [(0, 1), (0, 2)]
    assert faults(made, DEFAULTS) == ()


def test_stock_that_is_short_names_the_fabric_and_the_pieces_left_over() -> None:
    with pytest.raises(Refusal) as caught:
        Nest().apply(asked(rectangle(3 * IN, 3 * IN, "sail", copies=5)), NestSettings(), mat(),
                     (Stock("red", 7 * IN, 4 * IN),))  # fmt: skip
    (finding,) = caught.value.findings
    assert finding.code == "stock-short"
    assert "3 of sail" in finding.message
    # arithmetic: what is missing is 3 1/4 in high and less than 40 in wide, so an eighth of a yard has it
    needed, missing = finding.message.split("Missing: ")
    assert "Needed are rectangles: " in needed
    assert re.search(r"\d of [\d/ ]+ in x [\d/ ]+ in .*\(1/8 yd or 10 cm off a bolt 40 in wide\)", missing)
    assert "swatch" not in finding.message + finding.hint


def bracket(width: float, height: float, arm: float) -> list[complex]:
    """Corners of an L whose upright stands on the left."""
    return [0j, complex(width), complex(width, arm), complex(arm, arm), complex(arm, height), complex(0, height)]


def corner_scrap(count: int = 1) -> Stock:
    """An L of cloth, 9 in wide and 7 in high, its arms 3 in across; no rectangle in it is over 3 in both ways."""
    return Stock("red", 9 * IN, 7 * IN, count, "scrap", 0.0, region(polygon(bracket(9 * IN, 7 * IN, 3 * IN))))


@pytest.mark.parametrize("side", ["right-side-up", "wrong-side-up"])
@pytest.mark.parametrize("turn", ["directional", "straight"])
def test_a_piece_that_fits_no_rectangle_of_a_scrap_lies_in_the_scrap_as_it_is(side: str, turn: str) -> None:
    """An L of 8 x 6 in leaves more than the margin of 1/8 in all round in an L of 9 x 7 in with wider arms."""
    sail = Piece("sail", "sail", region(polygon(bracket(8 * IN, 6 * IN, 2 * IN))), "red")
    cloth = fabric(grain=turn, laid=side)
    made = Nest().apply(asked(sail, fabrics=(cloth,)), NestSettings(), mat(), (corner_scrap(),)).value
    (swatch,) = made.mats[0].swatches
    assert sorted((swatch.width, swatch.height)) == pytest.approx([7 * IN, 9 * IN])
    assert [(cut.box.width, cut.box.height) for cut in made.cut_from] == [pytest.approx((9 * IN, 7 * IN))]
    assert faults(made, DEFAULTS) == ()


def test_a_scrap_takes_as_it_is_what_its_rectangles_do_not() -> None:
    """Squares of 2 1/2 in: two rectangles of 9 x 3 and 3 x 7 in cannot both be cut from one L, whole it takes four."""
    squares = asked(rectangle(2.5 * IN, 2.5 * IN, "a", copies=4))
    made = Nest().apply(squares, NestSettings(), mat(), (corner_scrap(),)).value
    assert len(made.mats[0].swatches) == 1
    assert faults(made, DEFAULTS) == ()
    twice = Nest().apply(squares, NestSettings(kits=2), mat(), (corner_scrap(2),)).value
    assert {cut.number for cut in twice.cut_from} == {1, 2}
    assert faults(twice, DEFAULTS) == ()


def test_two_scraps_of_one_box_and_unlike_outline_are_each_used_as_they_are() -> None:
    """An L and a J, neither of which may be turned: each fits one of two scraps of 9 x 7 in, and only that one."""
    outlines = {
        "l": bracket(9 * IN, 7 * IN, 3 * IN),
        "j": [9 * IN - z.conjugate() for z in bracket(9 * IN, 7 * IN, 3 * IN)],
    }
    stock = tuple(Stock("red", 9 * IN, 7 * IN, 1, key, 0.0, region(polygon(ring))) for key, ring in outlines.items())
    corners = bracket(8 * IN, 6 * IN, 2 * IN)
    shapes = {"j": [8 * IN - z.conjugate() for z in corners], "l": corners}
    sails = [Piece(key, key, region(polygon(ring)), "red") for key, ring in shapes.items()]
    made = Nest().apply(asked(*sails, fabrics=(fabric(grain="directional"),)), NestSettings(), mat(), stock).value
    assert {cut.stock for cut in made.cut_from} == {0, 1}
    assert faults(made, DEFAULTS) == ()


def test_a_shape_that_would_save_a_mat_is_not_taken_where_the_stock_has_the_least_shape_only() -> None:
    """Four squares of 2 in take 4 3/8 x 4 3/8 in or, in a row, 8 5/8 x 2 1/4 in; twice the first is what there is."""
    four = [rectangle(2 * IN, 2 * IN, key, key, copies=4) for key in ("red", "rose")]
    large = [
        rectangle(11.25 * IN, 8.5 * IN, "blue", "blue"),
        rectangle(11.25 * IN, 6.5 * IN, "green", "green"),
        rectangle(6.25 * IN, 4.125 * IN, "plum", "plum"),
    ]
    known = [
        fabric("red", cloth="red"),
        fabric("rose", cloth="red"),
        *(fabric(key) for key in ("blue", "green", "plum")),
    ]
    wanted = asked(*four, *large, fabrics=tuple(known))
    assert len(Nest().apply(wanted, NestSettings(), mat(), ()).value.mats) == 2
    made = Nest().apply(wanted, NestSettings(), mat(), (Stock("red", 8.75 * IN, 4.375 * IN),)).value
    assert len(made.cut_from) == 2
    assert faults(made, DEFAULTS) == ()


def test_a_piece_larger_than_the_stock_is_not_blamed_on_the_mat() -> None:
    with pytest.raises(Refusal) as caught:
        Nest().apply(asked(rectangle(6 * IN, 6 * IN, "sail")), NestSettings(), mat(), (Stock("red", 127, 127),))
    assert caught.value.findings[0].code == "piece-larger-than-stock"


def test_fused_and_bare_cloth_on_one_mat_is_a_finding() -> None:
    """Common practice: cloth with paper-backed web wants another blade than bare cloth."""
    known = (fabric(), fabric("blue", preparation="bare"))
    outcome = Nest().apply(asked(flag("a", "red"), flag("b", "blue"), fabrics=known), NestSettings(), mat(), ())
    assert [finding.code for finding in outcome.findings] == ["fused-and-bare"]
    assert "Red" in outcome.findings[0].message
    assert "Blue" in outcome.findings[0].message


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"spacing": "3"}, "no unit"),
        ({"spacing": "-1 mm"}, "greater than or equal to 0"),
        ({"arrangement": "fill", "copies": 3}, "leave out copies"),
        ({"arrangement": "as-drawn", "fixed": [{"fabric": "a", "left": "1 in", "bottom": "1 in"}]}, "leave out fixed"),
        ({"fixed": [{"fabric": "a", "left": "1 in", "bottom": "1 in", "width": "1 in"}]}, "both width and height"),
    ],
)
def test_a_setting_that_makes_no_sense_is_refused(wrong: dict[str, object], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        NestSettings.model_validate(wrong)


def test_another_process_with_another_hash_seed_lays_the_same_bytes() -> None:
    script = (
        "import sys, pathlib; sys.path.insert(0, sys.argv[1]); from test_nest import *; "
        "pieces = [flag(n, f, 20 + 7 * k) for k, (n, f) in enumerate(zip('abcdef', ['red', 'blue'] * 3))]; "
        "made = laid(asked(*pieces, fabrics=(fabric(), fabric('blue', grain='straight')), count=3)); "
        "print(repr(made.mats))"
    )
    here = str(Path(__file__).parent)
    printed = {
        subprocess.run(
            [sys.executable, "-c", script, here],
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(printed) == 1
    assert "Placement" in printed.pop()
