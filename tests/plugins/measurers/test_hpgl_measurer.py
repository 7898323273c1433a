"""The HP-GL measurer on commands written by hand."""

from __future__ import annotations

import math

import pytest

from clothpath.contracts import Declared, Measurement
from clothpath.curves import Affine, Outline, area
from clothpath.findings import Refusal
from clothpath.plugins.measurers.hpgl import HpglMeasurer


def measured(text: str) -> Measurement:
    return HpglMeasurer().measure(text.encode("latin-1"), Declared()).value


def test_forty_units_are_a_millimeter_and_1016_an_inch() -> None:
    """HP-GL reference: a plotter unit is 0.025 mm."""
    found = measured("IN;SP1;PU0,0;PD1016,0,1016,40,0,40,0,0;PU;")
    (line,) = found.lines
    assert isinstance(line.path, Outline)
    assert (line.path.box.width, line.path.box.height) == pytest.approx((25.4, 1))
    assert line.group == "pen 1"


@pytest.mark.parametrize(
    "text",
    [
        "IN;SP2;PU40,40;PD440,40;PD440,240;PD40,240;PD40,40;PU;SP0;",
        "IN;SP2;PA;PU40,40;PD;PA440,40,440,240,40,240,40,40;PU;",
        "IN;SP2;PU40,40;PR;PD400,0,0,200,-400,0,0,-200;PU;",
        "in sp2 pu40 40 pd440 40 440 240 40 240 40 40 pu;",
        "IN;SP2\nPU40,40\nPD440,40,440,240,40,240,40,40\nPU\n",
        "\x1b.(\x1b.I81;;17:IN;VS20;FS3;SP2;PU40,40;PD440,40,440,240,40,240,40,40;PU;PG;",
        "IN;IP0,0,400,200;SC0,10,0,5;SP2;PU1,1;PD11,1,11,6,1,6,1,1;PU;",
        "IN;SP2;LBPD9,9;PU9,9\x03PU40,40;PD440,40,440,240,40,240,40,40;PU;",
        "IN;DT#;SP2;LBPD9,9#PU40,40;PD440,40,440,240,40,240,40,40;PU;",
    ],
)
def test_ways_to_draw_one_rectangle(text: str) -> None:
    (line,) = measured(text).lines
    assert isinstance(line.path, Outline)
    box = line.path.box
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx((1, 1, 11, 6))
    assert area(line.path) == pytest.approx(50)
    assert line.group == "pen 2"


def test_circles_and_arcs() -> None:
    found = measured("IN;SP1;PU400,400;CI200;PU600,400;PD;AA400,400,90;PU;PU0,0;PD;AR0,80,180;PU;")
    assert area(found.lines[0].path) == pytest.approx(math.pi * 25, rel=1e-5)  # type: ignore[arg-type]
    assert found.lines[1].path.start == pytest.approx(15 + 10j)
    assert found.lines[1].path.end == pytest.approx(10 + 15j)
    assert found.lines[2].path.end == pytest.approx(4j)
    assert found.lines[2].path.box.right == pytest.approx(2)


def test_a_change_of_pen_ends_a_line_and_moves_with_the_pen_up_draw_nothing() -> None:
    found = measured("IN;SP1;PU0,0;PD40,0;SP2;PD80,0;PU;PA120,0;PA160,0;PD160,40;PU;SP0;")
    assert [line.group for line in found.lines] == ["pen 1", "pen 2", "pen 2"]
    assert [line.path.start for line in found.lines] == [0, 1, 4]


def test_a_stated_page_and_a_frame() -> None:
    assert measured("IN;PS4000,8000;").page == pytest.approx((200, 100))
    frame = Affine.shift(50j) @ Affine.turn(-90)
    outcome = HpglMeasurer().measure(b"IN;SP1;PU0,0;PD400,0;PU;", Declared(frame=frame))
    assert outcome.value.lines[0].path.end == pytest.approx(40j)
    assert [finding.code for finding in outcome.findings] == ["declared"]


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("", "wrong-format", "IN"),
        ("PU0,0;PD9,9;PU;", "wrong-format", "IN"),
        ("IN;SP1;PU0,0;PD40,0,40", "damaged-file", "byte"),
        ("IN;SP1;PU0,0;PD40,0,40;", "damaged-file", "x without a y"),
        ("IN;SP1;PU0,0;PD40,0;", "damaged-file", "pen still down"),
        ("IN;SP1;PU0,0;PQ40,0;", "damaged-file", '"PQ"'),
        ("IN;SP1;PU0,0;PD4\x00,0;", "damaged-file", "byte"),
        ("IN;LBno end", "damaged-file", "label"),
        ("IN;SC0,0,0,5;", "damaged-file", "extent"),
        ("IN;SC0,1,0,5;", "damaged-file", "IP"),
        ("IN;PD;AA0,0;", "damaged-file", "too few"),
        ("IN;PU0,0;PD" + "9" * 400 + ",0;PU;", "damaged-file", "beyond all measure"),
        ("IN;\x89PNG", "damaged-file", "byte 3"),
    ],
)
def test_damage_is_refused_and_placed(text: str, code: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        measured(text)
    (finding,) = refused.value.findings
    assert finding.code == code
    assert words in f"{finding.message} {finding.where}"
