"""What is asked of the nesting engine for one fabric: which rectangles take its parts, how many one rectangle takes.

Terminology
    search          one way to ask: quick, which gives the same answer every time, or patient, which takes its time
    wide            a quick search that tries more, where a mat may be saved by it
    patient search  the quick answers, and what a timed strip search makes of the best of them
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Final, Protocol

from clothpath.mats.few import lone, pair
from clothpath.mats.patience import LEAST_S, Patience
from clothpath.mats.wanted import Rules
from clothpath.nesting import QUICK, WIDE, Effort, Packing, Part, candidates, fill, strip

__all__ = ["LEAST_SEARCH", "QUICK_SEARCH", "WIDE_SEARCH", "PatientSearch", "Search"]

MOST_SHAPES: Final = 4
"""Rectangles of one fabric among which the mats may choose; more cost time and were not seen to save cloth."""
MOST_STRIPS: Final = 4
"""The most rectangles of one fabric on which a timed search is spent."""

Size = tuple[float, float]


class Search(Protocol):
    """How the engine is asked."""

    def rectangles(self, parts: Sequence[Part], most: Size, rules: Rules) -> tuple[Packing, ...]:
        """Rectangles within `most` (width, height in mm) that take every copy; none where there is none."""

    def fullest(self, parts: Sequence[Part], size: Size, rules: Rules) -> Packing:
        """As many copies as found room in a rectangle."""


class _QuickSearch:
    """Up to so many rectangles of one fabric; `effort` without seconds."""

    def __init__(self, shapes: int, effort: Effort) -> None:
        self.shapes, self.effort = shapes, effort

    def rectangles(self, parts: Sequence[Part], most: Size, rules: Rules) -> tuple[Packing, ...]:
        copies = sum(part.count for part in parts)
        if copies == 1:
            return lone(parts[0], most, rules, self.shapes)
        if copies == 2:
            return pair(parts, most, rules, self.shapes)
        return candidates(parts, *most, rules.spacing, rules.margin, self.shapes, rules.ruler_step, self.effort)

    def fullest(self, parts: Sequence[Part], size: Size, rules: Rules) -> Packing:
        return fill(parts, *size, rules.spacing, rules.margin, self.effort)


QUICK_SEARCH: Final[Search] = _QuickSearch(MOST_SHAPES, QUICK)
LEAST_SEARCH: Final[Search] = _QuickSearch(1, QUICK)
"""As the quick search, but for the least rectangle only."""
WIDE_SEARCH: Final[Search] = _QuickSearch(MOST_SHAPES, WIDE)


class PatientSearch:
    """Takes `seconds` out of the patience of the layout; `rooms` is how many rectangles the fabric takes about."""

    def __init__(self, patience: Patience, seconds: float, rooms: int) -> None:
        self.patience, self.seconds, self.rooms = patience, seconds, rooms

    def rectangles(self, parts: Sequence[Part], most: Size, rules: Rules) -> tuple[Packing, ...]:
        quick = QUICK_SEARCH.rectangles(parts, most, rules)
        seconds = self.seconds / self.rooms
        strips = min(MOST_STRIPS, int(seconds / LEAST_S), len(quick))
        found = list(quick)
        for packing in quick[:strips]:
            narrowest = partial(strip, parts, packing.height, rules.spacing, rules.margin)
            longer = self.patience.search(narrowest, seconds / strips)
            if longer is not None and longer.complete and longer.width <= most[0]:
                found.append(longer)
        return tuple(found)

    def fullest(self, parts: Sequence[Part], size: Size, rules: Rules) -> Packing:
        quick = QUICK_SEARCH.fullest(parts, size, rules)
        seconds = self.seconds / self.rooms
        if seconds < LEAST_S:
            return quick
        longer = self.patience.search(partial(fill, parts, *size, rules.spacing, rules.margin), seconds)
        return longer if longer is not None and len(longer.spots) > len(quick.spots) else quick
