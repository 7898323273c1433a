"""The page beside the machine: what a person must know, measured as a person measures."""

from __future__ import annotations

import re
from dataclasses import replace

from writer_sheets import crab_layout

from clothpath.contracts import Settings
from clothpath.cutorder import in_order
from clothpath.cutplan import Blade, CutPlan, as_laid
from clothpath.layout import MatLayout
from clothpath.plugins.writers.job_sheet import JobSheet, clothpath_writers
from clothpath.tried import NO_SPEEDS, Speeds, Tried
from clothpath.units import Speed


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
    coral, sand = (re.search(name + r".{0,60}?(Right|Wrong) side up ([a-z ]+)", said) for name in ("Coral", "Sand"))
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
