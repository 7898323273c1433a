"""Documents about a whole build: for each machine what its profile lists whose writer can sum up all jobs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, Final

from clothpath.cloth.record import JobCloth, takings_of
from clothpath.contracts import Document, SummaryWriter
from clothpath.files.jobfile import write_whole
from clothpath.files.names import file_name
from clothpath.findings import Finding, Outcome, Refusal
from clothpath.jobs.config import validated
from clothpath.jobs.job import Job, registry_of
from clothpath.registry import guarded

__all__ = ["WHOLE", "Summaries", "Summary", "summarized", "write_summaries"]

WHOLE: Final = "the whole catalog"
"""What was built, in the titles of summaries."""


@dataclass(frozen=True)
class Summary:
    """A document about all jobs, or all for a machine: what made it, its file name in the output folder, its bytes."""

    machine: str
    format: str
    name: str
    data: bytes


@dataclass(frozen=True)
class Summaries:
    """The documents, and what was noticed on the way to them."""

    files: tuple[Summary, ...]
    findings: tuple[Finding, ...]


def summarized(title: str, jobs: Sequence[Job], documents: Sequence[Mapping[str, Any]]) -> Summaries:
    """The summaries of all jobs that went well, machine by machine; `title` says what was built.

    A writer that fails is a finding, and stops no other.
    """
    files: list[Summary] = []
    found: list[Finding] = []
    done = [pair for pair in zip(jobs, documents, strict=True) if pair[1]["status"] == "ok"]
    for name in dict.fromkeys(job.machine.name for job, _ in done):
        own = [(job, document) for job, document in done if job.machine.name == name]
        cloth = [JobCloth(job.design, job.size, takings_of(document["cloth"])) for job, document in own]
        try:
            for made_by, outcome in _of_machine(f"{title}, for {name}", own[0][0], cloth):
                found += outcome.findings
                files += [Summary(name, made_by, _named(each.name, name), each.data) for each in outcome.value]
        except Refusal as refusal:
            found += refusal.findings
    return Summaries(tuple(files), tuple(found))


def write_summaries(summaries: Iterable[Summary], out: FilePath) -> None:
    """Write the documents into the output folder.

    Raises:
        Refusal: one cannot be written.
    """
    for each in summaries:
        write_whole(out / each.name, each.data)


def _of_machine(title: str, job: Job, cloth: Sequence[JobCloth]) -> Iterator[tuple[str, Outcome[tuple[Document, ...]]]]:
    """The name of each writer that can sum up, with what it made."""
    registry = registry_of(job)
    for table in job.writes:
        writer = registry.writers.get(table.format)
        if isinstance(writer, SummaryWriter):
            settings = validated(writer.settings, table.model_extra or {}, job.machine.where)
            made = guarded(writer.name, lambda w=writer, s=settings: w.sum_up(title, cloth, job.stock, s), tuple)  # type: ignore[misc]
            yield writer.name, made


def _named(name: str, machine: str) -> str:
    stem, dot, suffix = name.rpartition(".")
    return file_name(f"{stem}-{machine}", dot + suffix)
