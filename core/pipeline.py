"""The flow from the bytes of a drawing to released files, one function a stage.

    bytes ─reader▶ Design ─design steps▶ Design ─layout steps▶ Layout ─path steps▶ CutPlan ─writer▶ bytes
    bytes ─measurer▶ Measurement ─proof▶ released

Every function takes what its stage may know and returns its value with the findings made on the way. A finding of
severity "error" ends the job like a refusal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import partial
from pathlib import Path as FilePath
from typing import Any, Final, TypeVar

from clothpath.contracts import (
    CardWriter,
    CutWriter,
    Declared,
    Document,
    DocumentWriter,
    Measurement,
    PreviewWriter,
    Settings,
    Writer,
    Written,
)
from clothpath.curves import Affine
from clothpath.cutplan import CutPlan, CutSheet, as_laid, sheets
from clothpath.cutting.tips import allowed
from clothpath.design import Design, Fabric, mapped
from clothpath.files.names import NAME_PARTS, file_name, unique
from clothpath.findings import Finding, Outcome, Refusal, error, note, warning
from clothpath.jobs.config import WriteTable, validated
from clothpath.jobs.machines import Machine
from clothpath.layout import Demand, Layout, Mat, Stock
from clothpath.proof import Proof, prove
from clothpath.recipe import Step
from clothpath.registry import Registry, guarded, reader_for

__all__ = ["Produced", "cut_plan", "designed", "laid_out", "produced", "read_drawing", "settled_writes"]

T = TypeVar("T")


NO_PARTS: Final[Mapping[str, str]] = {}
SAYS_ALL: Final = Declared()
"""What is declared of a file that says everything itself."""


@dataclass(frozen=True)
class Produced:
    """One file, ready to be released or held back.

    Attributes:
        name: file name without folder.
        sheet: what the file holds; None for documents.
        declared: what the file cannot say of itself.
        measurement: what was read back from the bytes; None for documents.
        proof: None for documents, and for files that could not be measured, which are never released.
    """

    name: str
    format: str
    data: bytes
    sheet: CutSheet | None = None
    declared: Declared = SAYS_ALL
    measurement: Measurement | None = None
    proof: Proof | None = None

    @property
    def released(self) -> bool:
        return self.sheet is None or (self.proof is not None and self.proof.ok)


def read_drawing(
    registry: Registry, path: FilePath, name: str, drawn_reversed: bool, reading: Mapping[str, Settings]
) -> Outcome[Design]:
    """Read a drawing; one that is declared drawn reversed is turned round once, here.

    Args:
        reading: settings by the reader's name; a reader that is not named has its defaults.

    Raises:
        Refusal: the file is missing, unreadable, no drawing, or has no outline.
    """
    where = str(path)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        near = get_close_matches(path.name, sorted(each.name for each in path.parent.glob("*")), n=1)
        hint = f'Did you mean "{near[0]}"?' if near else "Check the name and the folder."
        raise Refusal(error("no-such-file", "There is no such file.", where, hint)) from None
    except IsADirectoryError:
        raise Refusal(
            error("is-a-folder", "This is a folder, not a drawing.", where, "Name the files in it.")
        ) from None
    except OSError as fault:
        raise Refusal(error("unreadable", f"The file cannot be read: {fault.strerror}.", where)) from None
    reader = reader_for(registry, data, where)
    settings = reading.get(reader.name) or reader.settings()
    try:
        outcome = _checked(guarded(reader.name, lambda: reader.read(data, settings), Design))
    except Refusal as refusal:
        raise Refusal(*(finding.at(where) for finding in refusal.findings)) from refusal
    design = replace(outcome.value, name=name, source=replace(outcome.value.source, name=path.name, reader=reader.name))
    if drawn_reversed:
        design = mapped(design, Affine.flip())
    return Outcome(design, tuple(finding.at(where) for finding in outcome.findings))


def designed(design: Design, steps: Sequence[Step]) -> Outcome[Design]:
    """Run the design steps.

    Raises:
        Refusal: a step refuses, or finds an error.
    """
    return _run(design, steps, Design, lambda plugin, value, settings: plugin.apply(value, settings))


def laid_out(demands: Sequence[Demand], mat: Mat, stock: Sequence[Stock], steps: Sequence[Step]) -> Outcome[Layout]:
    """Pool the fabrics of the designs and run the layout steps.

    Raises:
        Refusal: a step refuses, or nothing lays the pieces on mats.
    """
    pooled, fabrics, found = _pooled(demands)
    keys = {fabric.cloth_key for fabric in fabrics}
    there_is = tuple(each for each in stock if each.fabric in keys)
    start = Layout(pooled, fabrics, mat, (), there_is)
    outcome = _run(start, steps, Layout, lambda plugin, value, settings: plugin.apply(value, settings, mat, there_is))
    if not outcome.value.mats:
        hint = "Add a layout step such as nest to the recipe."
        raise Refusal(error("nothing-laid", "No step of the recipe lays the pieces on a mat.", "recipe", hint))
    return Outcome(outcome.value, (*found, *outcome.findings))


def _pooled(demands: Sequence[Demand]) -> tuple[tuple[Demand, ...], tuple[Fabric, ...], list[Finding]]:
    """The designs with their fabrics pooled by key; a cloth that two designs treat differently becomes two fabrics.

    A pooled fabric has the name and the color of the first design; in which color a drawing shows it is no difference.
    """
    pooled: dict[str, Fabric] = {}
    found: list[Finding] = []
    settled: list[Demand] = []
    for demand in demands:
        keys: dict[str, str] = {}
        for fabric in demand.design.fabrics:
            alike = [key for key, known in pooled.items() if _treatment(known) == _treatment(fabric)]
            alike = [key for key in alike if key == fabric.key or key.startswith(f"{fabric.key}-")]
            key = fabric.key if fabric.key not in pooled or fabric.key in alike else next(iter(alike), "")
            if not key:
                key = next(key for n in range(2, len(pooled) + 3) if (key := f"{fabric.key}-{n}") not in pooled)
                message = (
                    f'"{fabric.key}" is treated otherwise in {demand.design.name} than before; there it is "{key}".'
                )
                hint = "Lay it alike everywhere if it is to be cut together."
                found.append(note("fabric-split", message, fabric.key, hint))
            keys[fabric.key] = key
            pooled.setdefault(key, replace(fabric, key=key, cloth="" if key == fabric.key else fabric.cloth_key))
        design = demand.design
        pieces = tuple(replace(piece, fabric=keys.get(piece.fabric, piece.fabric)) for piece in design.pieces)
        own = tuple(pooled[keys[fabric.key]] for fabric in design.fabrics)
        settled.append(replace(demand, design=replace(design, pieces=pieces, fabrics=own)))
    return tuple(settled), tuple(pooled.values()), found


def _treatment(fabric: Fabric) -> Fabric:
    """What must be the same for two fabrics of a key to be cut from one rectangle."""
    return replace(fabric, key="", label="", color="", cloth="")


def cut_plan(layout: Layout, machine: Machine, steps: Sequence[Step]) -> Outcome[CutPlan]:
    """Plan the cuts of a layout and run the path steps.

    Raises:
        Refusal: a step refuses.
    """
    blade = machine.blade
    start = as_laid(layout, blade, machine.speeds, machine.tried)
    return _run(start, steps, CutPlan, lambda plugin, value, settings: plugin.apply(value, settings, blade))


def _run(value: T, steps: Sequence[Step], kind: type[T], apply: Callable[[Any, T, Any], Outcome[T]]) -> Outcome[T]:
    found: list[Finding] = []
    for step in steps:
        current = value
        outcome = guarded(step.key, lambda step=step, current=current: apply(step.plugin, current, step.settings), kind)  # type: ignore[misc]
        value = _checked(outcome).value
        found += outcome.findings
    return Outcome(value, tuple(found))


def _checked(outcome: Outcome[T]) -> Outcome[T]:
    if any(finding.severity == "error" for finding in outcome.findings):
        raise Refusal(*outcome.findings)
    return outcome


def produced(
    plan: CutPlan,
    writes: Iterable[WriteTable],
    machine: Machine,
    registry: Registry,
    stem: str,
    parts: Mapping[str, str] = NO_PARTS,
) -> Outcome[tuple[Produced, ...]]:
    """Write every file of the plan and prove each from its bytes; what fails its proof is not `released`.

    Cut files come first, so that the pages tell what was found in writing them; then documents, and last pictures and
    cards, which show what was read back from the cut files.

    Args:
        stem: what the file names begin with, where the machine profile has no pattern for them.
        parts: what the job can say in such a pattern (see `clothpath.files.names.NAME_PARTS`).

    Raises:
        Refusal: a format is unknown, its settings are wrong, or its writer refuses.
    """
    wanted = settled_writes(writes, machine, registry)
    made: list[Outcome[tuple[Produced, ...]]] = []
    names = _Names(stem, parts)
    for table, writer, settings in wanted:
        if isinstance(writer, CutWriter):
            made.append(_cut_files(plan, table, writer, settings, registry, names))
    cut = [file for outcome in made for file in outcome.value]
    told = replace(
        plan,
        findings=(*plan.findings, *(finding for outcome in made for finding in outcome.findings)),
        formats=tuple(dict.fromkeys(table.format for table, *_ in wanted)),
    )
    for _, writer, settings in wanted:
        if isinstance(writer, DocumentWriter):
            made.append(_documents(writer, partial(writer.compose, told, settings), stem))
    for _, writer, settings in wanted:
        if isinstance(writer, PreviewWriter):
            made.append(_pictures(cut, writer, settings))
    written = tuple(
        Written(file.name, file.format, file.sheet, file.measurement, file.declared)
        for file in cut
        if file.sheet is not None and file.measurement is not None
    )
    for _, writer, settings in wanted if written else ():
        if isinstance(writer, CardWriter):
            made.append(_documents(writer, partial(writer.tell, written, settings), stem))
    every = [file for outcome in made for file in outcome.value]
    return Outcome(tuple(_distinct(every)), tuple(finding for outcome in made for finding in outcome.findings))


def settled_writes(
    writes: Iterable[WriteTable], machine: Machine, registry: Registry
) -> list[tuple[WriteTable, Writer, Settings]]:
    """Each file that is wanted, with its writer and the settings checked.

    Raises:
        Refusal: a format is unknown, or settings are wrong.
    """
    settled = []
    for n, table in enumerate(writes, 1):
        where = f"{machine.where}: write[{n}]"
        writer = registry.writer(table.format, where)
        settled.append((table, writer, validated(writer.settings, table.model_extra or {}, where)))
    return settled


def _distinct(files: Sequence[Produced]) -> list[Produced]:
    names = unique([file.name for file in files], lambda name: name)
    return [replace(file, name=name) for file, name in zip(files, names, strict=True)]


def _documents(
    writer: DocumentWriter | CardWriter, compose: Callable[[], Outcome[tuple[Document, ...]]], stem: str
) -> Outcome[tuple[Produced, ...]]:
    outcome = _checked(guarded(writer.name, compose, tuple))
    for document in outcome.value:
        if not isinstance(document, Document):
            message = f'"{writer.name}" returned {type(document).__name__} where a document was due.'
            raise Refusal(error("plugin-nonsense", message, writer.name))
    made = tuple(Produced(_named(f"{stem}-{document.name}"), writer.name, document.data) for document in outcome.value)
    return Outcome(made, outcome.findings)


def _pictures(files: Iterable[Produced], writer: PreviewWriter, settings: Any) -> Outcome[tuple[Produced, ...]]:
    made: list[Produced] = []
    found: list[Finding] = []
    for file in files:
        if file.sheet is not None and file.measurement is not None:
            draw = partial(writer.draw, file.sheet, file.measurement, settings)
            outcome = _checked(guarded(writer.name, draw, bytes))
            name = file_name(f"{file.name.rpartition('.')[0]}-{file.format}", writer.suffix)
            made.append(Produced(name, writer.name, outcome.value))
            found += [finding.at(file.name) for finding in outcome.findings]
    return Outcome(tuple(made), tuple(found))


def _named(name: str) -> str:
    stem, dot, suffix = name.rpartition(".")
    return file_name(stem, dot + suffix)


def _cut_files(
    plan: CutPlan,
    table: WriteTable,
    writer: CutWriter,
    settings: Any,
    registry: Registry,
    names: _Names,
) -> Outcome[tuple[Produced, ...]]:
    made: list[Produced] = []
    found: list[Finding] = []
    if table.per == "all" and len(plan.mats) > 1 and getattr(writer, "run_as_is", False):
        message = f'A file of the format "{writer.name}" moves the machine, so it cannot hold {len(plan.mats)} mats.'
        hint = 'Write per = "mat" for it in the machine profile.'
        raise Refusal(error("one-mat-a-file", message, "", hint))
    for sheet in sheets(plan, table.per, table.apart):
        name = names.of(sheet, table, writer.suffix)
        found += _beside_words(sheet, name)
        outcome = _checked(guarded(writer.name, lambda sheet=sheet: writer.write(sheet, settings), bytes))  # type: ignore[misc]
        found += [finding.at(name) for finding in outcome.findings]
        carried = writer.writes(sheet, settings)
        file = Produced(name, writer.name, outcome.value, carried, writer.declared(sheet, settings))
        proved = _proved(file, carried, registry)
        made.append(proved.value)
        found += [finding.at(name) for finding in proved.findings]
    return Outcome(tuple(made), tuple(found))


def _beside_words(sheet: CutSheet, name: str) -> list[Finding]:
    """A finding that a file holds several mats, for the person who must take them one by one."""
    if sheet.apart is None:
        return []
    message = f"The file holds {sheet.which}."
    hint = "Compare the size of all of it first; then cut one mat at a time: move it onto the mat, hide the others."
    return [warning("mats-beside", message, name, hint)]


class _Names:
    """What cut files are called; no two alike, so that a finding can name its file."""

    def __init__(self, stem: str, parts: Mapping[str, str]) -> None:
        self.stem, self.parts = stem, parts
        self.taken: list[str] = []

    def of(self, sheet: CutSheet, table: WriteTable, suffix: str) -> str:
        """The name of one file."""
        wanted = file_name(self._stem_of(sheet, table), suffix)
        self.taken.append(unique([*self.taken, wanted], lambda name: name)[-1])
        return self.taken[-1]

    def _stem_of(self, sheet: CutSheet, table: WriteTable) -> str:
        fabric = sheet.fabrics[0].key if len(sheet.fabrics) == 1 else "all"
        if table.name is not None:
            own = {
                "mat": "all" if sheet.apart is not None else str(sheet.mat_number),
                "fabric": fabric,
                "format": table.format,
            }
            return table.name.format_map(dict.fromkeys(NAME_PARTS, "") | dict(self.parts) | own)
        mat = f"-mat{sheet.mat_number}" if sheet.mats > 1 and sheet.apart is None else ""
        return f"{self.stem}{mat}-{fabric}" if table.per == "fabric" else f"{self.stem}{mat}"


def _proved(file: Produced, sheet: CutSheet, registry: Registry) -> Outcome[Produced]:
    """The file with its proof; where it cannot be measured it stays unproved, and a finding says why."""
    measurer = registry.measurers.get(file.format)
    if measurer is None:
        message = f'No plugin measures "{file.format}", so the file cannot be proved and is not released.'
        return Outcome(file, (error("no-measurer", message, "", "Install a measurer for the format."),))
    try:
        outcome = guarded(measurer.name, lambda: measurer.measure(file.data, file.declared), Measurement)
        proof = prove(sheet, outcome.value, *allowed(sheet, file.declared, measurer.budget_mm))
    except Refusal as refusal:
        return Outcome(file, refusal.findings)
    return Outcome(replace(file, measurement=outcome.value, proof=proof), (*outcome.findings, *proof.findings))
