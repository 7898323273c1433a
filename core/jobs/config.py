"""Config files: TOML with a schema line, read into models, every mistake told with its file, its key and its remedy.

Terminology
    schema line   `schema = "clothpath/recipe@1"`: what the file is, and in which version
    table         a part of a file; the models below mirror them key by key
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path as FilePath
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, Field, ValidationError

from clothpath.cloth.stocktable import StockTable
from clothpath.contracts import Millimeters, Settings, StatedLength
from clothpath.cutplan import APART_MM, Blade, Slicing
from clothpath.cutting.triedtable import SpeedTable, TriedTable
from clothpath.files.names import sound_pattern
from clothpath.findings import Finding, Refusal, error
from clothpath.jobs.mistakes import faults_of
from clothpath.layout import Margins, Mat

__all__ = [
    "CatalogFile",
    "DesignTable",
    "KitTable",
    "MachineFile",
    "RecipeFile",
    "SizeTable",
    "StepTable",
    "StockEntry",
    "StockFile",
    "WriteTable",
    "load_config",
    "read_toml",
    "salvaged",
    "validated",
]

Model = TypeVar("Model", bound=BaseModel)


class StepTable(Settings):
    """One `[[step]]` of a recipe; every further key is a setting of the step."""

    model_config = Settings.model_config | {"extra": "allow"}

    use: str = Field(description="the step's name, as `clothpath plugins` lists it")
    id: str | None = Field(None, description="needed where a recipe uses one step twice")

    @property
    def key(self) -> str:
        return self.id or self.use


class RecipeFile(Settings):
    """A recipe: a chain of steps with their settings."""

    schema_: Literal["clothpath/recipe@1"] = Field(alias="schema")
    plugins: tuple[str, ...] = Field((), description="Python files with further plugins, beside the recipe")
    read: dict[str, dict[str, Any]] = Field({}, description="settings of readers, by name: [read.svg]")
    step: tuple[StepTable, ...] = Field(description="the steps, in stage order")


class MatTable(Settings):
    """`[mat]` of a machine profile."""

    width: Millimeters = Field(description="of the mat itself")
    height: Millimeters = Field(description="of the mat itself")
    margin: Millimeters = Field(0.0, description="kept clear along every edge")
    margin_left: Millimeters | None = None
    margin_right: Millimeters | None = None
    margin_top: Millimeters | None = None
    margin_bottom: Millimeters | None = None

    def mat(self, name: str) -> Mat:
        """The mat that the table describes."""

        def side(own: float | None) -> float:
            return self.margin if own is None else own

        margins = Margins(
            side(self.margin_left), side(self.margin_bottom), side(self.margin_right), side(self.margin_top)
        )
        return Mat(name, self.width, self.height, margins)


class WriteTable(Settings):
    """One `[[write]]` of a machine profile; every further key is a setting of the writer."""

    model_config = Settings.model_config | {"extra": "allow"}

    format: str = Field(description="the format's name, as `clothpath plugins` lists it")
    per: Slicing = Field(
        "mat", description='"mat": one file a mat; "fabric": one a fabric of each mat; "all": one for all mats'
    )
    apart: Annotated[Millimeters, Field(ge=0)] = Field(
        APART_MM, description="between mats that lie beside each other in a file for all"
    )
    name: Annotated[str, AfterValidator(sound_pattern)] | None = Field(
        None,
        description='what files are called, such as "{design}-{fabric}"; also {size}, {machine}, {mat} and {format}; '
        "left out: design, size and machine, and mat and fabric where there are several",
    )


class BladeTable(Settings):
    """`[blade]` of a machine profile."""

    offset: Millimeters = Field(0.0, description="of the tip behind the holder's axis; 0 mm for a tangential knife")
    overcut: Millimeters = Field(0.0, description="how far a cut runs on past its start")
    compensated_by: Literal["machine", "file"] = Field("machine", description="who allows for the offset")

    def blade(self) -> Blade:
        return Blade(self.offset, self.overcut, self.compensated_by)


class MachineFile(Settings):
    """A machine profile."""

    schema_: Literal["clothpath/machine@1"] = Field(alias="schema")
    name: str = Field(description="what it is, not who made it: mat-12x12, roll-24")
    summary: str = ""
    mat: MatTable
    write: tuple[WriteTable, ...] = Field(description="what files the machine takes")
    blade: BladeTable = BladeTable()
    speed: SpeedTable = SpeedTable()
    tried: tuple[TriedTable, ...] = Field((), description="what was found to work on this machine, one a material")
    settings: dict[str, dict[str, Any]] = Field({}, description="settings of layout and path steps, by step")


class SizeTable(Settings):
    """`[design.size.NAME]`: a finished size that the pattern promises."""

    width: StatedLength | None = None
    height: StatedLength | None = None
    settings: dict[str, dict[str, Any]] = Field({}, description="settings for this size, by step")


class RolesTable(Settings):
    """`[design.roles]`: what is only drawn, what is left out; selectors as in `separate`."""

    mark: tuple[str, ...] = ()
    omit: tuple[str, ...] = ()


class DesignTable(Settings):
    """One `[[design]]` of a catalog. `fabric`, `mark` and `omit` go to the steps that ask for them."""

    file: str
    name: str | None = Field(None, description="default: the file's name without its ending")
    label: str = ""
    drawn: Literal["right", "reversed"] = Field("right", description="reversed: the drawing is the picture in a mirror")
    recipe: str | None = None
    machines: tuple[str, ...] | None = Field(None, description="default: the catalog's")
    fabric: dict[str, dict[str, Any]] = Field({}, description="the fabrics, by key")
    roles: RolesTable = RolesTable()
    over: tuple[tuple[str, str], ...] = Field(
        (),
        description='pairs [["upper", "lower"]] of pieces, by id or label, that overrule the drawing',
        examples=[[["window", "tower"]]],
    )
    piece_copies: dict[str, int] = Field(
        {}, description="copies of a piece that one design needs, by piece id", examples=[{"left-claw": 2}]
    )
    size: dict[str, SizeTable] = Field({}, description="finished sizes, by name")
    copies: int = Field(1, ge=1, le=10_000)
    settings: dict[str, dict[str, Any]] = Field({}, description="settings for this design, by step")


class KitTable(Settings):
    """One `[[kit]]` of a catalog: several designs cut together, each fabric pooled across them."""

    name: str
    designs: dict[str, int] = Field(
        description="how many of each design in its size", examples=[{"crab/small": 2, "fish/large": 1}]
    )
    times: int = Field(1, ge=1, le=10_000, description="how many kits")
    machines: tuple[str, ...] | None = Field(None, description="default: the catalog's")
    settings: dict[str, dict[str, Any]] = Field({}, description="settings for this kit, by step")


class StockEntry(StockTable):
    """One `[[stock]]` of a catalog: cloth that there is of a fabric."""

    fabric: str = Field(description="the fabric's key")


class StockFile(Settings):
    """The cloth that there is, for one-off conversions."""

    schema_: Literal["clothpath/stock@1"] = Field(alias="schema")
    stock: tuple[StockEntry, ...] = Field(description="as in a catalog; fabrics by their key or their label")


class CatalogFile(Settings):
    """A catalog: designs, their finished sizes, their fabrics, and the machines to convert them for."""

    schema_: Literal["clothpath/catalog@1"] = Field(alias="schema")
    name: str = ""
    recipe: str = Field("fused", description="a recipe's file, or the name of one that ships")
    machines: tuple[str, ...]
    sizes: str | None = Field(None, description="a CSV table: design,size,width,height")
    settings: dict[str, dict[str, Any]] = Field({}, description="settings for every design, by step")
    design: tuple[DesignTable, ...]
    kit: tuple[KitTable, ...] = ()
    stock: tuple[StockEntry, ...] = Field((), description="cloth that there is; a fabric without: as much as is wanted")


def read_toml(path: FilePath) -> dict[str, Any]:
    """The tables of a TOML file.

    Raises:
        Refusal: it is not there, not readable, or not TOML; the message has the line.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise Refusal(error("no-such-file", "There is no such file.", str(path), "Check the name.")) from None
    except UnicodeDecodeError:
        message = "The file is not saved as UTF-8 text."
        raise Refusal(error("unreadable", message, str(path), "Save it again, as plain text in UTF-8.")) from None
    except OSError as fault:
        raise Refusal(error("unreadable", f"The file cannot be read: {fault.strerror}.", str(path))) from None
    except tomllib.TOMLDecodeError as fault:
        hint = 'A text stands in quotes ("4 in"), a list in brackets (["a", "b"]), a table name in [brackets].'
        raise Refusal(error("not-toml", f"The file is not valid TOML: {fault}.", str(path), hint)) from None


def load_config(path: FilePath, model: type[Model]) -> Model:
    """Read and check a config file.

    Raises:
        Refusal: with one error for each mistake.
    """
    return validated(model, read_toml(path), str(path))


def salvaged(path: FilePath, model: type[Model]) -> tuple[Model | None, dict[str, Any], list[Finding]]:
    """What of a config file is right, as a model and as it was written, and one error for each mistake.

    So that what stands beside a mistake can be looked at too; with mistakes the file is not to be used. The model is
    None where a mistake leaves nothing to look at.

    Raises:
        Refusal: it is not there, not readable, or not TOML.
    """
    values = read_toml(path)
    faults: list[Finding] = []
    while True:
        try:
            return model.model_validate(values), values, faults
        except ValidationError as fault:
            faults = faults or faults_of(model, fault, lambda _: str(path))
            if not _cut_out(values, fault.errors()[0]["loc"]):
                return None, values, faults


def _cut_out(values: Any, loc: Sequence[Any]) -> bool:
    """Take out what stands at a place, or the table in which it is missing; False: that would be the whole file."""
    way: list[Any] = [values]
    for part in loc:
        here = way[-1]
        if not isinstance(here, dict | list) or part not in (here if isinstance(here, dict) else range(len(here))):
            break
        way.append(here[part])
    if len(way) == 1:
        return False
    del way[-2][loc[len(way) - 2]]
    return True


def validated(model: type[Model], values: Mapping[str, Any], where: str) -> Model:
    """`values` as a model.

    Raises:
        Refusal: with one error for each mistake, its key as it is spelled in files, and the nearest right word.
    """
    try:
        return model.model_validate(dict(values))
    except ValidationError as fault:
        raise Refusal(*faults_of(model, fault, lambda _: where)) from None
