"""The page beside the machine: what a person must know, measured as a person measures."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest
from writer_sheets import crab_layout

from clothpath.contracts import Settings
from clothpath.curves import Box, polygon
from clothpath.cutplan import Blade, CutPlan, MatCuts, as_laid
from clothpath.cutting.cutorder import in_order
from clothpath.cutting.testcut import with_test_cuts
from clothpath.cutting.tried import NO_SPEEDS, Speeds, Tried
from clothpath.design import Grain
from clothpath.findings import note, warning
from clothpath.layout import CutFrom, MatLayout, Stock
from clothpath.pages.page import about
from clothpath.plugins.writers.cloth_report import ClothReport, ClothReportSettings
from clothpath.plugins.writers.job_sheet import JobSheet, clothpath_writers
from clothpath.regions import region
from clothpath.units import Speed, both


def plan(*tried: Tried, speeds: Speeds = NO_SPEEDS) -> CutPlan:
    return in_order(as_laid(crab_layout(), Blade(), speeds, tried))


def sheet(of: CutPlan) -> str:
    (document,) = JobSheet().compose(of, Settings()).value
    assert document.name == "job-sheet.html"
    return document.data.decode()


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", re.sub(r"<style>.*?</style>", "", page, flags=re.S)))


def test_it_says_which_side_is_up_in_words() -> None:
    said = words(sheet(plan()))
    table = said[said.index("Which side up") :]
    coral, sand = (
        re.search(name + r".{0,60}?(Right|Wrong) side up (you see the [a-z]+)", table) for name in ("Coral", "Sand")
    )
    assert coral is not None
    assert sand is not None
    assert (coral[1], coral[2].strip()) == ("Wrong", "you see the paper")
    assert (sand[1], sand[2].strip()) == ("Right", "you see the print")


def test_it_says_where_to_stick_each_rectangle_and_how_large_to_cut_it() -> None:
    said = words(sheet(plan()))
    for swatch in plan().layout.mats[0].swatches:
        across = min(swatch.x, 203.2 - swatch.x - swatch.width)
        along = min(swatch.y, 304.8 - swatch.y - swatch.height)
        for distance in (across, along):
            assert f"({distance:.1f} mm) from the".replace(".0 mm", " mm") in said
    assert re.search(r"\d/8 in|\d/4 in|\d/2 in|\d in", said)


def test_numbers_follow_the_order_of_cutting() -> None:
    said = words(sheet(plan()))
    first = plan().mats[0].cuts[0].ref.fabric
    label = {"sand": "Sand &amp; shells", "coral": "Coral print"}[first]
    assert f"1. {label}" in said
    order = said[said.index("in this order") :]
    labels = sorted(("Sand &amp; shells", "Coral print"), key=order.index)
    assert labels[0] == label


def test_markings_and_passes_are_told() -> None:
    made = plan()
    twice = replace(made.mats[0], cuts=tuple(replace(cut, passes=2) for cut in made.mats[0].cuts))
    said = words(sheet(replace(made, mats=(twice,))))
    assert "2 markings drawn" in said
    assert "every outline 2 times" in said


def test_a_mat_that_is_cut_several_times_counts_as_many() -> None:
    made = plan()
    layout = replace(made.layout, mats=(MatLayout(made.layout.mats[0].swatches, times=3),))
    said = words(sheet(replace(made, layout=layout)))
    assert "cut 3 times" in said
    assert "Mats 3" in said
    assert "Pieces 21" in said


def test_warnings_come_before_anything_is_done_each_once_and_with_what_to_do() -> None:
    narrow = warning("narrow", "A bridge is narrow.", "/home/someone/crab.svg: shell", "Draw it wider.")
    wide = warning("narrow", "A leg is narrow.", "crab.svg: leg", "Draw it wider.")
    told = replace(plan(), findings=(narrow, wide, narrow, note("unit-assumed", "The unit was assumed.")))
    said = words(sheet(told))
    assert said.count("A bridge is narrow.") == said.count("Draw it wider.") == 1
    assert "crab.svg: leg: A leg is narrow." in said
    assert "someone" not in said  # the same words whoever runs it
    assert "The unit was assumed." not in said
    order = ["Look out", "Draw it wider.", "manual of the machine", "Cloth to get ready", "What is cut, in this order"]
    assert sorted(order, key=said.index) == order


def test_markings_are_not_to_be_cut_nor_drawn_on_paper() -> None:
    said = words(sheet(plan()))
    look_out = said[said.index("Look out") : said.index("Mats")]
    assert "set it to draw, or switch it off; software may otherwise cut it" in look_out
    # both markings are on the coral, which keeps its paper and lies wrong side up
    assert "The markings on Coral print would be drawn on the paper and peeled off with it" in look_out
    assert "by hand from the placement guide" in look_out
    plain = plan()
    unmarked = tuple(replace(mat, cuts=tuple(c for c in mat.cuts if c.kind == "cut")) for mat in plain.mats)
    assert "Look out" not in words(sheet(replace(plain, mats=unmarked)))


def test_its_title_names_the_job() -> None:
    page = sheet(replace(plan(), title="Kit reef, 20 kits, for mat-12x12"))
    assert "<title>Job sheet: Kit reef, 20 kits, for mat-12x12</title>" in page
    assert "<h1>Job sheet: Kit reef, 20 kits, for mat-12x12</h1>" in page


def test_cloth_that_is_there_is_named_and_not_bought() -> None:
    made = plan()
    stock = (Stock("coral", 508.0, 457.2, 3, "fat quarter"),)
    cut = CutFrom(0, 1, 0, 0, 2, Box(0, 0, 160, 200))
    said = words(sheet(replace(made, layout=replace(made.layout, stock=stock, cut_from=(cut,)))))
    coral = said[said.index("Coral print with web") :]
    assert re.match(r"Coral print with web .{0,120}1 cut from fat quarter 2 Fusible web for all", coral)
    assert re.search(r"to buy: [\d/ ]+yd \(\d+ cm\), 17 in wide ?, or [\d/ ]+yd \(\d+ cm\), 20 in wide ?\.", coral)
    assert re.search(r"\d Coral print from fat quarter 2 ", said[said.index("Which side up") :])
    assert re.search(r"Sand &amp; shells .{0,120}To buy: .{0,20} of cloth", said)


def test_a_scrap_is_used_whole_or_it_is_said_where_in_it_to_cut() -> None:
    made = plan()
    mat = made.layout.mats[0]
    n = next(n for n, swatch in enumerate(mat.swatches) if swatch.fabric == "coral")
    width, height = mat.swatches[n].cloth_size

    def said(outline: Sequence[complex], stock: Stock, box: Box) -> str:
        scrap = replace(stock, outline=region(polygon(outline)))
        cut = CutFrom(0, n, 0, 0, 1, box)
        return sheet(replace(made, layout=replace(made.layout, stock=(scrap,), cut_from=(cut,))))

    corner = Stock("coral", width, height, 1, "coral corner")
    whole = said([0, width, complex(width / 2, height), complex(0, height)], corner, Box(0, 0, width, height))
    page = words(whole)
    assert "the whole coral corner" in page[page.index("Cloth to get ready") : page.index("Fusible web for")]
    assert "cut from coral corner" not in page
    assert "over all; it is not cut" in page
    bit = Stock("coral", width + 50.8, height + 25.4, 1, "coral bit")
    cut = said(
        [0, bit.width, complex(bit.width, height), complex(bit.width - 20, height + 25.4), complex(0, height + 25.4)],
        bit,
        Box(12.7, 0, width + 12.7, height),
    )
    assert "1 cut from coral bit" in words(cut)
    assert "1/2 in from its left end, at its bottom" in words(cut)
    assert "Where in the scrap to cut" in cut


@pytest.mark.parametrize(
    ("stock", "bought"),
    [
        ((), True),
        ((Stock("coral", 508.0, 457.2, 3, "fat quarter"),), False),
        ((Stock("coral", 1117.6, None, 1, "yardage"),), True),
        ((Stock("coral", 20.0, 20.0, 1, "snippet"),), True),  # does not suffice
    ],
)
def test_job_sheet_and_cloth_report_say_the_same_of_what_to_buy(stock: tuple[Stock, ...], bought: bool) -> None:
    """Two fabrics of one cloth, of which the sheet must not say "together with" where the report says "nothing"."""
    made = plan()
    sand, coral = made.layout.fabrics
    fabrics = (replace(sand, cloth="coral"), coral)
    of = replace(made, layout=replace(made.layout, fabrics=fabrics, stock=stock))
    of = with_test_cuts(of)[0]  # cut on a scrap: neither page counts it
    page = sheet(of)
    report = words(ClothReport().compose(of, ClothReportSettings()).value[0].data.decode())
    table = words(page[page.index("Cloth to get ready") : page.index("Fusible web for all")])
    yards = re.findall(r"[\d/]+ yd(?= \()", table)
    assert ("To buy" in table, "above, from one cloth" in table) == (bought, bought)
    assert yards == re.findall(r"[\d/]+ yd", report[: report.index("Fusible web")])
    webs = re.findall(r"[\d/]+ yd(?= \()", words(page[page.index("Fusible web for all") :]))
    assert webs
    assert all(f" {web}" in report for web in webs)
    assert "any scrap of that cloth" in table


def test_bare_cloth_with_a_margin_is_told_as_that_and_nothing_is_said_of_paper_or_web() -> None:
    made = plan()
    fabrics = tuple(replace(each, preparation="bare", paper=None, margin=6.35) for each in made.layout.fabrics)
    said = words(sheet(replace(made, layout=replace(made.layout, fabrics=fabrics))))
    assert said.count(f"without web; includes {both(6.35)} to turn under") == 2
    assert "paper" not in said
    assert "web onto" not in said
    assert "Fusible web" not in said


def test_a_letter_is_explained_only_where_it_stands_on_the_map() -> None:
    """Coral lies wrong side up, sand right side up; large boxes have room for the words, small ones for the letter."""
    made = plan()
    assert "R: right side up" not in sheet(made)
    assert "W: wrong side up" not in sheet(made)
    mat = made.layout.mats[0]
    small = tuple(replace(swatch, width=20.0, height=20.0) for swatch in mat.swatches if swatch.fabric == "coral")
    small += tuple(swatch for swatch in mat.swatches if swatch.fabric != "coral")
    cuts = tuple(MatCuts(()) for _ in made.mats)
    of = replace(made, layout=replace(made.layout, mats=(replace(mat, swatches=small),)), mats=cuts)
    assert "W: wrong side up. Distances" in words(sheet(of))
    assert "R: right side up" not in words(sheet(of))


def test_one_of_a_thing_is_no_several() -> None:
    made = plan()
    first = next(cut for cut in made.mats[0].cuts if cut.kind == "cut")
    one = replace(made, mats=(MatCuts((first,)),))
    assert "1 outline " in words(sheet(one))
    assert "the tool comes down 1 time " in words(sheet(one))


def test_a_name_that_runs_from_right_to_left_reads_alike_in_the_heading_and_below_it() -> None:
    """Isolates keep it apart from what stands around it, as dir="auto" does (Unicode Standard Annex 9)."""
    made = replace(plan(), title="שושנה-cherry, small, for mat-8x12")
    assert "<h1>Job sheet: ⁨שושנה-cherry⁩, small, for mat-8x12</h1>" in sheet(made)


def test_the_size_card_is_named_only_where_there_is_one() -> None:
    assert "size card" not in sheet(plan())
    assert "on the size card" in sheet(replace(plan(), formats=("dxf", "job-sheet", "size-card")))


def test_how_the_cloth_runs_is_said_as_its_grain_asks() -> None:
    def of(grain: Grain, turn: float = 0.0) -> str:
        made = plan()
        fabrics = tuple(replace(fabric, grain=grain) for fabric in made.layout.fabrics)
        mat = made.layout.mats[0]
        swatches = tuple(replace(swatch, turn=turn) for swatch in mat.swatches)
        layout = replace(made.layout, fabrics=fabrics, mats=(replace(mat, swatches=swatches),))
        return words(sheet(replace(made, layout=layout)))

    assert "print toward" not in of("any") + of("straight") + of("lengthwise")
    assert "the selvage top to bottom" in of("lengthwise")
    assert "the selvage left to right" in of("straight", 90.0)
    assert re.search(r"turned: cut as [\d/ ]+in x [\d/ ]+in", of("straight", 90.0))
    directional = of("directional")
    assert directional.count("the top of the print toward the top") == 2
    # only the coral lies wrong side up, with paper over its print
    assert directional.count("mark an arrow on the paper first, toward the top of the print") == 1


def test_inches_that_are_not_the_millimeters_are_about() -> None:
    # 5 in is 127 mm and 1 1/4 in 31.75 mm
    assert about(126.8) == "about 5 in (126.8 mm)"
    assert about(126.9) == "5 in (126.9 mm)"
    assert about(31.4) == "about 1 1/4 in (31.4 mm)"
    assert about(139.7) == "5 1/2 in (139.7 mm)"


def test_left_and_right_are_told_apart_when_the_pieces_are_sorted() -> None:
    page = words(sheet(plan()))
    assert "When the pieces are cut" in page
    claws = "Left claw (Coral print, 4 on the placement guide) and Right claw (Coral print, 5 on the placement guide)"
    assert f"{claws} are mirror images" in page


def test_no_time_is_made_up() -> None:
    assert "Time" not in words(sheet(plan()))
    assert re.search(r"Time \d+ (s|min)", words(sheet(plan(speeds=Speeds(cutting=50)))))


def test_only_what_was_written_down_is_printed_of_settings_that_worked() -> None:
    assert "Settings that were found" not in words(sheet(plan()))
    cotton = Tried("cotton with web", "fused", depth=4.0, passes=2, remark="New blade.")
    felt = Tried("wool felt", "bare", force=120.0)
    said = words(sheet(plan(cotton, felt)))
    assert "Sand &amp; shells, Coral print, as cotton with web: depth 4, 2 passes. New blade." in said
    assert "every outline 2 times" in said
    assert "force" not in said  # no fabric here is bare
    coral = Tried("batik", fabrics=("coral",), speed=Speed(76.2, "3 in/s"))
    said = words(sheet(plan(cotton, coral)))
    assert "Sand &amp; shells, as cotton with web: depth 4, 2 passes." in said
    assert "Coral print, as batik: speed 3 in/s." in said


def test_hostile_remarks_are_only_words() -> None:
    page = sheet(plan(Tried("<b>felt</b>", "fused", remark="<script>alert(1)</script>")))
    assert "<script" not in page
    assert "&lt;b&gt;felt" in page


def test_the_makers_manual_and_local_rules_come_first() -> None:
    said = words(sheet(plan()))
    assert "manual of the machine's maker and the rules of the place where you work come first" in said.replace(
        "&#39;", "'"
    )


def test_the_map_is_a_plain_drawing() -> None:
    page = sheet(plan())
    drawing = page[page.index("<svg") : page.index("</svg>")]
    # the mat and one box a rectangle, no lines across it, nothing red
    assert drawing.count("<rect") == 1 + len(plan().layout.mats[0].swatches)
    assert not re.search(r"<line|<path|<image|<pattern|stroke=\"(red|#f00|#ff0000)", drawing)


def test_hostile_names_are_only_words() -> None:
    made = plan()
    fabrics = tuple(replace(f, label="<script>alert(1)</script>") for f in made.layout.fabrics)
    page = sheet(replace(made, layout=replace(made.layout, fabrics=fabrics)))
    assert "<script" not in page
    assert "&lt;script&gt;" in page


def test_nothing_is_loaded_from_elsewhere_and_bytes_repeat() -> None:
    page = sheet(plan())
    assert not re.search(r"<script|https?://|src=|@import|url\(", page)
    assert page == sheet(plan())
    assert [writer.name for writer in clothpath_writers()] == ["job-sheet"]
