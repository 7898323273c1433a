"""The SVG measurer on files written by hand; values follow from the standards named beside them."""

from __future__ import annotations

import math
import time

import pytest

from clothpath.contracts import Declared, Measurement
from clothpath.curves import Outline, area, box_of
from clothpath.findings import Refusal
from clothpath.plugins.measurers import svg
from clothpath.plugins.measurers.svg import SvgMeasurer


def measured(body: str, root: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"') -> Measurement:
    return SvgMeasurer().measure(document(body, root), Declared()).value


def document(body: str, root: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"') -> bytes:
    links = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"<svg {links} {root}>{body}</svg>".encode()


def box(measurement: Measurement) -> tuple[float, float, float, float]:
    found = box_of(line.path for line in measurement.lines)
    return found.left, found.bottom, found.right, found.top


@pytest.mark.parametrize(
    ("size", "mm"),
    [("1in", 25.4), ("2.54cm", 25.4), ("25.4mm", 25.4), ("72pt", 25.4), ("6pc", 25.4), ("96px", 25.4), ("96", 25.4)],
)
def test_absolute_units(size: str, mm: float) -> None:
    """CSS Values and Units Level 3, 6.2: 1in = 2.54cm = 25.4mm = 72pt = 6pc = 96px."""
    found = measured('<path d="M0 0H1V1H0Z"/>', f'width="{size}" height="{size}" viewBox="0 0 1 1"')
    assert found.page == pytest.approx((mm, mm))
    assert box(found) == pytest.approx((0, 0, mm, mm))


@pytest.mark.parametrize("density", [72, 90, 96])
def test_pixels_take_the_declared_density(density: int) -> None:
    outcome = SvgMeasurer().measure(
        document('<path d="M0 0H72V72H0Z"/>', 'width="144px" height="144px" viewBox="0 0 144 144"'),
        Declared(mm_per_unit=25.4 / density),
    )
    assert outcome.value.page == pytest.approx((144 / density * 25.4,) * 2)
    assert box(outcome.value)[2] == pytest.approx(72 / density * 25.4)
    assert [finding.code for finding in outcome.findings] == ["declared"]


def test_an_assumed_density_is_said() -> None:
    outcome = SvgMeasurer().measure(document('<path d="M0 0H9V9Z"/>', 'viewBox="0 0 96 96"'), Declared())
    assert outcome.value.page == pytest.approx((25.4, 25.4))
    assert [finding.code for finding in outcome.findings] == ["unit-assumed"]


@pytest.mark.parametrize(
    ("aspect", "expected"),
    [
        # a 10 x 10 viewBox in a viewport 40 wide and 20 high; boxes in mm with y up
        ("", (10, 0, 30, 20)),
        ("xMinYMin meet", (0, 0, 20, 20)),
        ("xMaxYMid", (20, 0, 40, 20)),
        ("none", (0, 0, 40, 20)),
        ("xMidYMin slice", (0, -20, 40, 20)),
        ("xMidYMax slice", (0, 0, 40, 40)),
    ],
)
def test_preserve_aspect_ratio(aspect: str, expected: tuple[float, ...]) -> None:
    """SVG 1.1, 7.8: uniform scale to the smaller (meet) or the larger (slice) ratio, aligned as said."""
    attribute = f'preserveAspectRatio="{aspect}"' if aspect else ""
    root = f'width="40mm" height="20mm" viewBox="5 5 10 10" {attribute}'
    assert box(measured('<rect x="5" y="5" width="10" height="10"/>', root)) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("transform", "expected"),
    [
        ("translate(10 20)", (10, 70, 20, 80)),
        ("translate(10)", (10, 90, 20, 100)),
        ("scale(2)", (0, 80, 20, 100)),
        ("scale(2,.5)", (0, 95, 20, 100)),
        ("rotate(90)", (-10, 90, 0, 100)),
        ("rotate(90,10,10)", (10, 90, 20, 100)),
        ("matrix(1 0 0 1 30 40)", (30, 50, 40, 60)),
        ("skewX(45)", (0, 90, 20, 100)),
        ("translate(10,20) scale(2)", (10, 60, 30, 80)),
        ("scale(2) translate(10,20)", (20, 40, 40, 60)),
    ],
)
def test_transforms(transform: str, expected: tuple[float, ...]) -> None:
    """SVG 1.1, 7.6: a list acts from its last to its first; angles clockwise, since y points down."""
    assert box(measured(f'<rect width="10" height="10" transform="{transform}"/>')) == pytest.approx(expected)


def test_groups_uses_and_nested_viewports_add_up() -> None:
    body = """
      <defs><rect id="r" width="10" height="10"/></defs>
      <g id="sand" transform="translate(10,10)"><g transform="scale(2)"><use xlink:href="#r" x="5"/></g></g>
      <svg x="50" y="50" width="20" height="20" viewBox="0 0 10 10"><rect id="n" width="10" height="10"/></svg>
      <g display="none"><rect width="99" height="99"/></g>
    """
    found = measured(body)
    assert [line.path.box.left for line in found.lines] == pytest.approx([20, 50])
    assert [line.path.box.width for line in found.lines] == pytest.approx([20, 20])
    assert [line.path.box.top for line in found.lines] == pytest.approx([90, 50])
    assert [line.group for line in found.lines] == ["sand", ""]
    assert [line.label for line in found.lines] == ["r", "n"]


def only(body: str) -> Outline:
    (line,) = measured(body).lines
    assert isinstance(line.path, Outline)
    return line.path


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        ('<rect x="3" y="4" width="30" height="20"/>', 600),
        ('<rect width="30" height="20" rx="5"/>', 600 - (4 - math.pi) * 25),
        ('<rect width="30" height="20" rx="90" ry="5"/>', 600 - (4 - math.pi) * 75),
        ('<circle cx="50" cy="50" r="20"/>', math.pi * 400),
        ('<ellipse cx="50" cy="50" rx="20" ry="10"/>', math.pi * 200),
        ('<polygon points="0,0 30,0 30,20"/>', 300),
        ('<path d="M10 10 h30 v20 h-30 z"/>', 600),
        ('<path d="M10,10 40,10 40,30 10,30z"/>', 600),
        ('<path d="m10 10 30 0 0 20-30 0z"/>', 600),
        # a parabola from (0,0) to (30,0) with its control at (15,30) bounds two thirds of 30 x 15
        ('<path d="M0 0 Q15 30 30 0 Z"/>', 300),
        ('<path d="M0 0 q15 30 30 0 t30 0 t-60 0 Z"/>', None),
        # area under one cubic on the chord: 3/20 of 30 x (20 + 20) for controls straight below its ends
        ('<path d="M0 0 C0 20 30 20 30 0 Z"/>', 450 * 0.8),
        ('<path d="M0 0 C0 20 30 20 30 0 S60 -20 60 0 Z"/>', None),
        ('<path d="M20 50 A20 20 0 0 1 60 50 A20 20 0 0 1 20 50Z"/>', math.pi * 400),
        ('<path d="M20 50 a20 20 0 0140 0 20 20 0 01-40 0z"/>', math.pi * 400),
        ('<path d="M20 50 A20 10 0 1 0 60 50Z"/>', math.pi * 100),
        ('<path d="M0 0 A1 1 0 0 0 40 0Z"/>', math.pi * 200),
    ],
)
def test_areas_of_known_figures(shape: str, expected: float | None) -> None:
    """Circle and ellipse pi a b; Archimedes: a parabola's segment is 2/3 of its box; a radius too small is scaled up
    (SVG 1.1, F.6.6)."""
    found = only(shape)
    if expected is None:
        # a smooth command continues with the mirrored control: what is above one chord is below the next
        assert area(found) == pytest.approx(0, abs=1e-9) or found.box.height > 0
    else:
        assert abs(area(found)) == pytest.approx(expected, rel=1e-5)


def test_smooth_commands_mirror_the_last_control_point() -> None:
    smooth = only('<path d="M0 50 C0 70 30 70 30 50 S60 30 60 50 Z"/>')
    spelled = only('<path d="M0 50 C0 70 30 70 30 50 C30 30 60 30 60 50 Z"/>')
    assert smooth == spelled
    assert area(smooth) == pytest.approx(0, abs=1e-9)
    lone = only('<path d="M0 50 S30 70 30 50 Z"/>')
    assert lone == only('<path d="M0 50 C0 50 30 70 30 50 Z"/>')


def test_subpaths_are_lines_of_their_own_and_open_ones_stay_open() -> None:
    found = measured('<path id="p" d="M0 0H30V30H0Z M10 10V20H20V10Z m60 0 l10 10"/><line x1="1" x2="9"/>')
    assert [isinstance(line.path, Outline) for line in found.lines] == [True, True, False, False]
    assert area(found.lines[0].path) * area(found.lines[1].path) < 0  # type: ignore[arg-type]
    # after z the current point is the start of the subpath (SVG 1.1, 8.3.3)
    assert found.lines[2].path.start == pytest.approx(70 + 90j)


def test_a_path_that_returns_to_its_start_is_closed() -> None:
    assert isinstance(measured('<path d="M0 0H9V9L0 0"/>').lines[0].path, Outline)


def test_a_few_lines_that_ask_for_a_million_elements_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """At the real limit that takes 4 s; a hostile file may take 10 s (design.md, section 8)."""
    monkeypatch.setattr(svg, "MOST_ELEMENTS", svg.MOST_ELEMENTS // 20)
    levels = "".join(f'<g id="g{n}">' + f'<use xlink:href="#g{n - 1}"/>' * 20 + "</g>" for n in range(1, 7))
    data = document(f'<defs><g id="g0"><path d="M0 0H1V1Z"/></g>{levels}</defs><use xlink:href="#g6"/>')
    began = time.process_time()
    with pytest.raises(Refusal, match="elements"):
        SvgMeasurer().measure(data, Declared())
    assert time.process_time() - began < 10 / 20


@pytest.mark.parametrize(
    ("data", "code", "words"),
    [
        (b"", "damaged-file", "line 1"),
        (b"\x89PNG\r\n\x1a\n", "damaged-file", "line 1"),
        (document('<path d="M0 0H9V9Z"/>')[:-9], "damaged-file", "line 1"),
        (b"<html/>", "wrong-format", "<html>"),
        (document("", 'viewBox="0 0 x"'), "damaged-file", "viewBox"),
        (document("", 'width="100%" height="100%"'), "no-size", "size"),
        (document("", 'width="0mm" height="10mm"'), "no-size", "0mm"),
        (document('<path id="claw" d="M0 0 L5"/>'), "damaged-file", "claw"),
        (document('<path d="M0 0 C10 20 30 40 50"/>'), "damaged-file", "breaks off"),
        (document('<path d="M0 0 L1234"/>'), "damaged-file", "breaks off"),
        (document('<path d="M0 0 Lzz"/>'), "damaged-file", "character"),
        (document('<path d="10 10 L 5 5"/>'), "damaged-file", "command"),
        (document('<path d="L5 5"/>'), "damaged-file", "move"),
        (document('<g transform="rotate(9"><path d="M0 0L9 9"/></g>'), "damaged-file", "rotate(9"),
        (document('<rect width="5em" height="9"/>'), "damaged-file", "5em"),
        (document('<use xlink:href="#gone"/>'), "damaged-file", "#gone"),
        (document('<g id="a"><use xlink:href="#a"/></g>'), "damaged-file", "leads nowhere"),
        (document('<path d="M0 0 L1e999 0 9 9Z"/>'), "damaged-file", "beyond all measure"),
        (document("<g>" * 9000 + '<path d="M0 0L9 9"/>' + "</g>" * 9000), "damaged-file", "too deep"),
        (document("").replace(b"<svg", b"<?xml version='1.0' encoding='UFT-8'?><svg", 1), "damaged-file", "text"),
        (b'<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "damaged-file", "entities"),
    ],
)
def test_damage_is_refused_and_placed(data: bytes, code: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        SvgMeasurer().measure(data, Declared())
    (finding,) = refused.value.findings
    assert finding.code == code
    assert words in f"{finding.message} {finding.where}"
