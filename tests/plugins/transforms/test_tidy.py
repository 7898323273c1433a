"""The tidy step: every accident that it is for, every one that it must leave, and that twice is once."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import Outline, Path, Points, area, circle, flattened, open_path, polygon
from clothpath.design import Design, Drawn, Fabric, Marking, Piece
from clothpath.findings import Finding
from clothpath.plugins.transforms.tidy import Tidy, TidySettings
from clothpath.regions import Region, as_polygon, region, region_area, xy
from clothpath.registry import installed

INK = Drawn(stroke="#203040", layer="lines")
FILL = Drawn(fill="#c8553d", layer="fills")


def square(at: complex, side: float) -> Outline:
    return polygon([at, at + side, at + side * (1 + 1j), at + side * 1j])


def piece(name: str, of: Outline | Region, drawn: Drawn = INK, fabric: str = "shell") -> Piece:
    return Piece(name, name, of if isinstance(of, Region) else region(of), fabric, drawn=drawn)


def mark(name: str, *points: complex, drawn: Drawn = INK) -> Marking:
    path = open_path(points[0], [(point,) for point in points[1:]])
    return Marking(name, name, path, drawn=replace(drawn, element=name))


def design(*items: Piece | Marking) -> Design:
    pieces = [item for item in items if isinstance(item, Piece)]
    numbered = tuple(
        Piece(p.id, p.label, p.region, p.fabric, order=i, drawn=p.drawn) for i, p in enumerate(pieces, start=1)
    )
    fabrics = tuple(Fabric(key, key) for key in dict.fromkeys(p.fabric for p in pieces))
    return Design("crab", numbered, tuple(item for item in items if isinstance(item, Marking)), fabrics)


def tidied(of: Design, **settings: str) -> tuple[Design, list[Finding]]:
    outcome = Tidy().apply(of, TidySettings(**settings))
    again = Tidy().apply(outcome.value, TidySettings(**settings))
    assert again.value == outcome.value  # idempotent, in every test here
    assert {finding.severity for finding in again.findings} <= {"warning"}
    return outcome.value, list(outcome.findings)


def codes(findings: list[Finding]) -> list[str]:
    return [finding.code for finding in findings]


def test_a_tidy_design_is_returned_as_it_is() -> None:
    clean = design(piece("a", circle(0, 30)), piece("b", square(100, 40)), mark("vein", 0, 10 + 3j))
    result, findings = tidied(clean)
    assert result is clean
    assert findings == []


def test_a_line_that_all_but_closes_becomes_a_piece_with_its_gap_told() -> None:
    result, findings = tidied(design(mark("m", 0, 50, 50 + 50j, 50j, 0.4j)))
    assert [p.id for p in result.pieces] == ["m"]
    assert region_area(result.pieces[0].region) == pytest.approx(2500)
    assert result.markings == ()
    assert codes(findings)[0] == "gap-closed"
    assert "0.016 in (0.4 mm)" in findings[0].message
    assert 'the piece "m"' in findings[0].message
    assert "0 in (0 mm) from the left and" in findings[0].where
    assert result.fabrics[0].color == "#203040"


def test_what_is_alike_is_told_once_with_its_places() -> None:
    """Four sides drawn one by one, 0.3 mm apart at every corner, are one outline with four gaps, and one finding."""
    sides = [mark(f"s{n}", *(25 + 25j + 1j**n * corner for corner in (-25 - 24.8j, 25 - 25j))) for n in range(4)]
    result, findings = tidied(design(*sides))
    assert len(result.pieces) == 1
    (closed,) = [each for each in findings if each.code == "gap-closed"]
    assert "at 4 places of the drawing: " in closed.where


def test_a_line_without_an_id_of_its_own_becomes_a_piece_with_the_next_number() -> None:
    nameless = replace(mark("marking-1", 0, 50, 50 + 50j, 50j, 0.4j), drawn=INK)
    result, findings = tidied(design(piece("piece-2", square(100, 40)), nameless))
    assert {(p.id, p.label) for p in result.pieces} == {("piece-2", "piece-2"), ("piece-3", "piece-3")}
    assert 'it is no marking now, but the outline of the piece "piece-3"' in findings[0].message


def test_a_wider_gap_stays_a_marking_unless_the_setting_allows_it() -> None:
    open_line = design(mark("m", 0, 50, 50 + 50j, 50j, 0.8j))
    assert tidied(open_line)[0] is open_line
    assert len(tidied(open_line, gap="1 mm")[0].pieces) == 1


def test_lines_that_are_nearly_closed_are_a_warning_with_the_setting_that_closes_them() -> None:
    leaf = [mark("a", 0, 100), mark("b", 100.8, 100 + 80j), mark("c", 100 + 80j, 0)]
    finding = next(f for f in tidied(design(*leaf, piece("dot", circle(200, 10))))[1] if f.code == "nearly-closed")
    assert finding.severity == "warning"
    assert "(0.8 mm) apart" in finding.message
    assert '--set tidy.gap="1 mm"' in finding.hint
    assert len(tidied(design(*leaf), gap="1 mm")[0].pieces) == 1


def test_open_lines_far_beyond_all_pieces_are_a_warning() -> None:
    findings = tidied(design(mark("a", 0, 100, 100 + 80j), piece("dot", circle(0, 10))))[1]
    assert [(f.code, f.severity) for f in findings] == [("lines-beyond-pieces", "warning")]


def test_a_vein_within_a_piece_is_no_warning() -> None:
    assert tidied(design(mark("vein", -20, 20 + 5j), piece("leaf", circle(0, 30))))[1] == []


def test_lines_that_meet_end_to_end_become_a_piece() -> None:
    result, findings = tidied(design(mark("a", 0, 50), mark("b", 50 + 50j, 50), mark("c", 50 + 50j, 0)))
    assert region_area(result.pieces[0].region) == pytest.approx(1250)
    assert codes(findings) == ["lines-joined"]


def test_a_ring_of_dashes_stays_a_ring_of_dashes() -> None:
    """Dashes of 2 mm with 0.4 mm between them, round an eye."""
    turns = [2 * pi * k / 26 for k in range(26)]
    ends = [(complex(10 * np.exp(1j * t)), complex(10 * np.exp(1j * (t + 0.2)))) for t in turns]
    dashes = design(*(mark(f"d{i}", a, b) for i, (a, b) in enumerate(ends)))
    assert 0.3 < abs(ends[1][0] - ends[0][1]) < 0.5
    assert tidied(dashes)[0] is dashes


def test_lines_of_another_layer_or_role_are_left_alone() -> None:
    other = Drawn(stroke="#203040", layer="other")
    lines = design(mark("a", 0, 50), mark("b", 50, 50 + 50j, drawn=other), mark("c", 50 + 50j, 0))
    assert tidied(lines)[0] is lines


def test_lines_that_meet_in_a_web_are_left_as_markings() -> None:
    """Quilting lines: what they enclose is nobody's piece."""
    web = design(mark("a", 0, 50, 50 + 50j), mark("b", 0, 50 + 50j), mark("c", 0, 50j, 50 + 50j), mark("d", 0, -20))
    assert tidied(web)[0] is web


def test_a_closed_line_takes_the_fabric_of_its_layer_and_color() -> None:
    result, _ = tidied(design(piece("a", square(100, 30), fabric="wool"), mark("m", 0, 50, 50 + 50j, 0.1j)))
    assert [p.fabric for p in result.pieces] == ["wool", "wool"]
    assert [p.order for p in result.pieces] == [1, 2]


def test_a_hole_is_assigned_once_its_outline_is_closed() -> None:
    result, findings = tidied(design(piece("eye", circle(25 + 25j, 5)), mark("m", 0, 50, 50 + 50j, 50j, 0.4j)))
    (only,) = result.pieces
    assert only.id == "m"
    assert region_area(only.region) == pytest.approx(2500 - 25 * pi, rel=1e-4)
    assert "hole-assigned" in codes(findings)


def test_a_line_may_have_the_id_of_a_piece() -> None:
    result, _ = tidied(design(piece("a", circle(200, 30)), mark("a", 0, 50, 50 + 50j, 50j, 0.4j)))
    assert [p.id for p in result.pieces] == ["a", "a-2"]
    assert [region_area(p.region) for p in result.pieces] == pytest.approx([900 * pi, 2500], rel=1e-5)


def test_a_filled_shape_within_an_outline_stays_a_piece() -> None:
    eye = piece("eye", circle(25 + 25j, 5), Drawn(fill="#203040", layer="lines"))
    assert len(tidied(design(eye, mark("m", 0, 50, 50 + 50j, 50j, 0.4j)))[0].pieces) == 2


def test_nodes_that_do_nothing_are_merged_and_counted() -> None:
    untidy = piece("a", polygon([0, 20, 50, 50, 50 + 50j, 50 + 70j, 50 + 50j, 50j]))
    result, findings = tidied(design(untidy))
    assert len(result.pieces[0].region.outer) == 4
    assert set(codes(findings)) == {"lines-merged", "line-without-length", "line-drawn-twice"}


def test_an_outline_drawn_twice_is_cut_once() -> None:
    result, findings = tidied(design(piece("a", circle(0, 30)), piece("b", circle(0.03, 30))))
    assert [p.id for p in result.pieces] == ["a"]
    assert codes(findings) == ["outline-drawn-twice"]


def test_of_a_fill_and_a_line_round_it_the_fill_stays() -> None:
    result, _ = tidied(design(piece("line", circle(0, 30), INK, "ink"), piece("fill", circle(0, 30), FILL, "shell")))
    assert [p.id for p in result.pieces] == ["fill"]
    assert [fabric.key for fabric in result.fabrics] == ["shell"]


def test_two_fabrics_of_one_shape_are_both_kept_and_told() -> None:
    """A lining, perhaps; nobody can know."""
    lined = design(piece("a", circle(0, 30), FILL, "shell"), piece("b", circle(0, 30), FILL, "wool"))
    result, findings = tidied(lined)
    assert len(result.pieces) == 2
    assert [(f.code, f.severity) for f in findings] == [("piece-on-piece", "warning")]


def test_shapes_that_differ_by_more_than_a_hair_are_two() -> None:
    assert len(tidied(design(piece("a", circle(0, 30)), piece("b", circle(0.2, 30))))[0].pieces) == 2


def test_a_shape_with_a_hole_is_not_the_shape_without() -> None:
    ring = piece("a", region(circle(0, 30), [circle(0, 10)]))
    assert len(tidied(design(ring, piece("b", circle(0, 30))))[0].pieces) == 2


def test_specks_are_dropped_holes_too() -> None:
    holed = piece("a", region(circle(0, 30), [circle(10, 0.3), circle(-10, 5)]))
    result, findings = tidied(design(holed, piece("dust", square(100, 0.4))))
    assert [p.id for p in result.pieces] == ["a"]
    assert len(result.pieces[0].region.holes) == 1
    assert codes(findings) == ["speck-dropped", "speck-dropped"]


def test_a_long_thin_piece_is_no_speck() -> None:
    assert len(tidied(design(piece("a", polygon([0, 50, 50 + 0.5j, 0.5j]))))[0].pieces) == 1


def test_a_curl_at_a_corner_is_cut_off() -> None:
    """The line overshoots the corner by 0.2 mm, turns round and goes on."""
    curl = polygon([0.2, 50, 50 + 50j, 50j, -0.2j, 0.2 - 0.2j, 0.2 + 0.2j, 0.1 + 0.2j, 0.1 - 0.3j])
    assert not as_polygon(region(curl)).is_valid
    result, findings = tidied(design(piece("a", curl)))
    (only,) = result.pieces
    assert codes(findings) == ["crossing-mended"]
    assert as_polygon(only.region).is_valid
    assert region_area(only.region) == pytest.approx(2500, abs=0.2)


def test_a_star_drawn_in_one_go_is_its_outline() -> None:
    """Five lines from tip to tip; area of a pentagram with tips at R: R^2 10 tan(pi/10) / (3 - tan(pi/10)^2)."""
    star = polygon([complex(30 * np.exp(1j * pi * (0.5 + 0.8 * k))) for k in range(5)])
    result, findings = tidied(design(piece("a", star)))
    t = np.tan(pi / 10)
    assert region_area(result.pieces[0].region) == pytest.approx(900 * 10 * t / (3 - t * t), rel=1e-6)
    assert codes(findings) == ["crossing-mended"]


def test_a_bow_tie_is_reported_and_left() -> None:
    bow = design(piece("a", polygon([0, 50 + 50j, 50, 50j])))
    result, findings = tidied(bow)
    assert result is bow
    assert [(f.code, f.severity) for f in findings] == [("crossing-unclear", "warning")]
    assert "1 in (25 mm) from the left and 1 in (25 mm) from the bottom of the drawing" in findings[0].where


def test_two_areas_that_touch_in_a_point_are_two_pieces() -> None:
    touching = polygon([0, 20, 20 + 20j, 40 + 20j, 40 + 40j, 20 + 40j, 20 + 20j, 20j])
    result, findings = tidied(design(piece("a", touching)))
    assert sorted(region_area(p.region) for p in result.pieces) == pytest.approx([400, 400])
    assert [p.id for p in result.pieces] == ["a", "a-2"]
    assert codes(findings) == ["outline-split"]


def test_a_hole_that_pokes_out_is_not_clear() -> None:
    poking = Region(region(square(0, 50)).outer, (region(circle(50, 1), [circle(50 + 25j, 10)]).holes[0],))
    result, findings = tidied(design(piece("a", poking)))
    assert result.pieces[0].region == poking
    assert codes(findings) == ["crossing-unclear"]


def test_outlines_are_turned_right() -> None:
    """Outer outlines counterclockwise, holes clockwise (design.md, section 6), whatever a plugin made of them."""
    wrong = Region(polygon([0, 50j, 50 + 50j, 50]), (circle(25 + 25j, 5),))
    result, _ = tidied(design(piece("a", wrong)))
    fixed = result.pieces[0].region
    assert area(fixed.outer) > 0 > area(fixed.holes[0])


def test_markings_without_length_and_drawn_twice_go() -> None:
    result, findings = tidied(design(mark("a", 0, 30), mark("b", 30, 0), mark("c", 7, 7)))
    assert [m.id for m in result.markings] == ["a"]
    assert set(codes(findings)) == {"line-drawn-twice", "line-without-length"}


def test_a_marking_on_a_piece_that_goes_is_on_none() -> None:
    dust = piece("dust", square(100, 0.4))
    notch = Marking("n", "n", open_path(0, [(5,)]), drawn=INK, on="dust")
    result, _ = tidied(design(piece("a", circle(0, 30)), dust, notch))
    assert result.markings[0].on is None


def test_pieces_that_sewing_geometry_has_changed_are_left_alone() -> None:
    grown = Piece(
        "a", "a", region(polygon([0, 20, 50, 50 + 50j, 50j])), "shell", picture=region(circle(0, 20)), drawn=INK
    )
    changed = Design("crab", (grown,), (), (Fabric("shell", "shell"),))
    assert tidied(changed)[0] is changed


def test_findings_of_one_kind_are_told_up_to_a_dozen() -> None:
    _, findings = tidied(
        design(piece("a", circle(0, 30)), *(piece(f"d{i}", square(100 + 5 * i, 0.4)) for i in range(20)))
    )
    assert len(findings) == 13
    assert findings[-1].message == "8 more of the same (speck-dropped)."


def test_it_is_a_plugin_that_can_be_found() -> None:
    assert "tidy" in installed().transforms


@st.composite
def untidy_designs(draw: st.DrawFn) -> Design:
    """Pieces and lines with accidents of every kind, near one another and on one another."""
    items: list[Piece | Marking] = []
    grid = st.integers(0, 4)
    for i in range(draw(st.integers(0, 5))):
        at = complex(draw(grid), draw(grid)) * draw(st.sampled_from([0.02, 10.0, 30.0]))
        kind = draw(st.sampled_from(["circle", "square", "scribble", "dust", "ring"]))
        drawn = draw(st.sampled_from([INK, FILL]))
        if kind == "circle":
            items.append(piece(f"p{i}", circle(at, 20), drawn))
        elif kind == "square":
            items.append(
                piece(f"p{i}", polygon([at, at + 10, at + 10, at + 30, at + 30 + 30j, at + 30j, at + 10j]), drawn)
            )
        elif kind == "ring":
            items.append(
                piece(f"p{i}", region(circle(at, 20), [circle(at + 3, draw(st.sampled_from([0.3, 8.0, 19.0])))]))
            )
        elif kind == "dust":
            items.append(piece(f"p{i}", square(at, 0.3), drawn))
        else:
            corners = draw(st.lists(st.tuples(grid, grid), min_size=3, max_size=7))
            items.append(piece(f"p{i}", polygon([10 * complex(*corner) for corner in corners]), drawn))
    for i in range(draw(st.integers(0, 6))):
        ends = draw(st.lists(st.tuples(grid, grid, st.sampled_from([0, 0, 0.3, 0.05])), min_size=2, max_size=5))
        items.append(mark(f"m{i}", *(20 * complex(x, y) + off for x, y, off in ends)))
    return design(*items)


@given(untidy_designs())
def test_tidying_twice_is_tidying_once(untidy: Design) -> None:
    result, _ = tidied(untidy)
    assert len({p.id for p in result.pieces}) == len(result.pieces)
    assert {p.fabric for p in result.pieces} == {fabric.key for fabric in result.fabrics}
    assert [p.order for p in result.pieces] == sorted({p.order for p in result.pieces})


@settings(max_examples=25)
@given(untidy_designs())
def test_what_is_kept_is_where_it_was(untidy: Design) -> None:
    """Nothing is drawn anew: every piece lies on lines that were drawn, but for half the width of a gap."""
    result, _ = tidied(untidy)
    paths = [ring for p in untidy.pieces for ring in p.region] + [m.path for m in untidy.markings]
    drawn = shapely.MultiLineString([shapely.LineString(xy(_all_round(path))) for path in paths])
    shapely.prepare(drawn)
    for p in result.pieces:
        points = shapely.points(xy(np.concatenate([_all_round(ring) for ring in p.region])))
        assert shapely.distance(points, drawn).max() < 0.5 / 2 + 0.02


def _all_round(path: Path) -> Points:
    return np.append(flattened(path, 0.005), path.end)
