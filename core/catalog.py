"""A catalog: designs, their finished sizes, their fabrics, and the machines to convert them for, as a list of jobs."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from io import StringIO
from pathlib import Path as FilePath
from typing import Any, Final

from clothpath.findings import Finding, Refusal, error, nearest_word, warning
from clothpath.jobs.config import (
    CatalogFile,
    DesignTable,
    KitTable,
    SizeTable,
    WriteTable,
    read_toml,
    salvaged,
    validated,
)
from clothpath.jobs.job import Job, Order, check
from clothpath.jobs.machines import Machine, machine, machines, overruled, recipe_path
from clothpath.recipe import NO_SETTINGS, WRITE, Layer

__all__ = ["DRAWN_SIZE", "jobs_of", "title_of"]

DRAWN_SIZE: Final = "as-drawn"
"""What the size of a design is called for which no finished size is stated."""
COLUMNS: Final = ("design", "size", "width", "height")


@dataclass(frozen=True)
class _Sized:
    """One finished size of a design, with the lengths as they were written."""

    name: str
    lengths: Mapping[str, str]
    settings: Mapping[str, Mapping[str, Any]]
    findings: tuple[Finding, ...]


def jobs_of(
    path: FilePath, only_machines: Sequence[str], arguments: Layer, plugin_files: tuple[FilePath, ...]
) -> tuple[Job, ...]:
    """The jobs of a catalog, those of one design after each other.

    Args:
        only_machines: convert for these instead of the catalog's; empty: the catalog's.

    Raises:
        Refusal: the catalog, a recipe, a machine profile or the table of sizes is wrong.
    """
    catalog, written_out, faults = salvaged(path, CatalogFile)
    if catalog is None:
        raise Refusal(*faults)
    table, wrong_lines = _table(path.parent / catalog.sizes) if catalog.sizes else ({}, [])
    faults += wrong_lines
    names = [_name(design) for design in catalog.design]
    for name in sorted({name for name in names if names.count(name) > 1}):
        message = f'Two designs are called "{name}".'
        faults.append(error("design-twice", message, f"{path}: design", "Give one of them another name."))
    all_read = len(names) == len(read_toml(path)["design"])
    faults += [_not_sized(name, catalog, path) for name in table if all_read and name not in names]
    keys = {key for design in catalog.design for key in design.fabric}
    for entry in catalog.stock:
        if all_read and entry.fabric not in keys:
            message = f'There is stock of "{entry.fabric}", which is no fabric of the catalog.'
            faults.append(error("unknown-fabric", message, f"{path}: stock", nearest_word(entry.fabric, keys)))
    stock = tuple(entry.stock(entry.fabric) for entry in catalog.stock)
    layouts = path.with_name(f"{path.stem}.layouts.json")
    known: dict[str, Machine] = {}
    tables: tuple[DesignTable | KitTable, ...] = (*catalog.design, *catalog.kit)
    for name in {*only_machines, *catalog.machines, *(m for table in tables for m in table.machines or ())}:
        try:
            known[name] = machine(name, path.parent, "--machine" if name in only_machines else f"{path}: machines")
        except Refusal as refusal:
            faults += refusal.findings
    own_writes = Layer(f"{path}: settings.write", {WRITE: catalog.settings.get(WRITE, {})})
    written = {each.name: _writes(each, own_writes) for each in known.values()}
    if known:
        faults += _idle_writes(own_writes, known.values())
    else:  # so that the rest of the catalog is checked all the same
        stand_in = machine(next(iter(machines())))
        known = dict.fromkeys((*only_machines, *catalog.machines), stand_in)
        written, arguments = {stand_in.name: stand_in.writes}, NO_SETTINGS
    recipes: set[str] = set()
    for name in dict.fromkeys([catalog.recipe, *(design.recipe for design in catalog.design if design.recipe)]):
        try:
            recipe_path(name, path.parent, f"{path}: recipe")
            recipes.add(name)
        except Refusal as refusal:
            faults += refusal.findings
    jobs: list[Job] = []
    orders: dict[str, tuple[Order, tuple[Finding, ...]]] = {}
    for n, (name, design) in enumerate(zip(names, catalog.design, strict=True)):
        if (design.recipe or catalog.recipe) not in recipes:
            continue
        for sized in _sizes(name, design, written_out["design"][n].get("size", {}), table.get(name, {}), path):
            order = _order(path, catalog, design, name, sized)
            orders[f"{name}/{sized.name}"] = order, sized.findings
            for each in _of(known, only_machines or design.machines or catalog.machines):
                jobs.append(
                    Job(
                        name,
                        sized.name,
                        each,
                        (order,),
                        overruled(written[each.name], arguments),
                        arguments,
                        stock,
                        plugin_files,
                        sized.findings,
                        layouts,
                    )
                )
    for kit in catalog.kit if not faults else ():
        kit_orders, found = _kit_orders(kit, orders, path)
        for each in _of(known, only_machines or kit.machines or catalog.machines):
            jobs.append(
                Job(
                    kit.name,
                    f"times-{kit.times}",
                    each,
                    kit_orders,
                    overruled(written[each.name], arguments),
                    arguments,
                    stock,
                    plugin_files,
                    found,
                    layouts,
                )
            )
    try:
        check(jobs)
    except Refusal as refusal:
        faults += refusal.findings
    if faults:
        raise Refusal(*sorted(set(faults), key=lambda f: (f.where, f.message)))
    return tuple(jobs)


def title_of(path: FilePath) -> str:
    """What a catalog that was read already calls itself, else the name of its file."""
    return str(read_toml(path).get("name") or path.stem)


def _of(known: Mapping[str, Machine], wanted: Iterable[str]) -> Iterable[Machine]:
    """The wanted machines that there are; the others are faults already."""
    return (known[name] for name in wanted if name in known)


def _writes(of: Machine, layer: Layer) -> tuple[WriteTable, ...]:
    """The machine's files as the catalog sets them: those of its formats that the machine writes."""
    formats = {table.format for table in of.writes}
    told = {name: table for name, table in layer.tables[WRITE].items() if name in formats}
    return overruled(of.writes, Layer(layer.where, {WRITE: told}))


def _idle_writes(layer: Layer, known: Iterable[Machine]) -> list[Finding]:
    formats = {table.format for each in known for table in each.writes}
    return [
        error("unknown-format", f'No machine of the catalog writes "{name}".', layer.where, nearest_word(name, formats))
        for name in layer.tables[WRITE]
        if name not in formats
    ]


def _not_sized(name: str, catalog: CatalogFile, path: FilePath) -> Finding:
    """A design that only the table of sizes has: its drawing may be misspelt in the catalog."""
    missing = {_name(each): each.file for each in catalog.design if not (path.parent / each.file).exists()}
    if near := get_close_matches(name, missing, n=1):
        message = f'There is no drawing "{missing[near[0]]}"; the table of sizes has a design "{name}".'
        return error("no-such-file", message, f"{path}: {near[0]}", "Check its `file`, or the name in the table.")
    message = f'The table of sizes names "{name}", which is no design of the catalog.'
    hint = nearest_word(name, map(_name, catalog.design))
    return error("unknown-design", message, str(path.parent / str(catalog.sizes)), hint)


def _name(design: DesignTable) -> str:
    return design.name or FilePath(design.file).stem


def _kit_orders(
    kit: KitTable, orders: Mapping[str, tuple[Order, tuple[Finding, ...]]], path: FilePath
) -> tuple[tuple[Order, ...], tuple[Finding, ...]]:
    """The orders of a kit, each as often as all its kits need, with the findings of their sizes.

    Raises:
        Refusal: it names a design or a size that the catalog does not have, or none, or less than one of it.
    """
    where = f"{path}: kit {kit.name}"
    designs: Counter[str] = Counter()
    for name, count in kit.designs.items():
        designs[_only_size(name, orders)] += count
    faults = [
        error("unknown-design", f'The catalog has no "{name}".', where, nearest_word(name, orders))
        for name in designs
        if name not in orders
    ]
    faults += [
        error("wrong-value", f'A kit cannot hold {count} of "{name}".', where, "Write 1 or more.")
        for name, count in kit.designs.items()
        if count < 1
    ]
    if not kit.designs:
        faults.append(error("empty-kit", "The kit names no design.", where, 'Write designs = {"crab/small" = 1}.'))
    if faults:
        raise Refusal(*faults)
    last = Layer(f"{where}: settings", kit.settings)
    made = tuple(
        replace(
            order,
            name=name.replace("/", "-"),
            layers=(*order.layers, last),
            supplied=Layer(order.supplied.where, {"": {**order.supplied.tables[""], "kits": kit.times}}),
            count=count,
        )
        for name, count in designs.items()
        for order, _ in [orders[name]]
    )
    return made, tuple(finding for name in designs for finding in orders[name][1])


def _only_size(name: str, orders: Iterable[str]) -> str:
    """The design in the one size that it has, where a kit names it without."""
    sizes = [each for each in orders if each.startswith(f"{name}/")]
    return sizes[0] if len(sizes) == 1 else name


def _order(path: FilePath, catalog: CatalogFile, design: DesignTable, name: str, sized: _Sized) -> Order:
    where = f"{path}: {name}"
    supplied = {
        "fabric": design.fabric,
        "mark": list(design.roles.mark),
        "omit": list(design.roles.omit),
        **({"over": [list(pair) for pair in design.over]} if design.over else {}),
        **({"piece-copies": dict(design.piece_copies)} if design.piece_copies else {}),
        **sized.lengths,
    }
    layers = (
        Layer(f"{path}: settings", {key: table for key, table in catalog.settings.items() if key != WRITE}),
        Layer(f"{where}: settings", design.settings),
        Layer(f"{where}: size.{sized.name}: settings", sized.settings),
    )
    return Order(
        name,
        path.parent / design.file,
        recipe_path(design.recipe or catalog.recipe, path.parent, f"{path}: recipe"),
        design.drawn == "reversed",
        layers,
        Layer(where, {"": supplied}),
        design.copies,
    )


def _table(path: FilePath) -> tuple[dict[str, dict[str, dict[str, str]]], list[Finding]]:
    """design -> size -> {"width": text, "height": text} of a CSV table, and an error for each wrong line.

    Semicolons may stand in place of commas: spreadsheets write them where a comma is the decimal sign.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
        first = text.partition("\n")[0]
        reader = csv.DictReader(StringIO(text, newline=""), delimiter=";" if ";" in first and "," not in first else ",")
        columns = tuple(reader.fieldnames or ())
        lines = [(reader.line_num, line) for line in reader]
    except FileNotFoundError:
        return {}, [error("no-such-file", "There is no such table of sizes.", str(path), "Check `sizes`.")]
    except UnicodeDecodeError:
        message = "The table of sizes is not saved as UTF-8 text."
        return {}, [error("unreadable", message, str(path), "Save it again, as CSV in UTF-8.")]
    except (OSError, csv.Error) as fault:
        return {}, [error("unreadable", f"The table of sizes cannot be read: {fault}", str(path))]
    if columns != COLUMNS:
        message = f"The first line is {first.strip() or 'empty'}; it must be {','.join(COLUMNS)}."
        return {}, [error("wrong-columns", message, str(path))]
    found: dict[str, dict[str, dict[str, str]]] = {}
    faults: list[Finding] = []
    for number, line in lines:
        where = f"{path}: line {number}"
        name, size = (line["design"] or "").strip(), (line["size"] or "").strip()
        lengths = {key: text.strip() for key in ("width", "height") if (text := line[key]) and text.strip()}
        if not name or not size or None in line:
            faults.append(error("wrong-line", "A line needs a design, a size, a width and a height.", where))
            continue
        if size in found.setdefault(name, {}):
            faults.append(error("size-twice", f'The size "{size}" of "{name}" stands twice in the table.', where))
        try:
            validated(SizeTable, lengths, where)
            found[name][size] = lengths
        except Refusal as refusal:
            faults += refusal.findings
    return found, faults


def _sizes(
    name: str,
    design: DesignTable,
    written: Mapping[str, Mapping[str, Any]],
    listed: Mapping[str, Mapping[str, str]],
    path: FilePath,
) -> Iterable[_Sized]:
    """Every size of a design; what the catalog writes out beats the table, with a finding where they differ.

    `written` has the lengths as text still: what a person wrote is handed on to the step that needs it.
    """
    for size in dict.fromkeys((*listed, *written)):
        out = {key: str(written[size][key]) for key in ("width", "height") if key in written.get(size, {})}
        row = listed.get(size, {})
        found = tuple(
            warning(
                "size-differs",
                f'The {key} of "{size}" is {out[key]} in the catalog and {row[key]} in the table; {out[key]} is taken.',
                f"{path}: {name}",
                "Make them the same.",
            )
            for key in out
            if key in row and row[key] != out[key]
        )
        settings = design.size[size].settings if size in design.size else {}
        yield _Sized(size, {**row, **out}, settings, found)
    if not listed and not written:
        yield _Sized(DRAWN_SIZE, {}, {}, ())
