"""How much of a drawing is taken on, and giving up beyond that."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from clothpath.files.reading import Deadline, allow_more
from clothpath.findings import Refusal, error
from clothpath.plugins.readers.svg.notes import Notes

__all__ = ["Limits"]

CLOCK_EVERY: Final = 64
"""Elements between two looks at the clock."""
_LETTERS: Final = "MmZzLlHhVvCcSsQqTtAa"


@dataclass(slots=True)
class Limits:
    """The limits of one reading, and how much of them is used up.

    Attributes:
        elements: most elements once <use> is followed.
        points: most lines and curves once <use> is followed.
    """

    elements: int
    points: int
    deadline: Deadline
    notes: Notes
    _elements: int = 0
    _points: int = 0

    def check_time(self) -> None:
        """Give up if it takes too long.

        Raises:
            Refusal: it does.
        """
        self.deadline.check(self.notes.all())

    def count_element(self) -> None:
        """One more element is drawn; now and then the time is looked at.

        Raises:
            Refusal: that is one too many, or it takes too long.
        """
        self._elements += 1
        if self._elements % CLOCK_EVERY == 0:
            self.check_time()
        if self._elements > self.elements:
            message = f"The drawing has more than {self.elements} elements once what it repeats is counted."
            hint = f"Simplify the drawing, or {allow_more('svg', 'most-elements')}."
            raise Refusal(*self.notes.all(), error("too-many-elements", message, hint=hint))

    def count_points(self, more: int) -> None:
        """More lines and curves are drawn.

        Raises:
            Refusal: those are too many.
        """
        self._points += more
        if self._points > self.points:
            message = f"The drawing has more than {self.points} points once what it repeats is counted."
            hint = f"Simplify its lines in your drawing program, or {allow_more('svg', 'most-points')}."
            raise Refusal(*self.notes.all(), error("too-many-points", message, hint=hint))

    def check_text(self, text: str) -> None:
        """Give up on data that hold too many points, before they are parsed; short data are not looked at.

        A line or curve takes a letter or its part of at most twelve separators.

        Raises:
            Refusal: they do.
        """
        if len(text) > self.points:
            least = max(sum(map(text.count, _LETTERS)), sum(map(text.count, " ,-\n\t")) // 12)
            self.count_points(least)
            self._points -= least
