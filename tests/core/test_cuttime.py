"""Cut length, lifts and time: arithmetic on known figures."""

from __future__ import annotations

import pytest

from clothpath.curves import open_path, polygon
from clothpath.cutplan import Cut, PieceRef
from clothpath.cuttime import Speeds, Work, seconds, work_of

REF = PieceRef(0, "sand", "shell", "shell", 1, "shell")
SQUARE = polygon([30 + 40j, 40 + 40j, 40 + 50j, 30 + 50j])
VEIN = open_path(30 + 40j, [(33 + 44j,)])


def test_ways_are_added_up() -> None:
    found = work_of([Cut(REF, 0, "mark", VEIN, VEIN), Cut(REF, 0, "cut", SQUARE, SQUARE)])
    # 50 mm from the corner of the mat, a vein of 5 mm, 5 mm back, round a square of 10 mm
    assert (found.cut_mm, found.drawn_mm, found.moved_mm) == pytest.approx((40, 5, 55))
    assert found.lifts == 2


def test_every_pass_counts() -> None:
    found = work_of([Cut(REF, 0, "cut", VEIN, VEIN, passes=3)], home=30 + 40j)
    assert found == Work(pytest.approx(15), 0, pytest.approx(10), 3)


def test_time_is_way_by_speed() -> None:
    work = Work(cut_mm=1000, drawn_mm=200, moved_mm=600, lifts=10)
    assert seconds(work, Speeds(cutting=60, moving=200, lift=0.4)) == pytest.approx(20 + 3 + 4)


def test_nothing_is_made_up_for_a_machine_that_states_no_speed() -> None:
    assert seconds(Work(1000, 0, 600, 10), Speeds()) is None
    assert seconds(Work(1000, 0, 600, 10), Speeds(moving=100)) is None
