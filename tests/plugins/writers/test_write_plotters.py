"""HPGL, G-code and EPS: what the machines and the standards ask beside the lines.

HP-GL reference; RS-274/NGC (NISTIR 6556); Encapsulated PostScript File Format Specification 3.0.
"""

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from gcodeparser import parse_gcode_lines
from pydantic import ValidationError
from second_opinions import eps_lines, gcode_lines, hpgl_lines
from writer_sheets import crab_layout, crab_sheet

from clothpath.contracts import CutWriter, Settings
from clothpath.curves import box_of
from clothpath.cutplan import Blade, CutSheet, as_laid, sheets
from clothpath.cutting.tried import NO_SPEEDS, Speeds, Tried
from clothpath.findings import Refusal
from clothpath.plugins.measurers.hpgl import HpglMeasurer
from clothpath.plugins.writers.dxf import DxfSettings, DxfWriter
from clothpath.plugins.writers.eps import EpsSettings, EpsWriter
from clothpath.plugins.writers.gcode import GcodeSettings, GcodeWriter
from clothpath.plugins.writers.hpgl import HpglSettings, HpglWriter
from clothpath.units import Length, Speed


def hpgl(sheet: CutSheet | None = None, **chosen: object) -> str:
    return HpglWriter().write(sheet or crab_sheet(), HpglSettings(**chosen)).value.decode("ascii")


def gcode(sheet: CutSheet | None = None, **chosen: object) -> str:
    return GcodeWriter().write(sheet or crab_sheet(), GcodeSettings(**chosen)).value.decode("ascii")


def eps(**chosen: object) -> str:
    return EpsWriter().write(crab_sheet(), EpsSettings(**chosen)).value.decode("ascii")


def twice() -> CutSheet:
    sheet = crab_sheet()
    return replace(sheet, cuts=tuple(replace(cut, passes=2) for cut in sheet.cuts))


def test_hpgl_begins_and_ends_as_it_should() -> None:
    text = hpgl()
    assert text.startswith("IN;\nSP1;\nPU")
    assert text.endswith("PU0,0;SP0;\n")


def test_hpgl_takes_one_pen_a_fabric() -> None:
    assert [line.group for line in hpgl_lines(hpgl().encode())] == ["1"] * 2 + ["2"] * 7
    assert [line.group for line in hpgl_lines(hpgl(markings="draw").encode())] == ["3"] * 2 + ["1"] * 2 + ["2"] * 7


def test_hpgl_states_speed_and_force_only_if_they_are_stated() -> None:
    assert "VS" not in hpgl()
    assert "FS" not in hpgl()
    assert hpgl(speed=20, force=8).startswith("IN;\nVS20;\nFS8;\n")


def sheet_with(*tried: Tried, speeds: Speeds = NO_SPEEDS) -> CutSheet:
    """The crab, sand before coral, on a machine whose profile states this."""
    return sheets(as_laid(crab_layout(), Blade(), speeds, tried), "mat")[0]


SAND = Tried("batik", fabrics=("sand",), depth=Length(0.5, 0.1, "0.5 mm"), force=80.0, speed=Speed(76.2, "3 in/s"))
CORAL = Tried("cotton", fabrics=("coral",), depth=4.0, force=100.0, speed=5.0, passes=2, remark="New blade; M3 (sharp)")


def test_hpgl_tells_the_machine_what_was_found_for_each_fabric() -> None:
    """HP-GL: VS in cm/s, FS as the machine counts it, either without a number back to the machine's own."""
    both = sheet_with(SAND, replace(CORAL, speed=Speed(50, "50 mm/s")))
    assert re.findall(r"SP\d|VS[^;]*|FS[^;]*", hpgl(both)) == ["VS7.62", "FS80", "SP1", "VS5", "FS100", "SP2", "SP0"]
    assert len(hpgl_lines(hpgl(both).encode())) == 2 + 2 * 7


def test_hpgl_carries_no_setting_over_to_a_fabric_that_has_none() -> None:
    outcome = HpglWriter().write(sheet_with(SAND), HpglSettings())
    text = outcome.value.decode()
    assert re.findall(r"SP\d|VS[^;]*|FS[^;]*", text) == ["VS7.62", "FS80", "SP1", "VS", "FS", "SP2", "SP0"]
    assert [finding.code for finding in outcome.findings] == ["set-back"]
    assert "Coral print" in outcome.findings[0].message
    assert len(hpgl_lines(outcome.value)) == 9
    measured = HpglMeasurer().measure(outcome.value, HpglWriter().declared(sheet_with(SAND), HpglSettings()))
    assert len(measured.value.lines) == 9


def test_hpgl_takes_the_speed_of_the_machine_where_nothing_closer_is_stated() -> None:
    assert hpgl(sheet_with(speeds=Speeds(cutting=80))).startswith("IN;\nVS8;\nSP1;")
    assert hpgl(sheet_with(speeds=Speeds(cutting=80)), speed=20).startswith("IN;\nVS20;\nSP1;")
    counted = hpgl(sheet_with(CORAL, speeds=Speeds(cutting=80)))
    assert re.findall(r"VS[^;]*", counted) == ["VS8", "VS"]  # the machine's own count is for the person to set


def test_gcode_tells_the_machine_what_was_found_for_each_fabric() -> None:
    outcome = GcodeWriter().write(sheet_with(SAND, CORAL), GcodeSettings(depth="0.2 mm"))
    sand, coral = outcome.value.decode().split("(Fabric: ")[1:]
    # 3 in/s = 76.2 mm/s = 4572 mm/min
    assert set(re.findall(r"^G1 Z.*$", sand, re.M)) == {"G1 Z-0.5 F4572"}
    assert "(Found for batik: depth 0.5 mm, force 80, speed 3 in/s.)" in sand
    # what the machine counts was set by hand
    assert set(re.findall(r"^G1 Z.*$", coral, re.M)) == {"G1 Z0"}
    assert "New blade M 3 sharp" in coral
    assert [finding.code for finding in outcome.findings] == ["feed-not-stated"]
    assert "Coral print" in outcome.findings[0].message
    assert len(gcode_lines(outcome.value)) == 2 + 2 * 7


def test_gcode_feeds_at_the_speed_of_the_machine() -> None:
    outcome = GcodeWriter().write(sheet_with(speeds=Speeds(cutting=20)), GcodeSettings(depth="0.2 mm"))
    assert outcome.findings == ()
    assert set(re.findall(r"^G1 Z.*$", outcome.value.decode(), re.M)) == {"G1 Z-0.2 F1200"}
    assert b"Found for" not in outcome.value


def test_hpgl_cuts_as_often_as_asked() -> None:
    assert len(hpgl_lines(hpgl(twice()).encode())) == 18


def test_hpgl_counts_from_the_machine_s_origin() -> None:
    settings = HpglSettings(origin="center", x_axis="up", y_axis="left")
    back = HpglWriter().declared(crab_sheet(), settings).frame
    lines = hpgl_lines(HpglWriter().write(crab_sheet(), settings).value)
    box = box_of(cut.path for cut in crab_sheet().cuts)
    found = np.concatenate([back.apply_all(line.points) for line in lines])
    assert (found.real.min(), found.imag.max()) == pytest.approx((box.left, box.top), abs=0.026)


def test_hpgl_refuses_what_the_machine_cannot_take() -> None:
    with pytest.raises(Refusal, match="takes 30 a line"):
        hpgl(most_points=30)
    with pytest.raises(Refusal, match="machine's y"):
        hpgl(most_y="4 in")


def test_gcode_states_unit_plane_and_distance_mode_before_any_move() -> None:
    for unit, word in (("mm", "G21"), ("in", "G20")):
        words = [f"{line.command[0]}{line.command[1]}" for line in parse_gcode_lines(gcode(unit=unit))]
        first_move = min(n for n, name in enumerate(words) if name in ("G0", "G1", "G2", "G3"))
        assert {word, "G17", "G90"} <= set(words[:first_move])
        assert words[first_move - 1] == "M0"  # nothing moves before the operator starts
        assert words[-1] == "M2"


def test_gcode_begins_with_cautions() -> None:
    head = gcode().partition("\nG21")[0]
    assert all(re.fullmatch(r"\([^()]*\)", line) for line in head.split("\n"))
    assert head.count("CAUTION") == 3
    assert "machine maker's manual comes first" in head
    assert "0 at the upper right corner" in gcode(origin="upper-right")


def test_gcode_first_moves_up_and_ends_up() -> None:
    moves = [line for line in gcode(safe_height="30 mm").split("\n") if line.startswith("G0")]
    assert moves[0] == moves[-1] == "G0 Z30"


def test_gcode_invents_no_feed() -> None:
    outcome = GcodeWriter().write(crab_sheet(), GcodeSettings())
    assert [finding.code for finding in outcome.findings] == ["feed-not-stated"]
    assert not re.search(r"\bF\d", outcome.value.decode())
    stated = GcodeWriter().write(crab_sheet(), GcodeSettings(feed="40 in", unit="in"))
    assert stated.findings == ()
    assert b"G1 Z0 F40\n" in stated.value


def test_gcode_never_moves_over_cloth_with_the_knife_down() -> None:
    assert len(gcode_lines(gcode(twice()).encode())) == 18  # the interpreter asserts heights as it goes


def test_gcode_stops_to_change_tools() -> None:
    text = gcode(markings="draw")
    assert text.index("(Put the pen in") < text.index("(Put the knife in")
    assert text.count("\nM0\n") == 3


def test_tangential_knife_points_along_the_cut() -> None:
    """Each straight cut runs where the turning axis points; each arc ends along its tangent."""
    angle, at = 0.0, 0j
    checked = 0
    for line in parse_gcode_lines(gcode(knife="tangential", turning_axis="A")):
        if line.command[0] != "G" or line.command[1] not in (0, 1, 2, 3):
            continue
        to = complex(line.params.get("X", at.real), line.params.get("Y", at.imag))
        before, angle = angle, line.params.get("A", angle)
        if line.command[1] == 1 and to != at:
            assert np.exp(1j * np.radians(angle)) == pytest.approx((to - at) / abs(to - at), abs=1e-3)
            checked += 1
        elif line.command[1] in (2, 3):
            turned = 1j if line.command[1] == 3 else -1j
            center = at + complex(line.params["I"], line.params["J"])
            tangents = [turned * (p - center) / abs(p - center) for p in (at, to)]
            assert np.exp(1j * np.radians(before)) == pytest.approx(tangents[0], abs=0.02)
            assert np.exp(1j * np.radians(angle)) == pytest.approx(tangents[1], abs=2e-3)
            assert (angle - before > 0) == (line.command[1] == 3)
            checked += 1
        at = to
    assert checked > 60


def test_tangential_knife_is_lifted_at_corners() -> None:
    square_corners = 7  # of a leg
    text = gcode(knife="tangential")
    leg = text[text.index("(Left leg") : text.index("(Right leg")]
    assert leg.count("G0 Z5\n") == square_corners


def test_eps_states_its_boxes() -> None:
    text = eps()
    assert text.startswith("%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 576 864\n%%HiResBoundingBox: 0 0 576 864\n")
    assert text.endswith("%%EOF\n")
    sheet = crab_sheet()
    odd = replace(sheet.plan.layout.mat, width=100.0, height=33.3)
    layout = replace(sheet.plan.layout, mat=odd)
    small = EpsWriter().write(replace(sheet, plan=replace(sheet.plan, layout=layout)), EpsSettings()).value.decode()
    # 100 mm = 283.465 pt, 33.3 mm = 94.394 pt; the whole box holds the exact one
    assert "%%BoundingBox: 0 0 284 95\n%%HiResBoundingBox: 0 0 283.465 94.394\n" in small


def test_eps_lines_are_no_longer_than_the_conventions_allow() -> None:
    assert max(len(line) for line in eps().split("\n")) <= 255  # DSC 3.0, 3.1


def test_eps_draws_each_fabric_in_a_dark_shade_of_its_color() -> None:
    # no line that is cut is drawn in a signal color: a quarter of each channel keeps the hue (design.md section 11)
    colors = [line.group for line in eps_lines(eps().encode())]
    channels = [float(value) for value in colors[3].split()]
    assert channels == pytest.approx([0.784 / 4, 0.333 / 4, 0.239 / 4], abs=0.003)  # #c8553d
    assert len(set(colors)) == 3


@pytest.mark.skipif(shutil.which("gs") is None, reason="Ghostscript is not here")
def test_ghostscript_sees_the_lines_where_they_were_meant_to_be(tmp_path: Path) -> None:
    file = tmp_path / "crab.eps"
    file.write_text(eps())
    said = subprocess.run(
        ["gs", "-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=bbox", str(file)], capture_output=True, text=True, check=True
    ).stderr
    values = [float(v) * 25.4 / 72 for v in said.partition("%%HiResBoundingBox:")[2].split()]
    box = box_of(cut.path for cut in crab_sheet().cuts)
    line = 0.25 * 25.4 / 72  # half of the line's width lies outside
    meant = [box.left - line, box.bottom - line, box.right + line, box.top + line]
    assert values == pytest.approx(meant, abs=0.1)


def test_gcode_refuses_what_the_machine_cannot_take() -> None:
    with pytest.raises(Refusal, match="machine's x, and it reaches 4 in"):
        gcode(most_x="4 in")
    with pytest.raises(Refusal, match="takes 10 a line"):
        gcode(most_points=10)


@pytest.mark.parametrize("settings", [HpglSettings, GcodeSettings, DxfSettings], ids=["hpgl", "gcode", "dxf"])
def test_a_tolerance_that_no_proof_could_hold_is_refused(settings: type[Settings]) -> None:
    """design.md section 8: 0.01 mm, one plotter unit of 0.025 mm for HPGL, of which rounding takes up to 0.018."""
    assert settings.model_validate({"tolerance": "0.007 mm"}) is not None
    with pytest.raises(ValidationError, match="less than or equal"):
        settings.model_validate({"tolerance": "0.02 mm"})


@pytest.mark.parametrize(
    ("writer", "axes"), [(HpglWriter(), {}), (GcodeWriter(), {"feed": "40 in"}), (DxfWriter(), {"version": "R2000"})]
)
def test_axes_that_mirror_a_file_on_the_screen_are_told(writer: CutWriter, axes: dict[str, str]) -> None:
    for y, codes in (("up", []), ("down", ["shows-mirrored"])):
        settings = writer.settings.model_validate({"origin": "upper-left", "y-axis": y, **axes})
        assert [each.code for each in writer.write(crab_sheet(), settings).findings] == codes
