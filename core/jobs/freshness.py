"""Whether a released job is still what would be made: its fingerprint, and a look at its files.

Terminology
    fingerprint     a digest of all that a job's files depend on: drawings, settings, machine, code and its libraries
    fresh           released with the same fingerprint, and no file altered since
"""

from __future__ import annotations

import hashlib
import json
from functools import cache
from importlib.metadata import PackageNotFoundError, entry_points, requires, version
from pathlib import Path as FilePath
from typing import Any

from clothpath.files.names import JOB_FILE
from clothpath.findings import Refusal
from clothpath.jobs.job import Job, kept_layouts, prepared, registry_of
from clothpath.registry import ENTRY_POINT_GROUP
from clothpath.version import VERSION

__all__ = ["code", "fingerprint", "fresh_document"]


def fingerprint(job: Job) -> str | None:
    """The digest of what the job's files depend on; None if an input is missing or wrong, so that nothing is fresh."""
    try:
        recipes = prepared(job, registry_of(job))
        drawings = [hashlib.sha256(order.file.read_bytes()).hexdigest() for order in job.orders]
        pinned = [repr(kept) for kept in kept_layouts(job).values() if kept.pinned]
        plugins = [hashlib.sha256(file.read_bytes()).hexdigest() for file in job.plugin_files]
    except (OSError, Refusal):
        return None
    parts = [
        code(),
        plugins,
        pinned,
        [job.design, job.size, job.machine.name],
        repr((job.machine.mat, job.machine.blade, job.machine.speeds, job.machine.tried, job.stock, job.findings)),
        [table.model_dump_json() for table in job.writes],
        [(order.name, order.file.name, order.drawn_reversed, order.count) for order in job.orders],
        drawings,
        [
            [(step.key, step.plugin.name, step.settings.model_dump_json()) for step in recipe.steps]
            for recipe in recipes
        ],
        [recipe.reading_key for recipe in recipes],
    ]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


@cache
def code() -> str:
    """What the program is made of: its own files, and the releases of its libraries and of every plugin package."""
    digest = hashlib.sha256()
    for room in ("clothpath", "clothpath.plugins", "clothpath.shared"):
        for folder in __import__(room, fromlist=["__path__"]).__path__:
            for file in sorted(FilePath(folder).rglob("*.py")):
                digest.update(file.read_bytes())
    return repr((VERSION, digest.hexdigest(), _releases()))


def _releases() -> list[tuple[str, str]]:
    names = {
        requirement.split(";")[0].strip() for requirement in requires("clothpath") or () if "extra" not in requirement
    }
    found = {_bare(name) for name in names}
    found |= {point.dist.name for point in entry_points(group=ENTRY_POINT_GROUP) if point.dist is not None}
    releases = []
    for name in sorted(found):
        try:
            releases.append((name, version(name)))
        except PackageNotFoundError:
            releases.append((name, ""))
    return releases


def _bare(requirement: str) -> str:
    end = next((n for n, char in enumerate(requirement) if char in "<>=!~[ "), len(requirement))
    return requirement[:end]


def fresh_document(job: Job, mark: str | None, out: FilePath) -> dict[str, Any] | None:
    """The document of the job as released below `out`, if it is fresh; else None."""
    folder = out / job.folder
    if mark is None:
        return None
    try:
        document: dict[str, Any] = json.loads((folder / JOB_FILE).read_text(encoding="utf-8"))
        if document.get("fingerprint") != mark or document["status"] != "ok":
            return None
        names = {FilePath(entry["path"]).name: entry["sha256"] for entry in document["files"]}
        same = all(hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest for name, digest in names.items())
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return document if same else None
