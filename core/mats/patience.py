"""How long a timed layout searches, who watches, and that a person may stop it and keep the best so far.

Terminology
    patience    the seconds that are left for the searches of one layout
    watch       told the share of the time that is gone, it answers whether to go on
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from time import monotonic
from typing import Final, TypeAlias

from clothpath.nesting import Effort, Packing

__all__ = ["LEAST_S", "Patience", "watched"]

LEAST_S: Final = 1.0
"""A timed search shorter than this finds nothing."""

Watch: TypeAlias = Callable[[float], bool]
_WATCH: ContextVar[Watch] = ContextVar("watch", default=lambda _: True)


@contextmanager
def watched(watch: Watch) -> Iterator[None]:
    """Timed searches within tell `watch` how far they are, several times a second, and stop when it answers False."""
    token = _WATCH.set(watch)
    try:
        yield
    finally:
        _WATCH.reset(token)


class Patience:
    """Runs timed searches one after another within `seconds`; `stopped` once somebody has had enough."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self.spent = 0.0
        self.stopped = False

    def search(self, call: Callable[[Effort], Packing], seconds: float) -> Packing | None:
        """What `call` finds in so many seconds; the best so far where it is interrupted, None if there is none.

        What a search takes beyond its seconds, to begin and to end, is taken from those after it; one that would get
        less than `LEAST_S` is left out.
        """
        began = monotonic()
        best: Packing | None = None
        allowed = min(seconds, self.seconds - self.spent)

        def progress(packing: Packing | None, share: float) -> bool:
            nonlocal best
            best = packing or best
            gone = (self.spent + monotonic() - began) / self.seconds
            self.stopped = self.stopped or not _WATCH.get()(min(gone, 1.0))
            return not self.stopped

        if self.stopped or allowed < LEAST_S:
            return None
        try:
            return call(Effort(allowed, progress))
        except KeyboardInterrupt:
            self.stopped = True
            return best
        finally:
            self.spent += monotonic() - began
