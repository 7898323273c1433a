"""Damaged drawings read for as long as wanted: each must end in a design or in a refusal, within the limits."""

from __future__ import annotations

import argparse
import random
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from types import FrameType
from typing import Any, Final

from clothpath.contracts import Reader
from clothpath.findings import Refusal

LIMIT_S: Final = 10.0
"""Of computing, for one file."""
HANG_S: Final = 30.0
"""After so much computing a reading is broken off."""
LIMIT_KIB: Final = 1024 * 1024

Damage = Callable[[random.Random], bytes]


class Hung(BaseException):
    """Raised in a reading that does not end; nothing in it may catch this."""


def fault_of(reader: Reader[Any], data: bytes) -> str:
    """What went wrong, "" if all went well."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    signal.setitimer(signal.ITIMER_PROF, HANG_S)
    started = time.thread_time()
    try:
        outcome = reader.read(data, reader.settings())
        if any(finding.severity == "error" for finding in outcome.findings):
            return "an error among the findings of a design"
    except Refusal as refusal:
        if not any(finding.severity == "error" for finding in refusal.findings):
            return "a refusal without an error"
    except (Exception, Hung):
        return traceback.format_exc()
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    taken = time.thread_time() - started
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    if most > max(LIMIT_KIB, before):
        return f"took {most / 1024:.0f} MiB"
    return f"took {taken:.1f} s" if taken > LIMIT_S else ""


def fuzzed(reader: Reader[Any], damage: Callable[[Sequence[Path]], Damage], kind: str, about: str) -> int:
    """Read what `damage` makes, of the files on the command line too, and keep what fails; the exit status."""
    parser = argparse.ArgumentParser(description=about.splitlines()[0])
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=Path(), help="folder for the inputs that failed")
    arguments = parser.parse_args()

    def broken_off(_signal: int, _frame: FrameType | None) -> None:
        raise Hung(f"no end after {HANG_S:g} s of computing")

    signal.signal(signal.SIGPROF, broken_off)
    pick = random.Random(arguments.seed)
    next_one = damage(arguments.files)
    ended = time.monotonic() + arguments.seconds
    tried = faults = 0
    told = time.monotonic()
    while time.monotonic() < ended:
        data = next_one(pick)
        tried += 1
        fault = fault_of(reader, data)
        if fault:
            faults += 1
            kept = arguments.keep / f"fault-{faults}.{kind}"
            kept.write_bytes(data)
            print(f"--- {kept}\n{fault}", flush=True)
        if time.monotonic() > told + 60:
            told = time.monotonic()
            print(f"{tried} so far, {faults} faults", file=sys.stderr, flush=True)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"{tried} damaged drawings, {faults} faults, at most {most / 1024:.0f} MiB")
    return 1 if faults else 0
