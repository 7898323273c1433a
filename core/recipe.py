"""A recipe made ready: its steps with their plugins and their settings, from every place that may set them.

Terminology
    layer       settings from one place (a machine profile, a catalog, …); a later layer overrules an earlier one
    supplied    what the catalog says of a design, given to the steps whose settings ask for it (`FromCatalog`)
    implied     what goes with the work of a step, given to those that ask for it (`FromSteps`), if nothing else is said
    reading     settings of readers, by name: `[read.svg]` in a recipe, `[settings.read.svg]` in a catalog

The order of the layers: plugin default < implied < machine profile < recipe < catalog < design < size < `--set`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, Final, Literal, get_origin

from pydantic import ValidationError

from clothpath.contracts import FromCatalog, FromSteps, Reader, Settings, Stage, Transform
from clothpath.findings import Finding, Refusal, error, nearest_word, note, warning
from clothpath.jobs.config import RecipeFile, StepTable, load_config
from clothpath.jobs.mistakes import faults_of, in_a_file
from clothpath.registry import Registry

__all__ = [
    "NO_SETTINGS",
    "READ",
    "WRITE",
    "Layer",
    "Recipe",
    "Step",
    "load_recipe",
    "reading",
    "resolved",
    "settings_from_arguments",
]

STAGES: Final[tuple[Stage, ...]] = ("design", "layout", "path")
READ: Final = "read"
"""The table whose keys are readers instead of settings."""
WRITE: Final = "write"
"""The table of `--set` whose keys are formats; elsewhere a machine profile's `[[write]]` has their settings."""
CALL: Final = "--set"
"""Where settings of the call stand, in findings."""
READ_EXAMPLE: Final = 'For example: --set read.svg.gap="0.2 mm"'


@dataclass(frozen=True)
class Layer:
    """Settings from one place: step key to table, and what to call the place in findings."""

    where: str
    tables: Mapping[str, Mapping[str, Any]]


NO_SETTINGS: Final = Layer("", {})
"""A layer that sets nothing."""


@dataclass(frozen=True)
class Step:
    """One step with its settings, checked."""

    key: str
    plugin: Transform
    settings: Settings


@dataclass(frozen=True)
class Recipe:
    """The steps of each stage, in order, the settings of those readers that are told any, by name; and what was
    noticed."""

    steps: tuple[Step, ...]
    reading: Mapping[str, Settings]
    findings: tuple[Finding, ...] = ()

    @property
    def reading_key(self) -> tuple[tuple[str, str], ...]:
        """The readers and their settings as text: what was read under another key may differ."""
        return tuple((name, settings.model_dump_json()) for name, settings in self.reading.items())

    def stage(self, stage: Stage) -> tuple[Step, ...]:
        return tuple(step for step in self.steps if step.plugin.stage == stage)


def load_recipe(path: FilePath) -> RecipeFile:
    """Read a recipe file.

    Raises:
        Refusal: it is missing or wrong.
    """
    return load_config(path, RecipeFile)


def resolved(
    recipe: RecipeFile,
    where: str,
    registry: Registry,
    machine: Layer,
    layers: Sequence[Layer],
    supplied: Layer,
    arguments: Layer,
) -> Recipe:
    """The recipe with every setting settled.

    Args:
        where: the recipe's file, for findings.
        machine: the machine profile's settings; they may touch layout and path steps only.
        layers: what overrules the recipe, in rising order: catalog, design, size.
        supplied: what the catalog says of the design: its one table, under the key "", goes to the settings that ask.
        arguments: what the call sets, over everything else.

    Raises:
        Refusal: an unknown step, steps out of order, a step twice without id, a length that would be scaled, an unknown
            or wrong setting.
    """
    plugins = [registry.transform(table.use, f"{where}: step[{n}]") for n, table in enumerate(recipe.step, 1)]
    faults = _order_faults(recipe.step, plugins, where)
    keys = [table.key for table in recipe.step]
    for layer in (machine, *layers, arguments):
        for key in layer.tables:
            if key not in keys and key != READ and not (key == WRITE and layer is arguments):
                message = f'The recipe has no step "{key}".'
                faults.append(error("unknown-step", message, layer.where, nearest_word(key, keys)))
    design_keys = {table.key for table, plugin in zip(recipe.step, plugins, strict=True) if plugin.stage == "design"}
    for key in sorted({*design_keys, READ} & set(machine.tables)):
        message = f'A machine profile cannot set "{key}": readers and design steps know no machine.'
        faults.append(error("machine-sets-design", message, machine.where, "Set it in the recipe or the catalog."))
    if faults:
        raise Refusal(*faults)
    steps = []
    found: list[Finding] = []
    implied = {
        name: (table.key, value)
        for table, plugin in zip(recipe.step, plugins, strict=True)
        for name, value in getattr(plugin, "implies", {}).items()
    }
    for table, plugin in zip(recipe.step, plugins, strict=True):
        own = Layer(f"{where}: {table.key}", {table.key: table.model_extra or {}})
        asked = Layer(supplied.where, {table.key: _asked(plugin, supplied.tables.get("", {}), FromCatalog)})
        every = (machine, own, *layers, asked, arguments)
        said = {name for layer in every for name in layer.tables.get(table.key, {})}
        taken = {name: each for name, each in _asked(plugin, implied, FromSteps).items() if name not in said}
        found += [_implied(table.key, name, value, step, where) for name, (step, value) in taken.items()]
        least = Layer(where, {table.key: {name: value for name, (_, value) in taken.items()}})
        steps.append(Step(table.key, plugin, _settings(plugin, table.key, (least, *every), faults)))
    readers = _reading(registry, (Layer(where, {READ: recipe.read}), *layers, arguments), faults)
    if faults:
        raise Refusal(*faults)
    return Recipe(tuple(steps), readers, (*found, *_unheard(plugins, supplied, where)))


def reading(registry: Registry, arguments: Layer) -> Mapping[str, Settings]:
    """The settings of readers, where nothing but the call sets any.

    Raises:
        Refusal: it sets something else, or an unknown reader or setting, or a wrong value.
    """
    faults = [
        error("unknown-step", f'Drawings are only read here: "{key}" does nothing.', arguments.where, READ_EXAMPLE)
        for key in arguments.tables
        if key != READ
    ]
    readers = _reading(registry, (arguments,), faults)
    if faults:
        raise Refusal(*faults)
    return readers


def _reading(registry: Registry, layers: Sequence[Layer], faults: list[Finding]) -> dict[str, Settings]:
    told = [Layer(layer.where, layer.tables.get(READ, {})) for layer in layers]
    for layer in told:
        for name in layer.tables:
            if name not in registry.readers:
                hint = nearest_word(name, registry.readers)
                faults.append(error("unknown-reader", f'There is no reader "{name}".', layer.where, hint))
    names = {name: None for layer in told for name in layer.tables if name in registry.readers}
    return {name: _settings(registry.readers[name], name, told, faults) for name in names}


def _order_faults(tables: Sequence[StepTable], plugins: Sequence[Transform], where: str) -> list[Finding]:
    faults: list[Finding] = []
    seen: dict[str, int] = {}
    absolute: str | None = None
    for n, (table, plugin) in enumerate(zip(tables, plugins, strict=True), 1):
        place = f"{where}: step[{n}] {table.key}"
        if table.key in seen:
            message = f'The step "{table.key}" stands twice in the recipe.'
            faults.append(error("step-twice", message, place, 'Give each of them an id = "…" of its own.'))
        seen[table.key] = n
        before = plugins[n - 2] if n > 1 else None
        if before is not None and STAGES.index(before.stage) > STAGES.index(plugin.stage):
            what = f'"{table.key}" is a {plugin.stage} step'
            message = f'{what} and cannot come after the {before.stage} step "{tables[n - 2].key}".'
            hint = "Put design steps first, then layout steps, then path steps."
            faults.append(error("stage-order", message, place, hint))
        lengths = getattr(plugin, "lengths", "")
        if lengths == "rescales" and absolute is not None:
            message = f'"{absolute}" adds a fixed length and stands before "{table.key}", which would scale it.'
            faults.append(error("length-scaled", message, place, f'Put "{absolute}" after "{table.key}".'))
        if lengths == "absolute":
            absolute = absolute or table.key
    return faults


def _unheard(plugins: Sequence[Transform], supplied: Layer, where: str) -> list[Finding]:
    """A warning for each thing that the catalog says of a design and no step of the recipe asks for."""
    said = {name: value for name, value in supplied.tables.get("", {}).items() if value}
    heard = {name for plugin in plugins for name in _asked(plugin, said, FromCatalog)}
    return [
        warning(
            "catalog-unheard",
            f"The catalog states `{name}`, but no step of the recipe asks for it.",
            supplied.where,
            f"Add a step that does to {where}, or take it out of the catalog.",
        )
        for name in said
        if name not in heard
    ]


def _implied(key: str, name: str, value: Any, step: str, where: str) -> Finding:
    message = f'The recipe has the step "{step}", so {name} = "{value}" holds for all that nothing else is said of.'
    hint = f'If it is otherwise, write {name} = "…" for the step "{key}" in the recipe, or for a fabric in the catalog.'
    return note("implied", message, where, hint)


def _asked(plugin: Transform, supplied: Mapping[str, Any], mark: type[FromCatalog | FromSteps]) -> dict[str, Any]:
    """What of the supplied table the plugin's settings ask for by that mark."""
    names = [
        field.alias or name
        for name, field in plugin.settings.model_fields.items()
        if any(isinstance(extra, mark) for extra in field.metadata)
    ]
    return {name: supplied[name] for name in names if name in supplied}


def _settings(plugin: Transform | Reader, key: str, layers: Sequence[Layer], faults: list[Finding]) -> Settings:
    merged: dict[str, Any] = {}
    written: dict[str, str] = {}
    for layer in layers:
        for name, value in layer.tables.get(key, {}).items():
            merged[name] = _as_wanted(plugin.settings, name, value)
            written[name] = layer.where

    def as_written(name: str, example: str) -> str:
        return f"--set {key}.{name}='{example}'" if written.get(name) == CALL else in_a_file(name, example)

    try:
        return plugin.settings.model_validate(merged)
    except ValidationError as fault:
        faults.extend(faults_of(plugin.settings, fault, lambda name: written.get(name, key), as_written))
        return plugin.settings.model_construct()


def _as_wanted(model: type[Settings], name: str, value: Any) -> Any:
    """As a person types it: commas divide a text where a list is wanted, a number may be one of several words."""
    field = next((field for key, field in model.model_fields.items() if name in (key, field.alias)), None)
    if isinstance(value, str) and field is not None and get_origin(field.annotation) in (tuple, list):
        return [part.strip() for part in value.split(",") if part.strip()]
    if type(value) is int and field is not None and get_origin(field.annotation) is Literal:
        return str(value)
    return value


def settings_from_arguments(arguments: Iterable[str]) -> Layer:
    """The layer of `--set STEP.SETTING=VALUE` arguments; a value is TOML if it can be, else text.

    Readers and formats are set as `read.svg.SETTING` and `write.dxf.SETTING`.

    Raises:
        Refusal: an argument has another form.
    """
    tables: dict[str, dict[str, Any]] = {}
    for argument in arguments:
        name, equals, text = argument.partition("=")
        step, dot, setting = name.strip().rpartition(".")
        if not equals or not dot or not step or not setting:
            message = f'"{argument}" is not of the form STEP.SETTING=VALUE.'
            raise Refusal(error("wrong-set", message, CALL, 'For example: --set nest.spacing="1/8 in"'))
        try:
            value: Any = tomllib.loads(f"value = {text}")["value"]
        except tomllib.TOMLDecodeError:
            value = text.strip()
        kind, dot, name = step.partition(".")
        table = tables.setdefault(kind, {}).setdefault(name, {}) if dot else tables.setdefault(step, {})
        table[setting] = value
    return Layer(CALL, tables)
