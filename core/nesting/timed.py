"""Strip search for a stated time with the spyrrow library (J. Gardeyn et al., arXiv 2509.13329), at arm's length.

Terminology:

worker
    a process of its own that runs the search; whatever happens to it, the caller goes on with the best so far.
crew
    the workers that search at the same time, each with another seed.
find
    an arrangement that a worker reports: a turn and a place for every copy, not yet checked.

The library is given grown outlines without holes: it knows neither spacing nor holes that can be trusted.
"""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from queue import Empty, Queue
from threading import Thread
from time import monotonic
from typing import IO, Final, TypeAlias

from .holes import Item

__all__ = ["Find", "search_strip"]

GRACE_S: Final = 1.0
"""How long beyond its time a worker may take before it is ended: the library looks at the clock between its tries."""

POLL_S: Final = 0.2

EXPLORING: Final = 0.8
"""Share of the time in which the search looks for other arrangements; in the rest it presses the best one together."""

THREADS: Final = 2
"""Threads of one worker: each tries the same moves in another order, and the best goes on."""

MOST_WORKERS: Final = 8
"""Largest crew."""

FEW_COPIES: Final = 150
"""Up to so many copies the library's quadtree is quickest with `FLAT` levels, beyond with its own `DEEP`."""

FLAT: Final = 2
DEEP: Final = 4

_SEEDS_APART: Final = 1000

Lines: TypeAlias = "Queue[tuple[int, bytes | None]]"
"""Lines of output with the number of the worker they are from."""

WORKER: Final = Path(__file__).with_name("strip_worker.py")


@dataclass(frozen=True, slots=True)
class Find:
    """`placed`: item number, turn in degrees, x, y in mm: p -> R(turn) p + (x, y)."""

    width: float
    placed: tuple[tuple[int, float, float, float], ...]


def search_strip(
    wanted: Sequence[Item],
    height: float,
    seconds: float,
    seed: int,
    going_on: Callable[[Find | None, float], bool],
) -> None:
    """Searches for a narrow strip of `height` mm.

    `going_on` is called with the narrowest find so far and the share of the time that is gone, several times a second
    and once at the end; when it answers False the search stops. Whatever is raised meanwhile, the workers are ended.
    """
    counts = [item.count for item in wanted]
    task = {
        "items": [{"points": i.blank.rings[0].tolist(), "count": i.count, "turns": i.turns} for i in wanted],
        "height": height,
        "explore_s": EXPLORING * seconds,
        "compress_s": (1 - EXPLORING) * seconds,
        "threads": min(_cores(), THREADS),
        "depth": FLAT if sum(counts) <= FEW_COPIES else DEEP,
    }
    began = monotonic()
    lines: Lines = Queue()
    running = set(range(min(max(_cores() // THREADS, 1), MOST_WORKERS)))
    best: Find | None = None
    with ExitStack() as ends:
        for number in running:
            own = task | {"seed": seed + number * _SEEDS_APART}
            ends.enter_context(_worker(json.dumps(own), number, lines))
        while running and monotonic() - began < seconds + GRACE_S:
            for number, line in _said(lines):
                if line is None:
                    running.discard(number)
                elif (find := _read_find(line, counts)) and (best is None or find.width < best.width):
                    best = find
            if not going_on(best, min((monotonic() - began) / seconds, 1.0) if running else 1.0):
                break


def _said(lines: "Lines") -> "Iterator[tuple[int, bytes | None]]":
    """What the workers say until the next poll, or until there is nothing more to wait for."""
    until = monotonic() + POLL_S
    while (wait := until - monotonic()) > 0:
        with suppress(Empty):
            number, line = lines.get(timeout=wait)
            yield number, line
            if line is None:
                return


def _cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def _worker(task: str, number: int, lines: "Lines") -> "Iterator[subprocess.Popen[bytes]]":
    """Starts a worker on `task` whose lines of output go into `lines`, None at their end; ends it on leaving."""
    process = subprocess.Popen(
        [sys.executable, "-P", str(WORKER)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    reader = Thread(target=_read, args=(process.stdout, number, lines), daemon=True)
    try:
        reader.start()
        with suppress(BrokenPipeError):
            process.stdin.write(task.encode())
            process.stdin.close()
        yield process
    finally:
        process.kill()
        process.wait()
        reader.join()
        process.stdout.close()


def _read(stream: IO[bytes], number: int, lines: "Lines") -> None:
    for line in stream:
        lines.put((number, line))
    lines.put((number, None))


def _read_find(line: bytes, counts: Sequence[int]) -> Find | None:
    """What a line says, or None when it is not an arrangement of all copies."""
    try:
        found = json.loads(line)
        placed = tuple((int(n), float(turn), float(x), float(y)) for n, turn, x, y in found["placed"])
        find = Find(float(found["width"]), placed)
    except (ValueError, KeyError, TypeError):
        return None
    numbers = sorted(n for n, *_ in placed)
    finite = all(isfinite(v) for place in placed for v in place)
    return find if finite and numbers == [n for n, count in enumerate(counts) for _ in range(count)] else None
