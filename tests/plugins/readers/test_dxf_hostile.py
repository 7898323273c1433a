"""DXF files made to do harm, or by accident as if: each ends soon, within bounds and in words."""

from __future__ import annotations

import io
import time
from collections.abc import Callable

import ezdxf
import pytest
from dxf_text import block, circle, dxf, entity, hatch, insert, line, lwpolyline, polyline_path, spline, square, tags
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.design import Design
from clothpath.findings import Finding, Refusal
from clothpath.plugins.readers.dxf import DxfReader, DxfSettings

SECONDS = 8.0
"""Of computing: less than the 10 s that one file may take. These take a fraction."""


def outcome_of(data: bytes, settings: DxfSettings | None = None) -> tuple[Design | None, set[str]]:
    """The design, if any, and the codes of the findings; anything but an outcome or a refusal fails the test."""
    began = time.thread_time()
    findings: tuple[Finding, ...]
    try:
        outcome = DxfReader().read(data, settings or DxfSettings())
        design, findings = outcome.value, outcome.findings
    except Refusal as refusal:
        design, findings = None, refusal.findings
    assert time.thread_time() - began < SECONDS
    assert all(finding.message and finding.message.isprintable() for finding in findings)
    return design, {finding.code for finding in findings}


def _bomb(depth: int) -> str:
    """Each block holds ten of the next: 10^depth circles."""
    blocks = [block(f"b{i}", *(insert(f"b{i + 1}", 20 * k) for k in range(10))) for i in range(depth)]
    return dxf(insert("b0"), blocks=[*blocks, block(f"b{depth}", circle(0, 0, 5))])


def test_a_bomb_of_blocks_is_defused() -> None:
    design, codes = outcome_of(_bomb(9).encode())
    assert design is None
    assert codes == {"too-many-elements"}


def test_a_bomb_of_empty_blocks_costs_nothing() -> None:
    blocks = [block(f"b{i}", *(insert(f"b{i + 1}", 20 * k) for k in range(10))) for i in range(60)]
    design, codes = outcome_of(dxf(insert("b0"), circle(0, 0, 9), blocks=[*blocks, block("b60")]).encode())
    assert design is not None
    assert codes == set()


def test_an_array_of_a_billion_is_refused() -> None:
    text = dxf(insert("disk", 0, 0, 70, 32767, 71, 32767, 44, 20, 45, 20), blocks=[block("disk", circle(0, 0, 5))])
    assert outcome_of(text.encode()) == (None, {"too-many-elements"})


def test_blocks_that_hold_each_other_end() -> None:
    text = dxf(insert("a"), blocks=[block("a", circle(0, 0, 9), insert("b")), block("b", insert("a"), circle(0, 0, 5))])
    design, codes = outcome_of(text.encode())
    assert design is not None
    assert codes == {"block-in-itself"}


def test_a_thousand_blocks_deep_does_not_overflow() -> None:
    blocks = [block(f"b{i}", insert(f"b{i + 1}")) for i in range(1000)]
    design, codes = outcome_of(dxf(insert("b0"), circle(0, 0, 9), blocks=[*blocks, block("b1000")]).encode())
    assert design is not None
    assert codes == {"block-in-itself"}


def test_a_file_beyond_the_limit_is_not_even_opened() -> None:
    text = dxf(*(circle(20 * i, 0, 9) for i in range(100)))
    assert outcome_of(text.encode(), DxfSettings(most_megabytes=0.001)) == (None, {"too-large"})


def test_the_clock_stops_a_long_reading() -> None:
    text = dxf(*(circle(20 * i, 0, 9) for i in range(2000)))
    assert outcome_of(text.encode(), DxfSettings(most_seconds=0.01)) == (None, {"too-slow"})


def test_a_polyline_of_a_hundred_thousand_corners() -> None:
    """A comb: long, but harmless."""
    corners = [(i, (i % 2) * 50 + 1) for i in range(100_000)] + [(100_000, 0), (0, 0)]
    design, codes = outcome_of(dxf(lwpolyline(corners)).encode(), DxfSettings(most_seconds=SECONDS))
    assert design is not None or codes == {"too-slow"}


def test_a_scribble_of_loose_lines_ends() -> None:
    """Thousands of ends within a gap's width of one another are no gaps."""
    text = dxf(circle(0, 0, 50), *(line(i * 0.004, 0, 10 + i * 0.004, 30) for i in range(3000)))
    design, codes = outcome_of(text.encode())
    assert design is not None
    assert codes == {"open-line"}


def test_a_grid_of_crossing_corners_ends() -> None:
    """A hundred squares that share all their sides: each is a piece."""
    lines = [line(x, y, x + 10, y) for x in range(0, 100, 10) for y in range(0, 110, 10)]
    lines += [line(x, y, x, y + 10) for x in range(0, 110, 10) for y in range(0, 100, 10)]
    design, codes = outcome_of(dxf(*lines).encode())
    assert design is not None
    assert len(design.pieces) == 100
    assert codes == {"junction"}


def test_many_circles_in_one_another() -> None:
    design, _ = outcome_of(dxf(*(circle(0, 0, 10 + i / 2) for i in range(400))).encode())
    assert design is not None
    assert len(design.pieces) == 200


BROKEN: dict[str, str] = {
    "a spline of degree 10,000": spline(10_000, [0.0] * 10_002, [(0, 0)]),
    "a spline of infinite knots": spline(3, [0, 0, 0, 0, "inf", "inf", "inf", "inf"], [(0, 0), (1, 1), (2, 1), (3, 0)]),  # type: ignore[list-item]
    "a spline of no numbers": spline(2, [0, 0, 0, 1, 1, 1], [(0, 0), ("nan", 5), (9, 9)]),  # type: ignore[list-item]
    "a spline with a weight of zero": spline(2, [0, 0, 0, 1, 1, 1], [(0, 0), (5, 5), (9, 0)], [1, 0, 1]),
    "a spline of one point": spline(1, [0, 0, 1], [(0, 0)]),
    "an arc of infinite radius": entity("ARC", 10, 0, 20, 0, 40, "inf", 50, 0, 51, 90),
    "a circle of negative radius": circle(0, 0, -5),
    "a circle nowhere": circle(float("nan"), 0, 5),
    "an ellipse without axis": entity("ELLIPSE", 10, 0, 20, 0, 30, 0, 11, 0, 21, 0, 31, 0, 40, 1, 41, 0, 42, 6),
    "a polyline of one corner": lwpolyline([(0, 0)]),
    "a polyline that stays where it is": lwpolyline([(5, 5), (5, 5), (5, 5)]),
    "a bulge of infinity": lwpolyline([(0, 0, float("inf")), (9, 0, 0)]),
    "a bulge beyond all bounds": lwpolyline([(0, 0, 1e200), (9, 0, 0)]),
    "a hatch of one corner": hatch(polyline_path([(0, 0, 0)])),
    "a block without a name": insert(""),
    "a block scaled beyond all bounds": insert("disk", 0, 0, 41, 1e200),
    "an entity that does not exist": entity("FROBNICATOR", 10, 0, 20, 0),
}


@pytest.mark.parametrize("what", BROKEN)
def test_broken_elements_are_told_and_the_rest_is_read(what: str) -> None:
    design, codes = outcome_of(dxf(square(0, 0, 20), BROKEN[what], blocks=[block("disk", circle(0, 0, 5))]).encode())
    assert design is not None
    assert len(design.pieces) == 1
    assert codes & {"broken-element", "kind-unknown", "block-missing", "line-without-length", "damaged"}


def _flat_lines() -> str:
    return dxf(lwpolyline([(0, 0), (10, 0), (20, 0)]), lwpolyline([(0, 0), (10, 0)]), square(0, 10, 20))


def test_an_outline_that_encloses_nothing_is_left_out_and_told() -> None:
    design, codes = outcome_of(_flat_lines().encode())
    assert design is not None
    assert len(design.pieces) == 1
    assert codes == {"flat-outline"}


def test_an_outline_that_crosses_itself_is_kept_though_its_signed_area_is_none() -> None:
    design, _ = outcome_of(dxf(lwpolyline([(0, 0), (20, 20), (20, 0), (0, 20)])).encode())
    assert design is not None
    assert len(design.pieces) == 1


def _seed(version: str) -> bytes:
    document = ezdxf.new(version, units=4)
    space = document.modelspace()
    space.add_circle((0, 0), 10)
    space.add_lwpolyline([(0, 0, 1), (20, 0, 0), (20, 20, 0)], format="xyb", close=True)
    space.add_spline(degree=3).control_points = [(0, 0), (9, 9), (18, -9), (27, 0)]
    document.blocks.new("leaf").add_ellipse((0, 0), (9, 0), 0.4)
    space.add_blockref("leaf", (40, 0), dxfattribs={"xscale": -2, "rotation": 30})
    hatch_ = space.add_hatch(color=2)
    hatch_.paths.add_polyline_path([(0, 50, 1), (20, 50, 1)], is_closed=True)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


SEEDS = [_seed("R2000"), dxf(square(0, 0, 20), circle(5, 5, 2), *BROKEN.values()).encode()]

Change = Callable[[bytes], bytes]


def _replaced(at: float, by: bytes) -> Change:
    return lambda data: data[: int(at * len(data))] + by + data[int(at * len(data)) + len(by) :]


def _removed(at: float, count: int) -> Change:
    return lambda data: data[: int(at * len(data))] + data[int(at * len(data)) + count :]


def _repeated(at: float, count: int) -> Change:
    return lambda data: (
        data[: int(at * len(data))] + data[int(at * len(data)) :][:count] * 3 + data[int(at * len(data)) :]
    )


def _line_replaced(at: float, by: bytes) -> Change:
    def change(data: bytes) -> bytes:
        lines = data.split(b"\n")
        lines[int(at * len(lines))] = by
        return b"\n".join(lines)

    return change


PLACE = st.floats(0, 0.999)
WORDS = st.sampled_from(
    [
        b"0",
        b"10",
        b"-1",
        b"1e308",
        b"nan",
        b"inf",
        b"",
        b"SECTION",
        b"ENDSEC",
        b"EOF",
        b"LINE",
        b"70",
        b"99999999999",
        b"\xff",
    ]
)
CHANGES = st.one_of(
    st.builds(_replaced, PLACE, st.binary(min_size=1, max_size=6)),
    st.builds(_removed, PLACE, st.integers(1, 200)),
    st.builds(_repeated, PLACE, st.integers(1, 200)),
    st.builds(_line_replaced, PLACE, WORDS),
)


@settings(max_examples=60)
@given(st.sampled_from(SEEDS), st.lists(CHANGES, min_size=1, max_size=5))
def test_any_damage_ends_in_a_design_or_in_words(seed: bytes, changes: list[Change]) -> None:
    for change in changes:
        seed = change(seed)
    design, codes = outcome_of(seed)
    assert design is not None or codes


def test_what_the_fuzzing_found_is_tags() -> None:
    """A place for found inputs; the first is an entity list without anything in it."""
    assert outcome_of(tags(0, "SECTION", 2, "ENTITIES", 0, "EOF").encode())[1] & {"nothing-drawn"}


def test_an_array_whose_members_lie_on_one_another_counts_once() -> None:
    """Found by fuzzing: five hundred circles on one another took 18 s, each being compared with each."""
    text = dxf(insert("disk", 0, 0, 70, 23, 71, 23, 44, 0, 45, 0), blocks=[block("disk", circle(0, 0, 5))])
    design, codes = outcome_of(text.encode(), DxfSettings(most_seconds=2))
    assert design is not None
    assert len(design.pieces) == 1
    assert codes == {"outline-drawn-twice"}


def test_circles_that_overlap_by_the_hundred_end_soon() -> None:
    text = dxf(insert("disk", 0, 0, 70, 400, 44, 0.01), blocks=[block("disk", circle(0, 0, 50))])
    design, _ = outcome_of(text.encode(), DxfSettings(most_seconds=4))
    assert design is not None


def test_circles_of_a_thousand_kilometers_are_no_burden() -> None:
    """As polylines within the usual 0.005 mm they would have a million points each."""
    text = dxf(*(circle(0, 0, 9e8 - 1e6 * i) for i in range(40)))
    design, codes = outcome_of(text.encode(), DxfSettings(most_seconds=4))
    assert design is not None
    assert len(design.pieces) == 20
    assert codes == {"size-doubtful"}


def test_two_thousand_loose_lines_with_ends_on_others() -> None:
    """Four hundred squares of loose lines, each halved by a line from side to side: twice as many pieces."""
    lines = []
    for k in range(400):
        x, y = 20 * (k % 20), 20 * (k // 20)
        sides = [(0, 0, 10, 0), (10, 0, 10, 10), (10, 10, 0, 10), (0, 10, 0, 0), (5, 0, 5, 10)]
        lines += [line(x + a, y + b, x + c, y + d) for a, b, c, d in sides]
    design, codes = outcome_of(dxf(*lines).encode())
    assert design is not None
    assert len(design.pieces) == 800
    assert codes == {"end-on-line", "junction"}
