"""The plugins that there are, found through entry points and files, each kept from taking the others down.

Terminology
    registry    the plugins by kind and name, with the findings about those that would not load
    guarded     called so that whatever a plugin does wrong becomes a finding that names it
"""

from __future__ import annotations

import importlib.util
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from importlib.metadata import entry_points
from pathlib import Path as FilePath
from types import ModuleType
from typing import Any, Final, TypeVar

import pluggy
from pydantic import ValidationError

from clothpath.contracts import Hooks, Measurer, Reader, Transform, Writer
from clothpath.files.names import JOB_FILE
from clothpath.findings import Finding, Outcome, Refusal, error, listed, nearest_word, warning

__all__ = [
    "ENTRY_POINT_GROUP",
    "Registry",
    "drawings",
    "guarded",
    "installed",
    "named_files",
    "reader_for",
    "with_files",
]

ENTRY_POINT_GROUP: Final = "clothpath"
HEAD_BYTES: Final = 4096
"""How much of a file a reader sees when it is asked whether it recognizes it."""

SAVED_AS: Final = (
    'In the program in which it was drawn choose "Save as" or "Export", and there SVG or DXF, which keep its lines. '
    "A photo or a scan must be traced first."
)
LIKELY: Final = 0.5
"""A file in a folder that nobody named is a drawing if a reader is at least so sure of it."""

T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Registry:
    """The plugins by kind and name.

    Attributes:
        findings: about plugins that did not load or that claim a name twice; those are not in the tables.
    """

    readers: Mapping[str, Reader]
    transforms: Mapping[str, Transform]
    writers: Mapping[str, Writer]
    measurers: Mapping[str, Measurer]
    findings: tuple[Finding, ...] = ()

    def transform(self, name: str, where: str) -> Transform:
        """The step of this name.

        Raises:
            Refusal: there is none; the nearest name is suggested.
        """
        return _named(self.transforms, name, "step", where)

    def writer(self, name: str, where: str) -> Writer:
        """The writer of this format.

        Raises:
            Refusal: there is none.
        """
        return _named(self.writers, name, "format", where)


def _named(table: Mapping[str, T], name: str, kind: str, where: str) -> T:
    if name in table:
        return table[name]
    raise Refusal(error(f"unknown-{kind}", f'There is no {kind} "{name}".', where, nearest_word(name, table)))


@cache
def installed() -> Registry:
    """The plugins of every installed package that registers under the entry point group, Clothpath's own included."""
    return _collected(_entries())


@cache
def with_files(files: tuple[FilePath, ...]) -> Registry:
    """The installed plugins and those in Python files, which run with the rights of the caller.

    A file that cannot be loaded is a finding in the result, as for any plugin.
    """
    if not files:
        return installed()
    return _collected([*_entries(), *((str(file), partial(_module_from, file)) for file in files)])


def _entries() -> list[tuple[str, Callable[[], Any]]]:
    points = sorted(entry_points(group=ENTRY_POINT_GROUP), key=lambda point: point.name)
    return [(point.name, point.load) for point in points]


def named_files(files: Sequence[FilePath]) -> tuple[FilePath, ...]:
    """Plugin files that a person named, known to load and to offer something.

    Raises:
        Refusal: one is missing, cannot be loaded, or offers no plugin.
    """
    named = tuple(files)
    faults: list[Finding] = []
    for file in named:
        if not file.is_file():
            faults.append(error("no-such-file", "There is no such plugin file.", str(file), "Check the name."))
            continue
        told = [finding for finding in with_files((file,)).findings if finding.where == str(file)]
        faults += [replace(finding, severity="error") for finding in told]
    if faults:
        raise Refusal(*faults)
    return named


def _module_from(file: FilePath) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"clothpath_plugin_{file.stem}", file)
    if spec is None or spec.loader is None:
        raise ImportError(f"{file} is not a Python file")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def _collected(loaders: Iterable[tuple[str, Callable[[], Any]]]) -> Registry:
    manager = pluggy.PluginManager("clothpath")
    manager.add_hookspecs(Hooks)
    findings: list[Finding] = []
    kinds: dict[str, dict[str, Any]] = {"readers": {}, "transforms": {}, "writers": {}, "measurers": {}}
    for name, load in loaders:
        try:
            module = load()
            manager.register(module, name=name)
            offered = {
                kind: list(getattr(module, f"clothpath_{kind}")())
                for kind in kinds
                if hasattr(module, f"clothpath_{kind}")
            }
        except Exception as fault:
            findings.append(
                warning(
                    "plugin-broken",
                    f'The plugin "{name}" could not be loaded: {type(fault).__name__}: {fault}',
                    name,
                    "Update it or remove it; everything else goes on without it.",
                )
            )
            continue
        if not any(offered.values()):
            message = f'"{name}" offers no plugin: it implements none of the hooks.'
            findings.append(warning("plugin-empty", message, name, "See clothpath.contracts for the hooks."))
        for kind, plugins in offered.items():
            for plugin in plugins:
                if plugin.name in kinds[kind]:
                    message = f'Two plugins offer "{plugin.name}" among the {kind}; the one from "{name}" is left out.'
                    findings.append(warning("plugin-twice", message, name, "Remove or rename one of them."))
                else:
                    kinds[kind][plugin.name] = plugin
    return Registry(**kinds, findings=tuple(findings))


def drawings(paths: Sequence[FilePath], registry: Registry) -> Outcome[tuple[FilePath, ...]]:
    """The files; in place of a folder, the files in it (not those of folders in it) that a reader most likely reads.

    Folders in it that hold drawings are told, but for those in which a job has put its files.

    Raises:
        Refusal: a folder cannot be looked into, or nothing in it is recognized.
    """
    found: list[FilePath] = []
    left_out: list[Finding] = []
    for path in paths:
        if not path.is_dir():
            found.append(path)
            continue
        try:
            inside = [file for file in sorted(path.iterdir()) if file.is_file() and _recognized(registry, file)]
            others = [each for each in _deeper(path, registry) if each not in paths]
        except OSError as fault:
            raise Refusal(error("unreadable", f"The folder cannot be read: {fault.strerror}.", str(path))) from None
        if others:
            message = f"Drawings in folders inside this folder were left out: {listed(map(str, others))}."
            left_out.append(warning("left-out", message, str(path), "Name these folders too if they are wanted."))
        if not inside:
            kinds = f"Name drawings, or a folder with some: {', '.join(sorted(registry.readers))}."
            hint = f"There are some in {listed(map(str, others))}: name such a folder." if others else kinds
            raise Refusal(error("no-drawing", "There is no drawing in this folder.", str(path), hint))
        found += inside
    return Outcome(tuple(found), tuple(left_out))


def _deeper(folder: FilePath, registry: Registry) -> Iterator[FilePath]:
    """The folders inside, at whatever depth, that hold drawings of their own."""
    for place, inside, files in os.walk(folder):
        inside[:] = sorted(name for name in inside if not name.startswith("."))
        path = FilePath(place)
        if JOB_FILE in files:
            inside.clear()
        elif path != folder and any(_is_drawing(registry, path / name) for name in sorted(files)):
            yield path


def _is_drawing(registry: Registry, file: FilePath) -> bool:
    """Whether a file that nobody asked for can be read and is recognized."""
    try:
        return file.is_file() and _recognized(registry, file)
    except OSError:
        return False


def _recognized(registry: Registry, file: FilePath) -> bool:
    with file.open("rb") as opened:
        head = opened.read(HEAD_BYTES)
    return any(sure >= LIKELY for sure, _ in _claims(registry, head))


def _claims(registry: Registry, head: bytes) -> list[tuple[float, Reader]]:
    """How sure each reader is that it can read what begins like this; none that is not sure at all."""
    sure = [
        (guarded(reader.name, lambda reader=reader: Outcome(reader.recognizes(head)), float).value, reader)  # type: ignore[misc]
        for reader in registry.readers.values()
    ]
    return [(confidence, reader) for confidence, reader in sure if confidence > 0]


def reader_for(registry: Registry, data: bytes, where: str) -> Reader:
    """The reader that recognizes the bytes most surely.

    Raises:
        Refusal: none does, or two are equally sure.
    """
    sure = _claims(registry, data[:HEAD_BYTES])
    if not sure:
        kinds = ", ".join(sorted(registry.readers)) or "none"
        looks = _kind_by_signature(data)
        message = f"This is no drawing that can be read{f'; it looks like {looks}' if looks else ''}."
        hint = f"{SAVED_AS} (Read here: {kinds}.)"
        raise Refusal(error("not-a-drawing", message, where, hint))
    best = max(confidence for confidence, _ in sure)
    top = [reader for confidence, reader in sure if confidence == best]
    if len(top) > 1:
        names = " and ".join(reader.name for reader in top)
        raise Refusal(
            error("readers-tie", f"Two readers claim this file: {names}.", where, "Name one, or remove a plugin.")
        )
    return top[0]


def _kind_by_signature(data: bytes) -> str:
    """What a file that nobody reads begins like, in words; signatures as published with each format."""
    if not data.strip():
        return "an empty file"
    for signature, kind in (
        (b"\x89PNG\r\n\x1a\n", "a PNG picture, which has no outlines to cut"),
        (b"\xff\xd8\xff", "a JPEG picture, which has no outlines to cut"),
        (b"GIF8", "a GIF picture, which has no outlines to cut"),
        (b"%PDF-", "a PDF page"),
        (b"%!PS", "a PostScript page"),
        (b"PK\x03\x04", "a zip archive; unpack it first"),
        (b"<", "XML or a web page, but not an SVG drawing"),
    ):
        if data.lstrip()[: len(signature)] == signature:
            return kind
    return ""


def guarded(name: str, call: Callable[[], Outcome[T]], kind: type[T] | tuple[type[Any], ...]) -> Outcome[T]:
    """Call a plugin's verb; `kind` is the type that its value must have.

    Raises:
        Refusal: the plugin refused, raised, or returned something else than an Outcome of that kind.
    """
    hint = "This is a fault of the plugin, not of your drawing; everything else goes on without it."
    try:
        outcome = call()
    except (Refusal, KeyboardInterrupt, SystemExit, GeneratorExit):
        raise
    except ValidationError:
        raise
    except BaseException as fault:  # a panic from a compiled library is no Exception
        message = f'"{name}" failed: {type(fault).__name__}: {fault}'
        raise Refusal(error("plugin-failed", message, name, hint)) from fault
    if not isinstance(outcome, Outcome) or not isinstance(outcome.value, kind):
        got = type(outcome.value if isinstance(outcome, Outcome) else outcome).__name__
        message = f'"{name}" returned {got}, which is not what it must return.'
        raise Refusal(error("plugin-nonsense", message, name, hint))
    return outcome
