"""Timed searches: never worse than the quick one, and nothing that happens to the worker reaches the caller."""

import time
from pathlib import Path

import pytest
from nesting_shapes import box, ellipse, heart, leaf, star

from clothpath.nesting import Effort, Packing, Part, faults, fit, strip, timed
from clothpath.nesting.holes import Item
from clothpath.nesting.outline import blanks

PARTS = [
    Part("heart", heart(20), (), None, 3),
    Part("leaf", leaf(50, 12), (), (0.0, 180.0), 4),
    Part("star", star(20, 9), (), (0.0,), 2),
]

BROKEN_WORKERS = {
    "panics": "import sys; sys.stderr.write('thread panicked'); sys.exit(101)",
    "aborts": "import os; os.abort()",
    "hangs": "import time; time.sleep(600)",
    "babbles": "print('no JSON'); print('{}'); print('{\"width\": 1, \"placed\": [[0, 0, 0]]}'); print('[]')",
    "lies": 'print(\'{"width": 1, "placed": [[0, 0.0, 0.0, 0.0]]}\')',
    "names no part": 'print(\'{"width": 1, "placed": [[99, 0.0, 0.0, 0.0]]}\')',
}


CREW = """
import json, sys, time
task = json.load(sys.stdin)
for width in ((40, 30), (20, 15), (50, 25))[task["seed"] // 1000]:
    print(json.dumps({"width": width, "placed": [[0, 0.0, 0.0, 0.0]]}), flush=True)
    time.sleep(0.2)
"""
"""Three workers with seeds of their own; the second comes to the narrowest find."""


def test_the_narrowest_find_of_a_crew_is_told_and_the_search_ends_with_its_last_worker(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    worker = tmp_path / "worker.py"
    worker.write_text(CREW)
    monkeypatch.setattr(timed, "WORKER", worker)
    monkeypatch.setattr(timed, "_cores", lambda: 6)
    item = Item(blanks([Part("box", box(1, 1))], 0.0)[0], (0.0,), 1)
    seen: list[tuple[float, float]] = []

    def going_on(find: timed.Find | None, share: float) -> bool:
        seen.append((find.width if find else 99.0, share))
        return True

    began = time.monotonic()
    timed.search_strip([item], 10, 60.0, 0, going_on)
    assert time.monotonic() - began < 30
    assert [width for width, _ in seen] == sorted((width for width, _ in seen), reverse=True)
    assert seen[-1] == (15, 1.0)


def test_a_timed_strip_keeps_the_rules_and_reports(capfd: pytest.CaptureFixture[str]) -> None:
    seen: list[tuple[float, float]] = []

    def progress(packing: Packing | None, share: float) -> bool:
        assert packing is not None
        seen.append((packing.width, share))
        return True

    quick = strip(PARTS, 120, 3.175, 6.35)
    longer = strip(PARTS, 120, 3.175, 6.35, Effort(1, progress))
    assert faults(PARTS, longer, 3.175, 6.35) == ()
    assert longer.width <= quick.width
    widths, shares = zip(*seen, strict=True)
    assert list(widths) == sorted(widths, reverse=True)
    assert list(shares) == sorted(shares)
    assert shares[0] < 1 == shares[-1]
    assert capfd.readouterr() == ("", "")


def test_an_answer_of_no_stops_the_search_and_keeps_the_best() -> None:
    began = time.monotonic()
    packing = strip(PARTS, 120, 3.175, 6.35, Effort(30, lambda packing, share: share < 0.02))
    assert time.monotonic() - began < 10
    assert faults(PARTS, packing, 3.175, 6.35) == ()


@pytest.mark.parametrize("script", BROKEN_WORKERS.values(), ids=BROKEN_WORKERS.keys())
def test_whatever_the_worker_does_the_quick_answer_stands(
    script: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    worker = tmp_path / "worker.py"
    worker.write_text(script)
    monkeypatch.setattr(timed, "WORKER", worker)
    monkeypatch.setattr(timed, "GRACE_S", 0.2)
    quick = strip(PARTS, 120, 3.175, 6.35)
    assert strip(PARTS, 120, 3.175, 6.35, Effort(0.3)) == quick
    assert capfd.readouterr() == ("", "")


def test_an_interruption_goes_through_and_ends_the_worker(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(packing: Packing | None, share: float) -> bool:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        strip(PARTS, 120, 3.175, 6.35, Effort(30, interrupt))


def test_what_panics_in_the_library_is_no_harm() -> None:
    """Exact fits are beyond its 32-bit numbers; the answer is then the quick one."""
    squares = [Part("square", box(10, 10), (), (0.0,), 2), Part("bar", box(20, 5), (), (90.0,))]
    assert strip(squares, 20, effort=Effort(1)).width == pytest.approx(15, abs=1e-6)


def test_a_rectangle_that_is_filled_at_once_needs_no_search() -> None:
    began = time.monotonic()
    assert fit(PARTS, 300, 300, 3.175, 6.35, Effort(30)).complete
    assert time.monotonic() - began < 5


def test_what_lies_in_a_hole_stays_there_through_a_timed_search() -> None:
    """The dots fit beside the rings only in a strip that is one dot longer."""
    rings = Part("ring", ellipse(40, 40), (ellipse(30, 30)[::-1],), (0.0, 180.0), 2)
    dots = Part("dot", ellipse(12, 12), (), (0.0, 180.0), 3)
    packing = strip([rings, dots], 81, 3, 0, Effort(1))
    assert faults([rings, dots], packing, 3, 0) == ()
    assert packing.width < 2 * 80 + 3 + 0.5
