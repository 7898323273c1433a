"""One job: a design in one size for one machine, from its drawing to the files in its folder.

Terminology
    order       one design of a job: its drawing, what is said of it, and how many are wanted
    job         orders laid out together for one machine; most have one order, a kit has several
    result      what became of a job: its files with their proofs, its layout, its findings

A job is plain data, so that it can be sent to another process; `prepared` finds its plugins and checks its settings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Final, Generic, Literal, TypeVar

from clothpath.cloth.stockwords import stock_for
from clothpath.contracts import Settings
from clothpath.cutplan import CutPlan
from clothpath.design import Design
from clothpath.files.layoutfile import Kept, read_layouts, shelved
from clothpath.files.names import file_name
from clothpath.findings import Finding, Outcome, Refusal, counted, note
from clothpath.jobs.config import WriteTable
from clothpath.jobs.machines import Machine
from clothpath.layout import Demand, Stock
from clothpath.pipeline import Produced, cut_plan, designed, laid_out, produced, read_drawing, settled_writes
from clothpath.recipe import NO_SETTINGS, Layer, Recipe, Step, load_recipe, resolved
from clothpath.registry import Registry, with_files

__all__ = ["Job", "Order", "Result", "check", "kept_layouts", "prepared", "registry_of", "run"]

T = TypeVar("T")

NO_SUCH_FILE: Final = "no-such-file"
"""The code of a drawing that is not there."""
UNIT_ASSUMED: Final = "unit-assumed"
"""The code by which a reader says that it assumed a unit."""
SIZE_AS_DRAWN: Final = "size-as-drawn"
"""The code by which a step that sets the size says that none was stated."""
READ_CACHE: Final = 8
"""How many designs a process keeps as read and as designed: jobs of one design follow each other."""


@dataclass(frozen=True)
class Order:
    """One design of a job.

    Attributes:
        name: unique in its job.
        drawn_reversed: whether the drawing is the picture in a mirror.
        layers: settings of the catalog, the design and the size, in that order.
        supplied: what the catalog says of the design, for the steps that ask.
    """

    name: str
    file: FilePath
    recipe: FilePath
    drawn_reversed: bool = False
    layers: tuple[Layer, ...] = ()
    supplied: Layer = NO_SETTINGS
    count: int = 1


@dataclass(frozen=True)
class Job:
    """What to convert for one machine.

    Attributes:
        design, size: what the job is called.
        writes: the files wanted; the machine's own, or what the call asks for.
        arguments: what the call sets, over everything else.
        plugin_files: Python files whose plugins the call allows.
        findings: made while the job was set up.
        layouts: the file of kept layouts, beside the catalog; None: none are kept.
        stock_names: how the stock names fabrics: by key, where it may be of other designs; or as a person calls them,
            where each must be here, or some may be of other drawings.
    """

    design: str
    size: str
    machine: Machine
    orders: tuple[Order, ...]
    writes: tuple[WriteTable, ...]
    arguments: Layer = NO_SETTINGS
    stock: tuple[Stock, ...] = ()
    plugin_files: tuple[FilePath, ...] = ()
    findings: tuple[Finding, ...] = field(default=())
    layouts: FilePath | None = None
    stock_names: Literal["keys", "all-here", "some-here"] = "keys"

    @property
    def folder(self) -> FilePath:
        """Its folder inside the output folder."""
        return FilePath(*(file_name(part) for part in (self.design, self.size, self.machine.name) if part))

    @property
    def picture(self) -> FilePath:
        """Where the picture of its finished designs stands, the same for every machine."""
        return self.folder.parent / "picture.png"

    @property
    def stem(self) -> str:
        """What its file names begin with: they say what they are even where the folder is lost."""
        return "-".join(part for part in (self.design, self.size, self.machine.name) if part)

    @property
    def parts(self) -> dict[str, str]:
        """What a pattern of file names may take from it."""
        return {"design": self.design, "size": self.size, "machine": self.machine.name}

    @property
    def title(self) -> str:
        """What its pages are called: "crab, small, for mat-12x12", "Kit reef, 20 kits, for roll-24"."""
        design = self.design if self.kits is None else f"Kit {self.design}"
        return ", ".join(part for part in (design, self.size_words, f"for {self.machine.name}") if part)

    @property
    def kits(self) -> int | None:
        """How many kits it cuts; None: it is no kit."""
        kits = self.orders[0].supplied.tables.get("", {}).get("kits")
        return None if kits is None else int(kits)

    @property
    def size_words(self) -> str:
        """What its size is called: "small", "20 kits"."""
        return self.size.replace("-", " ") if self.kits is None else counted(self.kits, "kit")


@dataclass(frozen=True)
class Result:
    """What became of a job.

    Attributes:
        files: every file made; only those `released` may be handed over.
        plan: None if the job failed before there was one.
        kept: layouts that were searched for a time, to be kept for the next build.
    """

    job: Job
    status: Literal["ok", "failed"]
    files: tuple[Produced, ...]
    plan: CutPlan | None
    findings: tuple[Finding, ...]
    kept: tuple[Kept, ...] = ()


def kept_layouts(job: Job) -> dict[str, Kept]:
    """The layouts kept beside the job's catalog, by fingerprint.

    Raises:
        Refusal: the file is damaged.
    """
    if job.layouts is None or not job.layouts.exists():
        return {}
    return read_layouts(job.layouts.read_text(encoding="utf-8"), str(job.layouts))


def registry_of(job: Job) -> Registry:
    """The plugins that the job may use."""
    return with_files(job.plugin_files)


def prepared(job: Job, registry: Registry) -> tuple[Recipe, ...]:
    """The recipe of each order with its settings settled.

    Raises:
        Refusal: a recipe or a setting is wrong.
    """
    return tuple(
        resolved(
            load_recipe(order.recipe),
            str(order.recipe),
            registry,
            job.machine.settings,
            order.layers,
            order.supplied,
            job.arguments,
        )
        for order in job.orders
    )


def check(jobs: Sequence[Job]) -> None:
    """Find every mistake in the recipes and settings before the first job starts.

    Raises:
        Refusal: with all of them.
    """
    faults: dict[Finding, None] = {}
    for job in jobs:
        try:
            registry = registry_of(job)
            prepared(job, registry)
            settled_writes(job.writes, job.machine, registry)
        except Refusal as refusal:
            faults.update(dict.fromkeys(refusal.findings))
    if faults:
        raise Refusal(*faults)


def run(job: Job) -> Result:
    """Do the job; whatever goes wrong in it is in the result's findings."""
    found = list(job.findings)
    plan: CutPlan | None = None
    added: tuple[Kept, ...] = ()
    try:
        registry = registry_of(job)
        found += registry.findings
        recipes = prepared(job, registry)
        demands: list[Demand] = []
        for order, recipe in zip(job.orders, recipes, strict=True):
            found += recipe.findings
            outcome = _design(registry, order, recipe)
            found += outcome.findings
            demands.append(Demand(replace(outcome.value, name=order.name), order.count))
        with shelved(kept_layouts(job), job.stem) as shelf:
            stock = _stock(job, demands)
            found += stock.findings
            layout = laid_out(demands, job.machine.mat, stock.value, recipes[0].stage("layout"))
        added = tuple(shelf.added.values()) if job.layouts is not None else ()
        found += layout.findings
        planned = cut_plan(layout.value, job.machine, recipes[0].stage("path"))
        found += planned.findings
        plan = replace(planned.value, title=job.title, findings=tuple(each.by_name() for each in found))
        files = produced(plan, job.writes, job.machine, registry, job.stem, job.parts)
        found += files.findings
    except Refusal as refusal:
        return Result(job, "failed", (), plan, (*found, *refusal.findings), added)
    good = all(file.released for file in files.value) and not any(f.severity == "error" for f in found)
    return Result(job, "ok" if good else "failed", files.value, plan, tuple(found), added)


def _design(registry: Registry, order: Order, recipe: Recipe) -> Outcome[Design]:
    try:
        read = _read_once(
            registry, order.file, order.name, order.drawn_reversed, _Keyed(recipe.reading_key, recipe.reading)
        )
    except Refusal as refusal:
        raise Refusal(*(_named_by(order, finding) for finding in refusal.findings)) from None
    steps = recipe.stage("design")
    named = tuple((step.key, step.settings.model_dump_json()) for step in steps)
    settled = _designed_once(read.value, _Keyed(named, steps))
    sized = not any(finding.code == SIZE_AS_DRAWN for finding in settled.findings)
    resized = sized and any(getattr(step.plugin, "lengths", "") == "rescales" for step in steps)
    about = [_moot(finding) if resized and finding.code == UNIT_ASSUMED else finding for finding in read.findings]
    return Outcome(settled.value, (*about, *settled.findings))


def _stock(job: Job, demands: Sequence[Demand]) -> Outcome[tuple[Stock, ...]]:
    if job.stock_names == "keys":
        return Outcome(job.stock)
    known = stock_for(job.stock, [fabric for demand in demands for fabric in demand.design.fabrics])
    if known.findings and job.stock_names == "all-here":
        raise Refusal(*(replace(finding, severity="error") for finding in known.findings))
    return known


def _named_by(order: Order, finding: Finding) -> Finding:
    """A drawing that is missing, told with the place in the catalog that names it."""
    if finding.code != NO_SUCH_FILE or not order.supplied.where:
        return finding
    return replace(finding, hint=f"{finding.hint} It is named in {order.supplied.where}.")


def _moot(finding: Finding) -> Finding:
    """A doubt about the drawing's unit, once the finished size is stated."""
    return note(finding.code, finding.message, finding.where, "The finished size is stated, so nothing hangs on it.")


@dataclass(frozen=True)
class _Keyed(Generic[T]):
    """Readers or steps as a cache key: what they are and their settings."""

    key: tuple[tuple[str, str], ...]
    value: T = field(compare=False)


@lru_cache(maxsize=READ_CACHE)
def _read_once(
    registry: Registry, file: FilePath, name: str, drawn_reversed: bool, reading: _Keyed[Mapping[str, Settings]]
) -> Outcome[Design]:
    return read_drawing(registry, file, name, drawn_reversed, reading.value)


@lru_cache(maxsize=READ_CACHE)
def _designed_once(design: Design, steps: _Keyed[Sequence[Step]]) -> Outcome[Design]:
    return designed(design, steps.value)
