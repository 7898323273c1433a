"""A timed layout takes no more than its seconds: what one search overruns, those after it do without."""

from __future__ import annotations

import pytest

from clothpath.mats import patience
from clothpath.mats.patience import Patience
from clothpath.nesting import Effort, Packing

FOUND = Packing(1.0, 1.0, ())


def test_searches_that_overrun_take_from_those_after_them(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [0.0]
    monkeypatch.setattr(patience, "monotonic", lambda: clock[0])
    allowed: list[float] = []

    def search(effort: Effort) -> Packing:
        allowed.append(effort.seconds)
        clock[0] += 2 * effort.seconds  # a process that takes as long to begin as it searches
        return FOUND

    whole = Patience(6.0)
    found = [whole.search(search, 1.5) for _ in range(4)]
    assert allowed == [1.5, 1.5]
    assert found == [FOUND, FOUND, None, None]
    assert clock[0] <= 6.0


def test_the_best_so_far_is_kept_when_somebody_interrupts() -> None:
    def interrupted(effort: Effort) -> Packing:
        effort.progress(FOUND, 0.5)
        raise KeyboardInterrupt

    whole = Patience(5.0)
    assert whole.search(interrupted, 2.0) == FOUND
    assert whole.stopped
    assert whole.search(interrupted, 2.0) is None
