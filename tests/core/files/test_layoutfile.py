"""Kept layouts: what is written is read back, what is asked differently has another name, what is broken is refused."""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from clothpath.curves import Box, circle, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.files.layoutfile import Kept, fingerprint, kept, layouts_text, read_layouts, restored, schema
from clothpath.findings import Refusal
from clothpath.layout import CutFrom, Demand, Layout, Mat, MatLayout, Placement, Stock, Swatch
from clothpath.regions import region


def asked(radius: float = 10.0, count: int = 1, **mat: float) -> Layout:
    fabric = Fabric("a", "A")
    piece = Piece("o", "Disc", region(circle(0j, radius), [polygon([1j, 1 + 0j, -1 + 0j])]), "a", copies=2)
    design = Design("d", (piece,), (), (fabric,))
    stock = (Stock("a", 100.0, None),)
    return Layout((Demand(design, count),), (fabric,), Mat("m", mat.get("width", 100.0), 60.0), (), stock)


def laid() -> Layout:
    pieces = (Placement("d", "o", 1, False, 0.1 + 0.2, 12 + 12j), Placement("d", "o", 2, True, 90.0, 1 / 3 + 12j))
    swatch = Swatch("a", "right-side-up", 5.0, 6.25, 54.1, 24.0, 90.0, pieces)
    cut = (CutFrom(0, 0, 1, 0, 3, Box(0.0, 1.0, 2.0, 3.0), True),)
    return replace(asked(), mats=(MatLayout((swatch,), 2),), cut_from=cut)


def test_what_is_written_is_read_back_to_the_last_bit() -> None:
    one = kept(laid(), "abc", "better", "d small m")
    (back,) = read_layouts(layouts_text([one]), "f").values()
    assert back == replace(one, counts={"d": 1})
    assert restored(asked(), back) == laid()


SCHEMA = Path(__file__).parents[3] / "shared" / "schemas" / "layouts.json"


def test_what_is_written_obeys_the_schema_that_ships() -> None:
    shipped = json.loads(SCHEMA.read_text())
    assert shipped == schema()
    jsonschema.Draft202012Validator.check_schema(shipped)
    written = json.loads(layouts_text([kept(laid(), "abc", "better", "d small m")]))
    jsonschema.validate(written, shipped)
    pinned: Any = deepcopy(written)
    pinned["layouts"][0]["pinned"] = True
    jsonschema.validate(pinned, shipped)
    for key, value in (("pinned", "yes please"), ("effort", "lots"), ("pined", True)):
        wrong: Any = deepcopy(written)
        wrong["layouts"][0][key] = value
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, shipped)


def test_the_file_has_the_same_bytes_whatever_the_order() -> None:
    one, other = (kept(laid(), key, "best", key) for key in ("b", "a"))
    assert layouts_text([one, other]) == layouts_text([other, one])
    assert json.loads(layouts_text([one, other]))["schema"] == "clothpath/layouts@1"


def test_the_fingerprint_tells_what_matters_and_nothing_else() -> None:
    first = fingerprint(asked(), "{}")
    assert first == fingerprint(asked(), "{}")
    recolored = replace(asked(), fabrics=(replace(asked().fabrics[0], color="#123456", label="Other"),))
    assert fingerprint(recolored, "{}") == first
    others = [
        fingerprint(asked(radius=10.001), "{}"),
        fingerprint(asked(count=2), "{}"),
        fingerprint(asked(width=101.0), "{}"),
        fingerprint(asked(), '{"spacing": 1}'),
        fingerprint(replace(asked(), fabrics=(replace(asked().fabrics[0], laid="wrong-side-up"),)), "{}"),
        fingerprint(replace(asked(), stock=()), "{}"),
    ]
    assert len({first, *others}) == 7


@pytest.mark.parametrize(
    ("effort", "pinned", "asked_for", "serves"),
    [
        ("better", False, "better", True),
        ("better", False, "best", False),
        ("best", False, "better", True),
        ("better", False, "quick", False),
        ("better", True, "quick", True),
        ("better", True, "best", True),
    ],
)
def test_a_kept_layout_serves_where_no_more_is_asked_or_it_is_pinned(
    effort: str, pinned: bool, asked_for: str, serves: bool
) -> None:
    one = replace(kept(laid(), "k", effort, ""), pinned=pinned)  # type: ignore[arg-type]
    assert one.serves(asked_for) is serves  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", '{"schema": "clothpath/layouts@2", "layouts": []}', "\x00", "[" * 100_000,
     '{"schema": "clothpath/layouts@1", "layouts": [{"fingerprint": "a"}]}'],
)  # fmt: skip
def test_a_damaged_file_is_an_error_that_says_what_to_do(text: str) -> None:
    with pytest.raises(Refusal) as caught:
        read_layouts(text, "tide.layouts.json")
    (finding,) = caught.value.findings
    assert (finding.code, finding.where) == ("layouts-unreadable", "tide.layouts.json")
    assert "delete it" in finding.hint


def test_an_empty_file_of_layouts_is_none() -> None:
    empty: list[Kept] = []
    assert read_layouts(layouts_text(empty), "f") == {}
