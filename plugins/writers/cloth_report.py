"""The cloth report: a page and a table of what to buy and how to cut it, for a job and for a whole build.

For each cloth: the rectangles, strips first and then sub-cuts, what of them ends in pieces and what is left, and what
to buy for so many kits with a stated surplus; the fusible web for all of it together. A report of a build pools each
cloth over all jobs of a machine, and lists job by job what each takes alone.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, Field, WithJsonSchema

from clothpath.cloth.amounts import (
    USABLE_WIDTH_MM,
    WEB_WIDTHS_MM,
    ClothUse,
    FabricUse,
    Running,
    Supply,
    Taking,
    cloth_uses,
    takings,
    web_uses,
)
from clothpath.cloth.record import JobCloth
from clothpath.contracts import Document, DocumentWriter, Millimeters, Settings, hookimpl
from clothpath.cutplan import CutPlan
from clothpath.cutting.testcut import without_test_cuts
from clothpath.design import Fabric
from clothpath.files.names import cell, heading, shown
from clothpath.findings import Outcome
from clothpath.layout import Stock
from clothpath.pages.handling import SUPPLIES
from clothpath.pages.page import page
from clothpath.units import cutting_size, cutting_size_mm

__all__ = ["ClothReport", "ClothReportSettings"]

SQUARE_INCH_MM2: Final = 25.4**2
LONGEST_NAME: Final = 40
"""Most letters of the name of a cloth."""
LONGEST_PLAN: Final = 2000
"""Most letters that the plan takes in a cell of the table."""
COLUMNS: Final = (
    "cloth", "label", "treated", "kits", "surplus_percent", "rectangles", "rectangles_in2", "pieces_in2", "left_in2",
    "rectangles_cm2", "pieces_cm2", "left_cm2", "how_to_cut", "from", "wide_in", "cut_in", "buy_yd", "buy_m",
)  # fmt: skip
FROM: Final[Mapping[Supply, str]] = {
    "bolt": "bolt",
    "stock": "stock",
    "both": "stock and bolt",
    "short": "stock that does not suffice",
}
"""Where a cloth comes from, in the table."""
_WITHIN_LENGTH: Final = re.compile(r"(?<=\d) (?=\d+/\d|in\b)")
_SHARE: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(?:%|percent)")


def _share(value: object) -> float:
    """ "10 %" as 0.1."""
    found = _SHARE.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise ValueError(f'"{value}" is no surplus; write it with its sign, as in "10 %"')
    return float(found[1]) / 100


Share = Annotated[
    float, BeforeValidator(_share), WithJsonSchema({"type": "string", "description": 'a share, such as "10 %"'})
]


class ClothReportSettings(Settings):
    """How much is cut, and what cloth and web are like where no stock says it."""

    kits: int = Field(1, ge=1, le=10_000, description="how many times everything is cut")
    surplus: Share = Field(0.05, le=1, description='bought on top, for shrinking and mistakes: "5 %"')
    cloth_width: Millimeters = Field(
        USABLE_WIDTH_MM, gt=0, description='what of the bolt\'s width can be used: "40 in"'
    )
    web_widths: tuple[Millimeters, ...] = Field(WEB_WIDTHS_MM, description='widths of fusible web: "17 in", "20 in"')


class ClothReport:
    """Writes the page and the table."""

    name: Final = "cloth-report"
    summary: Final = "What cloth and web to buy and how to cut it, for N kits: a page and a table; one for all jobs too"
    settings: Final = ClothReportSettings

    def compose(self, plan: CutPlan, settings: ClothReportSettings) -> Outcome[tuple[Document, ...]]:
        """The page and the table of one job."""
        layout = without_test_cuts(plan.layout)
        designs = ", ".join(demand.design.name for demand in layout.demands)
        title = plan.title or f"{designs} for {layout.mat.name}"
        return Outcome(_documents(title, takings(layout), layout.stock, settings, ()))

    def sum_up(
        self, title: str, jobs: Sequence[JobCloth], stock: Sequence[Stock], settings: ClothReportSettings
    ) -> Outcome[tuple[Document, ...]]:
        """The page and the table of all jobs of a machine."""
        taken = _pooled(each for job in jobs for each in job.taken)
        return Outcome(_documents(title, taken, stock, settings, jobs))


def _pooled(taken: Iterable[Taking]) -> list[Taking]:
    """What is taken of fabrics that are one: of one cloth, with or without web, with one grain."""
    pooled: dict[tuple[str, ...], Taking] = {}
    for each in taken:
        key = (each.fabric.cloth_key, each.fabric.preparation, each.fabric.grain)
        known = pooled.setdefault(key, Taking(each.fabric, (), 0.0))
        pooled[key] = Taking(known.fabric, (*known.sizes, *each.sizes), known.pieces_mm2 + each.pieces_mm2)
    return list(pooled.values())


def _documents(
    title: str,
    taken: Sequence[Taking],
    stock: Sequence[Stock],
    settings: ClothReportSettings,
    jobs: Sequence[JobCloth],
) -> tuple[Document, ...]:
    uses = cloth_uses(taken, stock, settings.kits, settings.surplus, settings.cloth_width)
    webs = web_uses(taken, settings.kits, settings.surplus, settings.web_widths)
    names = _names(uses)
    html = page(
        "cloth-report",
        title=f"Cloth for {heading(title)}",
        kits=settings.kits,
        surplus=f"{settings.surplus * 100:g} %",
        cloths=[_cloth(use, names) for use in uses],
        webs=[_running(web) for web in webs],
        jobs=[_job(job, settings) for job in jobs],
    )
    table = _table(uses, webs, names, settings)
    return Document("cloth-report.html", html), Document("cloth-report.csv", table)


def _cloth(use: ClothUse, names: dict[str, str]) -> dict[str, Any]:
    return {
        "label": names[use.key],
        "color": use.parts[0].fabric.color,
        "parts": [{"how": _how(part.fabric), "wholes": _wholes(part), "sizes": part.rectangles} for part in use.parts],
        "steps": [_unbroken(step) for step in use.steps("inch")],
        "area": _area(use.area_mm2),
        "pieces": _area(use.pieces_mm2),
        "left": _area(use.left_mm2),
        "offcut": _area(max(use.begun_mm2 - use.area_mm2, 0.0)),
        "buy": _running(use.cloth) if use.cloth else None,
        "stock": SUPPLIES[use.supply],
    }


def _names(uses: Sequence[ClothUse]) -> dict[str, str]:
    """By cloth what it is called: its label, with its key where two have one label."""
    labels = {use.key: shown(use.parts[0].fabric.label or use.key, LONGEST_NAME) for use in uses}
    shared = Counter(label.casefold() for label in labels.values())
    return {key: f"{label} ({shown(key)})" if shared[label.casefold()] > 1 else label for key, label in labels.items()}


def _how(fabric: Fabric) -> str:
    how = "with web" if fabric.preparation == "fused" else "without web"
    return how if fabric.grain == "any" else f"{how}; selvage along the second size"


def _wholes(part: FabricUse) -> list[str]:
    return [f"the whole {shown(scrap, LONGEST_NAME)}" for scrap in part.wholes]


def _area(mm2: float) -> str:
    return f"{mm2 / SQUARE_INCH_MM2:,.0f} in² ({mm2 / 100:,.0f} cm²)"


def _unbroken(said: str) -> str:
    """The words with every length kept on one line."""
    return _WITHIN_LENGTH.sub("\u00a0", said)


def _running(bought: Running) -> dict[str, str]:
    return {
        "yards": bought.yards,
        "meters": bought.meters,
        "wide": f"{cutting_size(bought.width_mm)} ({cutting_size_mm(bought.width_mm)})",
        "cut": f"{cutting_size(bought.cut_mm)} ({cutting_size_mm(bought.cut_mm)})",
    }


def _job(job: JobCloth, settings: ClothReportSettings) -> dict[str, Any]:
    """What one job takes by itself, off the bolt."""
    uses = cloth_uses(job.taken, (), settings.kits, settings.surplus, settings.cloth_width)
    webs = web_uses(job.taken, settings.kits, settings.surplus, settings.web_widths)
    return {
        "name": shown(job.design),
        "size": shown(job.size),
        "cloths": [
            {
                "label": shown(use.parts[0].fabric.label or use.key, LONGEST_NAME),
                "color": use.parts[0].fabric.color,
                "yards": use.cloth.yards,
            }
            for use in uses
            if use.cloth
        ],
        "web": webs[0].yards if webs else "",
    }


def _table(
    uses: Sequence[ClothUse], webs: Sequence[Running], names: dict[str, str], settings: ClothReportSettings
) -> bytes:
    """One row a fabric, what is bought in the first row of its cloth; then a row for each width of web."""
    stream = io.StringIO()
    table = csv.DictWriter(stream, COLUMNS, lineterminator="\r\n")
    table.writeheader()
    for row in (*_cloth_rows(uses, names), *_web_rows(webs)):
        table.writerow({"kits": settings.kits, "surplus_percent": f"{settings.surplus * 100:g}"} | row)
    return stream.getvalue().encode("utf-8-sig")


def _cloth_rows(uses: Sequence[ClothUse], names: dict[str, str]) -> Iterator[dict[str, object]]:
    for use in uses:
        for n, part in enumerate(use.parts):
            row = {"cloth": cell(use.key), "label": cell(names[use.key]), "treated": _how(part.fabric)}
            yield row | _rectangles(part) | (_source(use) if n == 0 else {})


def _rectangles(part: FabricUse) -> dict[str, object]:
    sizes = [f"{r.count} of {cutting_size(r.width)} x {cutting_size(r.height)}" for r in part.rectangles]
    areas = {"rectangles": part.area_mm2, "pieces": part.pieces_mm2, "left": part.area_mm2 - part.pieces_mm2}
    return {
        "rectangles": cell("; ".join([*_wholes(part), *sizes]), LONGEST_PLAN),
        **{f"{name}_in2": f"{mm2 / SQUARE_INCH_MM2:.1f}" for name, mm2 in areas.items()},
        **{f"{name}_cm2": f"{mm2 / 100:.0f}" for name, mm2 in areas.items()},
    }


def _source(use: ClothUse) -> dict[str, object]:
    return {"how_to_cut": cell("; ".join(use.steps("inch")), LONGEST_PLAN), "from": FROM[use.supply]} | (
        _bought(use.cloth) if use.cloth else {}
    )


def _web_rows(webs: Sequence[Running]) -> Iterator[dict[str, object]]:
    for web in webs:
        yield {
            "cloth": "fusible web",
            "label": f"fusible web {cutting_size(web.width_mm)} wide",
            "from": "bolt",
        } | _bought(web)


def _bought(bought: Running) -> dict[str, object]:
    return {
        "wide_in": f"{bought.width_mm / 25.4:g}",
        "cut_in": f"{bought.cut_mm / 25.4:.3f}".rstrip("0").rstrip("."),
        "buy_yd": f"{float(bought.buy_yards):g}",
        "buy_m": f"{bought.buy_mm / 1000:g}",
    }


@hookimpl
def clothpath_writers() -> Sequence[DocumentWriter]:
    return [ClothReport()]
