"""Many of the same: kits, laid so that one mat can be cut many times, and as many of a design as one mat takes.

Terminology
    kit         everything that the demands of a layout ask for, once
    batch       kits that are laid out together; its mats are cut once for every batch
    fill        as many kits as one mat takes
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from typing import Final

import shapely

from clothpath.findings import Outcome, Refusal, warning
from clothpath.layout import Layout
from clothpath.mats.lay import alike, drafted, laid_out, on_one_mat, settled
from clothpath.mats.wanted import Rules, multiplied, wanted_by_fabric

__all__ = ["filled", "in_kits"]

MOST_IN_BATCH: Final = 12
"""The largest batch that is tried, besides all kits at once."""
LIKELY_DENSITY: Final = 0.7
"""The share of a mat, in grown pieces, at which the search for the number that fills it begins."""
MOST_PIECES: Final = 1000
"""A batch of more pieces takes long, and is hardly less mats than several smaller ones."""
MOST_GUESSES: Final = 6
"""How many numbers of kits are tried on one mat."""
MOST_FILLED: Final = 2000
"""A mat is not filled with more kits than this."""


def in_kits(layout: Layout, rules: Rules, kits: int) -> Layout:
    """The layout of so many kits: fewest mats, then fewest different ones, then least cloth, of what was tried.

    Here a mat that is cut again comes before cloth: it is stuck down and read off the same page each time.

    Raises:
        Refusal: nothing is to be cut, a piece fits no mat, or the stock is short.
    """
    wanted = multiplied(layout, kits)
    least = _least_mats(layout, rules)
    pieces = sum(piece.copies * d.count for d in layout.demands for piece in d.design.cut_pieces)
    batches = [1, *(b for b in range(2, kits + 1) if kits % b == 0 and b * pieces <= MOST_PIECES and _tried(b, kits))]
    best: tuple[tuple[float, ...], Layout] | None = None
    fault: Refusal | None = None
    for batch in sorted(batches, key=lambda batch: (kits // batch * least(batch), batch)):
        if best is not None and best[0][0] < kits // batch * least(batch):
            continue
        try:
            made = settled(wanted, alike(drafted(multiplied(layout, batch), rules) * (kits // batch)))
        except Refusal as refusal:
            fault = refusal
            continue
        cost = (sum(mat.times for mat in made.mats), len(made.mats), round(_cloth(made), 3))
        if best is None or cost < best[0]:
            best = cost, made
    if best is None:
        raise fault or Refusal()
    return best[1]


def _tried(batch: int, kits: int) -> bool:
    return batch <= MOST_IN_BATCH or batch == kits


def _least_mats(layout: Layout, rules: Rules) -> Callable[[int], int]:
    """By number of kits, how many mats they take at least: the areas of the pieces against that of a mat."""
    usable = layout.mat.usable
    room = (usable.width + rules.spacing) * (usable.height + rules.spacing)
    need = _need(layout, rules)
    return lambda kits: math.ceil(kits * need / room - 1e-9)


def _need(layout: Layout, rules: Rules) -> float:
    """The area of everything that is wanted once, each piece with half the spacing round it, in mm^2."""
    parts = [part for each in wanted_by_fabric(layout) for part in each.parts]
    return sum(
        part.count * float(shapely.Polygon(part.outer, part.holes).buffer(rules.spacing / 2).area) for part in parts
    )


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
    least = _least_mats(layout, rules)
    high = bisect_right(range(MOST_FILLED), 1, key=least)
    best, low, guess = one, 1, int((high - 1) * LIKELY_DENSITY)
    for _ in range(MOST_GUESSES):
        if low + 1 >= high:
            break
        kits = min(max(guess, low + 1), high - 1)
        made, share = on_one_mat(multiplied(layout, kits), rules)
        if made is None:
            high = kits
        else:
            best, low = made, kits
        guess = int(kits / share) if share else (low + high) // 2
    for kits in (low + 1, low) if rules.seconds else ():
        longer = _laid_if_possible(multiplied(layout, kits), rules)
        if longer is not None and len(longer.mats) == 1:
            return Outcome(longer)
    return Outcome(best)


def _laid_if_possible(layout: Layout, rules: Rules) -> Layout | None:
    try:
        return laid_out(layout, rules)
    except Refusal:
        return None
