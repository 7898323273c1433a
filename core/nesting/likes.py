"""Parts of one shape under several keys, laid as copies of one part and told apart again.

Terminology:

like
    said of a part whose points are those of another, the shape, under a turn and a shift.
stand-in
    the first of the parts of one shape that are at hand; the engine sees it alone, wanted as often as all of them.

Equal petals that a drawing has one by one thereby come to lie in the regular rows that copies have, and are worked out
once. Whatever comes back is checked once more with the true parts.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .check import faults
from .job import Effort
from .parts import Like, Packing, Part, Points, Spot, turned

__all__ = ["Likes"]


@dataclass(frozen=True, slots=True)
class Likes:
    """What the engine is given for some parts, and how its answers are those of the parts.

    Attributes:
        parts: as they were asked.
        stand_ins: one part for each shape, in the order in which the shapes first come.
        members: by the key of a stand-in the parts of its shape, itself first.
    """

    parts: tuple[Part, ...]
    stand_ins: tuple[Part, ...]
    members: dict[str, tuple[Part, ...]]

    @staticmethod
    def of(parts: Sequence[Part]) -> "Likes":
        """The parts, those of one shape together where each may lie in the place of the other."""
        if not any(part.like for part in parts) or len({part.key for part in parts}) < len(parts):
            return Likes(tuple(parts), tuple(parts), {})
        members: list[list[Part]] = []
        known: dict[str, list[list[Part]]] = {}
        for part in parts:
            shape = known.setdefault(_shape(part).key, [])
            own = next((some for some in shape if _in_place_of(some[0], part)), None)
            if own is None:
                shape.append([part])
                members.append(shape[-1])
            else:
                own.append(part)
        stand_ins = tuple(replace(some[0], count=sum(each.count for each in some)) for some in members)
        return Likes(tuple(parts), stand_ins, {some[0].key: tuple(some) for some in members})

    @property
    def some_alike(self) -> bool:
        """Whether some parts are alike."""
        return len(self.stand_ins) < len(self.parts)

    def apart(self, packing: Packing) -> Packing:
        """A packing of the stand-ins as one of the parts: places are given out in their order, first come first."""
        places = {key: iter(_slots(some)) for key, some in self.members.items()}
        spots = tuple(_instead(spot, self.members[spot.key][0], *next(places[spot.key])) for spot in packing.spots)
        lying = {part.key: 0 for part in self.parts}
        for spot in spots:
            lying[spot.key] += 1
        left = tuple((part.key, part.count - lying[part.key]) for part in self.parts if part.count > lying[part.key])
        return replace(packing, spots=spots, left=left)

    def proved(self, packing: Packing, spacing: float, margin: float, blocked: Sequence[Points] = ()) -> Packing | None:
        """As `apart`; None if the true parts do not keep the rules there."""
        found = self.apart(packing)
        return None if faults(self.parts, found, spacing, margin, blocked) else found

    def told(self, effort: Effort) -> Effort:
        """The effort whose progress hears of the parts instead of the stand-ins."""
        return replace(effort, progress=lambda best, share: effort.progress(best and self.apart(best), share))


def _shape(part: Part) -> Like:
    return part.like or Like(part.key, 0.0, 0.0, 0.0)


def _in_place_of(one: Part, other: Part) -> bool:
    """Whether the other may lie wherever the one does."""
    if one.turns is None or other.turns is None:
        return one.turns is other.turns
    allowed = {round(turn % 360.0, 6) % 360.0 for turn in other.turns}
    by = _shape(one).turn - _shape(other).turn
    return all(round((turn + by) % 360.0, 6) % 360.0 in allowed for turn in one.turns)


def _slots(members: Sequence[Part]) -> list[tuple[Part, int]]:
    """Every copy of the parts, in order."""
    return [(part, copy) for part in members for copy in range(part.count)]


def _instead(spot: Spot, stand_in: Part, part: Part, copy: int) -> Spot:
    """The spot of a part that lies where its stand-in would.

    With q = R(s) p + a of the stand-in and q' = R(t) p + b of the part, q = R(s - t) (q' - b) + a.
    """
    if part is stand_in:
        return replace(spot, copy=copy)
    one, other = _shape(stand_in), _shape(part)
    by = one.turn - other.turn
    away = np.array([[one.x, one.y]]) - turned(np.array([[other.x, other.y]]), by)
    x, y = turned(away, spot.turn)[0].tolist()
    return Spot(part.key, copy, (spot.turn + by) % 360.0, spot.x + x, spot.y + y)
