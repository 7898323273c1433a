"""What every reader of drawings keeps to, whatever the format: how long a file may take, and how large it may be."""

from __future__ import annotations

import gc
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal

from pydantic import Field

from clothpath.contracts import Settings
from clothpath.findings import Finding, Refusal, error, warning

__all__ = ["Deadline", "ReadingSettings", "allow_more", "ends_early", "uncollected"]


class ReadingSettings(Settings):
    """How much of a file a reader takes on."""

    most_seconds: float = Field(8.0, gt=0, description="longest time for one file, in seconds of computing")
    most_megabytes: float = Field(40.0, gt=0, description="largest file, in megabytes, once it is decompressed")
    broken_off: Literal["refuse", "read"] = Field("refuse", description="what is done with a file whose end is missing")


class Deadline:
    """The time for a file: seconds of computing, so that what can be read does not depend on what else is running."""

    def __init__(self, reader: str, seconds: float) -> None:
        self._reader, self._seconds = reader, seconds
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
            more = allow_more(self._reader, "most-seconds")
            hint = f"Save only the parts that are to be cut, simplify them, or {more}."
            raise Refusal(*said, error("too-slow", message, hint=hint))


def allow_more(reader: str, setting: str) -> str:
    """What a person does to raise a limit of a reader, for the end of a hint."""
    return f"allow more with --set read.{reader}.{setting}=NUMBER"


def ends_early(reader: str, settings: ReadingSettings, where: str = "") -> Finding:
    """A finding on a file whose end is missing: nobody can tell how many pieces were in it.

    Raises:
        Refusal: the settings do not say that what there is should be read.
    """
    message = "The file breaks off: its end is missing, with every piece that was drawn there."
    if settings.broken_off == "read":
        return warning("broken-off", message, where, "Compare the pieces with the drawing before you cut.")
    whole = "Get the whole file: copy it, download it or save it anew."
    part = f"To cut what is there all the same: --set read.{reader}.broken-off=read."
    raise Refusal(error("broken-off", message, where, f"{whole} {part}"))


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
