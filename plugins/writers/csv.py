"""CSV cut lists: one row a piece to be cut, for a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import Final

from clothpath.contracts import Document, Settings, hookimpl
from clothpath.curves import length
from clothpath.cutplan import CutPlan
from clothpath.design import fabric_of
from clothpath.files.names import cell
from clothpath.findings import Outcome
from clothpath.layout import placed
from clothpath.regions import region_area

__all__ = ["CsvWriter"]

COLUMNS: Final = (
    "mat",
    "times",
    "fabric",
    "fabric label",
    "side up",
    "design",
    "piece",
    "label",
    "copy",
    "reversed",
    "turn (degrees)",
    "x (mm)",
    "y (mm)",
    "width (mm)",
    "height (mm)",
    "width (in)",
    "height (in)",
    "area (mm2)",
    "cut length (mm)",
    "holes",
)


class CsvWriter:
    """Writes CSV."""

    name: Final = "csv"
    summary: Final = "The cut list as a table, one row a piece"
    settings: Final = Settings

    def compose(self, plan: CutPlan, settings: Settings) -> Outcome[tuple[Document, ...]]:
        """One table; x and y are the lower left corner of the piece on its mat."""
        stream = io.StringIO()
        table = csv.writer(stream, lineterminator="\r\n")  # RFC 4180
        table.writerow(COLUMNS)
        for each in placed(plan.layout):
            swatch = plan.layout.mats[each.mat].swatches[each.swatch]
            fabric = fabric_of(plan.layout.fabrics, swatch.fabric)
            box = each.region.box
            table.writerow(
                (
                    each.mat + 1,
                    plan.layout.mats[each.mat].times,
                    cell(fabric.key),
                    cell(fabric.label),
                    swatch.laid,
                    cell(each.placement.design),
                    cell(each.piece.id),
                    cell(each.piece.label),
                    each.placement.copy,
                    "yes" if each.placement.reversed else "no",
                    f"{(each.placement.turn + swatch.turn) % 360:g}",
                    f"{box.left:.2f}",
                    f"{box.bottom:.2f}",
                    f"{box.width:.2f}",
                    f"{box.height:.2f}",
                    f"{box.width / 25.4:.3f}",
                    f"{box.height / 25.4:.3f}",
                    f"{region_area(each.region):.1f}",
                    f"{sum(length(ring) for ring in each.region):.1f}",
                    len(each.region.holes),
                )
            )
        return Outcome((Document("cut-list.csv", stream.getvalue().encode("utf-8-sig")),))


@hookimpl
def clothpath_writers() -> list[CsvWriter]:
    """The CSV writer."""
    return [CsvWriter()]
