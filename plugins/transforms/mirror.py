"""The step `mirror`: settle for each fabric which side faces up on the mat.

It never touches geometry: a placement flips if and only if its fabric is laid wrong side up, so nothing can be reversed
twice. Fused cloth that keeps its paper is laid paper up, and cut reversed; right side up it is not reversed, and the
paper mostly stays on the mat (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from pydantic import Field

from clothpath.contracts import Settings, Transform, hookimpl
from clothpath.design import Design, Fabric, laid_from_paper
from clothpath.findings import Finding, Outcome, Refusal, error, nearest_word, note, warning

__all__ = ["Mirror", "MirrorSettings"]


class MirrorSettings(Settings):
    """Which fabrics lie wrong side up."""

    wrong_side_up: tuple[str, ...] = Field(
        (), description="keys of fabrics laid wrong side up, over what their `paper` says; for one-off use"
    )


class Mirror:
    """Settles how each fabric is laid."""

    name = "mirror"
    summary = "Settle which fabrics lie wrong side up, so that just their pieces are cut reversed"
    stage: Literal["design"] = "design"
    settings = MirrorSettings

    def apply(self, design: Design, settings: MirrorSettings) -> Outcome[Design]:
        """The same picture with every fabric's `laid` settled.

        Raises:
            Refusal: a key is not a fabric of the design.
        """
        keys = [fabric.key for fabric in design.fabrics]
        for key in settings.wrong_side_up:
            if key not in keys:
                message = f'There is no fabric "{key}" to lay wrong side up.'
                where = f"{design.name}: wrong-side-up"
                raise Refusal(error("unknown-fabric", message, where, nearest_word(key, keys)))
        found: list[Finding] = []
        fabrics = tuple(_laid(fabric, settings, found, design.name) for fabric in design.fabrics)
        return Outcome(replace(design, fabrics=fabrics), tuple(found))


def _laid(fabric: Fabric, settings: MirrorSettings, found: list[Finding], where: str) -> Fabric:
    if fabric.key in settings.wrong_side_up:
        if fabric.paper == "leave":
            message = f'"{fabric.label}" was to leave its paper, but is laid wrong side up by wrong-side-up.'
            found.append(warning("laid-overruled", message, where, "Take it out of one of the two."))
        return replace(fabric, laid="wrong-side-up", paper="keep" if fabric.preparation == "fused" else None)
    if fabric.paper is not None:
        return replace(fabric, laid=laid_from_paper(fabric.paper))
    if not settings.wrong_side_up:
        message = f'Nobody said how "{fabric.label}" is laid; it is taken to lie right side up, not reversed.'
        hint = f'Say paper = "keep" or "leave" for it, or --set mirror.wrong-side-up={fabric.key}.'
        found.append(note("laid-assumed", message, where, hint))
    return replace(fabric, laid="right-side-up")


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Mirror()]
