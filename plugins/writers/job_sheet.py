"""The job sheet: the page beside the machine.

First what to look out for: the warnings of the job, and cautions that defer to the maker's manual. Then what cloth to
get ready, and for each mat where the fabric rectangles lie, which side is up, what size to cut them, and in which order
the machine works. Distances are given as a person measures them: from the nearer edges of the mat.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Final

from clothpath.cloth.amounts import (
    SURPLUS,
    ClothUse,
    FabricUse,
    Rectangle,
    Running,
    Taking,
    cloth_uses,
    takings,
    web_uses,
)
from clothpath.cloth.stock import stock_name, whole_size
from clothpath.contracts import Document, DocumentWriter, Settings, hookimpl
from clothpath.cutplan import Cut, CutPlan
from clothpath.cutting.cuttime import Work, seconds, work_of
from clothpath.cutting.testcut import TEST_CUT, without_test_cuts
from clothpath.cutting.tried import Tried
from clothpath.design import Fabric, Side, fabric_of
from clothpath.files.names import heading, shown, text
from clothpath.findings import Outcome, counted
from clothpath.layout import CutFrom, Demand, Layout, Mat, Stock
from clothpath.pages.handling import (
    SIDES,
    SUPPLIES,
    about_markings,
    fabric_names,
    grain_words,
    look_outs,
    margin_words,
    side_seen,
)
from clothpath.pages.matmap import BoxOnMap, box_on_map, map_of, measured_from, scrap_map, whole_scrap
from clothpath.pages.page import page
from clothpath.pages.sorting import sorting_words
from clothpath.units import as_inches, cutting_size

__all__ = ["JobSheet"]

LETTERS: Final[Mapping[Side, str]] = {"right-side-up": "R", "wrong-side-up": "W"}
"""What stands for a side in a box of the map that is too small for words; a legend tells them."""
AT_END_MM: Final = 0.5
"""What is cut this near to the end of a scrap is cut at its end."""


class JobSheet:
    """Writes the page beside the machine."""

    name: Final = "job-sheet"
    summary: Final = "The page beside the machine: mat maps, fabric rectangles, which side up, the order, cautions"
    settings: Final = Settings

    def compose(self, plan: CutPlan, settings: Settings) -> Outcome[tuple[Document, ...]]:
        """One page for all mats."""
        layout = plan.layout
        works = [work_of(mat.cuts) for mat in plan.mats]
        took = [seconds(plan, mat.cuts) for mat in plan.mats]
        times = [mat.times for mat in layout.mats]
        wanted = [demand for demand in layout.demands if demand.design.name != TEST_CUT]
        designs = ", ".join(shown(demand.design.name) for demand in wanted)
        names = fabric_names(layout.fabrics)
        taken = takings(without_test_cuts(layout))
        tests = [each for each in takings(layout) if each not in taken]
        sheet = page(
            "job-sheet",
            title=f"Job sheet: {heading(plan.title) or f'{designs} for {shown(layout.mat.name)}'}",
            look_outs=look_outs(plan.findings),
            markings=about_markings(plan, names),
            designs=[_design(demand) for demand in wanted],
            mat=layout.mat,
            cloths=[
                *(_cloth(use, part, layout, names) for use in cloth_uses(taken, layout.stock) for part in use.parts),
                *(_scrap(each, names[each.fabric.key]) for each in tests),
            ],
            size_card="size-card" in plan.formats,
            surplus=f"{SURPLUS * 100:g} %",
            webs=[_web(web) for web in web_uses(taken)],
            mats=[_mat(plan, n, _work(works[n], took[n]), names) for n in range(len(layout.mats))],
            work=_work(_together(works, times), _all(took, times)),
            tried=list(_tried(plan)),
            sorting=_sorting(wanted),
        )
        return Outcome((Document("job-sheet.html", sheet),))


def _sorting(wanted: Sequence[Demand]) -> list[str]:
    """What is said of pieces that are alike, design by design."""
    return [
        f"{shown(demand.design.name)}: {said}" if len(wanted) > 1 else said
        for demand in wanted
        for said in sorting_words(demand.design)
    ]


def _design(demand: Demand) -> dict[str, object]:
    box = demand.design.finished_box
    return {"name": shown(demand.design.name), "width": box.width, "height": box.height, "count": demand.count}


def _web(web: Running) -> str:
    return f"{web.yards} ({web.meters}), {cutting_size(web.width_mm)} wide"


def _cloth(use: ClothUse, part: FabricUse, layout: Layout, names: Mapping[str, str]) -> dict[str, object]:
    fabric, mats = part.fabric, layout.mats
    own = [
        cut
        for cut in layout.cut_from
        if mats[cut.mat].swatches[cut.swatch].fabric == fabric.key and whole_scrap(layout, cut.mat, cut.swatch) is None
    ]
    plain = [cut for cut in own if whole_size(layout.stock[cut.stock]) is None]
    origin = [f"{many} cut from {which}" for which, many in _pieces_of_stock(layout, plain).items()]
    bought = []
    if use.cloth is not None:
        if part is use.parts[0]:
            bought.append(f"{use.cloth.yards} ({use.cloth.meters}) of cloth, {cutting_size(use.cloth.width_mm)} wide")
        else:
            bought.append(f"together with {names[use.parts[0].fabric.key]} above, from one cloth")
    return {
        "label": names[fabric.key],
        "color": fabric.color,
        "how": "; ".join(words for words in (_how(fabric), margin_words(fabric)) if words),
        "sizes": part.rectangles,
        "wholes": [f"the whole {shown(scrap, 40)}" for scrap in part.wholes],
        "scraps": list(_scraps(layout, [cut for cut in own if cut not in plain])),
        "origin": origin or ([f"{SUPPLIES['short'].capitalize()}."] if use.supply == "short" else []),
        "buy": bought,
    }


def _scraps(layout: Layout, cuts: Sequence[CutFrom]) -> Iterator[dict[str, object]]:
    """Each irregular scrap that is cut up, with a drawing of what is cut from it, and in words where."""
    pieces = {(cut.stock, cut.number): None for cut in cuts}
    for index, number in pieces:
        own = [cut for cut in cuts if (cut.stock, cut.number) == (index, number)]
        stock = layout.stock[index]
        yield {
            "name": shown(stock_name(layout.stock, index, number), 40),
            "map": scrap_map(stock, [cut.box for cut in own]),
            "places": [
                f"{cutting_size(cut.box.width)} x {cutting_size(cut.box.height)}: {_in_scrap(stock, cut)}"
                for cut in own
            ],
        }


def _in_scrap(stock: Stock, cut: CutFrom) -> str:
    """Where in a scrap a rectangle is cut: "1/2 in from its left end, at its bottom"."""
    measure = measured_from(cut.box, Mat("", stock.width, stock.height or stock.width))
    ends = ((measure.across, f"{measure.across_edge} end"), (measure.along, measure.along_edge))
    said = [f"at its {end}" if mm < AT_END_MM else f"{as_inches(mm)} from its {end}" for mm, end in ends]
    return ", ".join(said)


def _scrap(taken: Taking, name: str) -> dict[str, object]:
    """What a test cut is made on."""
    (width, height), fabric = taken.sizes[0], taken.fabric
    return {
        "label": name,
        "color": fabric.color,
        "how": _how(fabric),
        "sizes": [Rectangle(width, height, len(taken.sizes))],
        "wholes": [],
        "scraps": [],
        "origin": ["any scrap of that cloth"],
        "buy": [],
    }


def _how(fabric: Fabric) -> str:
    how = "with web on the wrong side" if fabric.preparation == "fused" else "without web"
    return how if fabric.grain == "any" else f"{how}; keep the selvage along the second size"


def _pieces_of_stock(layout: Layout, cuts: Iterable[CutFrom]) -> Counter[str]:
    """Pieces of cloth in words, and how many rectangles are cut from each."""
    return Counter(shown(stock_name(layout.stock, cut.stock, cut.number), 40) for cut in cuts)


def _mat(plan: CutPlan, n: int, work: dict[str, object], names: Mapping[str, str]) -> dict[str, object]:
    layout, laid = plan.layout, plan.layout.mats[n]
    cuts = plan.mats[n].cuts
    on = map_of(layout.mat, max((swatch.box.top for swatch in laid.swatches), default=0.0))
    visited = list(dict.fromkeys([*(cut.ref.swatch for cut in cuts), *range(len(laid.swatches))]))
    rows = {swatch: _row(plan, n, swatch, number, names) for number, swatch in enumerate(visited, 1)}
    boxes: list[BoxOnMap] = []
    letters: dict[Side, None] = {}
    for swatch, row in rows.items():
        wordings = _wordings(row, LETTERS[laid.swatches[swatch].laid])
        scrap = whole_scrap(layout, n, swatch)
        boxes.append(box_on_map(laid.swatches[swatch].box, on, str(row["color"]), wordings, scrap))
        if [line.words for line in boxes[-1].lines] in wordings[-2:]:
            letters[laid.swatches[swatch].laid] = None
    pieces = len({cut.ref for cut in cuts if cut.kind == "cut"})
    outlines = sum(cut.kind == "cut" for cut in cuts)
    time = f", about {work['time']}" if work["time"] else ""
    return {
        "number": n + 1,
        "times": laid.times,
        "all_pieces": pieces * laid.times,
        "all_outlines": outlines * laid.times,
        "map": on,
        "boxes": boxes,
        "legend": [(letter, SIDES[side].lower()) for side, letter in LETTERS.items() if side in letters],
        "rows": list(rows.values()),
        "order": list(_order(cuts, rows)),
        "work": f"The blade cuts {work['way']}; the tool comes down {work['lifts']}{time}.",
    }


def _row(plan: CutPlan, mat: int, n: int, number: int, names: Mapping[str, str]) -> dict[str, object]:
    layout = plan.layout
    swatch = layout.mats[mat].swatches[n]
    fabric = fabric_of(layout.fabrics, swatch.fabric)
    measure = measured_from(swatch.box, layout.mat)
    cut_from = _pieces_of_stock(layout, (cut for cut in layout.cut_from if (cut.mat, cut.swatch) == (mat, n)))
    whole = whole_scrap(layout, mat, n) is not None
    from_ = "the whole" if whole else "from"
    return {
        "number": number,
        "label": names[swatch.fabric],
        "plain_label": shown(fabric.label or fabric.key, 40),
        "color": fabric.color,
        "cut_from": [
            f"{many} {from_} {which}" if len(cut_from) > 1 else f"{from_} {which}" for which, many in cut_from.items()
        ],
        "width": swatch.width,
        "height": swatch.height,
        "whole": whole,
        "turned": swatch.turn % 180 != 0,
        "side": SIDES[swatch.laid],
        "side_seen": side_seen(fabric, swatch.laid),
        "grain": grain_words(fabric, swatch),
        "across": measure.across,
        "across_edge": measure.across_edge,
        "along": measure.along,
        "along_edge": measure.along_edge,
    }


def _wordings(row: dict[str, object], letter: str) -> list[list[str]]:
    """What may be written on a rectangle, the best first; each says which side is up."""
    turned = ", turned" if row["turned"] else ""
    over_all = " over all" if row["whole"] else ""
    size = f"{cutting_size(_mm(row['width']))} x {cutting_size(_mm(row['height']))}{over_all}{turned}"
    across = f"{as_inches(_mm(row['across']))} from the {row['across_edge']}"
    along = f"{as_inches(_mm(row['along']))} from the {row['along_edge']}"
    named = f"{row['number']}. {row['plain_label']}"
    full = [named, str(row["side"]).lower(), size, across, along]
    return [*(full[:count] for count in range(len(full), 1, -1)), [named, letter], [f"{row['number']} {letter}"]]


def _mm(value: object) -> float:
    assert isinstance(value, float | int)
    return float(value)


def _order(cuts: Sequence[Cut], rows: Mapping[int, dict[str, object]]) -> Iterator[str]:
    """One line a fabric rectangle: what is drawn and cut on it, by name as it comes."""
    for swatch, group in groupby(cuts, key=lambda cut: cut.ref.swatch):
        listed = list(group)
        labels = Counter(
            shown(cut.ref.label or cut.ref.piece, 40) for cut in listed if cut.kind == "cut" and not cut.ring
        )
        drawn = sum(cut.kind == "mark" for cut in listed)
        hidden = " (see Look out)" if rows[swatch]["side"] == SIDES["wrong-side-up"] else ""
        first = f"{counted(drawn, 'marking')} drawn{hidden}; " if drawn else ""
        named = ", ".join(f"{label} ({count})" if count > 1 else label for label, count in labels.items())
        passes = max(cut.passes for cut in listed)
        again = f"; every outline {passes} times" if passes > 1 else ""
        yield f"{rows[swatch]['label']}: {first}{named}{again}"


def _together(works: Sequence[Work], times: Sequence[int]) -> Work:
    pairs = list(zip(works, times, strict=True))
    return Work(
        sum(work.cut_mm * n for work, n in pairs),
        sum(work.drawn_mm * n for work, n in pairs),
        sum(work.moved_mm * n for work, n in pairs),
        sum(work.lifts * n for work, n in pairs),
    )


def _all(took: Sequence[float | None], times: Sequence[int]) -> float | None:
    known = [each * n for each, n in zip(took, times, strict=True) if each is not None]
    return sum(known) if known and len(known) == len(took) else None


def _work(work: Work, took: float | None) -> dict[str, object]:
    way = work.cut_mm
    return {
        "way": f"{way / 304.8:.1f} ft ({way / 1000:.2f} m)",
        "lifts": counted(work.lifts, "time"),
        "time": "" if took is None else f"{math.ceil(took / 60)} min" if took >= 90 else f"{math.ceil(took)} s",
    }


def _tried(plan: CutPlan) -> Iterator[str]:
    """One sentence for each material that was tried, with the fabrics that it stands for here."""
    fabrics: dict[Tried, list[str]] = {}
    for key, found in plan.tried:
        fabric = fabric_of(plan.layout.fabrics, key)
        fabrics.setdefault(found, []).append(shown(fabric.label or fabric.key, 40))
    for found, labels in fabrics.items():
        remark = f" {text(found.remark, 400)}" if found.remark else ""
        said = text(found.said, 200) or "nothing written down"
        yield f"{', '.join(labels)}, as {shown(found.cloth)}: {said}.{remark}"


@hookimpl
def clothpath_writers() -> Sequence[DocumentWriter]:
    return [JobSheet()]
