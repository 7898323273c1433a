"""How fast a machine works, and the settings that a person found to work on it, as its profile states them.

Terminology
    speeds      how fast the blade cuts and the head moves; what nobody stated is not made up
    tried       what was found to work for one material; a fabric takes the one that says most closely that it is for it
    as counted  a bare number is what the machine shows or calls it: it has no unit, so only people can use it
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from clothpath.design import Fabric, Preparation
from clothpath.units import Length, Speed

__all__ = ["NOTHING_TRIED", "NO_SPEEDS", "Speeds", "Tried", "settled"]


@dataclass(frozen=True, slots=True)
class Speeds:
    """A machine's speeds; None: nobody stated it.

    Attributes:
        cutting, moving: in mm a second, with the tool down and up.
        lift: seconds to lower the tool and lift it again.
    """

    cutting: float | None = None
    moving: float | None = None
    lift: float | None = None


@dataclass(frozen=True, slots=True)
class Tried:
    """Settings that a person found to work for one material; None: not written down.

    Attributes:
        cloth: what it is, in the person's words.
        preparation, fabrics: which fabrics it is for; where both are stated, both must hold.
        depth: below the first touch of the cloth, or as the machine counts it.
        force: as the machine counts it.
        speed: as stated with its unit, or as the machine counts it.
        passes: how often each outline is cut.
    """

    cloth: str = ""
    preparation: Preparation | None = None
    fabrics: tuple[str, ...] = ()
    depth: Length | float | None = None
    force: float | None = None
    speed: Speed | float | None = None
    passes: int | None = None
    remark: str = ""

    @property
    def said(self) -> str:
        """What was written down, in a row: "depth 0.4 mm, force 80, 2 passes"."""
        named = [("depth", self.depth), ("force", self.force), ("speed", self.speed)]
        parts = [f"{name} {_shown(value)}" for name, value in named if value is not None]
        if self.passes is not None:
            parts.append("1 pass" if self.passes == 1 else f"{self.passes} passes")
        return ", ".join(parts)

    def suits(self, fabric: Fabric) -> bool:
        """Whether it is for this fabric."""
        named = not self.fabrics or fabric.key in self.fabrics or fabric.cloth_key in self.fabrics
        return named and self.preparation in (None, fabric.preparation)


NO_SPEEDS: Final = Speeds()
"""Of a machine that states none."""
NOTHING_TRIED: Final = Tried()
"""For a fabric of which the profile says nothing."""


def settled(tried: Sequence[Tried], fabrics: Sequence[Fabric]) -> tuple[tuple[str, Tried], ...]:
    """The key of each fabric of which something was found, and what: a fabric's name counts more than its preparation.

    Two that say the same are not mixed: the closer one stands alone.
    """
    found: list[tuple[str, Tried]] = []
    for fabric in fabrics:
        suited = [each for each in tried if each.suits(fabric)]
        if suited:
            closest = max(suited, key=lambda each: (_nearness(each, fabric), each.preparation is not None))
            found.append((fabric.key, closest))
    return tuple(found)


def _nearness(tried: Tried, fabric: Fabric) -> int:
    return 2 if fabric.key in tried.fabrics else int(bool(tried.fabrics))


def _shown(value: Length | Speed | float) -> str:
    return f"{value:g}" if isinstance(value, float | int) else value.text
