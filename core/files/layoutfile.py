"""Layouts kept in a file beside the catalog: what timed searches found, and what a person likes and pins.

Terminology
    kept layout     the mats of one job, with the fingerprint of what was asked for
    fingerprint     of everything that a layout must keep to: pieces, counts, fabrics, mat, stock, settings; not of how
                    long is searched, so that a rebuild finds it again
    pinned          kept and used however long is searched; a person writes "pinned": true beside it
    shelf           the kept layouts that a step may take from, and those that it adds

A timed search ends elsewhere every time; with the file the next build has the same bytes. A kept layout is checked like
any other before it is used. The file is JSON, one layout an entry, lengths in mm, in the order of their fingerprints.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from clothpath.curves import Box
from clothpath.findings import Refusal, error
from clothpath.layout import CutFrom, Layout, MatLayout, Placement, Swatch

__all__ = [
    "Effort",
    "Kept",
    "Shelf",
    "fingerprint",
    "kept",
    "layouts_text",
    "read_layouts",
    "restored",
    "schema",
    "shelf",
    "shelved",
]

SCHEMA: Final = "clothpath/layouts@1"
RANK: Final = {"quick": 0, "better": 1, "best": 2}

Effort = Literal["quick", "better", "best"]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class _Placed(_Table):
    """A piece on its swatch: flipped if reversed, then turned, then shifted by x and y; copies count from 1."""

    design: str
    piece: str
    copy_: int = Field(alias="copy", ge=1)
    reversed_: bool = Field(alias="reversed")
    turn: float
    x: float
    y: float


class _Swatch(_Table):
    """A fabric rectangle as it lies on the mat, its lower left corner at x and y; `turn` is 0, 90, 180 or 270."""

    fabric: str
    laid: Literal["right-side-up", "wrong-side-up"]
    x: float
    y: float
    width: float
    height: float
    turn: float
    pieces: tuple[_Placed, ...]


class _Mat(_Table):
    """A mat, cut so many times."""

    times: int = Field(ge=1)
    swatches: tuple[_Swatch, ...]


class _CutFrom(_Table):
    """Where a swatch is cut: indices from 0, `number` of the piece of stock from 1, box left, bottom, right, top."""

    mat: int
    swatch: int
    time: int
    stock: int
    number: int
    box: tuple[float, float, float, float]
    turned: bool


class _Entry(_Table):
    """One kept layout; lengths in mm."""

    fingerprint: str = Field(description="of what was asked for; an entry whose job has changed is not used")
    title: str = Field("", description="which job it is of")
    effort: Effort = Field(description="how hard it was searched for")
    pinned: bool = Field(False, description="true: keep it however long is searched; write it yourself")
    counts: dict[str, int] = Field(description="by design, how many of it are laid out")
    mats: tuple[_Mat, ...]
    cut_from: tuple[_CutFrom, ...] = Field((), alias="cut-from")


class _File(_Table):
    """Layouts kept beside a catalog."""

    schema_: Literal["clothpath/layouts@1"] = Field(alias="schema")
    layouts: tuple[_Entry, ...]


@dataclass(frozen=True, slots=True)
class Kept:
    """One kept layout.

    Attributes:
        title: what a person calls the job ("crab small mat-12x12").
        effort: how hard it was searched for.
        counts: by design, how many of it are laid out.
    """

    fingerprint: str
    title: str
    effort: Effort
    pinned: bool
    counts: Mapping[str, int]
    mats: tuple[MatLayout, ...]
    cut_from: tuple[CutFrom, ...] = ()

    def serves(self, effort: Effort) -> bool:
        """Whether no new search is due where so much effort is asked for."""
        return self.pinned or 0 < RANK[effort] <= RANK[self.effort]


@dataclass
class Shelf:
    """What a layout step may take from, by fingerprint, and what it adds.

    Attributes:
        title: for what is added.
    """

    known: Mapping[str, Kept]
    title: str = ""
    added: dict[str, Kept] = field(default_factory=dict)


_SHELF: ContextVar[Shelf | None] = ContextVar("shelf", default=None)


@contextmanager
def shelved(known: Mapping[str, Kept], title: str) -> Iterator[Shelf]:
    """Layout steps within take kept layouts from `known`; what they search for is in the shelf's `added` afterwards."""
    here = Shelf(known, title)
    token = _SHELF.set(here)
    try:
        yield here
    finally:
        _SHELF.reset(token)


def shelf() -> Shelf | None:
    """The shelf that is open here, if any."""
    return _SHELF.get()


def fingerprint(layout: Layout, settings: str) -> str:
    """Of what is asked for: the layout before anything is laid, and the settings without the effort, as text."""
    digest = hashlib.sha256()

    def add(*values: object) -> None:
        digest.update(json.dumps([str(value) for value in values]).encode())

    add(settings, layout.mat, [(s.fabric, s.width, s.height, s.count, s.rim) for s in layout.stock])
    for stock in layout.stock:
        for ring in stock.outline or ():
            digest.update(ring.nodes.tobytes())
    for fabric in layout.fabrics:
        shared = [fabric.cloth] if fabric.cloth else []
        add(fabric.key, fabric.preparation, fabric.grain, fabric.laid, *shared)
    for demand in layout.demands:
        add(demand.design.name, demand.count)
        for piece in demand.design.pieces:
            if piece.role == "cut":
                add(piece.id, piece.fabric, piece.copies, len(piece.region.holes))
                for ring in piece.region:
                    digest.update(ring.nodes.tobytes() + ring.straight.tobytes())
    return digest.hexdigest()[:32]


def kept(layout: Layout, key: str, effort: Effort, title: str) -> Kept:
    """The layout as it is kept."""
    counts = {demand.design.name: demand.count for demand in layout.demands}
    return Kept(key, title, effort, False, counts, layout.mats, layout.cut_from)


def restored(asked: Layout, found: Kept) -> Layout:
    """What is asked for, laid out as it is kept."""
    demands = tuple(replace(each, count=found.counts.get(each.design.name, each.count)) for each in asked.demands)
    return replace(asked, demands=demands, mats=found.mats, cut_from=found.cut_from)


def read_layouts(text: str, where: str) -> dict[str, Kept]:
    """The kept layouts of a file's text, by fingerprint.

    Raises:
        Refusal: it is no such file.
    """
    try:
        read = _File.model_validate(json.loads(text))
    except (json.JSONDecodeError, ValidationError, RecursionError) as fault:
        message = f"This is no file of kept layouts: {str(fault).splitlines()[0]}."
        hint = "Put the file back as it was, or delete it: layouts are then searched for anew."
        raise Refusal(error("layouts-unreadable", message, where, hint)) from None
    return {entry.fingerprint: _kept_of(entry) for entry in read.layouts}


def schema() -> dict[str, Any]:
    """The JSON Schema of the file."""
    made = _File.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA, **made, "title": "Kept layouts"}


def layouts_text(layouts: Iterable[Kept]) -> str:
    """The text of the file."""
    entries = [_entry_of(each) for each in sorted(layouts, key=lambda each: each.fingerprint)]
    lines = ",\n".join(json.dumps(entry, ensure_ascii=False) for entry in entries)
    return f'{{"schema": "{SCHEMA}", "layouts": [\n{lines}\n]}}\n'


def _kept_of(entry: _Entry) -> Kept:
    mats = tuple(MatLayout(tuple(_swatch_of(swatch) for swatch in mat.swatches), mat.times) for mat in entry.mats)
    cuts = tuple(
        CutFrom(each.mat, each.swatch, each.time, each.stock, each.number, Box(*each.box), each.turned)
        for each in entry.cut_from
    )
    return Kept(entry.fingerprint, entry.title, entry.effort, entry.pinned, entry.counts, mats, cuts)


def _swatch_of(swatch: _Swatch) -> Swatch:
    pieces = tuple(
        Placement(each.design, each.piece, each.copy_, each.reversed_, each.turn, complex(each.x, each.y))
        for each in swatch.pieces
    )
    s = swatch
    return Swatch(s.fabric, s.laid, s.x, s.y, s.width, s.height, s.turn, pieces)


def _entry_of(each: Kept) -> dict[str, Any]:
    return {
        "fingerprint": each.fingerprint,
        "title": each.title,
        "effort": each.effort,
        "pinned": each.pinned,
        "counts": dict(each.counts),
        "mats": [
            {"times": mat.times, "swatches": [_swatch_entry(swatch) for swatch in mat.swatches]} for mat in each.mats
        ],
        "cut-from": [
            {
                "mat": cut.mat,
                "swatch": cut.swatch,
                "time": cut.time,
                "stock": cut.stock,
                "number": cut.number,
                "box": [cut.box.left, cut.box.bottom, cut.box.right, cut.box.top],
                "turned": cut.turned,
            }
            for cut in each.cut_from
        ],
    }


def _swatch_entry(swatch: Swatch) -> dict[str, Any]:
    return {
        "fabric": swatch.fabric,
        "laid": swatch.laid,
        "x": swatch.x,
        "y": swatch.y,
        "width": swatch.width,
        "height": swatch.height,
        "turn": swatch.turn,
        "pieces": [
            {
                "design": p.design,
                "piece": p.piece,
                "copy": p.copy,
                "reversed": p.reversed,
                "turn": p.turn,
                "x": p.shift.real,
                "y": p.shift.imag,
            }
            for p in swatch.placements
        ],
    }
