"""One-off conversions: the drawings and the machines of one call, as jobs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as FilePath

from clothpath.files.names import file_name, unique
from clothpath.findings import Refusal, error
from clothpath.jobs.config import WriteTable
from clothpath.jobs.job import Job, Order, check
from clothpath.jobs.machines import Machine, machine, machines, overruled
from clothpath.recipe import settings_from_arguments
from clothpath.registry import drawings, with_files

__all__ = ["conversions"]


def conversions(
    files: Sequence[FilePath],
    machine_names: Sequence[str],
    formats: Sequence[str],
    recipe: FilePath,
    sets: Sequence[str],
    copies: int,
    plugin_files: tuple[FilePath, ...],
) -> tuple[Job, ...]:
    """A job for each drawing and machine, those of one drawing after each other.

    Raises:
        Refusal: no machine is named, or a machine, a format, the recipe or a setting is wrong.
    """
    if not machine_names:
        message = "No machine is named."
        raise Refusal(error("no-machine", message, "--machine", f"Name one or more of: {', '.join(machines())}."))
    known = [machine(name) for name in dict.fromkeys(machine_names)]
    registry = with_files(plugin_files)
    for name in formats:
        registry.writer(name, "--format")
    arguments = settings_from_arguments(sets)
    named = drawings(files, registry)
    names = unique([path.stem for path in named], file_name)
    jobs = [
        Job(
            name,
            "",
            each,
            (Order(name, path, recipe, count=copies),),
            overruled(_writes(each, formats), arguments),
            arguments,
            (),
            plugin_files,
        )
        for path, name in zip(named, names, strict=True)
        for each in known
    ]
    check(jobs)
    return tuple(jobs)


def _writes(of: Machine, formats: Sequence[str]) -> tuple[WriteTable, ...]:
    """The machine's own files, or the formats that the call asks for, as the profile writes them where it does."""
    if not formats:
        return of.writes
    own = {table.format: table for table in of.writes}
    return tuple(own.get(name) or WriteTable(format=name) for name in formats)
