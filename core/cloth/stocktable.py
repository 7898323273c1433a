"""Stock as people state it in config files, and the common cuts of cloth.

Terminology
    common cut  a size in which cloth is sold or kept: a fat quarter, a 5 in square, yardage; see shared/stock.toml
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import Field, model_validator

from clothpath.contracts import Millimeters, Settings
from clothpath.curves import Affine, polygon
from clothpath.findings import nearest_word
from clothpath.layout import Stock
from clothpath.regions import moved, region

__all__ = ["StockTable", "common_cuts"]


class StockTable(Settings):
    """A stock of one fabric: a common cut, a rectangle, yardage, or an irregular scrap."""

    common: str | None = Field(None, description='a common cut such as "fat-quarter"')
    label: str | None = Field(None, description="what a person calls it")
    width: Millimeters | None = Field(None, gt=0, description="across the cloth, from selvage to selvage")
    height: Millimeters | None = Field(None, gt=0, description="along the selvage; left out: by the running yard")
    count: int = Field(1, ge=1, le=10_000, description="how many of them there are")
    rim: Millimeters | None = Field(None, ge=0, description="what is lost along every edge")
    outline: tuple[tuple[Millimeters, Millimeters], ...] | None = Field(
        None,
        min_length=3,
        description="three corners or more of an irregular scrap, one after the other round it, seen from the right "
        "side: of each how far across the cloth, from selvage to selvage, and how far up along the selvage",
        examples=[[["0 in", "0 in"], ["5 in", "0 in"], ["0 in", "5 in"]]],
    )

    @model_validator(mode="after")
    def _says_what_it_is(self) -> StockTable:
        if self.common is not None and self.common not in common_cuts():
            raise ValueError(f'there is no common cut "{self.common}". {nearest_word(self.common, common_cuts())}')
        if self.common is None and self.width is None and self.outline is None:
            raise ValueError('say what cloth there is: common = "fat-quarter", or width and height, or an outline')
        return self

    def stock(self, fabric: str) -> Stock:
        """The stock that the table describes."""
        cut = {} if self.common is None else common_cuts()[self.common]
        label = self.label or cut.get("label", "")
        rim = cut.get("rim", 0.0) if self.rim is None else self.rim
        if self.outline is not None:
            scrap = region(polygon([complex(x, y) for x, y in self.outline]))
            box = scrap.box
            scrap = moved(scrap, Affine.shift(-complex(box.left, box.bottom)))
            return Stock(fabric, box.width, box.height, self.count, label or "scrap", rim, scrap)
        width = self.width or cut["width"]
        return Stock(fabric, width, self.height or cut.get("height"), self.count, label, rim)


class _CommonCut(Settings):
    label: str
    width: Millimeters
    height: Millimeters | None = None
    rim: Millimeters = 0.0


@cache
def common_cuts() -> dict[str, dict[str, Any]]:
    """The common cuts that ship, by name: label, width, height, rim; lengths in mm."""
    tables = tomllib.loads((files("clothpath.shared") / "stock.toml").read_text(encoding="utf-8"))
    cuts = {name: _CommonCut.model_validate(table) for name, table in tables.items() if isinstance(table, dict)}
    return {name: cut.model_dump(exclude_none=True) for name, cut in cuts.items()}
