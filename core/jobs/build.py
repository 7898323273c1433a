"""Many jobs done, each into its folder, with an index on top.

Terminology
    document    what is known of a job once it is done, as its job.json has it
    index       the list of all jobs of a build (schema clothpath/build@1)
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path as FilePath
from typing import Any

from clothpath.files.jobfile import (
    dumped,
    errors_of,
    finding_document,
    job_document,
    release,
    totals,
    write_whole,
)
from clothpath.files.layoutfile import Kept, layouts_text
from clothpath.files.names import INDEX_FILE
from clothpath.findings import Finding, Refusal, error, listed, warning
from clothpath.jobs.freshness import code, fingerprint, fresh_document
from clothpath.jobs.job import Job, Result, kept_layouts, run
from clothpath.jobs.summary import Summaries, Summary
from clothpath.jobs.workers import Ended, each_done
from clothpath.pages.portrait import portrait

__all__ = ["build_document", "done", "write_index"]


@dataclass(frozen=True)
class _Do:
    """Does a job and releases it below `out`; what a worker runs."""

    out: FilePath
    anew: bool

    def __call__(self, job: Job) -> tuple[dict[str, Any], tuple[Kept, ...]]:
        try:
            mark = fingerprint(job)
            fresh = None if self.anew else fresh_document(job, mark, self.out)
            if fresh is not None:
                return fresh, ()
            result = run(job)
            document = _released(result, self.out, mark)
            if result.plan is not None and document["status"] == "ok":
                designs = tuple(replace(each.design, name="") for each in result.plan.layout.demands)
                write_whole(self.out / job.picture, portrait(designs))
            return document, result.kept
        except Exception as fault:  # the last line of defense: no traceback reaches a user, no other job is touched
            message = f"The program made a mistake: {type(fault).__name__}: {fault}."
            found = error("internal", message, job.stem, "Please report it, with the drawing if you may share it.")
            return _released(_failed(job, found), self.out), ()


def _failed(job: Job, *findings: Finding) -> Result:
    return Result(job, "failed", (), None, (*job.findings, *findings))


def _released(result: Result, out: FilePath, mark: str | None = None) -> dict[str, Any]:
    try:
        return release(result, out, mark)
    except Refusal as refusal:
        failed = replace(result, status="failed", findings=(*result.findings, *refusal.findings))
        return job_document(failed)


def done(
    jobs: Sequence[Job], out: FilePath, workers: int, time_limit: float, anew: bool
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Do every job; yield (its number, its document) as they get done, in no fixed order.

    A job whose files below `out` are still what would be made is not done again, unless `anew` asks for it. Layouts
    that were searched for a time are kept beside the catalog as they are found.

    Raises:
        Refusal: the file of kept layouts cannot be written.
    """
    groups = [list(group) for _, group in groupby(jobs, key=lambda job: [order.file for order in job.orders])]
    do = _Do(out, anew)
    code()  # read once here, not once in every worker
    for number, outcome in each_done(groups, do, workers, time_limit):
        if isinstance(outcome, Ended):
            yield number, _released(_failed(jobs[number], _why(outcome, time_limit)), out)
        else:
            document, kept = outcome
            if kept:
                _keep(jobs[number], kept)
            yield number, document


def _keep(job: Job, kept: tuple[Kept, ...]) -> None:
    if job.layouts is not None:
        known = kept_layouts(job) | {each.fingerprint: each for each in kept}
        write_whole(job.layouts, layouts_text(known.values()).encode())


def _why(ended: Ended, time_limit: float) -> Finding:
    if ended.out_of_time:
        message = f"The job took longer than {time_limit:g} s and was ended."
        return error("out-of-time", message, "", "Simplify the drawing, or allow more time with --time-limit.")
    message = f"The job's process ended by itself (exit code {ended.exit_code}); a plugin or a library crashed."
    return error(
        "crashed", message, "", "Everything else went on. Please report it, with the drawing if you may share it."
    )


def build_document(
    jobs: Sequence[Job],
    documents: Iterable[Mapping[str, Any]],
    summaries: Summaries,
    leftovers: Sequence[str],
    front: Summary,
) -> dict[str, Any]:
    """The index of a build, in the order of the jobs; one that failed says why. Then what tells of all of them.

    Args:
        leftovers: folders of jobs that an earlier build made and this one does not have.
        front: the front page, which the index knows by its bytes like every page that tells of all jobs.
    """
    stale = [_left_over(leftovers)] if leftovers else []
    return {
        "schema": "clothpath/build@1",
        "jobs": [
            {
                "design": job.design,
                "size": job.size,
                "machine": job.machine.name,
                "status": document["status"],
                "folder": job.folder.as_posix(),
                "findings": totals(document["findings"]),
                **({"errors": errors_of(document)} if document["status"] != "ok" else {}),
            }
            for job, document in zip(jobs, documents, strict=True)
        ],
        "summaries": [each.name for each in summaries.files],
        "pages": [
            {"path": each.name, "format": each.format, "sha256": hashlib.sha256(each.data).hexdigest()}
            for each in (front, *summaries.files)
        ],
        "findings": [finding_document(finding) for finding in (*summaries.findings, *stale)],
    }


def _left_over(folders: Sequence[str]) -> Finding:
    message = f"Not of this catalog, but in the same place: {listed(folders)}."
    return warning("left-over", message, "", "If you dropped or renamed the designs, delete these folders.")


def write_index(document: Mapping[str, Any], out: FilePath) -> None:
    """Write the index of a build.

    Raises:
        Refusal: it cannot be written.
    """
    write_whole(out / INDEX_FILE, dumped(document).encode())
