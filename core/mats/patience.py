"""How long a timed layout searches, who watches, and that a person may stop it and keep the best so far.

Terminology
    patience    the seconds that are left for the searches of one layout
    watch       told the share of the time that is gone, it answers whether to go on
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeAlias

from clothpath.nesting import Effort, Packing

__all__ = ["Patience", "watched"]

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
        """What `call` finds in so many seconds; the best so far where it is interrupted, None if there is none."""
        best: Packing | None = None

        def progress(packing: Packing | None, share: float) -> bool:
            nonlocal best
            best = packing or best
            gone = (self.spent + seconds * min(share, 1.0)) / self.seconds
            self.stopped = self.stopped or not _WATCH.get()(min(gone, 1.0))
            return not self.stopped

        if self.stopped:
            return None
        try:
            return call(Effort(seconds, progress))
        except KeyboardInterrupt:
            self.stopped = True
            return best
        finally:
            self.spent += seconds
