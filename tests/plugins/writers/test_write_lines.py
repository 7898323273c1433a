"""Which lines a file carries, in what order, under what names."""

import re
from dataclasses import replace

from writer_sheets import crab_layout, crab_sheet

from clothpath.curves import OpenPath
from clothpath.cutplan import Blade, CutSheet, as_laid, sheets
from clothpath.files.linework import (
    blade_of,
    by_fabric,
    carried,
    layers,
    lines,
    marks_first,
    passes_note,
    passes_once,
    sheet_title,
)


def interleaved() -> CutSheet:
    """The crab with its cuts in an order that goes back and forth between the fabrics."""
    sheet = crab_sheet()
    return replace(sheet, cuts=(*sheet.cuts[::2], *sheet.cuts[1::2]))


def test_by_fabric_keeps_the_order_within_each() -> None:
    sheet = interleaved()
    ordered = by_fabric(sheet).cuts
    assert [cut.kind for cut in ordered][:2] == ["mark", "mark"]
    fabrics = [cut.ref.fabric for cut in ordered if cut.kind == "cut"]
    assert fabrics == ["sand"] * 2 + ["coral"] * 7
    assert [cut for cut in ordered if cut.kind == "cut" and cut.ref.fabric == "coral"] == [
        cut for cut in sheet.cuts if cut.kind == "cut" and cut.ref.fabric == "coral"
    ]


def test_marks_come_first_where_tools_are_changed() -> None:
    sheet = interleaved()
    ordered = marks_first(sheet).cuts
    assert [cut.kind for cut in ordered] == ["mark"] * 2 + ["cut"] * 9
    assert [cut for cut in ordered if cut.kind == "cut"] == [cut for cut in sheet.cuts if cut.kind == "cut"]


def test_what_can_only_cut_leaves_markings_out() -> None:
    assert {cut.kind for cut in carried(crab_sheet(), "leave-out").cuts} == {"cut"}
    assert carried(crab_sheet(), "draw") == crab_sheet()


def test_each_line_says_what_it_is() -> None:
    sheet = crab_sheet()
    on = layers(sheet)
    assert [(layer.id, layer.title) for layer in on] == [
        ("sand", "Sand & shells"),
        ("coral", "Coral print"),
        ("markings", "Markings, not cut"),
    ]
    named = {line.id: line.title for line in lines(sheet, on)}
    assert len(named) == len(sheet.cuts)
    assert named["shell-1-hole-2"] == "Shell, Coral print, copy 1, hole 2"
    assert named["eye-2"] == "Eye, Coral print, copy 2"
    assert named["shell-1-mark-1"] == "Shell, Coral print, copy 1, marking 1"
    assert sheet_title(sheet) == "crab, mat 1 of 1"


def test_ids_differ_where_names_clash() -> None:
    sheet = crab_sheet()
    cuts = tuple(replace(cut, ref=replace(cut.ref, piece="Markings", copy=1)) for cut in sheet.cuts)
    keys = {"sand": "markings", "coral": "MARKINGS"}
    fabrics = tuple(replace(fabric, key=keys[fabric.key]) for fabric in sheet.fabrics)
    cuts = tuple(replace(cut, ref=replace(cut.ref, fabric=keys[cut.ref.fabric])) for cut in cuts)
    clashing = replace(sheet, cuts=cuts, fabrics=fabrics)
    on = layers(clashing)
    ids = [layer.id for layer in on] + [line.id for line in lines(clashing, on)]
    assert len({name.lower() for name in ids}) == len(ids)
    assert all(re.fullmatch(r"[A-Za-z][A-Za-z0-9-]*", name) for name in ids)


def test_several_designs_are_told_apart() -> None:
    sheet = crab_sheet()
    first = replace(sheet.cuts[0], ref=replace(sheet.cuts[0].ref, design="whale"))
    both = replace(sheet, cuts=(first, *sheet.cuts))
    names = [line.id for line in lines(both, layers(both))]
    assert names[:2] == ["whale-leg-left-1", "crab-leg-left-1"]


def test_passes_are_told_where_the_file_cannot() -> None:
    sheet = crab_sheet()
    twice = replace(sheet, cuts=tuple(replace(cut, passes=2) for cut in sheet.cuts))
    (finding,) = passes_note(twice, "svg")
    assert "2 times" in finding.message
    assert passes_note(sheet, "svg") == ()
    assert passes_once(twice) == sheet
    mixed = replace(sheet, cuts=tuple(replace(cut, passes=2 if cut.ref.fabric == "coral" else 1) for cut in sheet.cuts))
    (finding,) = passes_note(mixed, "svg")
    assert "Coral print" in finding.message
    assert "Sand" not in finding.message


def test_compensated_paths_are_declared() -> None:
    blade = Blade(0.25, 1.0, "file")
    (sheet,) = sheets(as_laid(crab_layout(), blade), "mat")
    assert blade_of(sheet).blade_offset is None
    moved = tuple(replace(cut, path=OpenPath(cut.path.nodes, cut.path.straight, cut.path.end)) for cut in sheet.cuts)
    declared = blade_of(replace(sheet, cuts=moved))
    assert (declared.blade_offset, declared.overcut) == (0.25, 1.0)
    by_machine = replace(sheet.plan, blade=Blade(0.25, 1.0, "machine"))
    assert blade_of(replace(sheet, plan=by_machine, cuts=moved)).blade_offset is None
