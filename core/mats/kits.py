"""Many of the same: kits, laid so that one mat can be cut many times, and as many of a design as one mat takes.

Terminology
    kit         everything that the demands of a layout ask for, once
    batch       kits that are laid out together; its mats are cut once for every batch
    fill        as many kits as one mat takes
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import shapely

from clothpath.findings import Outcome, Refusal, warning
from clothpath.layout import Layout
from clothpath.mats.lay import DraftMat, alike, drafted, laid_out, settled
from clothpath.mats.wanted import Rules, multiplied, wanted_by_fabric

__all__ = ["filled", "in_kits"]

BATCHES: Final = (1, 2, 3, 4, 6, 8, 12)
"""Sizes of batches that are tried, besides all kits at once."""
MOST_AT_ONCE: Final = 24
"""More kits than this are not laid out all at once."""
MOST_FILLED: Final = 2000
"""A mat is not filled with more kits than this."""


def in_kits(layout: Layout, rules: Rules, kits: int) -> Layout:
    """The layout of so many kits: fewest mats, then least cloth, then fewest different mats.

    Raises:
        Refusal: nothing is to be cut, a piece fits no mat, or the stock is short.
    """
    wanted = multiplied(layout, kits)
    best: tuple[tuple[float, ...], Layout] | None = None
    fault: Refusal | None = None
    for batch in _batches(kits):
        try:
            made = settled(wanted, alike(_repeated(layout, rules, kits, batch)))
        except Refusal as refusal:
            fault = refusal
            continue
        cost = (sum(mat.times for mat in made.mats), round(_cloth(made), 3), len(made.mats))
        if best is None or cost < best[0]:
            best = cost, made
    if best is None:
        raise fault or Refusal()
    return best[1]


def _batches(kits: int) -> Iterator[int]:
    yield from (batch for batch in BATCHES if batch < kits)
    if kits <= MOST_AT_ONCE:
        yield kits


def _repeated(layout: Layout, rules: Rules, kits: int, batch: int) -> tuple[DraftMat, ...]:
    times, rest = divmod(kits, batch)
    draft = drafted(multiplied(layout, batch), rules) * times
    return draft + drafted(multiplied(layout, rest), rules) if rest else draft


def _cloth(layout: Layout) -> float:
    return sum(mat.times * swatch.width * swatch.height for mat in layout.mats for swatch in mat.swatches)


def filled(layout: Layout, rules: Rules) -> Outcome[Layout]:
    """The layout of as many kits as one mat takes; one kit, with a finding, if even that takes more.

    Raises:
        Refusal: nothing is to be cut, a piece fits no mat, or the stock does not suffice for one kit.
    """
    one = laid_out(layout, rules)
    if len(one.mats) > 1:
        message = f"One kit takes {len(one.mats)} mats, so no mat can be filled with several."
        return Outcome(one, (warning("fill-takes-mats", message, hint="Take a larger mat, or lay fewer designs."),))
    best, low = one, 1
    high = min(_most(layout), MOST_FILLED) + 1
    step = 1
    while low + 1 < high:
        middle = min(low + step, high - 1) if step else (low + high) // 2
        made = _on_one_mat(multiplied(layout, middle), rules)
        if made is None:
            high, step = middle, 0
        else:
            best, low, step = made, middle, step * 2
    return Outcome(best)


def _on_one_mat(layout: Layout, rules: Rules) -> Layout | None:
    try:
        made = laid_out(layout, rules)
    except Refusal:
        return None
    return made if len(made.mats) == 1 else None


def _most(layout: Layout) -> int:
    """No more kits than this have room, by area."""
    usable = layout.mat.usable
    need = sum(
        part.count * shapely.Polygon(part.outer, part.holes).area
        for each in wanted_by_fabric(layout)
        for part in each.parts
    )
    return int(usable.width * usable.height / max(need, 1.0)) + 1
