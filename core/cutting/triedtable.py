"""`[speed]` and `[[tried]]` of a machine profile: how fast the machine works, and what a person found to work on it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Any, Final, TypeAlias

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from clothpath.contracts import Settings
from clothpath.cutting.tried import Speeds, Tried
from clothpath.design import Preparation
from clothpath.units import Length, LengthError, Speed, parse_length, parse_speed

__all__ = ["SpeedTable", "TriedTable"]


def _speed(value: object) -> Speed:
    if isinstance(value, str):
        return parse_speed(value)
    raise ValueError(f'{value} has no unit; write "{value} mm/s" or "{value} in/s"')


StatedSpeed: TypeAlias = Annotated[
    Speed,
    BeforeValidator(_speed),
    WithJsonSchema({"type": "string", "description": 'a speed with its unit, such as "80 mm/s" or "3 in/s"'}),
]


def _counted_speed(value: object) -> Speed | float:
    return parse_speed(value) if isinstance(value, str) else _count(value)


def _counted_depth(value: object) -> Length | float:
    if not isinstance(value, str):
        return _count(value)
    depth = parse_length(value)
    if depth.mm < 0:
        raise LengthError(f'"{value}" is above the cloth; write how far the tip goes down, such as "0.4 mm"')
    return depth


def _count(value: Any) -> float:
    """What the machine shows: a bare number, not less than 0."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < float("inf"):
        raise ValueError(f"{value} is not a number that a machine shows")
    return float(value)


def _counted_force(value: object) -> float:
    if isinstance(value, str) and (number := _NUMBER_FIRST.match(value)):
        message = f'"{value}" is not a number that a machine shows; write the number only, force = {number[1]}'
        raise ValueError(message)
    return _count(value)


_NUMBER_FIRST: Final = re.compile(r"\s*(\d+(?:\.\d+)?)")

Force: TypeAlias = Annotated[float, BeforeValidator(_counted_force), WithJsonSchema({"type": "number", "minimum": 0})]


def _several(value: object) -> object:
    return (value,) if isinstance(value, str) else value


class SpeedTable(Settings):
    """`[speed]` of a machine profile; nothing is made up where a key is missing."""

    cutting: StatedSpeed | None = Field(None, description="of the blade along its cut")
    moving: StatedSpeed | None = Field(None, description="of the head with the blade up")
    lift: float | None = Field(None, ge=0, description="seconds to lower the blade and lift it again")

    def speeds(self) -> Speeds:
        def rate(stated: Speed | None) -> float | None:
            return None if stated is None else stated.mm_per_second

        return Speeds(rate(self.cutting), rate(self.moving), self.lift)


class TriedTable(Settings):
    """One `[[tried]]` of a machine profile: what a person found to work for one material.

    Depth and speed with a unit go into the files that can carry them; a bare number is what the machine shows, and is
    only printed. Force has no unit that all machines share, so it goes into files as the machine counts it.
    """

    cloth: str = Field(description="what was cut, in your own words")
    preparation: Preparation | None = Field(None, description="for every fabric that is prepared so")
    fabric: Annotated[tuple[str, ...], BeforeValidator(_several)] = Field((), description="for the fabrics of this key")
    depth: Annotated[Length | float, BeforeValidator(_counted_depth)] | None = Field(
        None, description="how far the tip goes down, as a length, or as the machine counts it"
    )
    force: Force | None = Field(None, description="as the machine counts it")
    speed: Annotated[Speed | float, BeforeValidator(_counted_speed)] | None = Field(
        None, description="as a speed with its unit, or as the machine counts it"
    )
    passes: int | None = Field(None, ge=1, le=9, description="how often each outline is cut")
    remark: str = ""

    @model_validator(mode="after")
    def _is_for_something(self) -> TriedTable:
        if not self.fabric and self.preparation is None:
            raise ValueError(
                'it is not said which fabrics this is for; add preparation = "fused" or "bare", or fabric = "…"'
            )
        return self

    def tried(self) -> Tried:
        return Tried(
            self.cloth, self.preparation, self.fabric, self.depth, self.force, self.speed, self.passes, self.remark
        )

    def claims(self) -> Iterator[tuple[str, str]]:
        """The fabric and the preparation that it is for, "" where any will do; no two tables may claim the same."""
        for fabric in self.fabric or ("",):
            yield fabric, self.preparation or ""
