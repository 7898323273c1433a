"""How a machine counts: where on the mat its origin lies and which way its axes run.

Terminology
    frame       an origin on the mat and the directions of the machine's x and y, seen from above
    to file     the map from mat coordinates to the machine's, both in mm
    to mat      the map back

A machine whose two directions are not a turn of right and up has a left-handed frame; what it cuts is the same.
"""

from __future__ import annotations

from typing import Final, Literal, Self

from pydantic import Field, model_validator

from clothpath.contracts import Settings
from clothpath.curves import Affine
from clothpath.findings import Finding, warning
from clothpath.layout import Mat

__all__ = ["Direction", "FrameSettings", "Origin", "look_mirrored", "to_file", "to_mat", "untold"]

Origin = Literal["lower-left", "lower-right", "upper-left", "upper-right", "center"]
Direction = Literal["right", "up", "left", "down"]

_UNIT: Final[dict[Direction, complex]] = {"right": 1, "up": 1j, "left": -1, "down": -1j}


class FrameSettings(Settings):
    """Settings of writers for machines that count from some corner along some edge."""

    origin: Origin = Field("lower-left", description="The place on the mat that the machine counts from.")
    x_axis: Direction = Field("right", description="Where the machine's x runs, looking at the mat from above.")
    y_axis: Direction = Field("up", description="Where the machine's y runs, looking at the mat from above.")

    @model_validator(mode="after")
    def _square(self) -> Self:
        if (self.x_axis in ("left", "right")) == (self.y_axis in ("left", "right")):
            raise ValueError(f'x-axis "{self.x_axis}" and y-axis "{self.y_axis}" lie along one line; turn one of them')
        return self


def to_file(frame: FrameSettings, mat: Mat) -> Affine:
    """From the mat to the machine's coordinates, in mm."""
    x, y = _UNIT[frame.x_axis], _UNIT[frame.y_axis]
    turned = Affine(x.real, y.real, x.imag, y.imag)
    at = complex(
        mat.width * (0.5 if frame.origin == "center" else "right" in frame.origin),
        mat.height * (0.5 if frame.origin == "center" else "upper" in frame.origin),
    )
    return turned @ Affine.shift(-at)


def to_mat(frame: FrameSettings, mat: Mat) -> Affine:
    """From the machine's coordinates to the mat, in mm."""
    return to_file(frame, mat).inverse()


def untold(frame: FrameSettings, mat: Mat) -> Affine | None:
    """What a file cannot say of itself: the map back, or None where machine and mat count alike."""
    back = to_mat(frame, mat)
    return None if back == Affine() else back


def look_mirrored(frame: FrameSettings, mat: Mat) -> tuple[Finding, ...]:
    """A warning for the person who opens a file of a left-handed frame in a program whose y runs up, else nothing."""
    if to_file(frame, mat).determinant > 0:
        return ()
    message = f"In a program whose x runs right and whose y runs up this file shows {_seen(frame)}. That is meant."
    hint = "Do not flip it: the machine counts that way, and cuts every piece the right way round."
    return (warning("shows-mirrored", message, hint=hint),)


def _seen(frame: FrameSettings) -> str:
    if (frame.x_axis, frame.y_axis) == ("right", "down"):
        return "mirrored, top to bottom"
    return "mirrored, left to right" if (frame.x_axis, frame.y_axis) == ("left", "up") else "mirrored and turned"
