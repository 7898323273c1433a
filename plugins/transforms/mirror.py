"""The step `mirror`: settle for each fabric which side faces up on the mat.

It never touches geometry: a placement flips if and only if its fabric is laid wrong side up, so nothing can be reversed
twice. Fused cloth that keeps its paper is laid paper up, and cut reversed; right side up it is not reversed, and the
paper mostly stays on the mat (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import replace
from typing import Literal

from pydantic import Field

from clothpath.contracts import Settings, Transform, hookimpl
from clothpath.design import Design, Fabric, laid_from_paper
from clothpath.findings import Outcome, Refusal, error, nearest_word, note, warning
from clothpath.picture.fabrics import called

__all__ = ["Mirror", "MirrorSettings"]


class MirrorSettings(Settings):
    """Which fabrics lie wrong side up."""

    wrong_side_up: tuple[str, ...] = Field(
        (),
        description="fabrics laid wrong side up, over what their `paper` says, by their keys or labels or by how these "
        "begin; for one-off use",
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
            Refusal: a word means no fabric of the design, or several.
        """
        over = {_meant(design, said) for said in settings.wrong_side_up}
        found = [
            warning(
                "laid-overruled",
                f'"{fabric.label}" was to leave its paper, but is laid wrong side up by wrong-side-up.',
                design.name,
                "Take it out of one of the two.",
            )
            for fabric in design.fabrics
            if fabric.paper == "leave" and fabric.key in over
        ]
        unsaid = [f for f in design.fabrics if f.paper is None and f.key not in over]
        if unsaid and not over:
            keys = [fabric.key for fabric in unsaid]
            message = (
                "Nobody said how these fabrics are laid; they are taken to lie right side up, not reversed: "
                f"{', '.join(keys)}."
            )
            has_paper = any(fabric.preparation == "fused" for fabric in unsaid)
            hint = (
                f"Name those that {'keep their paper and ' if has_paper else ''}lie wrong side up, such as "
                f"--set mirror.wrong-side-up={','.join(keys[:2])}"
            )
            hint += '; in a catalog, paper = "keep" or "leave" for each fabric.' if has_paper else "."
            told = warning if has_paper else note
            found.append(told("laid-assumed", message, design.name, hint))
        return Outcome(replace(design, fabrics=tuple(_laid(f, over) for f in design.fabrics)), tuple(found))


def _meant(design: Design, said: str) -> str:
    """The key of the one fabric that is meant by a word."""
    found = called(design.fabrics, said)
    if len(found) == 1:
        return found[0].key
    where = f"{design.name}: wrong-side-up"
    if found:
        message = f'"{said}" may mean several fabrics.'
        hint = f"Write one of their keys: {', '.join(fabric.key for fabric in found)}."
        raise Refusal(error("fabric-ambiguous", message, where, hint))
    message = f'There is no fabric "{said}" to lay wrong side up.'
    raise Refusal(error("unknown-fabric", message, where, nearest_word(said, [f.key for f in design.fabrics])))


def _laid(fabric: Fabric, over: Set[str]) -> Fabric:
    if fabric.key in over:
        return replace(fabric, laid="wrong-side-up", paper="keep" if fabric.preparation == "fused" else None)
    return replace(fabric, laid=laid_from_paper(fabric.paper) if fabric.paper else "right-side-up")


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Mirror()]
