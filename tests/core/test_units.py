"""Lengths, against the published definitions and the way a sewing ruler is read."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.units import (
    LengthError,
    SpeedError,
    as_inches,
    as_millimeters,
    as_typed,
    as_typed_mm,
    both,
    cutting_size,
    cutting_size_mm,
    parse_length,
    parse_speed,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        # International Yard and Pound Agreement, 1959: 1 yd = 0.9144 m exactly, hence 1 in = 25.4 mm
        ("1 in", 25.4),
        ("1 yd", 914.4),
        ("1 ft", 304.8),
        ("1 yard", 914.4),
        # CSS Values and Units Level 3, 5.2: 1in = 2.54cm = 72pt = 6pc
        ("2.54 cm", 25.4),
        ("72 pt", 25.4),
        ("6 pc", 25.4),
        # arithmetic
        ("4 3/8 in", 4.375 * 25.4),
        ('4-3/8"', 4.375 * 25.4),
        ("4½ in", 4.5 * 25.4),
        ("¾ yd", 0.75 * 914.4),
        ("3/16 in", 0.1875 * 25.4),
        ("111mm", 111),
        ("10.5 cm", 105),
        (".5 in", 12.7),
        ("1 m", 1000),
        ("-1/4 in", -6.35),
        ("12 Inches", 304.8),
        ("1/8 yd", 114.3),  # trade-facts: 1/8 yd is 4 1/2 in
    ],
)
def test_a_length_is_what_its_unit_says(text: str, mm: float) -> None:
    assert parse_length(text).mm == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("4", "no unit"),
        ("4 3/8", "no unit"),
        ("4 px", "no fixed size"),
        ("4 furlongs", "furlongs"),
        ("4,5 cm", "point"),
        ("", "not a length"),
        ("inch", "not a length"),
        ("1/0 in", "zero"),
        ("4 in 3", "in 3"),
    ],
)
def test_what_is_no_length_is_told_with_the_reason(text: str, told: str) -> None:
    with pytest.raises(LengthError, match=told):
        parse_length(text)


@pytest.mark.parametrize(
    ("text", "step_mm"),
    [("1 3/4 in", 25.4 / 4), ("4 in", 25.4), ("4.5 cm", 1), ("111 mm", 1), ("111.0 mm", 0.1), ("3/8 in", 25.4 / 8)],
)
def test_a_length_remembers_how_finely_it_was_stated(text: str, step_mm: float) -> None:
    assert parse_length(text).step_mm == pytest.approx(step_mm)


@pytest.mark.parametrize(
    ("inches", "read"),
    [(4.375, "4 3/8 in"), (4.0, "4 in"), (0.5, "1/2 in"), (4.38, "4 3/8 in"), (-0.25, "-1/4 in"), (0, "0 in")],
)
def test_inches_are_read_off_a_ruler(inches: float, read: str) -> None:
    assert as_inches(inches * 25.4) == read


@pytest.mark.parametrize(
    ("inches", "cut"),
    # common practice: cutting sizes are rounded up to what the ruler shows, never down
    [(4.3, "4 3/8 in"), (4.375, "4 3/8 in"), (4.376, "4 1/2 in"), (0.01, "1/8 in"), (3.999, "4 in")],
)
def test_cutting_sizes_are_rounded_up(inches: float, cut: str) -> None:
    assert cutting_size(inches * 25.4) == cut


def test_cutting_sizes_in_millimeters_are_whole_and_rounded_up() -> None:
    assert [cutting_size_mm(mm) for mm in (10.0, 10.004, 10.1, 10.9)] == ["10 mm", "10 mm", "11 mm", "11 mm"]


def test_a_length_is_told_in_both_habits() -> None:
    assert both(111.125) == "4 3/8 in (111.1 mm)"
    assert both(0.5) == "0.02 in (0.5 mm)"  # no ruler shows it, and it is not 0 in
    assert both(0.0) == "0 in (0 mm)"
    assert as_millimeters(111.0) == "111 mm"
    assert as_millimeters(-0.01) == "0 mm"


@given(st.integers(0, 400), st.integers(1, 15))
def test_what_is_printed_in_sixteenths_reads_back_the_same(whole: int, sixteenths: int) -> None:
    mm = float((whole + Fraction(sixteenths, 16)) * Fraction(254, 10))
    assert parse_length(as_inches(mm)).mm == pytest.approx(mm, abs=1e-9)


@given(st.floats(0.01, 2000))
def test_a_cutting_size_never_comes_short(mm: float) -> None:
    assert parse_length(cutting_size(mm)).mm >= mm - 0.005 - 1e-9
    assert parse_length(cutting_size(mm)).mm < mm + 25.4 / 8


@pytest.mark.parametrize(
    ("text", "mm_per_second"),
    [
        ("80 mm/s", 80),
        ("3 in/s", 76.2),  # 1 in = 25.4 mm
        ("2 1/2 in/s", 63.5),
        ("1200 mm/min", 20),  # arithmetic
        ("4.8 m per minute", 80),
        ("8 cm/sec.", 80),
    ],
)
def test_a_speed_is_a_length_in_a_time(text: str, mm_per_second: float) -> None:
    speed = parse_speed(text)
    assert speed.mm_per_second == pytest.approx(mm_per_second)
    assert speed.text == text


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("80 mm", "80 mm/s"),
        ("80", "80 mm/s"),
        ("80/s", "no unit"),
        ("1/2 in", "is not a speed such as"),
        ("80 px/s", "no fixed size"),
        ("80 mm/h", "is not a speed such as"),
        ("0 mm/s", "more than 0"),
        ("-3 in/s", "more than 0"),
        ("", "is not a speed"),
    ],
)
def test_what_is_no_speed_is_told(text: str, told: str) -> None:
    with pytest.raises(SpeedError, match=told):
        parse_speed(text)


def test_what_is_typed_is_told_as_programs_show_it() -> None:
    # 10.95 in is 278.13 mm: 1 in = 25.4 mm, International Yard and Pound Agreement (1959)
    assert (as_typed(278.13), as_typed_mm(278.13)) == ("10.95 in", "278.1 mm")


@pytest.mark.parametrize("mm", [6.35, 304.8 - 298.45, 12.7 / 2, 6.349999, 6.350001])
def test_a_quarter_inch_is_told_one_way_however_it_came_about(mm: float) -> None:
    assert (as_millimeters(mm), as_typed_mm(mm), both(-mm)) == ("6.4 mm", "6.4 mm", "-1/4 in (-6.4 mm)")
