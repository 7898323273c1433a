"""The front page of a build: every job with its pages and files, for a person who opens the folder.

Terminology
    left over   the folder of a job of an earlier build that this one does not have; it is told, never deleted
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path as FilePath
from typing import Any, Final
from urllib.parse import quote

from clothpath.files.jobfile import causes
from clothpath.files.names import JOB_FILE
from clothpath.jobs.job import Job
from clothpath.jobs.summary import Summary
from clothpath.pages.page import page

__all__ = ["FRONT_PAGE", "front_page", "left_over"]

FRONT_PAGE: Final = "index.html"


def left_over(jobs: Sequence[Job], out: FilePath) -> tuple[str, ...]:
    """The folders below `out` that hold a job which is none of `jobs`, in order."""
    known = {job.folder for job in jobs}
    there = (file.parent.relative_to(out) for file in out.rglob(JOB_FILE))
    return tuple(sorted(folder.as_posix() for folder in there if folder not in known))


def front_page(
    title: str,
    jobs: Sequence[Job],
    documents: Sequence[Mapping[str, Any]],
    also: Sequence[Summary],
    leftovers: Sequence[str],
    out: FilePath,
) -> Summary:
    """The page.

    Args:
        title: what was built.
        documents: of the jobs, in their order.
        also: what tells about the whole build.
    """
    values = {
        "title": title,
        "designs": list(_designs(jobs, documents, out)),
        "failed": [
            {"titles": [jobs[n].title for n in numbers], "errors": errors} for errors, numbers in causes(documents)
        ],
        "done": sum(each["status"] == "ok" for each in documents),
        "count": len(jobs),
        "also": _by_machine(also),
        "leftovers": leftovers,
    }
    return Summary("", "front-page", FRONT_PAGE, page("front-page", **values))


def _designs(jobs: Sequence[Job], documents: Sequence[Mapping[str, Any]], out: FilePath) -> Iterator[dict[str, Any]]:
    """Each design or kit with its jobs, and its picture in the first size that was done."""
    for name in dict.fromkeys(job.design for job in jobs):
        own = [(job, each) for job, each in zip(jobs, documents, strict=True) if job.design == name]
        pictures = (job.picture for job, each in own if each["status"] == "ok")
        picture = next((path for path in pictures if (out / path).exists()), None)
        yield {
            "name": name,
            "rows": [_row(job, each) for job, each in own],
            "picture": picture and quote(picture.as_posix()),
        }


def _row(job: Job, document: Mapping[str, Any]) -> dict[str, Any]:
    files = [_link(job, file) for file in document["files"]]
    files = [file | {"what": file["name"]} if _claimed_twice(file, files) else file for file in files]
    pages = [file for file in files if not file["cut"] and file["suffix"] in (".html", ".pdf")]
    return {
        "size": job.size_words,
        "stated": _stated(job),
        "machine": job.machine.name,
        "ok": document["status"] == "ok",
        "look": [finding for finding in document["findings"] if finding["severity"] == "warning"],
        "pages": pages,
        "cut": [file for file in files if file["cut"]],
        "other": [file for file in files if not file["cut"] and file not in pages],
    }


def _stated(job: Job) -> str:
    """The finished size as it is stated, if the job is no kit: "4 1/2 in wide", "4 in x 3 in"."""
    said = job.orders[0].supplied.tables.get("", {}) if job.kits is None else {}
    width, height = said.get("width"), said.get("height")
    if width and height:
        return f"{width} x {height}"
    return f"{width} wide" if width else f"{height} high" if height else ""


def _claimed_twice(file: Mapping[str, Any], files: Sequence[Mapping[str, Any]]) -> bool:
    """Whether another file of the job has the same words: the placement guides of the designs of a kit do."""
    return sum((each["what"], each["suffix"]) == (file["what"], file["suffix"]) for each in files) > 1


def _link(job: Job, file: Mapping[str, Any]) -> dict[str, Any]:
    name = FilePath(file["path"]).name
    return {
        "href": quote((job.folder / name).as_posix()),
        "name": name,
        "what": str(file["format"]).replace("-", " "),
        "suffix": FilePath(name).suffix,
        "cut": file["proof"] is not None,
    }


def _by_machine(also: Sequence[Summary]) -> dict[str, list[dict[str, str]]]:
    """The machine's name -> what tells about all its jobs."""
    found: dict[str, list[dict[str, str]]] = {}
    for each in also:
        suffix = FilePath(each.name).suffix
        what = each.format.replace("-", " ") + ("" if suffix == ".html" else f" ({suffix[1:]})")
        found.setdefault(each.machine, []).append({"href": quote(each.name), "what": what})
    return found
