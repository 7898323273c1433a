"""One-off conversions: the drawings and the machines of one call, as jobs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as FilePath
from typing import Final

from clothpath.cloth.stockwords import StockWordsError, stock_in_words
from clothpath.files.names import file_name, unique
from clothpath.findings import Finding, Outcome, Refusal, error
from clothpath.jobs.config import StockFile, WriteTable, load_config
from clothpath.jobs.job import Job, Order, check
from clothpath.jobs.machines import Machine, machine, machines, overruled
from clothpath.layout import Stock
from clothpath.recipe import settings_from_arguments
from clothpath.registry import drawings, with_files

__all__ = ["conversions", "stock_from_arguments"]


STOCK_EXAMPLE: Final = 'For example: --stock coral="2 fat quarters", or --stock stock.toml with [[stock]] tables.'


def conversions(
    files: Sequence[FilePath],
    machine_names: Sequence[str],
    formats: Sequence[str],
    recipe: FilePath,
    sets: Sequence[str],
    copies: int,
    stock: tuple[Stock, ...],
    plugin_files: tuple[FilePath, ...],
) -> Outcome[tuple[Job, ...]]:
    """A job for each drawing and machine, those of one drawing after each other; each may use all of the stock.

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
    names = unique([path.stem for path in named.value], file_name)
    jobs = [
        Job(
            name,
            "",
            each,
            (Order(name, path, recipe, count=copies),),
            overruled(_writes(each, formats), arguments),
            arguments,
            stock,
            plugin_files,
            stock_names="all-here" if len(files) == 1 else "some-here",
        )
        for path, name in zip(named.value, names, strict=True)
        for each in known
    ]
    check(jobs)
    return Outcome(tuple(jobs), named.findings)


def stock_from_arguments(arguments: Sequence[str]) -> tuple[Stock, ...]:
    """The stock of `--stock FABRIC=CLOTH` arguments, or of files with `[[stock]]` tables as a catalog has them.

    Raises:
        Refusal: an argument has another form, names no cloth, or its file is wrong.
    """
    found: list[Stock] = []
    faults: list[Finding] = []
    for argument in arguments:
        fabric, equals, words = argument.partition("=")
        if not equals and argument.lower().endswith(".toml"):
            found += [entry.stock(entry.fabric) for entry in load_config(FilePath(argument), StockFile).stock]
        elif not equals or not fabric.strip():
            message = f'"{argument}" does not say of which fabric there is what cloth.'
            faults.append(error("wrong-stock", message, "--stock", STOCK_EXAMPLE))
        else:
            try:
                found += stock_in_words(fabric.strip(), words)
            except StockWordsError as fault:
                faults.append(error("wrong-stock", f"Stock of {fabric.strip()}: {fault}", "--stock"))
    if faults:
        raise Refusal(*faults)
    return tuple(found)


def _writes(of: Machine, formats: Sequence[str]) -> tuple[WriteTable, ...]:
    """The machine's own files, or the formats that the call asks for, as the profile writes them where it does."""
    if not formats:
        return of.writes
    own = {table.format: table for table in of.writes}
    return tuple(own.get(name) or WriteTable(format=name) for name in formats)
