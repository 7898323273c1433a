"""Parts that lie in the holes of others, kept there while a search that knows no holes moves the others.

Terminology:

host
    a part in one of whose holes others lie.
guest
    a part in a hole; it moves and turns with its host.
item
    what the search lays: a part by itself, or a host with its guests.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from .outline import Blank
from .parts import Packing, Spot, placed, turned

__all__ = ["Guest", "Item", "items", "unfolded"]

_TURN_DIGITS = 6


@dataclass(frozen=True, slots=True)
class Guest:
    """Turn and place of a guest in the coordinates of its host at turn 0: p -> R(turn) p + (x, y)."""

    blank: Blank
    turn: float
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Item:
    """`turns` are those in which the host and all guests lie as they may; None: any."""

    blank: Blank
    turns: tuple[float, ...] | None
    count: int
    guests: tuple[Guest, ...] = ()


def items(ready: Sequence[Blank], packing: Packing | None) -> tuple[Item, ...]:
    """The items that keep every guest of `packing` with its host."""
    by_key = {blank.part.key: blank for blank in ready}
    housed = _housed(by_key, packing.spots) if packing else []
    hosts = [_host(by_key, host, guests) for host, guests in housed]
    gone = Counter(spot.key for host, guests in housed for spot in (host, *guests))
    alone = (Item(blank, blank.part.turns, blank.part.count - gone[blank.part.key]) for blank in ready)
    return (*hosts, *(item for item in alone if item.count))


def unfolded(item: Item, turn: float, x: float, y: float) -> Iterator[tuple[Blank, float, float, float]]:
    """The host that lies at `turn`, `x`, `y`, and where that brings its guests."""
    yield item.blank, turn, x, y
    for guest in item.guests:
        dx, dy = turned(np.array([[guest.x, guest.y]]), turn)[0].tolist()
        yield guest.blank, (guest.turn + turn) % 360.0, x + dx, y + dy


def _housed(by_key: dict[str, Blank], spots: Sequence[Spot]) -> list[tuple[Spot, list[Spot]]]:
    """Hosts with their guests; a guest that is a host itself stays with what lies in it."""
    hosts = [spot for spot in spots if len(by_key[spot.key].rings) > 1]
    if not hosts:
        return []
    outers = [shapely.Polygon(placed(by_key[spot.key].part, spot)[0]) for spot in spots]
    taken: set[Spot] = set()
    housed = []
    for host in sorted(hosts, key=lambda s: -by_key[s.key].area):
        if host in taken:
            continue
        _, *rings = placed(by_key[host.key].part, host)
        holes = shapely.union_all([shapely.Polygon(ring) for ring in rings])
        guests = [
            spot
            for spot, outer in zip(spots, outers, strict=True)
            if spot is not host and spot not in taken and shapely.contains(holes, outer)
        ]
        if guests:
            taken.update((host, *guests))
            housed.append((host, guests))
    return housed


def _host(by_key: dict[str, Blank], host: Spot, guests: Sequence[Spot]) -> Item:
    found = []
    for spot in guests:
        x, y = turned(np.array([[spot.x - host.x, spot.y - host.y]]), -host.turn)[0].tolist()
        found.append(Guest(by_key[spot.key], (spot.turn - host.turn) % 360.0, x, y))
    blank = by_key[host.key]
    return Item(blank, _common_turns(blank, found), 1, tuple(found))


def _common_turns(blank: Blank, guests: Sequence[Guest]) -> tuple[float, ...] | None:
    sets = [_rounded(blank.part.turns, 0.0)] + [_rounded(g.blank.part.turns, g.turn) for g in guests]
    stated = [turns for turns in sets if turns is not None]
    if not stated:
        return None
    return tuple(sorted(frozenset.intersection(*stated)))


def _rounded(turns: tuple[float, ...] | None, less: float) -> frozenset[float] | None:
    return None if turns is None else frozenset(round((t - less) % 360.0, _TURN_DIGITS) % 360.0 for t in turns)
