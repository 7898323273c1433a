"""The model as plain data, whole and readable again: what a JSON file of it holds.

Terminology
    plain data  dicts, lists, text, numbers, true, false and none
    model       a cut plan with its layout, its designs and their fabrics

Every immutable type of the model becomes a dict of its fields, spelled with hyphens; what is at its default is left
out. A point is [x, y] in mm. A path is {"start", "segments", "closed"}, a segment [x, y] for a straight line and
[x1, y1, x2, y2, x, y] for a cubic. Numbers are written in full, so what is read back is equal to what was written.

The schema that `schema` gives is JSON Schema, draft 2020-12.
"""

from __future__ import annotations

import dataclasses
import math
import types
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final, Literal, TypeAlias, Union, get_args, get_origin, get_type_hints

from clothpath.curves import Outline, Path, open_path, outline
from clothpath.cutplan import Cut, CutPlan
from clothpath.design import Design

__all__ = ["MODEL_SCHEMA", "ModelError", "Plain", "as_plain", "designs_from", "plan_from", "schema"]

MODEL_SCHEMA: Final = "clothpath/model@1"

Plain: TypeAlias = Any
"""Plain data; its shape is what the schema says."""


class ModelError(ValueError):
    """The data is no model; the message says where and why."""


def as_plain(plan: CutPlan) -> dict[str, Plain]:
    """The whole model as plain data, with its schema line."""
    return {"schema": MODEL_SCHEMA, **_encoded(plan)}


def plan_from(data: Plain) -> CutPlan:
    """The model again; equal to the one that was written.

    Raises:
        ModelError: the data is not what the schema says.
    """
    if not isinstance(data, dict) or data.get("schema") != MODEL_SCHEMA:
        raise ModelError(f'this is not a model: it does not begin with "schema": "{MODEL_SCHEMA}"')
    plan = _decoded({key: value for key, value in data.items() if key != "schema"}, CutPlan, "model")
    assert isinstance(plan, CutPlan)
    return plan


def designs_from(data: Plain) -> tuple[Design, ...]:
    """The designs of a model.

    Raises:
        ModelError: the data is not what the schema says.
    """
    return tuple(demand.design for demand in plan_from(data).layout.demands)


def schema() -> dict[str, Plain]:
    """The JSON Schema of a model."""
    found: dict[str, Plain] = {}
    root = _schema_of(CutPlan, found)
    definition = found[root["$ref"].rpartition("/")[2]]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": MODEL_SCHEMA,
        "title": "A whole model: designs, layout and cut plan",
        "type": "object",
        "properties": {"schema": {"const": MODEL_SCHEMA}, **definition["properties"]},
        "required": ["schema", *definition["required"]],
        "additionalProperties": False,
        "$defs": dict(sorted(found.items())),
    }


@lru_cache(maxsize=64)
def _fields(kind: type) -> dict[str, tuple[str, Any, Any]]:
    """Key in the data to name, type and default of each field of a type of the model."""
    hints = get_type_hints(kind)
    found: dict[str, tuple[str, Any, Any]] = {}
    for field in dataclasses.fields(kind):
        default = field.default
        if field.default_factory is not dataclasses.MISSING:
            default = field.default_factory()
        found[field.name.replace("_", "-")] = (field.name, hints[field.name], default)
    return found


def _encoded(value: Any) -> Plain:
    if isinstance(value, Path):
        return {
            "start": _point(value.start),
            "segments": [[number for point in segment for number in _point(point)] for segment in value.segments()],
            "closed": isinstance(value, Outline),
        }
    if isinstance(value, complex):
        return _point(value)
    if isinstance(value, tuple):
        return [_encoded(item) for item in value]
    if not dataclasses.is_dataclass(value) or isinstance(value, type):
        return value
    found: dict[str, Plain] = {}
    for key, (name, _, default) in _fields(type(value)).items():
        part = getattr(value, name)
        if part == default or (isinstance(value, Cut) and name == "path" and part is value.outline):
            continue
        found[key] = _encoded(part)
    return found


def _point(of: complex) -> list[float]:
    return [of.real, of.imag]


def _decoded(data: Plain, kind: Any, where: str) -> Any:
    """The value of this type that the data stand for."""
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        if data is None and type(None) in get_args(kind):
            return None
        offered = [arg for arg in get_args(kind) if arg is not type(None)]
        fitting = (arg for arg in offered if (arg in _NAMES) != isinstance(data, Mapping))
        return _decoded(data, next(fitting, offered[0]), where)
    if origin is Literal:
        return _one_of(data, get_args(kind), where)
    if origin is tuple:
        return _decoded_tuple(data, get_args(kind), where)
    if kind is complex:
        x, y = _decoded_tuple(data, (float, float), where)
        return complex(x, y)
    if isinstance(kind, type) and issubclass(kind, Path):
        return _decoded_path(data, kind, where)
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        return _decoded_fields(data, kind, where)
    number = kind is float and type(data) is int
    if not number and type(data) is not kind:
        raise ModelError(f"{where} should be {_NAMES[kind]}, not {data!r:.40}")
    if kind is float and not math.isfinite(data):
        raise ModelError(f"{where} is not a finite number")
    return kind(data)


_NAMES: Final = {str: "text", int: "a whole number", float: "a number", bool: "true or false"}


def _one_of(data: Plain, allowed: tuple[Any, ...], where: str) -> Any:
    for value in allowed:
        if type(data) is type(value) and data == value:
            return value
    raise ModelError(f"{where} should be one of {', '.join(map(str, allowed))}, not {data!r:.40}")


def _decoded_tuple(data: Plain, items: tuple[Any, ...], where: str) -> tuple[Any, ...]:
    if not isinstance(data, list):
        raise ModelError(f"{where} should be a list")
    if items[-1] is ...:
        return tuple(_decoded(item, items[0], f"{where}[{n}]") for n, item in enumerate(data))
    if len(data) != len(items):
        raise ModelError(f"{where} should have {len(items)} entries, not {len(data)}")
    return tuple(_decoded(item, kind, f"{where}[{n}]") for n, (item, kind) in enumerate(zip(data, items, strict=True)))


def _decoded_fields(data: Plain, kind: type, where: str) -> Any:
    if not isinstance(data, Mapping):
        raise ModelError(f"{where} should be a table of {', '.join(_fields(kind))}")
    fields = _fields(kind)
    for key in data:
        if key not in fields:
            raise ModelError(f'{where} has no "{key}"; known here: {", ".join(fields)}')
    values: dict[str, Any] = {}
    for key, (name, of, default) in fields.items():
        if key in data:
            values[name] = _decoded(data[key], of, f"{where}.{key}")
        elif kind is Cut and name == "path":
            values[name] = values["outline"]
        elif default is dataclasses.MISSING:
            raise ModelError(f'{where} lacks "{key}"')
    try:
        return kind(**values)
    except ValueError as fault:
        raise ModelError(f"{where}: {fault}") from None


def _decoded_path(data: Plain, kind: type[Path], where: str) -> Path:
    if not isinstance(data, Mapping) or data.keys() != {"start", "segments", "closed"}:
        raise ModelError(f"{where} should have start, segments and closed")
    numbers = _decoded_tuple(data["segments"], (tuple[float, ...], ...), f"{where}.segments")
    segments: list[Any] = []
    for n, given in enumerate(numbers):
        if len(given) not in (2, 6):
            raise ModelError(f"{where}.segments[{n}] should have 2 or 6 numbers, not {len(given)}")
        segments.append(tuple(complex(x, y) for x, y in zip(given[::2], given[1::2], strict=True)))
    start = _decoded(data["start"], complex, f"{where}.start")
    try:
        made = outline(start, segments) if data["closed"] is True else open_path(start, segments)
    except ValueError as fault:
        raise ModelError(f"{where}: {fault}") from None
    if not isinstance(made, kind):
        raise ModelError(f"{where} should be closed")
    return made


def _schema_of(kind: Any, found: dict[str, Plain]) -> Plain:
    """The schema of a type; those of named types are collected in `found`."""
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return {"anyOf": [_schema_of(arg, found) for arg in arguments]}
    if origin is Literal:
        return {"enum": list(arguments)}
    if origin is tuple and arguments[-1] is ...:
        return {"type": "array", "items": _schema_of(arguments[0], found)}
    if origin is tuple:
        parts = [_schema_of(arg, found) for arg in arguments]
        return {"type": "array", "prefixItems": parts, "minItems": len(parts), "maxItems": len(parts)}
    if kind is complex:
        return {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
    if kind in _PLAIN_TYPES:
        return {"type": _PLAIN_TYPES[kind]}
    if kind.__name__ not in found:
        found[kind.__name__] = {}
        found[kind.__name__] = _schema_of_path(kind) if issubclass(kind, Path) else _schema_of_fields(kind, found)
    return {"$ref": f"#/$defs/{kind.__name__}"}


_PLAIN_TYPES: Final = {str: "string", int: "integer", float: "number", bool: "boolean", type(None): "null"}


def _schema_of_fields(kind: type, found: dict[str, Plain]) -> Plain:
    fields = _fields(kind)
    needed = [key for key, (_, _, default) in fields.items() if default is dataclasses.MISSING]
    return {
        "type": "object",
        "description": (kind.__doc__ or "").strip().partition("\n")[0],
        "properties": {key: _schema_of(of, found) for key, (_, of, _) in fields.items()},
        "required": [key for key in needed if (kind, key) != (Cut, "path")],
        "additionalProperties": False,
    }


def _schema_of_path(kind: type) -> Plain:
    point = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
    curve = {"type": "array", "items": {"type": "number"}, "minItems": 6, "maxItems": 6}
    return {
        "type": "object",
        "description": "A chain of straight lines [x, y] and cubic Béziers [x1, y1, x2, y2, x, y], in mm, y up.",
        "properties": {
            "start": point,
            "segments": {"type": "array", "items": {"anyOf": [point, curve]}, "minItems": 1},
            "closed": {"const": True} if issubclass(kind, Outline) else {"type": "boolean"},
        },
        "required": ["start", "segments", "closed"],
        "additionalProperties": False,
    }
