"""The crab in every text format, as files that a person can open.

Run it after a format was changed on purpose, and look at what changed: python tests/plugins/writers/golden_files.py
"""

from __future__ import annotations

from pathlib import Path

from writer_sheets import crab_sheet

from clothpath.contracts import Settings
from clothpath.plugins.writers.csv import CsvWriter
from clothpath.plugins.writers.dxf import DxfWriter
from clothpath.plugins.writers.eps import EpsWriter
from clothpath.plugins.writers.gcode import GcodeWriter
from clothpath.plugins.writers.hpgl import HpglWriter
from clothpath.plugins.writers.json import JsonWriter
from clothpath.plugins.writers.svg import SvgWriter

FOLDER = Path(__file__).parent / "golden"
CUT_FILES = {
    "crab-mm.svg": (SvgWriter(), {}),
    "crab-in-fills.svg": (SvgWriter(), {"unit": "in", "style": "fills"}),
    "crab-px-72.svg": (SvgWriter(), {"unit": "px", "density": 72}),
    "crab-r2000-mm.dxf": (DxfWriter(), {}),
    "crab-r2010-in-arcs.dxf": (DxfWriter(), {"version": "R2010", "unit": "in", "curves": "arcs"}),
    "crab-r12-astm.dxf": (DxfWriter(), {"version": "R12", "layers": "astm"}),
    "crab.eps": (EpsWriter(), {}),
    "crab.plt": (HpglWriter(), {}),
    "crab-drag.ngc": (GcodeWriter(), {"feed": "1200 mm"}),
    "crab-tangential-in.ngc": (GcodeWriter(), {"knife": "tangential", "unit": "in", "feed": "40 in"}),
}


def made() -> dict[str, bytes]:
    """Name to bytes of every golden file."""
    sheet = crab_sheet()
    found = {name: writer.write(sheet, writer.settings(**chosen)).value for name, (writer, chosen) in CUT_FILES.items()}
    for writer in (CsvWriter(), JsonWriter()):
        (document,) = writer.compose(sheet.plan, Settings()).value
        found[f"crab-{document.name}"] = document.data
    return found


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, data in made().items():
        (FOLDER / name).write_bytes(data)
