"""The G-code measurer on programs written by hand."""

from __future__ import annotations

import math

import pytest

from clothpath.contracts import Declared, Measurement
from clothpath.curves import Affine, Outline, area
from clothpath.findings import Refusal
from clothpath.plugins.measurers.gcode import GcodeMeasurer


def measured(program: str, declared: Declared | None = None) -> Measurement:
    return GcodeMeasurer().measure(program.encode(), declared or Declared()).value


@pytest.mark.parametrize(
    "program",
    [
        "G21 G90\nG0 Z5\nG0 X10 Y10\nG1 Z-1\nG1 X30\nY20\nX10\nY10\nG0 Z5\nM2\n",
        "G20 G90\nG0 Z.2\nG0 X.3937008 Y.3937008\nG1 Z-.04\nX1.1811024\nY.7874016\nX.3937008\nY.3937008\nG0Z.2\nM2",
        "G21 G90\nG0 Z5\nG0 X10 Y10\nG1 Z0\nG91\nG1 X20\nY10\nX-20\nY-10\nG90 G0 Z5\nM30\n",
        "%\n(note) g21g90g17\n; more\nN10 g0z5f6\nn20 g0 x10y10 m3 t1\ng1 z-0.5\nx 30\ny20\nx10\ny10\ng0z5\nm2\n%\n",
        "G21 G90\nG0 X10 Y10\nG1 X30 Y10\nG1 X30 Y20\nG1 X10 Y20\nG1 X10 Y10\nM2\n",
    ],
)
def test_ways_to_cut_one_rectangle(program: str) -> None:
    """NISTIR 6556: G20 inches, G21 millimeters, G90 absolute, G91 incremental; a motion stays in force."""
    (line,) = measured(program).lines
    assert isinstance(line.path, Outline)
    box = line.path.box
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx((10, 10, 30, 20), abs=1e-5)
    assert area(line.path) == pytest.approx(200, abs=1e-3)


@pytest.mark.parametrize(
    ("arc", "expected"),
    [
        # half a disc of radius 10 above (G3) or below (G2) the chord from (20, 0) back to (0, 0)
        ("G3 X0 Y0 I-10 J0", 50 * math.pi),
        ("G2 X0 Y0 I-10 J0", -50 * math.pi),
        ("G90.1\nG3 X0 Y0 I10 J0", 50 * math.pi),
        ("G3 X0 Y0 R10", 50 * math.pi),
        # on a chord of 20 with the radius 20: a segment of 60 degrees, and what is left of the disc
        ("G3 X0 Y0 R20", 400 * (math.pi / 3 - math.sin(math.pi / 3)) / 2),
        ("G3 X0 Y0 R-20", 400 * (2 * math.pi - math.pi / 3 + math.sin(math.pi / 3)) / 2),
    ],
)
def test_arcs(arc: str, expected: float) -> None:
    """NISTIR 6556, 3.5.3: G2 clockwise, G3 counterclockwise, I and J from the start; R, negative for the longer arc."""
    (line,) = measured(f"G21 G90\nG0 Z5\nG0 X0 Y0\nG1 Z0\nG1 X20 Y0\n{arc}\nG0 Z5\nM2\n").lines
    assert isinstance(line.path, Outline)
    assert area(line.path) == pytest.approx(expected, rel=1e-5)


def test_a_full_circle_ends_where_it_begins() -> None:
    (line,) = measured("G21\nG0 X10 Y0\nG3 X10 Y0 I-10 J0\nM2\n").lines
    assert isinstance(line.path, Outline)
    assert area(line.path) == pytest.approx(100 * math.pi, rel=1e-5)


def test_moves_above_the_mat_cut_nothing_and_a_lift_ends_a_line() -> None:
    found = measured("G21\nG0 Z5\nG1 X5 Y5\nG0 X0 Y0\nG1 Z0\nG1 X9\nG0 Z5\nG0 X0 Y5\nG1 Z0\nX9\nG1 Z2\nX0\nM2\n")
    assert [(line.path.start, line.path.end) for line in found.lines] == [(0, 9), (5j, 9 + 5j)]


def test_a_knife_lifted_to_turn_on_the_spot_goes_on_with_its_line() -> None:
    turn = "G0 Z5\nG0 C90\nG1 Z-1\n"
    found = measured(f"G21\nG0 Z5\nG0 X0 Y0 C0\nG1 Z-1\nG1 X9 C0\n{turn}G1 Y9\n{turn}G1 X0\n{turn}G1 Y0\nG0 Z5\nM2\n")
    assert [isinstance(line.path, Outline) for line in found.lines] == [True]


def test_a_second_pass_is_a_second_line() -> None:
    once = "G0 Z5\nG0 X0 Y0\nG1 Z0\nG1 X9\nX9 Y9\nX0 Y0\n"
    assert len(measured(f"G21\n{once}{once}G0 Z5\nM2\n").lines) == 2


def test_units_and_frames_that_are_not_in_the_file() -> None:
    program = b"G0 X0 Y0\nG1 X1\nM2\n"
    assumed = GcodeMeasurer().measure(program, Declared())
    assert [finding.code for finding in assumed.findings] == ["unit-assumed"]
    told = GcodeMeasurer().measure(program, Declared(mm_per_unit=25.4, frame=Affine.turn(90)))
    assert [finding.code for finding in told.findings] == ["declared", "declared"]
    assert told.value.lines[0].path.end == pytest.approx(25.4j)


@pytest.mark.parametrize(
    ("program", "code", "words"),
    [
        ("", "wrong-format", "no G-code"),
        ("hello\n", "damaged-file", "line 1"),
        ("G21\nG0 X0 Y0\nG1 X9\n", "damaged-file", "M2"),
        ("G21\nG0 X0 Y0\nG1 X9 Y\nM2\n", "damaged-file", "line 3"),
        ("G21\nG0 X0 Y0\nG1 X9 (cut\nM2\n", "damaged-file", "comment"),
        ("G21\nX9\nM2\n", "damaged-file", "G0 to G3"),
        ("G21\nG28 X0\nM2\n", "damaged-file", "G28"),
        ("G21\nM98 P1\nM2\n", "damaged-file", "M98"),
        ("G21\nG18\nM2\n", "damaged-file", "G18"),
        ("G21\nG0 X0 Y0\nG20\nM2\n", "damaged-file", "unit"),
        ("G21\nG0 X0 Y0\nG2 X9 Y9\nM2\n", "damaged-file", "center"),
        ("G21\nG0 X0 Y0\nG2 X9 Y9 I1 J0\nM2\n", "damaged-file", "distance"),
        ("G21\nG0 X0 Y0\nG2 X9 Y9 R2\nM2\n", "damaged-file", "radius"),
        ("G21\nG0 X0 Y0\nG1 X" + "9" * 400 + "\nM2\n", "damaged-file", "beyond all measure"),
        ("G21\nM2\nG1 X9\n", "damaged-file", "end"),
    ],
)
def test_damage_is_refused_and_placed(program: str, code: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        measured(program)
    (finding,) = refused.value.findings
    assert finding.code == code
    assert words in f"{finding.message} {finding.where}"
