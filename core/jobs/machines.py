"""Machine profiles: a mat, a blade and the formats that one machine takes, from files that a person can write.

The profiles that ship are generic, named by what they are. A machine is named by such a name or by the path of a file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path as FilePath

from clothpath.cutplan import Blade
from clothpath.cutting.tried import NO_SPEEDS, Speeds, Tried
from clothpath.cutting.triedtable import TriedTable
from clothpath.findings import Finding, Refusal, error, nearest_word
from clothpath.jobs.config import MachineFile, WriteTable, load_config, validated
from clothpath.layout import Mat
from clothpath.recipe import WRITE, Layer

__all__ = ["Machine", "machine", "machines", "overruled", "recipe_path", "shipped"]


@dataclass(frozen=True)
class Machine:
    """A machine profile, read.

    Attributes:
        where: the file, for findings.
        settings: what it sets in layout and path steps.
        speeds, tried: what a person stated of it.
    """

    name: str
    summary: str
    where: str
    mat: Mat
    blade: Blade
    writes: tuple[WriteTable, ...]
    settings: Layer
    speeds: Speeds = NO_SPEEDS
    tried: tuple[Tried, ...] = ()


def shipped() -> FilePath:
    """The folder of data that ships with the program."""
    return FilePath(str(files("clothpath.shared")))


def machines() -> dict[str, FilePath]:
    """The profiles that ship: name to file."""
    return {path.stem: path for path in sorted((shipped() / "machines").glob("*.toml"))}


def machine(name: str, beside: FilePath | None = None, where: str = "--machine") -> Machine:
    """The machine of that name, or of that profile file (looked up beside `beside` too); `where` it is named.

    Raises:
        Refusal: there is none, or its file is wrong.
    """
    if name.endswith(".toml"):
        path = FilePath(name)
        if beside is not None and not path.is_absolute() and not path.exists():
            path = beside / name
    else:
        known = machines()
        if name not in known:
            message = f'There is no machine "{name}".'
            listed = f"Known here: {', '.join(known)}; or give the path of a profile, such as my-mat.toml."
            near = nearest_word(name, known)
            hint = f"{near} {listed}" if near.startswith("Did") else listed
            raise Refusal(error("unknown-machine", message, where, hint))
        path = known[name]
    return _read(path)


def recipe_path(name: str, beside: FilePath, where: str) -> FilePath:
    """The recipe's file: one beside `beside`, or one that ships, by its name.

    Raises:
        Refusal: there is neither.
    """
    own = beside / name
    if own.is_file():
        return own
    known = {path.stem: path for path in sorted((shipped() / "recipes").glob("*.toml"))}
    if name.removesuffix(".toml") in known:
        return known[name.removesuffix(".toml")]
    message = f'There is no recipe "{name}", neither as a file nor among those that ship.'
    raise Refusal(error("unknown-recipe", message, where, nearest_word(name, known)))


def overruled(writes: Sequence[WriteTable], arguments: Layer) -> tuple[WriteTable, ...]:
    """The files as the call sets them: `--set write.dxf.SETTING=VALUE` goes to every `[[write]]` of that format.

    Raises:
        Refusal: the call sets a format that is not written, or a wrong value.
    """
    told = arguments.tables.get(WRITE, {})
    formats = {table.format for table in writes}
    faults = [
        error("unknown-format", f'No file is written as "{name}".', arguments.where, nearest_word(name, formats))
        for name in told
        if name not in formats
    ]
    if faults:
        raise Refusal(*faults)
    given = {name: validated(WriteTable, own | {"format": name}, arguments.where) for name, own in told.items()}
    said = {name: table.model_dump(exclude_unset=True) for name, table in given.items()}
    return tuple(table.model_copy(update=said.get(table.format)) for table in writes)


def _read(path: FilePath) -> Machine:
    table = load_config(path, MachineFile)
    where = str(path)
    mat = table.mat.mat(table.name)
    faults: list[Finding] = []
    if mat.usable.width <= 0 or mat.usable.height <= 0:
        message = "The margins leave nothing of the mat."
        faults.append(
            error("mat-without-area", message, f"{where}: mat", "Make the mat larger or the margins smaller.")
        )
    if not table.write:
        message = "The profile names no format to write."
        faults.append(error("no-format", message, f"{where}: write", 'Add [[write]] with format = "svg".'))
    faults += _claimed_twice(table.tried, where)
    if faults:
        raise Refusal(*faults)
    return Machine(
        table.name,
        table.summary,
        where,
        mat,
        table.blade.blade(),
        table.write,
        Layer(where, table.settings),
        table.speed.speeds(),
        tuple(each.tried() for each in table.tried),
    )


def _claimed_twice(tables: Sequence[TriedTable], where: str) -> Iterator[Finding]:
    """An error for each table of settings that is for the same fabrics as one before it."""
    claimed: dict[tuple[str, str], int] = {}
    for n, table in enumerate(tables, 1):
        for claim in table.claims():
            first = claimed.setdefault(claim, n)
            if first != n:
                fabric, preparation = claim
                what = f'the fabric "{fabric}"' if fabric else f"{preparation} fabrics"
                message = f"Two tables of settings are for {what}, this one and the {_nth(first)}."
                hint = "Keep one of them, or name the fabrics that each is for."
                yield error("tried-twice", message, f"{where}: tried[{n}]", hint)


def _nth(number: int) -> str:
    return {1: "first", 2: "second", 3: "third"}.get(number, f"{number}th")
