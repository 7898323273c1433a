"""A job that hangs or crashes takes down itself and nothing else."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from clothpath.jobs.workers import Ended, each_done


def _do(job: str) -> str:
    if job == "hang":
        time.sleep(60)
    if job == "crash":
        os._exit(7)
    return job.upper()


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_every_job_is_answered_once(workers: int) -> None:
    groups = [["a", "b"], ["crash", "c"], ["d"], ["e", "hang", "f"]]
    answers = dict(each_done(groups, _do, workers, 1.0))
    assert answers == {
        0: "A",
        1: "B",
        2: Ended(False, 7),
        3: "C",
        4: "D",
        5: "E",
        6: Ended(True, None),
        7: "F",
    }


def test_no_jobs_no_answers() -> None:
    assert list(each_done([], _do, 2, 1.0)) == []


def test_stopping_early_ends_the_workers() -> None:
    started = time.monotonic()
    answers = each_done([["a"], ["hang"]], _do, 2, 30.0)
    assert next(answers) == (0, "A")
    answers.close()  # type: ignore[attr-defined]
    assert time.monotonic() - started < 10


def test_workers_end_with_their_parent() -> None:
    code = (
        "import sys, time; sys.path.insert(0, sys.argv[1]); from test_workers import _slow_pid\n"
        "from clothpath.jobs.workers import each_done\n"
        "for _, pid in each_done([['a'], ['b', 'hang']], _slow_pid, 2, 60.0): print(pid, flush=True)\n"
    )
    asked = [sys.executable, "-c", code, str(Path(__file__).parent)]
    parent = subprocess.Popen(asked, stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    pids = [int(parent.stdout.readline()) for _ in range(2)]
    parent.kill()
    parent.communicate()
    deadline = time.monotonic() + 20
    while any(Path(f"/proc/{pid}/stat").exists() for pid in pids) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not any(Path(f"/proc/{pid}/stat").exists() for pid in pids)


def _slow_pid(job: str) -> int:
    time.sleep(3 if job == "hang" else 0)
    return os.getpid()
