"""The layering order where the catalog overrules the drawing.

Terminology
    order       the place of a piece in the layering order; what is laid first is 1
    pair        two piece ids, upper and lower: the upper one is laid after the lower one, whatever the drawing says
    circle      pairs that follow each other round, so that each piece would lie over itself
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

from clothpath.design import Design
from clothpath.findings import Finding, Refusal, error, nearest_word

__all__ = ["Pair", "reordered"]

Pair: TypeAlias = tuple[str, str]


def reordered(design: Design, over: Sequence[Pair]) -> Design:
    """The design with the first piece of each pair laid after the second; the others keep their order.

    A lower piece is brought forward to just before its upper one, with all that has to lie beneath it in turn. Every
    order that the pairs allow is found, whatever order they are written in: topological sorting (A. B. Kahn,
    Topological sorting of large networks, Communications of the ACM 5, 1962), from the top down, the last of the
    drawing first.

    Raises:
        Refusal: a pair names a piece that is not there, or pairs contradict each other; with all such faults.
    """
    if not over:
        return design
    known = [piece.id for piece in design.pieces]
    faults = _unknown(design.name, known, over)
    if faults:
        raise Refusal(*faults)
    uppers: dict[str, set[str]] = {each: set() for each in known}
    for upper, lower in over:
        uppers[lower].add(upper)
    downward: list[str] = []
    left = list(known)
    while left:
        top = next((each for each in reversed(left) if uppers[each].isdisjoint(left)), None)
        if top is None:
            raise Refusal(_contradiction(design.name, _circle(left, uppers)))
        left.remove(top)
        downward.append(top)
    if downward[::-1] == known:
        return design
    by_id = {piece.id: piece for piece in design.pieces}
    return replace(design, pieces=tuple(replace(by_id[each], order=i) for i, each in enumerate(reversed(downward), 1)))


def _unknown(name: str, known: Sequence[str], over: Sequence[Pair]) -> list[Finding]:
    missing = dict.fromkeys(each for pair in over for each in pair if each not in known)
    return [
        error("piece-unknown", f'`over` names "{each}", but no piece of this design is called so.', name,
              f"{nearest_word(each, known)} `clothpath inspect` shows the ids.")
        for each in missing
    ]  # fmt: skip


def _circle(left: Sequence[str], uppers: Mapping[str, set[str]]) -> list[str]:
    """Pieces each of which is to lie beneath the next, from the first of them round to itself."""
    way = [left[0]]
    while True:
        above = next(each for each in left if each in uppers[way[-1]])
        if above in way:
            return [*way[way.index(above) :], above]
        way.append(above)


def _contradiction(name: str, circle: Sequence[str]) -> Finding:
    said = " over ".join(f'"{each}"' for each in reversed(circle))
    if len(circle) == 2:
        message = f"`over` says {said}: a piece cannot lie over itself."
    else:
        message = f"The pairs of `over` contradict each other: {said}."
    return error("order-contradicts", message, name, "Take one of these pairs out.")
