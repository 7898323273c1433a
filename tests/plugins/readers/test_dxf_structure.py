"""Blocks, fills, layers, colors and units of a DXF drawing."""

from __future__ import annotations

from math import pi, sqrt
from typing import Final

import pytest
import test_dxf_shapes as shapes
from dxf_text import (
    Case,
    arc,
    block,
    case,
    circle,
    dxf,
    edge_path,
    entity,
    expected,
    hatch,
    insert,
    layer,
    line,
    polyline_path,
    read,
    second_opinion,
    shown,
    square,
    tags,
)

UNIT: Final = (0.0, 0.0, 10.0, 10.0)
DISK: Final = block("disk", circle(0, 0, 5, layer="0"))
# fmt: off
BLOCKS: Final = [
    case("a block is put in its place", "INSERT 10", dxf(insert("disk", 20, 10), blocks=[DISK]), [25 * pi], (15, 5,
         25, 15)),
    case("scaled unevenly, a circle is an ellipse", "INSERT 41, 42", dxf(insert("disk", 0, 0, 41, 2, 42, 3),
         blocks=[DISK]), [150 * pi], (-10, -15, 10, 15)),
    case("turned after scaling", "INSERT 50", dxf(insert("disk", 0, 0, 41, 2, 42, 3, 50, 90), blocks=[DISK]), [150 *
         pi], (-15, -10, 15, 10)),
    case("mirrored by a negative scale", "INSERT 41", dxf(insert("corner", 0, 0, 41, -1), blocks=[block("corner",
         line(0, 0, 10, 0), line(10, 0, 10, 4), line(10, 4, 0, 0))]), [20], (-10, 0, 0, 4)),
    case("about its base point", "BLOCK 10", dxf(insert("disk", 20, 10), blocks=[block("disk", circle(0, 0, 5),
         base=(5, 5))]), [25 * pi], (10, 0, 20, 10)),
    case("a base point is scaled and turned with it", "BLOCK 10, INSERT 41, 50", dxf(insert("disk", 0, 0, 41, 2, 42,
         2, 50, 90), blocks=[block("disk", circle(0, 0, 5), base=(5, 0))]), [100 * pi], (-10, -20, 10, 0)),
    case("blocks in blocks", "INSERT in BLOCK", dxf(insert("outer", 100, 0, 41, 2, 42, 2), blocks=[DISK,
         block("outer", insert("disk", 10, 0))]), [100 * pi], (110, -10, 130, 10)),
    case("an array of two rows and three columns", "INSERT 70, 71, 44, 45", dxf(insert("disk", 0, 0, 70, 3, 71, 2,
         44, 20, 45, 30), blocks=[DISK]), [25 * pi] * 6, (-5, -5, 45, 35)),
    case("an array is turned as a whole", "INSERT 50, 70, 44", dxf(insert("disk", 0, 0, 50, 90, 70, 2, 44, 20),
         blocks=[DISK]), [25 * pi] * 2, (-5, -5, 5, 25)),
    case("an array's spacing is not scaled", "INSERT 41, 44", dxf(insert("disk", 0, 0, 41, 2, 42, 2, 70, 2, 44, 50),
         blocks=[DISK]), [100 * pi] * 2, (-10, -10, 60, 10)),
    case("a block seen in a mirror", "INSERT 210, arbitrary axis algorithm", dxf(insert("disk", 20, 10, 210, 0, 220,
         0, 230, -1), blocks=[DISK]), [25 * pi], (-25, 5, -15, 15)),
    case("layer 0 in a block is the insert's", "8 layer", dxf(insert("disk", 0, 0, layer="shell"), blocks=[DISK]),
         [25 * pi], None, layers=("shell",)),
    case("a layer of its own it keeps", "8 layer", dxf(insert("disk", 0, 0, layer="shell"), blocks=[block("disk",
         circle(0, 0, 5, layer="eye"))]), [25 * pi], None, layers=("eye",)),
    case("color 0 in a block is the insert's", "62 BYBLOCK", dxf(insert("disk", 0, 0, 62, 1), blocks=[block("disk",
         circle(0, 0, 5, 62, 0))]), [25 * pi], None, colors=("#ff0000",)),
    case("color 0 through two blocks", "62 BYBLOCK", dxf(insert("o", 0, 0, 62, 5), blocks=[block("disk", circle(0,
         0, 5, 62, 0)), block("o", insert("disk", 0, 0, 62, 0))]), [25 * pi], None, colors=("#0000ff",)),
    case("the layer's color on layer 0 is the insert's layer's", "62 BYLAYER", dxf(insert("disk", 0, 0,
         layer="shell"), layers=[layer("shell", 3)], blocks=[DISK]), [25 * pi], None, colors=("#00ff00",)),
    case("a block that is missing is told", "INSERT 2", dxf(insert("gone"), circle(5, 5, 5)), [25 * pi], UNIT,
         "block-missing", alike=False),
    case("a block that holds itself is told", "INSERT in BLOCK", dxf(insert("ring"), blocks=[block("ring", circle(5,
         5, 5), insert("ring", 1, 1))]), [25 * pi], UNIT, "block-in-itself", alike=False),
    case("another file is never opened", "BLOCK 70 bit 4", dxf(insert("other"), circle(5, 5, 5),
         blocks=[block("other", flags=4)]), [25 * pi], UNIT, "external-reference", alike=False),
]
# fmt: on

LINE_EDGES: Final = [
    tags(72, 1, 10, a, 20, b, 11, c, 21, d)
    for a, b, c, d in [(0, 0, 10, 0), (10, 0, 10, 10), (10, 10, 0, 10), (0, 10, 0, 0)]
]
# fmt: off
FILLS: Final = [
    case("a hatch is an area", "HATCH, polyline path", dxf(hatch(polyline_path([(0, 0, 0), (10, 0, 0), (10, 10, 0),
         (0, 10, 0)]))), [100], UNIT, colors=("#00ff00",)),
    case("a hatch with bulges", "HATCH 42", dxf(hatch(polyline_path([(0, 5, 1), (10, 5, 1)]))), [25 * pi], UNIT),
    case("a hatch with a hole", "HATCH 75 = 0: odd parity", dxf(hatch(polyline_path([(0, 0, 0), (10, 0, 0), (10, 10,
         0), (0, 10, 0)]), polyline_path([(3, 5, 1), (7, 5, 1)], 18)) ), [100 - 4 * pi], UNIT, holes=1),
    case("an island in the hole, by parity", "HATCH 75 = 0", dxf(hatch(*(polyline_path([(5 - r, 5, 1), (5 + r, 5,
         1)]) for r in (5, 3, 1)))), [16 * pi, pi], UNIT, holes=1),
    case("the outermost only", "HATCH 75 = 1", dxf(hatch(*(polyline_path([(5 - r, 5, 1), (5 + r, 5, 1)]) for r in
         (5, 3, 1)), style=1)), [16 * pi], UNIT, holes=1),
    case("the whole area", "HATCH 75 = 2", dxf(hatch(*(polyline_path([(5 - r, 5, 1), (5 + r, 5, 1)]) for r in (5, 3,
         1)), style=2)), [25 * pi], UNIT),
    case("a hatch of line edges", "HATCH 72 = 1", dxf(hatch(edge_path(*LINE_EDGES))), [100], UNIT),
    case("a hatch of a whole arc edge", "HATCH 72 = 2", dxf(hatch(edge_path(tags(72, 2, 10, 5, 20, 5, 40, 5, 50, 0,
         51, 360, 73, 1)))), [25 * pi], UNIT),
    case("an arc edge and a line edge", "HATCH 72 = 2, 73 = 1", dxf(hatch(edge_path(tags(72, 2, 10, 0, 20, 0, 40,
         10, 50, 0, 51, 180, 73, 1), tags(72, 1, 10, -10, 20, 0, 11, 10, 21, 0) ) ) ), [50 * pi], (-10, 0, 10, 10)),
    case("a clockwise arc edge counts its angles the other way", "HATCH 73 = 0: 360 - angle",
         dxf(hatch(edge_path(tags(72, 2, 10, 0, 20, 0, 40, 10, 50, 180, 51, 360, 73, 0), tags(72, 1, 10, 10, 20, 0,
         11, -10, 21, 0)) ) ), [50 * pi], (-10, 0, 10, 10)),
    case("an ellipse edge", "HATCH 72 = 3", dxf(hatch(edge_path(tags(72, 3, 10, 0, 20, 0, 11, 10, 21, 0, 40, 0.5,
         50, 0, 51, 360, 73, 1)))), [50 * pi], (-10, -5, 10, 5)),
    case("a spline edge", "HATCH 72 = 4", dxf(hatch(edge_path(tags(72, 4, 94, 2, 73, 0, 74, 0, 95, 6, 96, 3, 40, 0,
         40, 0, 40, 0, 40, 1, 40, 1, 40, 1, 10, 0, 20, 0, 10, 15, 20, 40, 10, 30, 20, 0), tags(72, 1, 10, 30, 20, 0,
         11, 0, 21, 0)))), [400], (0, 0, 30, 20), alike=False),  # GDAL gives up on it
    case("a clockwise quarter arc edge", "HATCH 73 = 0: 360 - angle", dxf(hatch(edge_path(tags(72, 2, 10, 0, 20, 0,
         40, 10, 50, 270, 51, 360, 73, 0), tags(72, 1, 10, 10, 20, 0, 11, 0, 21, 0), tags(72, 1, 10, 0, 20, 0, 11, 0,
         21, 10)))), [25 * pi], UNIT),
    case("half an ellipse edge", "HATCH 72 = 3, 50, 51", dxf(hatch(edge_path(tags(72, 3, 10, 0, 20, 0, 11, 10, 21, 0,
         40, 0.5, 50, 0, 51, 180, 73, 1), tags(72, 1, 10, -10, 20, 0, 11, 10, 21, 0)))), [25 * pi], (-10, 0, 10, 5)),
    case("a clockwise half", "HATCH 72 = 3, 73 = 0: 360 - angle", dxf(hatch(edge_path(tags(72, 3, 10, 0, 20, 0, 11,
         10, 21, 0, 40, 0.5, 50, 180, 51, 360, 73, 0), tags(72, 1, 10, 10, 20, 0, 11, -10, 21, 0)))), [25 * pi], (-10,
         0, 10, 5)),
    case("a spline edge with weights: a quarter circle", "HATCH 72 = 4, 42 weights 1, cos 45, 1; GDAL gives up on it",
         dxf(hatch(edge_path(tags(72, 4, 94, 2, 73, 1, 74, 0, 95, 6, 96, 3, 40, 0, 40, 0, 40, 0, 40, 1, 40, 1, 40, 1,
         10, 10, 20, 0, 42, 1, 10, 10, 20, 10, 42, sqrt(0.5), 10, 0, 20, 10, 42, 1), tags(72, 1, 10, 0, 20, 10, 11, 0,
         21, 0), tags(72, 1, 10, 0, 20, 0, 11, 10, 21, 0)))), [25 * pi], UNIT, alike=False),
    case("a hatch seen in a mirror", "HATCH 210, arbitrary axis algorithm", dxf(hatch(polyline_path([(0, 0, 0), (10,
         0, 0), (10, 10, 0), (0, 10, 0)])).replace("230\n1\n", "230\n-1\n")), [100], (-10, 0, 0, 10)),
    case("a hatch in its drawn outline colors it and is no second piece", "HATCH", dxf(circle(5, 5, 5, 62, 1),
         hatch(polyline_path([(0, 5, 1), (10, 5, 1)]))), [25 * pi], UNIT, "fill-of-outline", colors=("#00ff00",)),
]
# fmt: on

# fmt: off
SHOWN: Final = [
    case("a color number", "62 color 1 to 6", dxf(circle(0, 0, 9, 62, 6)), [81 * pi], None, colors=("#ff00ff",)),
    case("the layer's color by default", "62 BYLAYER", dxf(circle(0, 0, 9), layers=[layer("a", 4)]), [81 * pi],
         None, colors=("#00ffff",)),
    case("a true color goes before its number", "420", dxf(circle(0, 0, 9, 62, 1, 420, 0x12AB34)), [81 * pi], None,
         colors=("#12ab34",)),
    case("a layer's true color", "LAYER 420", dxf(circle(0, 0, 9), layers=[layer("a", 4, 0, 420, 0xC8553D)]), [81 *
         pi], None, colors=("#c8553d",)),
    case("color 7 is black on paper", "62 color 7", dxf(circle(0, 0, 9, 62, 7)), [81 * pi], None,
         colors=("#000000",)),
    case("a frozen layer is left out and told", "LAYER 70 bit 1", dxf(circle(5, 5, 5), circle(50, 0, 9, layer="b"),
         layers=[layer("b", 1, 1)]), [25 * pi], UNIT, "layer-hidden", alike=False),
    case("a layer that is off too", "LAYER 62 negative", dxf(circle(5, 5, 5), circle(50, 0, 9, layer="b"),
         layers=[layer("b", -1)]), [25 * pi], UNIT, "layer-hidden", alike=False),
    case("layer names do not tell upper from lower case", "LAYER 2", dxf(circle(5, 5, 5), circle(50, 0, 9,
         layer="B"), layers=[layer("b", -1)]), [25 * pi], UNIT, "layer-hidden", alike=False),
    case("a block on a frozen layer is hidden with all it holds", "LAYER 70, INSERT", dxf(circle(5, 5, 5),
         insert("disk", 50, 0, layer="b"), layers=[layer("b", 1, 1)], blocks=[block("disk", circle(0, 0, 5))]), [25
         * pi], UNIT, "layer-hidden", alike=False),
    case("on a layer that is off, what has a layer of its own still shows", "LAYER 62, INSERT", dxf(insert("disk",
         5, 5, layer="b"), layers=[layer("b", -1)], blocks=[block("disk", circle(0, 0, 5))]), [25 * pi], UNIT,
         alike=False),
    case("an invisible element is left out and told", "60 visibility", dxf(circle(5, 5, 5), circle(50, 0, 9, 60,
         1)), [25 * pi], UNIT, "hidden", alike=False),
    case("a layer that never prints is left out", "Defpoints", dxf(circle(5, 5, 5), circle(50, 0, 9,
         layer="Defpoints")), [25 * pi], UNIT, "layer-hidden", alike=False),
    case("paper space is no part of the drawing", "67", dxf(circle(5, 5, 5), circle(50, 0, 9, 67, 1)), [25 * pi],
         UNIT, alike=False),
    case("letters cannot be cut", "TEXT", dxf(circle(5, 5, 5), entity("TEXT", 10, 0, 20, 0, 40, 2, 1, "Crab")), [25
         * pi], UNIT, "text"),
    case("nor the texts that a block carries along", "ATTRIB", dxf(insert("disk", 5, 5, 66, 1), entity("ATTRIB", 10, 0,
         20, 0, 40, 2, 1, "12", 2, "NUMBER", 70, 0), entity("SEQEND"), blocks=[DISK]), [25 * pi], UNIT, "text",
         alike=False),
    case("nor paragraphs", "MTEXT", dxf(circle(5, 5, 5), entity("MTEXT", 10, 1, 20, 1, 40, 2, 71, 1, 1, "Crab")),
         [25 * pi], UNIT, "text"),
    case("a single point is no line", "POINT", dxf(circle(5, 5, 5), entity("POINT", 10, 1, 20, 1)), [25 * pi], UNIT,
         "point"),
    case("a picture cannot be cut", "IMAGE", dxf(circle(5, 5, 5), entity("IMAGE", 90, 0, 10, 0, 20, 0, 11, 1, 21, 0,
         12, 0, 22, 1, 13, 9, 23, 9, 340, "AA")), [25 * pi], UNIT, "picture", alike=False),
    case("measurements are not cut", "DIMENSION", dxf(circle(5, 5, 5), entity("DIMENSION", 2, "*D1", 10, 0, 20, 0,
         70, 0)), [25 * pi], UNIT, "dimension", alike=False),
    case("solid bodies are told", "3DSOLID", dxf(circle(5, 5, 5), entity("3DSOLID", 70, 1)), [25 * pi], UNIT,
         "solid", alike=False),
    case("regions are told, with what to do", "REGION", dxf(circle(5, 5, 5), entity("REGION", 70, 1)), [25 * pi], UNIT,
         "solid", alike=False),
    case("bodies too", "BODY", dxf(circle(5, 5, 5), entity("BODY", 70, 1)), [25 * pi], UNIT, "solid", alike=False),
    case("meshes too", "MESH", dxf(circle(5, 5, 5), entity("MESH", 71, 2, 72, 0, 91, 0, 92, 0, 93, 0, 94, 0, 95, 0)),
         [25 * pi], UNIT, "solid", alike=False),
    case("an area that hides others is told", "WIPEOUT", dxf(circle(5, 5, 5), entity("WIPEOUT", 90, 0, 10, 0, 20, 0,
         11, 1, 21, 0, 12, 0, 22, 1, 13, 9, 23, 9)), [25 * pi], UNIT, "wipeout", alike=False),
    case("lines without end are told", "RAY, XLINE", dxf(circle(5, 5, 5), entity("RAY", 10, 0, 20, 0, 11, 1, 21, 0),
         entity("XLINE", 10, 0, 20, 0, 11, 1, 21, 0)), [25 * pi], UNIT, "endless-line", alike=False),
    case("arrows with a note are told", "LEADER", dxf(circle(5, 5, 5), entity("LEADER", 3, "STANDARD", 76, 2, 10, 0, 20,
         0, 10, 5, 20, 5)), [25 * pi], UNIT, "dimension", alike=False),
    case("signs of a font are told", "SHAPE", dxf(circle(5, 5, 5), entity("SHAPE", 10, 0, 20, 0, 40, 1, 2, "BOX")),
         [25 * pi], UNIT, "text", alike=False),
    case("a circle without radius is told", "CIRCLE 40", dxf(circle(5, 5, 5), circle(9, 9, 0)), [25 * pi], UNIT,
         "broken-element", alike=False),
    case("a coordinate out of all bounds is told", "10", dxf(circle(5, 5, 5), line(0, 0, 1e300, 0)), [25 * pi],
         UNIT, "broken-element", alike=False),
]
# fmt: on

# fmt: off
UNITS: Final = [
    case("inches", "$INSUNITS 1", dxf(square(0, 0, 2), header={"$INSUNITS": 1}), [50.8**2], (0, 0, 50.8, 50.8)),
    case("centimeters", "$INSUNITS 5", dxf(square(0, 0, 8), header={"$INSUNITS": 5}), [6400], (0, 0, 80, 80)),
    case("no unit, English measurement: inches", "$MEASUREMENT 0", dxf(square(0, 0, 100), header={"$MEASUREMENT":
         0}), [2540**2], (0, 0, 2540, 2540), "unit-assumed"),
    case("no unit, metric: millimeters", "$MEASUREMENT 1", dxf(square(0, 0, 50), header={"$INSUNITS": 0,
         "$MEASUREMENT": 1}), [2500], (0, 0, 50, 50), "unit-assumed"),
    case("no unit, architectural numbers: inches", "$LUNITS 4", dxf(square(0, 0, 100), header={"$LUNITS": 4,
         "$MEASUREMENT": 1}), [2540**2], None, "unit-assumed"),
    case("no unit and small: inches", "common practice", dxf(square(0, 0, 8), header={}), [(8 * 25.4) ** 2], None,
         "unit-assumed"),
    case("no unit and large: millimeters", "common practice", dxf(square(0, 0, 200), header={}), [40000], None,
         "unit-assumed"),
    case("a unit that the measurement system contradicts is kept and told", "$INSUNITS, $MEASUREMENT", dxf(square(0,
         0, 2), header={"$INSUNITS": 1, "$MEASUREMENT": 1}), [50.8**2], None, "unit-disputed"),
    case("a size that makes no sense is told with the other readings", "$INSUNITS 6", dxf(square(0, 0, 100),
         header={"$INSUNITS": 6}), [1e10], None, "size-doubtful"),
    case("an unknown unit code is no unit", "$INSUNITS 99", dxf(square(0, 0, 200), header={"$INSUNITS": 99}),
         [40000], None, "unit-assumed"),
]
# fmt: on

CASES: Final = [*BLOCKS, *FILLS, *SHOWN, *UNITS]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.purpose)
def test_shows_what_the_reference_says(case: Case) -> None:
    assert shown(case) == expected(case)


@pytest.mark.parametrize("case", [case for case in CASES if case.alike], ids=lambda case: case.purpose)
def test_another_parser_sees_the_same_box(case: Case) -> None:
    ours, theirs = second_opinion(case)
    assert ours == pytest.approx(theirs, abs=2e-3 * max(theirs[2] - theirs[0], theirs[3] - theirs[1]))


PLAIN: Final = [
    circle(5, 5, 5, 5, "A1"),
    line(0, 20, 10, 20, 5, "A2"),
    arc(5, 20, 5, 0, 180, 5, "A3"),
    square(20, 0, 10, 5, "A4"),
    line(20, 20, 30, 20, 5, "A5", 62, 1),
    line(30, 20, 25, 30, 5, "A6", 62, 1),
    line(25, 30, 20, 20, 5, "A7", 62, 1),
    circle(45, 5, 5, 5, "A8", 210, 0, 220, 0, 230, -1),
]


def test_plain_lines_show_the_same_whether_read_from_the_tags_or_by_ezdxf() -> None:
    """Extended data (1000 and above) says nothing about the drawing, and what has some is left to ezdxf."""
    extended = [each + tags(1001, "ACAD", 1000, "by hand") for each in PLAIN]
    place = block("part", *PLAIN), block("part", *extended)
    inserts = insert("part", 0, 100, 5, "B1"), insert("part", 60, 200, 5, "B2")
    mine, theirs = (
        read(dxf(*inserts, *each, layers=[layer("a", 3)], blocks=[part]))
        for each, part in zip((PLAIN, extended), place, strict=True)
    )
    assert mine == theirs
    assert len(mine.value.pieces) == 15
    assert mine.value.pieces[0].id == "B1/A1"


def test_a_file_that_copies_a_stand_in_draws_nothing_twice() -> None:
    """The mark that a run of lines leaves is ours alone; a file that has it gets no lines for it."""
    forged = line(0, 0, 10, 0) + tags(1001, "CLOTHPATH_RUN", 1071, 0)
    outcome = read(dxf(circle(5, 50, 5), forged, forged, square(0, 0, 10)))
    assert len(outcome.value.pieces) == 2


def test_there_are_enough_cases_and_each_is_its_own() -> None:
    """Each names the part of the reference, or the formula, that settles it; another parser looks at most of them."""
    cases = [*shapes.CASES, *CASES]
    assert len(cases) >= 100
    assert len({case.text for case in cases}) == len(cases)
    assert all(case.source and case.purpose for case in cases)
    assert sum(case.alike for case in cases) >= 60
