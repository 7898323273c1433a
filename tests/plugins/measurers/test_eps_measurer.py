"""The EPS measurer on programs written by hand."""

from __future__ import annotations

import math

import pytest

from clothpath.contracts import Declared, Measurement
from clothpath.curves import Outline, area
from clothpath.findings import Refusal
from clothpath.plugins.measurers.eps import EpsMeasurer


def document(program: str, box: str = "%%BoundingBox: 0 0 720 360") -> bytes:
    return f"%!PS-Adobe-3.0 EPSF-3.0\n{box}\n%%EndComments\n{program}\nshowpage\n%%EOF\n".encode()


def measured(program: str, box: str = "%%BoundingBox: 0 0 720 360") -> Measurement:
    return EpsMeasurer().measure(document(program, box), Declared()).value


def only(measurement: Measurement) -> Outline:
    (line,) = measurement.lines
    assert isinstance(line.path, Outline)
    return line.path


def test_default_user_space_is_a_72nd_of_an_inch() -> None:
    """PostScript Language Reference, 4.3.1."""
    found = measured("newpath 72 144 moveto 432 144 lineto 432 216 lineto 72 216 lineto closepath stroke")
    assert found.page == pytest.approx((254, 127))
    assert found.unit == "pt"
    box = only(found).box
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx((25.4, 50.8, 152.4, 76.2))


def test_the_exact_bounding_box_counts_and_its_corner_is_the_origin() -> None:
    box = "%%BoundingBox: 10 20 731 381\n%%HiResBoundingBox: 10.5 20.5 730.5 380.5"
    found = measured("newpath 10.5 20.5 moveto 82.5 20.5 lineto stroke", box)
    assert found.page == pytest.approx((254, 127))
    assert found.lines[0].path.start == pytest.approx(0)


@pytest.mark.parametrize(
    "program",
    [
        "newpath 0 0 moveto 72 0 lineto 72 72 lineto 0 72 lineto closepath stroke",
        "newpath 0 0 moveto 72 0 rlineto 0 72 rlineto -72 0 rlineto closepath fill",
        "gsave 72 72 scale newpath 0 0 moveto 1 0 lineto 1 1 lineto 0 1 lineto closepath stroke grestore",
        "gsave 72 0 translate 90 rotate 0 0 moveto 72 0 lineto 72 72 lineto 0 72 lineto closepath eofill grestore",
        "[2 0 0 2 0 0] concat newpath 0 0 moveto 36 0 lineto 36 36 lineto 0 36 lineto closepath % (note) \nstroke",
        "newpath 0 0 moveto 72 0 lineto 72 72 lineto 0 72 lineto 0 0 lineto stroke",
        "1 0 0 setrgbcolor 0.5 setlinewidth [4 3] 0 setdash newpath 0 0 moveto 72 0 lineto 72 72 lineto 0 72 lineto "
        "closepath gsave stroke grestore newpath",
    ],
)
def test_ways_to_draw_one_square_inch(program: str) -> None:
    path = only(measured(program))
    assert area(path) == pytest.approx(25.4**2)
    assert (path.box.left, path.box.bottom) == pytest.approx((0, 0), abs=1e-9)


def test_arcs_and_curves() -> None:
    circle = only(measured("newpath 300 100 72 0 360 arc closepath stroke"))
    assert area(circle) == pytest.approx(math.pi * 25.4**2, rel=1e-5)
    half = only(measured("newpath 100 100 72 180 0 arcn closepath stroke"))
    assert area(half) == pytest.approx(-math.pi * 25.4**2 / 2, rel=1e-5)
    bow = only(measured("newpath 0 0 moveto 0 72 144 72 144 0 curveto closepath stroke"))
    same = only(measured("newpath 0 0 moveto 0 72 144 72 144 0 rcurveto closepath stroke"))
    assert bow == same
    # 3/20 of 144 x (72 + 72), as for any cubic whose controls stand straight above its ends, with 144 x 72 x 3/5
    assert abs(area(bow)) == pytest.approx(144 * 72 * 0.6 * (25.4 / 72) ** 2, rel=1e-9)


@pytest.mark.parametrize(
    ("data", "code", "words"),
    [
        (b"", "wrong-format", "no EPS"),
        (document("0 0 moveto 9 9 lineto stroke")[:-8], "damaged-file", "EOF"),
        (document("newpath 0 0 moveto 9 9 lineto"), "damaged-file", "never painted"),
        (document("newpath 0 0 moveto 9 lineto stroke"), "damaged-file", "too few"),
        (document("9 9 lineto stroke"), "damaged-file", "moveto"),
        (document("newpath 0 0 moveto 9 9 linet stroke"), "damaged-file", '"linet"'),
        (document("newpath 0 0 moveto (9) 9 lineto stroke"), "damaged-file", "no numbers"),
        (document("/a { 1 } def"), "damaged-file", "line 4"),
        (document("newpath 0 0 moveto 1e999 0 lineto stroke"), "damaged-file", "beyond all measure"),
        (document("grestore"), "damaged-file", "gsave"),
        (document("[1 0 0 1 0] concat"), "damaged-file", "six"),
        (document("", "%%Title: (x)"), "no-size", "bounding box"),
        (document("", "%%BoundingBox: 0 0 0 5"), "no-size", "empty"),
        (document("", "%%BoundingBox: 0 0 1.2.3 5"), "damaged-file", "four numbers"),
    ],
)
def test_damage_is_refused_and_placed(data: bytes, code: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        EpsMeasurer().measure(data, Declared())
    (finding,) = refused.value.findings
    assert finding.code == code
    assert words in f"{finding.message} {finding.where}"
