"""The plugin contract: what a reader, a transform, a writer and a measurer are. This page is the manual for authors.

A plugin is a small object with a `name`, a one-line `summary`, a `settings` model and one verb. A module offers its
plugins by implementing one or more of the hooks below with `hookimpl`; it is found through the entry point group
`clothpath`, or through a file path in a recipe if the call allows that.

    from clothpath.contracts import Settings, hookimpl

    class Halve:
        name, summary, stage, settings = "halve", "Half the size", "design", Settings
        def apply(self, design, settings): return Outcome(mapped(design, Affine.scale(0.5)))

    @hookimpl
    def clothpath_transforms(): return [Halve()]

What a verb may do
    return Outcome(value, findings)     findings of severity "error" in it fail the job like a refusal
    raise Refusal(findings)             there is no value, and this is why
    raise anything else                 fails the job with a finding that names the plugin
Values are immutable; a verb returns a new one. No clock, no randomness without a fixed seed, no network.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Protocol, TypeAlias, TypeVar, runtime_checkable

import pluggy
from pydantic import BaseModel, BeforeValidator, ConfigDict, WithJsonSchema

from clothpath.cloth.record import JobCloth
from clothpath.curves import Affine, Path
from clothpath.cutplan import Blade, CutPlan, CutSheet
from clothpath.design import Design
from clothpath.findings import Outcome
from clothpath.layout import Layout, Mat, Stock
from clothpath.units import Length, parse_length

__all__ = [
    "CardWriter",
    "CutWriter",
    "Declared",
    "DesignStep",
    "Document",
    "DocumentWriter",
    "FromCatalog",
    "FromSteps",
    "LayoutStep",
    "Measured",
    "Measurement",
    "Measurer",
    "Millimeters",
    "PathStep",
    "PreviewWriter",
    "Reader",
    "Settings",
    "Stage",
    "StatedLength",
    "SummaryWriter",
    "Transform",
    "Writer",
    "Written",
    "hookimpl",
    "hookspec",
]

hookspec = pluggy.HookspecMarker("clothpath")
hookimpl = pluggy.HookimplMarker("clothpath")

Stage = Literal["design", "layout", "path"]


def _millimeters(value: object) -> float:
    """A length with its unit as a person writes it; a bare number has no unit and is refused."""
    if isinstance(value, str):
        return parse_length(value).mm
    raise ValueError(f'{value} has no unit; write "{value} in" or "{value} mm"')


Millimeters: TypeAlias = Annotated[
    float,
    BeforeValidator(_millimeters),
    WithJsonSchema(
        {"type": "string", "format": "length", "description": 'a length with its unit, such as "4 3/8 in" or "111 mm"'}
    ),
]
"""The type of a setting that is a length: text with a unit wherever it is validated, a float in mm once it is."""


def _stated(value: object) -> Length:
    if isinstance(value, str):
        return parse_length(value)
    raise ValueError(f'{value} has no unit; write "{value} in" or "{value} mm"')


StatedLength: TypeAlias = Annotated[
    Length,
    BeforeValidator(_stated),
    WithJsonSchema(
        {"type": "string", "format": "length", "description": 'a length with its unit, such as "4 3/8 in" or "111 mm"'}
    ),
]
"""As Millimeters, but it remembers how finely it was stated: sizes that a pattern promises."""


@dataclass(frozen=True, slots=True)
class FromCatalog:
    """Put into a setting's Annotated type: the catalog's design table (or its size) supplies it under the same key."""


@dataclass(frozen=True, slots=True)
class FromSteps:
    """Put into a setting's Annotated type: where nothing else says it, what a step of the recipe implies holds."""


def _kebab(name: str) -> str:
    return re.sub("_", "-", name)


class Settings(BaseModel):
    """The settings of a plugin; subclass it. Keys are spelled with hyphens in files, with underscores in code.

    Unknown keys and wrong types are errors. Give every field a default and `Field(description=...)`.
    """

    model_config = ConfigDict(
        frozen=True, extra="forbid", alias_generator=_kebab, validate_by_name=True, validate_by_alias=True
    )


AnySettings: TypeAlias = Any
"""Each plugin's verb takes its own Settings subclass; the engine makes it from the model that the plugin names."""


class _Plugin(Protocol):
    @property
    def name(self) -> str:
        """Lower case with hyphens; unique in its kind."""

    @property
    def summary(self) -> str:
        """What it is for, in one line."""

    @property
    def settings(self) -> type[Settings]: ...


class Reader(_Plugin, Protocol):
    """Bytes of a drawing in, a Design out: finished picture, mm, y up, outer rings counterclockwise."""

    def recognizes(self, head: bytes) -> float:
        """How sure it is, from 0 to 1, that it can read a file that begins with these (up to 4096) bytes."""

    def read(self, data: bytes, settings: AnySettings) -> Outcome[Design]:
        """The design. `name` and `source.name` are set by the engine; every closed shape is a piece with role "cut",
        `fabric` the reader's own guess (layer, else color), every open path a marking."""


class DesignStep(_Plugin, Protocol):
    """Changes the picture; knows no machine.

    A step may also have an attribute `lengths`: "absolute" if it adds lengths that must not be scaled afterwards
    (underlap, turn-under), "rescales" if it changes the size of the picture. The engine refuses the one before the
    other. And one `implies`: settings by name that go with such work, as turned edges go with bare cloth. Steps whose
    settings ask for them (`FromSteps`) take them as their defaults, with a note.
    """

    @property
    def stage(self) -> Literal["design"]: ...

    def apply(self, design: Design, settings: AnySettings) -> Outcome[Design]: ...


class LayoutStep(_Plugin, Protocol):
    """Lays pieces on mats, or changes how they lie."""

    @property
    def stage(self) -> Literal["layout"]: ...

    def apply(self, layout: Layout, settings: AnySettings, mat: Mat, stock: Sequence[Stock]) -> Outcome[Layout]: ...


class PathStep(_Plugin, Protocol):
    """Changes the order or the paths of cuts."""

    @property
    def stage(self) -> Literal["path"]: ...

    def apply(self, plan: CutPlan, settings: AnySettings, blade: Blade) -> Outcome[CutPlan]: ...


Transform: TypeAlias = DesignStep | LayoutStep | PathStep


@dataclass(frozen=True, slots=True)
class Declared:
    """What a cut format cannot carry and a measurer must be told; all None where the file says everything.

    Attributes:
        mm_per_unit: the size of one unit of the file.
        blade_offset: mm, where the file's paths are compensated: the outlines are then what the simulated tip follows.
        overcut: mm that each path runs on past its start.
        frame: from the file's coordinates in mm to the mat's, where the machine counts from another corner or along
            other axes (see `clothpath.files.frame`).
    """

    mm_per_unit: float | None = None
    blade_offset: float | None = None
    overcut: float | None = None
    frame: Affine | None = None


@runtime_checkable
class CutWriter(_Plugin, Protocol):
    """Writes one cut file: the format's name is the plugin's name.

    A writer whose files a machine runs as they are, with no program in between, has an attribute `run_as_is` that is
    True: the engine never gives it several mats beside each other.
    """

    @property
    def suffix(self) -> str:
        """Of the file name, with the dot."""

    def write(self, sheet: CutSheet, settings: AnySettings) -> Outcome[bytes]:
        """The file: every `cut.path` of the sheet in its order, at its place on the mat, unit stated; same input, same
        bytes. Markings (`cut.kind == "mark"`) are written where the format and the settings ask for them."""

    def writes(self, sheet: CutSheet, settings: AnySettings) -> CutSheet:
        """The part of the sheet that `write` puts into the file (a format that cannot draw leaves markings out)."""

    def declared(self, sheet: CutSheet, settings: AnySettings) -> Declared:
        """What the file cannot say of itself."""


@dataclass(frozen=True, slots=True)
class Document:
    """One page or table for people: a file name without folder, and its bytes."""

    name: str
    data: bytes


@runtime_checkable
class DocumentWriter(_Plugin, Protocol):
    """Writes documents from the plan, which holds the layout and the designs."""

    def compose(self, plan: CutPlan, settings: AnySettings) -> Outcome[tuple[Document, ...]]: ...


@dataclass(frozen=True, slots=True)
class Measured:
    """One line found in a file.

    Attributes:
        path: in mm, mat coordinates (y up, origin at the lower left of the page); an Outline where the file closes it.
        group: the layer, group, pen or color that holds it, as the file names it; "" if none.
        label: the id or title of the line; "" if none.
    """

    path: Path
    group: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class Measurement:
    """What a file holds, read from its bytes.

    Attributes:
        unit: as the file states it ("mm", "in", "px"); "" where it states none.
        page: width and height in mm; None where the format has no page.
        lines: every line that a machine would follow, in file order.
    """

    unit: str
    page: tuple[float, float] | None
    lines: tuple[Measured, ...]


@runtime_checkable
class PreviewWriter(_Plugin, Protocol):
    """Draws a picture of each written cut file from what was read back from its bytes."""

    @property
    def suffix(self) -> str:
        """Of the file name, with the dot."""

    def draw(self, sheet: CutSheet, measurement: Measurement, settings: AnySettings) -> Outcome[bytes]:
        """The picture of a file that should hold `sheet` and was measured."""


@dataclass(frozen=True, slots=True)
class Written:
    """A written cut file: its name without folder, its format, what it should hold, and what was read back from it."""

    name: str
    format: str
    sheet: CutSheet
    measurement: Measurement
    declared: Declared


@runtime_checkable
class CardWriter(_Plugin, Protocol):
    """Writes documents that tell about all cut files of a job, from what was read back from their bytes."""

    def tell(self, files: Sequence[Written], settings: AnySettings) -> Outcome[tuple[Document, ...]]:
        """The documents for files in the order in which they were written; at least one."""


@runtime_checkable
class SummaryWriter(_Plugin, Protocol):
    """Writes documents about all jobs of a build for one machine; it may be a `DocumentWriter` for each of them too."""

    def sum_up(
        self, title: str, jobs: Sequence[JobCloth], stock: Sequence[Stock], settings: AnySettings
    ) -> Outcome[tuple[Document, ...]]:
        """The documents; `title` says what was built, for people."""


class Measurer(Protocol):
    """Reads a written file by other code than wrote it; its name is the format's name."""

    @property
    def name(self) -> str:
        """The format's name, as its writer has it."""

    @property
    def budget_mm(self) -> float:
        """How far an outline may be from where it was meant: 0.01, or the format's own grid if that is coarser."""

    def measure(self, data: bytes, declared: Declared) -> Outcome[Measurement]:
        """What is in the bytes. A finding "declared" says so where the result leans on what was declared.

        Raises:
            Refusal: the file is damaged or not of this format.
        """


Writer: TypeAlias = CutWriter | DocumentWriter | PreviewWriter | CardWriter | SummaryWriter

AnyPlugin = TypeVar("AnyPlugin", bound=_Plugin)


class Hooks:
    """The hook specifications; each returns the plugins that a module offers of one kind."""

    @hookspec
    def clothpath_readers(self) -> Sequence[Reader]:
        """Readers; the one that recognizes a file most surely reads it, a tie is an error."""
        raise NotImplementedError

    @hookspec
    def clothpath_transforms(self) -> Sequence[Transform]:
        """Steps for recipes."""
        raise NotImplementedError

    @hookspec
    def clothpath_writers(self) -> Sequence[Writer]:
        """Writers of cut files, of documents, of pictures and of cards."""
        raise NotImplementedError

    @hookspec
    def clothpath_measurers(self) -> Sequence[Measurer]:
        """Measurers, keyed by the format's name."""
        raise NotImplementedError
