"""The layering order where the catalog overrules the drawing.

Terminology
    order       the place of a piece in the layering order; what is laid first is 1
    pair        two pieces, upper and lower: the upper one is laid after the lower one, whatever the drawing says; each
                by its id, or by its label where no other piece has that
    circle      pairs that follow each other round, so that each piece would lie over itself
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

from clothpath.design import Design, Piece
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
        Refusal: a pair names a piece that is not there, or that several may be; or pairs contradict each other; with
            all such faults.
    """
    if not over:
        return design
    known = [piece.id for piece in design.pieces]
    meant = {said: _meant(design.pieces, said) for pair in over for said in pair}
    faults = [_unclear(design, said, pieces) for said, pieces in meant.items() if len(pieces) != 1]
    if faults:
        raise Refusal(*faults)
    uppers: dict[str, set[str]] = {each: set() for each in known}
    for upper, lower in over:
        uppers[meant[lower][0].id].add(meant[upper][0].id)
    downward: list[str] = []
    left = list(known)
    while left:
        top = next((each for each in reversed(left) if uppers[each].isdisjoint(left)), None)
        if top is None:
            raise Refusal(_contradiction(design, _circle(left, uppers)))
        left.remove(top)
        downward.append(top)
    if downward[::-1] == known:
        return design
    by_id = {piece.id: piece for piece in design.pieces}
    return replace(design, pieces=tuple(replace(by_id[each], order=i) for i, each in enumerate(reversed(downward), 1)))


def _meant(pieces: Sequence[Piece], said: str) -> list[Piece]:
    """The piece of that id, else those that are called so."""
    exact = [piece for piece in pieces if piece.id == said]
    return exact or [piece for piece in pieces if said in (piece.label, piece.called)]


def _unclear(design: Design, said: str, meant: Sequence[Piece]) -> Finding:
    if meant:
        message = f'`over` names "{said}", and {len(meant)} pieces of this design are called so.'
        return error("piece-ambiguous", message, design.name, f"Write {_either(piece.id for piece in meant)}.")
    message = f'`over` names "{said}", but no piece of this design is called so.'
    near = nearest_word(said, {name for piece in design.pieces for name in (piece.id, piece.label) if name})
    return error("piece-unknown", message, design.name, f"{near} `clothpath inspect` shows what they are called.")


def _either(names: Iterable[str]) -> str:
    return " or ".join(f'"{name}"' for name in names)


def _circle(left: Sequence[str], uppers: Mapping[str, set[str]]) -> list[str]:
    """Pieces each of which is to lie beneath the next, from the first of them round to itself."""
    way = [left[0]]
    while True:
        above = next(each for each in left if each in uppers[way[-1]])
        if above in way:
            return [*way[way.index(above) :], above]
        way.append(above)


def _contradiction(design: Design, circle: Sequence[str]) -> Finding:
    called = {piece.id: piece.called for piece in design.pieces}
    said = " over ".join(f'"{called[each]}"' for each in reversed(circle))
    if len(circle) == 2:
        message = f"`over` says {said}: a piece cannot lie over itself."
    else:
        message = f"The pairs of `over` contradict each other: {said}."
    return error("order-contradicts", message, design.name, "Take one of these pairs out.")
