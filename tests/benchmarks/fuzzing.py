"""Damaged drawings read for as long as wanted: each must end in a design or in a refusal, within the limits."""

from __future__ import annotations

import argparse
import faulthandler
import random
import resource
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from types import FrameType
from typing import Any, Final

from clothpath.contracts import Reader, Settings
from clothpath.findings import Refusal

LIMIT_S: Final = 10.0
"""Of computing, for one file."""
HANG_S: Final = 30.0
"""After so much computing a reading is broken off."""
STUCK_S: Final = 120.0
"""After so long a reading that nothing breaks off ends the run, with a dump of where it is."""
LIMIT_KIB: Final = 1024 * 1024

Damage = Callable[[random.Random], tuple[bytes, str]]
"""Makes a damaged drawing, and says how it was damaged."""


class Hung(BaseException):
    """Raised in a reading that does not end; nothing in it may catch this."""


def fault_of(reader: Reader[Any], settings: Settings, data: bytes) -> tuple[str, str]:
    """What went wrong, "" if all went well; and how the reading ended."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    signal.setitimer(signal.ITIMER_PROF, HANG_S)
    started = time.thread_time()
    ended = "a design"
    try:
        outcome = reader.read(data, settings)
        if any(finding.severity == "error" for finding in outcome.findings):
            return "an error among the findings of a design", ended
    except Refusal as refusal:
        ended = next((each.code for each in refusal.findings if each.severity == "error"), "")
        if not ended:
            return "a refusal without an error", ended
    except (Exception, Hung):
        return traceback.format_exc(), "an exception"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    taken = time.thread_time() - started
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    if most > max(LIMIT_KIB, before):
        return f"took {most / 1024:.0f} MiB", ended
    return (f"took {taken:.1f} s" if taken > LIMIT_S else ""), ended


def fuzzed(
    reader: Reader[Any],
    damage: Callable[[Sequence[Path]], Damage],
    kind: str,
    about: str,
    settings: Sequence[Settings],
) -> int:
    """Read what `damage` makes, of the files on the command line too, and keep what fails; the exit status.

    Args:
        kind: the ending of the files that are kept.
        settings: one of them is taken for each reading.
    """
    parser = argparse.ArgumentParser(description=about.splitlines()[0])
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=Path(), help="folder for the inputs that failed")
    parser.add_argument("--last", type=Path, help="file that holds the input being read")
    arguments = parser.parse_args()

    def broken_off(_signal: int, _frame: FrameType | None) -> None:
        raise Hung(f"no end after {HANG_S:g} s of computing")

    signal.signal(signal.SIGPROF, broken_off)
    pick = random.Random(arguments.seed)
    next_one = damage(arguments.files)
    until = time.monotonic() + arguments.seconds
    ways: Counter[str] = Counter()
    endings: Counter[str] = Counter()
    faults, slowest = 0, 0.0
    told = time.monotonic()
    while time.monotonic() < until:
        data, way = next_one(pick)
        ways[way] += 1
        if arguments.last:
            arguments.last.write_bytes(data)
        faulthandler.dump_traceback_later(STUCK_S, exit=True)
        began = time.thread_time()
        fault, ending = fault_of(reader, pick.choice(settings), data)
        slowest = max(slowest, time.thread_time() - began)
        faulthandler.cancel_dump_traceback_later()
        endings[ending] += 1
        if fault:
            faults += 1
            kept = arguments.keep / f"fault-{faults}.{kind}"
            kept.write_bytes(data)
            print(f"--- {kept}\n{fault}", flush=True)
        if time.monotonic() > told + 60:
            told = time.monotonic()
            print(f"{ways.total()} so far, {faults} faults", file=sys.stderr, flush=True)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"{ways.total()} damaged drawings, {faults} faults, at most {most / 1024:.0f} MiB, slowest {slowest:.1f} s")
    print("damaged as:", dict(ways.most_common()))
    print("ended in:", dict(endings.most_common()))
    return 1 if faults or most > LIMIT_KIB else 0
