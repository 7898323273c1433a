"""Jobs done in processes of their own, so that a plugin that hangs or crashes takes down its own job and no other.

Terminology
    worker      a process that does one job after another
    group       jobs that share a drawing; one worker does them in order, so that it reads the drawing once
    time limit  how long one job may take before its worker is ended
"""

from __future__ import annotations

import multiprocessing
import signal
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import Any, Final, Generic, TypeVar

__all__ = ["TIME_LIMIT_S", "Ended", "each_done"]

TIME_LIMIT_S: Final = 120.0
"""How long one job may take, in seconds, where the call does not say."""

J = TypeVar("J")
R = TypeVar("R")


@dataclass(frozen=True)
class Ended:
    """A worker ended before its job was done: it ran out of time, or it crashed with this exit code."""

    out_of_time: bool
    exit_code: int | None


@dataclass
class _Worker(Generic[J]):
    process: Any
    pipe: Connection
    queue: deque[tuple[int, J]]
    since: float = 0.0


def each_done(
    groups: Sequence[Sequence[J]], do: Callable[[J], R], workers: int, time_limit: float
) -> Iterator[tuple[int, R | Ended]]:
    """Do every job; yield (its number over all groups, what `do` returned or how its worker ended) as they get done.

    `do` runs in the workers. Closing the iterator, or an interrupt, ends them all.
    """
    context = multiprocessing.get_context("fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn")
    numbered: deque[deque[tuple[int, J]]] = deque()
    count = 0
    for group in groups:
        numbered.append(deque(enumerate(group, count)))
        count += len(group)
    running: list[_Worker[J]] = []
    try:
        while numbered or running:
            while numbered and len(running) < workers:
                running.append(_started(context, do, numbered.popleft()))
            now = time.monotonic()
            timeout = max(0.0, min(worker.since + time_limit - now for worker in running))
            ready = wait([worker.pipe for worker in running], timeout)
            for worker in list(running):
                number, _ = worker.queue[0]
                if worker.pipe in ready:
                    try:
                        result = worker.pipe.recv()
                    except (EOFError, OSError):
                        worker.process.join()
                        yield number, Ended(False, worker.process.exitcode)
                        _again(worker, running, numbered)
                        continue
                    worker.queue.popleft()
                    yield number, result
                    if not worker.queue and numbered:
                        worker.queue = numbered.popleft()
                    if worker.queue:
                        _hand_out(worker)
                    else:
                        _end(worker)
                        running.remove(worker)
                elif time.monotonic() - worker.since >= time_limit:
                    _end(worker)
                    yield number, Ended(True, None)
                    _again(worker, running, numbered)
    finally:
        for worker in running:
            _end(worker)


def _started(context: Any, do: Callable[[J], R], queue: deque[tuple[int, J]]) -> _Worker[J]:
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs, do), daemon=True)
    process.start()
    theirs.close()
    worker = _Worker(process, ours, queue)
    _hand_out(worker)
    return worker


def _hand_out(worker: _Worker[J]) -> None:
    worker.since = time.monotonic()
    with suppress(BrokenPipeError):  # a worker that died in the meantime is found out by its silent pipe
        worker.pipe.send(worker.queue[0][1])


def _again(worker: _Worker[J], running: list[_Worker[J]], waiting: deque[deque[tuple[int, J]]]) -> None:
    """The worker is gone and its first job with it: the next new one takes the rest of its queue."""
    running.remove(worker)
    worker.queue.popleft()
    if worker.queue:
        waiting.appendleft(worker.queue)


def _end(worker: _Worker[J]) -> None:
    worker.pipe.close()
    worker.process.kill()
    worker.process.join()


def _serve(pipe: Connection, do: Callable[[J], R]) -> None:
    """What a worker does until its pipe is closed or its parent is gone; interrupts are the parent's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    watched: list[Any] = [pipe] if parent is None else [pipe, parent.sentinel]
    while True:
        if pipe not in wait(watched):  # the parent is gone; another worker may still hold its end of the pipe
            return
        try:
            job = pipe.recv()
        except (EOFError, OSError):
            return
        pipe.send(do(job))
