"""A whole build: its cloth report beside the index, with as many kits as the catalog says."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import jsonschema
import pytest

from clothpath.catalog import jobs_of
from clothpath.cli import run
from clothpath.findings import Refusal
from clothpath.recipe import NO_SETTINGS

SCHEMAS = Path(__file__).parents[3] / "shared" / "schemas"
SQUARES = """<svg xmlns="http://www.w3.org/2000/svg" width="4in" height="3in" viewBox="0 0 4 3">
<rect x="0" y="0" width="2" height="3" fill="#aa0000"/>
<rect x="2.5" y="0" width="1.5" height="1.5" fill="#0000aa"/></svg>"""
CATALOG = """schema = "clothpath/catalog@1"
machines = ["mat-12x12"]
[settings.write.cloth-report]
kits = 10
surplus = "0 %"
[[design]]
file = "flag.svg"
[design.fabric.red]
color = "#aa0000"
grain = "directional"
[design.fabric.blue]
color = "#0000aa"
grain = "directional"
[design.size.small]
width = "4 in"
[[kit]]
name = "pair"
designs = {"flag/small" = 2}
"""


@pytest.fixture
def catalog(tmp_path: Path) -> Path:
    (tmp_path / "flag.svg").write_text(SQUARES)
    (tmp_path / "catalog.toml").write_text(CATALOG)
    return tmp_path / "catalog.toml"


def rows(table: Path) -> dict[str, dict[str, str]]:
    return {row["label"]: row for row in csv.DictReader(table.read_text("utf-8-sig").splitlines())}


def test_the_cloth_of_a_whole_build_stands_beside_its_index(catalog: Path, tmp_path: Path) -> None:
    """By hand: a piece of 2 x 3 in with 1/8 in of cloth all round is cut 2 1/4 x 3 1/4.

    The design takes one, the kit two; ten times that are 30. Red runs one way: at 2 1/4 in across, 17 go into a 40 in
    strip of 3 1/4 in if all rectangles are single ones, and two side by side with 1/8 in between them take no more.
    So two strips, 6 1/2 in of cloth, are enough, and 1/4 yd (9 in) is bought.
    """
    out = tmp_path / "cut"
    assert run(["build", str(catalog), "--out", str(out), "--quiet"]) == 0
    index = json.loads((out / "index.json").read_text())
    jsonschema.validate(index, json.loads((SCHEMAS / "build.json").read_text()))
    assert index["summaries"] == ["cloth-report-mat-12x12.html", "cloth-report-mat-12x12.csv"]
    found = rows(out / "cloth-report-mat-12x12.csv")
    assert (found["red"]["cut_in"], found["red"]["buy_yd"], found["red"]["kits"]) == ("6.5", "0.25", "10")
    assert float(found["red"]["pieces_in2"]) == 30 * 6
    page = (out / "cloth-report-mat-12x12.html").read_text()
    assert "10 times" in page
    assert "flag" in page
    front = (out / "index.html").read_text()
    assert re.search(r"<td>small<br><span[^>]*>4 in wide</span></td>", front)
    assert "<td>1 kit</td>" in front
    job = json.loads(next(out.rglob("job.json")).read_text())
    jsonschema.validate(job, json.loads((SCHEMAS / "job.json").read_text()))
    alone = rows(next((out / "flag").rglob("*cloth-report.csv")))
    assert float(alone["red"]["pieces_in2"]) == 10 * 6


def test_a_second_build_says_the_same_though_nothing_is_done(catalog: Path, tmp_path: Path) -> None:
    out = tmp_path / "cut"
    names = ("cloth-report-mat-12x12.html", "cloth-report-mat-12x12.csv")
    assert run(["build", str(catalog), "--out", str(out), "--quiet"]) == 0
    first = [(out / name).read_bytes() for name in names]
    assert run(["build", str(catalog), "--out", str(out), "--quiet"]) == 0
    assert [(out / name).read_bytes() for name in names] == first


def test_a_format_that_no_machine_writes_is_told(catalog: Path) -> None:
    catalog.write_text(CATALOG.replace("cloth-report", "cloth-repart"))
    with pytest.raises(Refusal) as caught:
        jobs_of(catalog, [], NO_SETTINGS, ())
    (fault,) = caught.value.findings
    assert (fault.code, fault.hint) == ("unknown-format", 'Did you mean "cloth-report"?')
