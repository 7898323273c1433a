"""Mistakes in what a person wrote, told in plain words: what is wrong, at which key, and how it is written.

Terminology
    place       the keys that lead to a value, as the model's library tells them
    example     a value of a key that its model gives, for a person to copy
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Final, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from clothpath.findings import Finding, error, nearest_word

__all__ = ["faults_of", "in_a_file"]


def in_a_file(key: str, example: str) -> str:
    """How a key with its value stands in a config file."""
    return f"{key} = {example}"


def faults_of(
    model: type[BaseModel],
    fault: ValidationError,
    where: Callable[[str], str],
    written: Callable[[str, str], str] = in_a_file,
) -> list[Finding]:
    """One error for each mistake.

    Args:
        where: tells for the first part of a key where it was written.
        written: how a key and an example of its value are written there.
    """
    every = fault.errors()
    places = [each["loc"] for each in every]
    return list(
        dict.fromkeys(
            _finding(model, each, where(str(each["loc"][0]) if each["loc"] else ""), written)
            for each in every
            if each["type"] != "too_short" or not any(_inside(place, each["loc"]) for place in places)
        )
    )


def _inside(place: Sequence[object], of: Sequence[object]) -> bool:
    """Whether a place lies inside another: what is wrong there makes a list too short."""
    return len(place) > len(of) and place[: len(of)] == of


def _place(where: str, loc: Sequence[int | str]) -> str:
    key = re.sub(r"\.(\d+)(?=\.|$)", lambda m: f"[{int(m[1]) + 1}]", ".".join(map(str, loc)))
    return f"{where}: {key}" if key else where


def _finding(model: type[BaseModel], fault: Any, where: str, written: Callable[[str, str], str]) -> Finding:
    loc = [str(part) for part in fault["loc"]]
    place = _place(where, fault["loc"])
    kind, message = fault["type"], fault["msg"].removeprefix("Value error, ")
    shaped = _with_example(model, fault["loc"])
    if shaped and (kind in _PLAIN or kind in ("too_short", "too_long", "missing")):
        at, field = shaped
        said = f"This is not how `{at[-1]}` is written: {field.description}."
        example = written(str(at[-1]), _as_toml((field.examples or [None])[0]))
        return error("wrong-value", said, _place(where, at), f"For example: {example}")
    if kind == "extra_forbidden":
        known = _keys_at(model, fault["loc"][:-1])
        return error("unknown-key", f'"{loc[-1]}" is not a key here.', place, nearest_word(loc[-1], known))
    if kind == "missing":
        return error("missing-key", f'The key "{loc[-1]}" is missing.', place, _example(model, loc))
    if kind == "literal_error":
        expected = fault["ctx"]["expected"].replace("'", '"')
        given = fault["input"]
        message = f'"{given}" is not possible here; it must be {expected}.'
        return error("wrong-value", message, place, _nearest(given, expected))
    if kind == "value_error":
        stop = "" if message.endswith(("?", ".")) else "."
        return error("wrong-value", message[:1].upper() + message[1:] + stop, place)
    if kind in _BOUNDS:
        words, bound = _BOUNDS[kind]
        told = model.model_json_schema().get("properties", {}).get(loc[0], {})
        unit = " mm" if len(loc) == 1 and told.get("format") == "length" else ""
        return error("wrong-value", f"It must be {words} {fault['ctx'][bound]:g}{unit}.", place)
    if kind in _PLAIN:
        given = _as_toml(fault["input"])
        hint = f"Write [{given}]." if kind in _LISTS and isinstance(fault["input"], str) else ""
        return error("wrong-value", f"It must be {_PLAIN[kind]}, not {given}.", place, hint)
    return error("wrong-value", f"{message}, not {_as_toml(fault['input'])}.", place)


_LISTS: Final = ("tuple_type", "list_type")
_PLAIN: Final[dict[str, str]] = {
    **dict.fromkeys(_LISTS, "a list in brackets"),
    **dict.fromkeys(("dict_type", "model_type", "model_attributes_type"), "a table with keys of its own"),
    **dict.fromkeys(("int_type", "int_parsing", "int_from_float"), "a whole number"),
    **dict.fromkeys(("float_type", "float_parsing"), "a number"),
    **dict.fromkeys(("bool_type", "bool_parsing"), "true or false"),
    "string_type": "a text in quotes",
}
"""What a value must be, by what the library says that it is not."""
_BOUNDS: Final = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def _example(model: type[BaseModel], loc: Sequence[str]) -> str:
    """How a missing key is written."""
    if loc == ["schema"]:
        literal = next(field.annotation for field in model.model_fields.values() if field.alias == "schema")
        return f'Add the line schema = "{get_args(literal)[0]}" at the top.'
    if loc in (["design"], ["step"], ["write"]):
        return f"Add a table [[{loc[0]}]]."
    return "Add it."


def _nearest(given: object, expected: str) -> str:
    words = re.findall(r'"([^"]+)"', expected)
    return nearest_word(str(given), words) if len(words) > 1 else ""


def _as_toml(value: object) -> str:
    """A value as it is written in a config file."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_as_toml(key)} = {_as_toml(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_as_toml, value)) + "]"
    return str(value).lower() if isinstance(value, bool) else str(value) if not isinstance(value, str) else f'"{value}"'


def _fields(model: Any) -> dict[str, FieldInfo]:
    """The keys of a table with what they hold; none where it is no table of ours."""
    if isinstance(model, type) and issubclass(model, BaseModel):
        return {field.alias or name: field for name, field in model.model_fields.items()}
    return {}


def _entered(model: Any, part: int | str) -> Any:
    """What stands at `part` of a table or a list."""
    fields = _fields(model)
    if fields:
        model = fields[str(part)].annotation if str(part) in fields else None
    else:
        model = next((arg for arg in reversed(get_args(model)) if arg is not Ellipsis), None)
    while get_origin(model) is Annotated or (get_origin(model) not in (dict, tuple, list) and get_args(model)):
        model = next((arg for arg in get_args(model) if isinstance(arg, type) or get_args(arg)), None)
    return model


def _keys_at(model: Any, loc: Sequence[int | str]) -> tuple[str, ...]:
    """The keys that the table at `loc` may have."""
    for part in loc:
        model = _entered(model, part)
    return tuple(_fields(model))


def _with_example(model: Any, loc: Sequence[int | str]) -> tuple[Sequence[int | str], FieldInfo] | None:
    """The key on the way to `loc` that has an example of its value."""
    for n, part in enumerate(loc, 1):
        field = _fields(model).get(str(part))
        if field is not None and field.examples:
            return loc[:n], field
        model = _entered(model, part)
    return None
