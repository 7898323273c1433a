"""The lines of a cut sheet as a file carries them: which ones, in what order, under what names.

Terminology
    line        one cut as it stands in the file: its path, an id that is unique there, and a title for people
    layer       where the lines of one fabric stand together; markings have their own
    run         the lines of a layer
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from clothpath.contracts import Declared
from clothpath.curves import Path
from clothpath.cutplan import Cut, CutSheet
from clothpath.design import Fabric
from clothpath.files.names import plain_word, text, unique
from clothpath.findings import Finding, warning

__all__ = [
    "MARKINGS",
    "Layer",
    "Line",
    "Markings",
    "blade_of",
    "by_fabric",
    "carried",
    "layers",
    "lines",
    "marks_first",
    "passes_note",
    "passes_once",
    "sheet_title",
    "title",
]

Markings = Literal["draw", "leave-out"]
MARKINGS: Final = "markings"
"""The name of the layer of what is drawn and never cut."""
LAYER_LETTERS: Final = 24
"""Most letters of a layer's name: old formats take 31 (DXF R12), and some are kept for telling names apart."""


@dataclass(frozen=True, slots=True)
class Line:
    """One cut as it stands in the file.

    Attributes:
        id: of A-Z, a-z, 0-9 and hyphens, beginning with a letter; unique in the file.
        title: what it is, for people: piece, fabric, copy, hole or marking.
        layer: the number of its layer, as in `layers`.
    """

    cut: Cut
    id: str
    title: str
    layer: int

    @property
    def path(self) -> Path:
        return self.cut.path


@dataclass(frozen=True, slots=True)
class Layer:
    """Where lines stand together.

    Attributes:
        id: as of a line; lines and layers share no id.
        fabric: None for markings.
    """

    id: str
    title: str
    fabric: Fabric | None


def carried(sheet: CutSheet, markings: Markings) -> CutSheet:
    """The sheet with what the file carries: all of it, or all but the markings."""
    if markings == "draw":
        return sheet
    return replace(sheet, cuts=tuple(cut for cut in sheet.cuts if cut.kind == "cut"))


def by_fabric(sheet: CutSheet) -> CutSheet:
    """The sheet for a format that keeps each layer together: markings first, then fabric by fabric; else as it was."""
    rank = {fabric.key: n for n, fabric in enumerate(sheet.fabrics)}
    ordered = sorted(sheet.cuts, key=lambda cut: -1 if cut.kind == "mark" else rank[cut.ref.fabric])
    return replace(sheet, cuts=tuple(ordered))


def marks_first(sheet: CutSheet) -> CutSheet:
    """The sheet for a machine that changes its tool: it draws all markings before it cuts."""
    return replace(sheet, cuts=tuple(sorted(sheet.cuts, key=lambda cut: cut.kind == "cut")))


def passes_once(sheet: CutSheet) -> CutSheet:
    """The sheet for a format that tells the machine what to cut and not how often."""
    if all(cut.passes == 1 for cut in sheet.cuts):
        return sheet
    return replace(sheet, cuts=tuple(replace(cut, passes=1) for cut in sheet.cuts))


def passes_note(sheet: CutSheet, format_name: str) -> tuple[Finding, ...]:
    """A finding where lines are to be cut more than once and the file cannot say so."""
    passes = {cut.ref.fabric: cut.passes for cut in sheet.cuts if cut.kind == "cut"}
    found: list[Finding] = []
    for most in sorted(set(passes.values()) - {1}):
        labels = [text(fabric.label or fabric.key) for fabric in sheet.fabrics if passes.get(fabric.key) == most]
        which = "Lines are" if len(labels) == len(passes) else f"The lines of {', '.join(labels)} are"
        message = f"{which} to be cut {most} times, which a file of the format {format_name} cannot tell the machine."
        found.append(warning("passes-not-carried", message, hint=f"Set {most} passes at the machine."))
    return tuple(found)


def blade_of(sheet: CutSheet) -> Declared:
    """What no format says of its paths: that they are compensated, or run on past their start."""
    if all(cut.path is cut.outline for cut in sheet.cuts):
        return Declared()
    blade = sheet.plan.blade
    compensated = blade.compensated_by == "file" and blade.offset > 0
    return Declared(blade_offset=blade.offset if compensated else None, overcut=blade.overcut or None)


def layers(sheet: CutSheet) -> tuple[Layer, ...]:
    """One layer a fabric, in the order in which they are cut; the markings' own, if there are any, is the last."""
    ids = unique([MARKINGS, *(fabric.key for fabric in sheet.fabrics)], lambda key: _id(key, LAYER_LETTERS))[1:]
    found = tuple(
        Layer(name, text(fabric.label or fabric.key), fabric) for name, fabric in zip(ids, sheet.fabrics, strict=True)
    )
    if any(cut.kind == "mark" for cut in sheet.cuts):
        return (*found, Layer(MARKINGS, "Markings, not cut", None))
    return found


def lines(sheet: CutSheet, on: Sequence[Layer]) -> tuple[Line, ...]:
    """The lines of the sheet in its order, named; `on` are its layers."""
    number = {layer.fabric.key if layer.fabric else None: n for n, layer in enumerate(on)}
    labels = {fabric.key: text(fabric.label or fabric.key) for fabric in sheet.fabrics}
    designs = {cut.ref.design for cut in sheet.cuts}
    wanted: list[str] = [layer.id for layer in on]
    for cut in sheet.cuts:
        ref = cut.ref
        parts = [ref.design] if len(designs) > 1 else []
        parts += [ref.piece, str(ref.copy)]
        if cut.kind == "mark":
            parts += ["mark", str(cut.ring + 1)]
        elif cut.ring:
            parts += ["hole", str(cut.ring)]
        wanted.append("-".join(parts))
    ids = unique(wanted, _id)[len(on) :]
    return tuple(
        Line(cut, name, title(cut, labels[cut.ref.fabric]), number[None if cut.kind == "mark" else cut.ref.fabric])
        for cut, name in zip(sheet.cuts, ids, strict=True)
    )


def sheet_title(sheet: CutSheet) -> str:
    """What a file is, for people: "crab, mat 1 of 2"."""
    designs = ", ".join(text(demand.design.name) for demand in sheet.plan.layout.demands)
    return f"{designs}, {sheet.which}"


def title(cut: Cut, fabric: str) -> str:
    """What a line is, for people: "Claw, coral print, copy 2, hole 1"."""
    parts = [text(cut.ref.label or cut.ref.piece), fabric, f"copy {cut.ref.copy}"]
    if cut.kind == "mark":
        parts.append(f"marking {cut.ring + 1}")
    elif cut.ring:
        parts.append(f"hole {cut.ring}")
    return ", ".join(parts)


def _id(name: str, longest: int = 60) -> str:
    plain = plain_word(name, longest)
    return plain if plain[0].isalpha() else f"n-{plain}"
