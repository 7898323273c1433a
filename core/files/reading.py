"""What every reader of drawings keeps to, whatever the format: how long a file may take, and how large it may be."""

from __future__ import annotations

import gc
import time
from collections.abc import Iterator
from contextlib import contextmanager

from pydantic import Field

from clothpath.contracts import Settings
from clothpath.findings import Finding, Refusal, error

__all__ = ["Deadline", "ReadingSettings", "uncollected"]


class ReadingSettings(Settings):
    """How much of a file a reader takes on."""

    most_seconds: float = Field(8.0, gt=0, description="longest time for one file, in seconds of computing")
    most_megabytes: float = Field(40.0, gt=0, description="largest file, in megabytes, once it is decompressed")


class Deadline:
    """The time for a file: seconds of computing, so that what can be read does not depend on what else is running."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._start = time.thread_time()

    def check(self, said: tuple[Finding, ...] = (), share: float = 1.0) -> None:
        """Nothing, while less than `share` of the time has passed.

        Args:
            said: findings made so far, for the refusal.

        Raises:
            Refusal: it has passed.
        """
        if time.thread_time() > self._start + share * self._seconds:
            message = f"This drawing would take more than {self._seconds:g} s of computing to read."
            hint = "Save only the parts that are to be cut, simplify them, or raise the setting most-seconds."
            raise Refusal(*said, error("too-slow", message, hint=hint))


@contextmanager
def uncollected() -> Iterator[None]:
    """Without Python's garbage collector, which looks through all that was read again and again and finds nothing."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
