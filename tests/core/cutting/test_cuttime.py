"""Cut length, lifts and time: arithmetic on known figures."""

from __future__ import annotations

from dataclasses import replace

import pytest

from clothpath.curves import open_path, polygon
from clothpath.cutplan import Blade, Cut, CutPlan, PieceRef
from clothpath.cutting.cuttime import Work, seconds, work_of
from clothpath.cutting.tried import NO_SPEEDS, Speeds, Tried, settled
from clothpath.design import Fabric
from clothpath.layout import Layout, Mat
from clothpath.units import Speed

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


def plan(*found: Tried, speeds: Speeds = NO_SPEEDS) -> CutPlan:
    fabrics = (Fabric("sand", "Sand"), Fabric("coral", "Coral"))
    layout = Layout((), fabrics, Mat("mat-8x12", 203.2, 304.8))
    return CutPlan(layout, (), Blade(), speeds, settled(found, fabrics))


def test_time_is_way_by_speed() -> None:
    cuts = [Cut(REF, 0, "mark", VEIN, VEIN), Cut(REF, 0, "cut", SQUARE, SQUARE)]
    # 45 mm with the tool down, 55 mm moved, 2 lifts
    took = seconds(plan(speeds=Speeds(cutting=20, moving=100, lift=0.4)), cuts)
    assert took == pytest.approx(45 / 20 + 55 / 100 + 2 * 0.4)


def test_nothing_is_made_up_for_a_machine_that_states_no_speed() -> None:
    cuts = [Cut(REF, 0, "cut", SQUARE, SQUARE)]
    assert seconds(plan(), cuts) is None
    assert seconds(plan(speeds=Speeds(moving=100)), cuts) is None
    counted = plan(Tried("cotton", fabrics=("sand",), speed=5.0), speeds=Speeds(cutting=20))
    assert seconds(counted, cuts) is None  # as the machine counts it: nobody knows how fast that is


def test_a_fabric_is_cut_at_the_speed_that_was_found_for_it() -> None:
    slow = plan(Tried("cotton", fabrics=("sand",), speed=Speed(10, "10 mm/s")), speeds=Speeds(cutting=20))
    ring = Cut(REF, 0, "cut", SQUARE, SQUARE)
    other = replace(ring, ref=replace(REF, fabric="coral"))
    assert seconds(slow, [ring, other]) == pytest.approx(40 / 10 + 40 / 20)
