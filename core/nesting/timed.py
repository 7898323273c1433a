"""Strip search for a stated time with the spyrrow library (J. Gardeyn et al., arXiv 2509.13329), at arm's length.

Terminology:

worker
    a process of its own that runs the search; whatever happens to it, the caller goes on with the best so far.
crew
    the workers that search at the same time, each with another seed.
heat
    a first stretch of a long search in which one crew runs and those before it pause; after the last heat the workers
    with the narrowest finds go on. Searches of one strip end some percent apart, and most of that shows early.
find
    an arrangement that a worker reports: a turn and a place for every copy, not yet checked.

The library is given grown outlines without holes: it knows neither spacing nor holes that can be trusted.
"""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from math import inf, isfinite
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

HEATS: Final = 3
HEAT: Final = 0.08
"""Share of the time that one heat takes."""

LONG_S: Final = 20.0
"""A shorter search has no heats: they would take too much of it."""

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
        "compress_s": (1 - EXPLORING) * seconds,
        "threads": min(_cores(), THREADS),
        "depth": FLAT if sum(counts) <= FEW_COPIES else DEEP,
    }
    began = monotonic()
    with ExitStack() as ends:
        race = _Race(task, counts, seed, seconds, ends)
        race.go_on(0.0)
        while race.running and monotonic() - began < seconds + GRACE_S:
            race.listen()
            gone = monotonic() - began
            race.go_on(gone)
            if not going_on(min(race.best.values(), key=_width, default=None), min(gone / seconds, 1.0)):
                break


@dataclass(slots=True)
class _Race:
    """The workers by number, and the narrowest find of each; `heat` counts those begun."""

    task: dict[str, object]
    counts: Sequence[int]
    seed: int
    seconds: float
    ends: ExitStack
    heat: int = 0
    workers: "dict[int, subprocess.Popen[bytes]]" = field(default_factory=dict)
    running: set[int] = field(default_factory=set)
    best: dict[int, Find] = field(default_factory=dict)
    lines: "Lines" = field(default_factory=Queue)

    def go_on(self, gone: float) -> None:
        """Begins the next heat when its time has come, and ends the last one."""
        heats = HEATS if self.seconds >= LONG_S and hasattr(signal, "SIGSTOP") else 0
        if self.heat > heats or gone < self.heat * HEAT * self.seconds:
            return
        if self.heat:
            self._signal(self.workers, signal.SIGSTOP)
        crew = min(max(_cores() // THREADS, 1), MOST_WORKERS)
        if self.heat < max(heats, 1):
            for number in range(self.heat * crew, self.heat * crew + crew):
                self._start(number, EXPLORING * self.seconds - gone)
        else:
            ahead = sorted(self.running, key=lambda n: (_width(self.best.get(n)), n))
            self._signal(ahead[crew:], signal.SIGKILL)
            self._signal(ahead[:crew], signal.SIGCONT)
        self.heat += 1

    def listen(self) -> None:
        """Takes what the workers say within the time between two polls."""
        until = monotonic() + POLL_S
        while self.running and (wait := until - monotonic()) > 0:
            with suppress(Empty):
                number, line = self.lines.get(timeout=wait)
                find = _read_find(line, self.counts) if line else None
                if line is None:
                    self.running.discard(number)
                elif find and find.width < _width(self.best.get(number)):
                    self.best[number] = find

    def _start(self, number: int, explore_s: float) -> None:
        task = self.task | {"explore_s": explore_s, "seed": self.seed + number * _SEEDS_APART}
        self.workers[number] = self.ends.enter_context(_worker(json.dumps(task), number, self.lines))
        self.running.add(number)

    def _signal(self, numbers: Iterable[int], what: signal.Signals) -> None:
        for number in numbers:
            self.workers[number].send_signal(what)


def _width(find: Find | None) -> float:
    return find.width if find else inf


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
