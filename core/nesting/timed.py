"""Strip search for a stated time with the spyrrow library (J. Gardeyn et al., arXiv 2509.13329), at arm's length.

Terminology:

worker
    a process of its own that runs the search; whatever happens to it, the caller goes on with the best so far.
crew
    the workers of one search, each with another seed and its share of the processor's cores: searches of the same
    strip end some percent apart, so the best of several is worth more than one that shares its moves among the cores.
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
from typing import IO, Final

from .holes import Item

__all__ = ["Find", "search_strip"]

GRACE_S: Final = 0.5
"""How long beyond its time a worker may take before it is ended; what it found by then counts."""

POLL_S: Final = 0.2

STARTING_S: Final = 0.15
"""About how long a worker takes to start, off its time."""

EXPLORING: Final = 0.8
"""Share of the time in which the search looks for other arrangements; in the rest it presses the best one together."""

MOST_WORKERS: Final = 8

_SEEDS_APART: Final = 1000

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
    cores = _cores()
    crew = min(cores, MOST_WORKERS)
    span = max(seconds - STARTING_S, seconds / 2)
    items = [{"points": i.blank.rings[0].tolist(), "count": i.count, "turns": i.turns} for i in wanted]
    task = {
        "items": items,
        "height": height,
        "explore_s": EXPLORING * span,
        "compress_s": (1 - EXPLORING) * span,
        "threads": cores // crew,
    }
    counts = [item.count for item in wanted]
    best: Find | None = None
    began = monotonic()
    lines: Queue[bytes | None] = Queue()
    with ExitStack() as ends:
        for number in range(crew):
            ends.enter_context(_worker(json.dumps(task | {"seed": seed + number * _SEEDS_APART}), lines))
        running = crew
        while running and monotonic() - began < seconds + GRACE_S:
            for line in _arrived(lines):
                running -= line is None
                best = _better(best, _read_find(line, counts)) if line else best
            if not going_on(best, min((monotonic() - began) / seconds, 1.0)):
                break


def _cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def _worker(task: str, lines: "Queue[bytes | None]") -> Iterator[None]:
    """Starts a worker on `task` that puts its lines of output into `lines`, None at their end; ends it on leaving."""
    process = subprocess.Popen(
        [sys.executable, "-P", str(WORKER)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    reader = Thread(target=_read, args=(process.stdout, lines), daemon=True)
    try:
        reader.start()
        with suppress(BrokenPipeError):
            process.stdin.write(task.encode())
            process.stdin.close()
        yield
    finally:
        process.kill()
        process.wait()
        reader.join()
        process.stdout.close()


def _arrived(lines: "Queue[bytes | None]") -> Iterator[bytes | None]:
    """What arrives within the time between two polls."""
    until = monotonic() + POLL_S
    while (wait := until - monotonic()) > 0:
        try:
            line = lines.get(timeout=wait)
        except Empty:
            return
        yield line
        if line is None:
            return


def _read(stream: IO[bytes], lines: "Queue[bytes | None]") -> None:
    for line in stream:
        lines.put(line)
    lines.put(None)


def _better(best: Find | None, find: Find | None) -> Find | None:
    return find if find and (best is None or find.width < best.width) else best


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
