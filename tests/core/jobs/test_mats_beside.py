"""One file for all mats: each mat beside the other, a stated way apart, told on every page and proved as any file."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from xml.etree import ElementTree

import pytest
from gulls import moved_cut, two_mats

from clothpath.cli import run
from clothpath.curves import Affine
from clothpath.cutplan import Blade, as_laid, sheets
from clothpath.proving.remeasure import remeasured
from clothpath.registry import installed

WHALE = Path(str(files("clothpath.samples"))) / "tidepool" / "designs" / "whale.svg"
MACHINE = """
schema = "clothpath/machine@1"
name = "small-mats"
[mat]
width = "8 in"
height = "8 in"
margin = "1/4 in"
[[write]]
format = "{format}"
per = "all"
apart = "2 in"
[[write]]
format = "size-card"
[[write]]
format = "job-sheet"
"""


def converted(place: Path, form: str, *further: str) -> int:
    (place / "small-mats.toml").write_text(MACHINE.replace("{format}", form))
    call = ["convert", WHALE, "--machine", place / "small-mats.toml", "--out", place, "--copies", "3"]
    return run([*map(str, call), "--set", "scale-to-spec.width=7 in", "--quiet", *further])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job's folder with one SVG of all its mats."""
    place = tmp_path_factory.mktemp("beside")
    assert converted(place, "svg") == 0
    return next(place.rglob("job.json")).parent


def test_each_mat_lies_its_width_and_the_space_to_the_right_of_the_one_before() -> None:
    plan = as_laid(two_mats(), Blade())
    (sheet,) = sheets(plan, "all", 10.0)
    first, second = plan.mats
    way = Affine.shift(plan.layout.mat.width + 10)
    expected = [*first.cuts, *(moved_cut(cut, way) for cut in second.cuts)]
    assert [cut.path.start for cut in sheet.cuts] == pytest.approx([cut.path.start for cut in expected])
    assert (sheet.mat.width, sheet.mat.height) == (2 * plan.layout.mat.width + 10, plan.layout.mat.height)
    assert len({cut.ref for cut in sheet.cuts}) == len({cut.ref for cut in first.cuts}) * 2


def test_one_mat_is_a_file_as_ever() -> None:
    layout = two_mats()
    alone = as_laid(replace(layout, mats=layout.mats[:1]), Blade())
    assert sheets(alone, "all") == sheets(alone, "mat")


def test_the_file_says_its_size_and_the_pages_say_what_it_holds(folder: Path) -> None:
    document = json.loads((folder / "job.json").read_text())
    count = len(document["mats"])
    assert count > 1
    (svg,) = [file for file in document["files"] if file["format"] == "svg"]
    assert (svg["mat"], svg["mats_apart_mm"], svg["proof"]["ok"]) == (None, 50.8, True)
    root = ElementTree.parse(folder / Path(svg["path"]).name).getroot()
    assert float(root.get("width", "").removesuffix("mm")) == pytest.approx(25.4 * (8 * count + 2 * (count - 1)))
    words = f"ats 1 to {count} from left to right, 2 in (50.8 mm) apart"
    for page in ("size-card", "job-sheet"):
        assert words in next(folder.glob(f"*{page}.html")).read_text()


def test_a_file_of_all_mats_is_measured_again(folder: Path) -> None:
    (svg,) = folder.glob("*.svg")
    (proof,) = remeasured([svg], installed())["files"]
    assert proof["ok"] is True


def test_a_mat_that_slipped_is_caught(folder: Path) -> None:
    # the second mat of the file lies 0.1 mm to the right of where it was meant to be
    (svg,) = folder.glob("*.svg")
    data = svg.read_text()
    paths = re.findall(r' d="M[^"]*"', data)
    right = next(path for path in paths if float(re.match(r' d="M([\d.]+)', path)[1]) > 8 * 25.4)  # type: ignore[index]
    moved = right.replace("d=", 'transform="translate(0.1)" d=')
    try:
        svg.write_text(data.replace(right, moved))
        (proof,) = remeasured([svg], installed())["files"]
    finally:
        svg.write_text(data)
    assert proof["ok"] is False
    assert "off-place" in {finding["code"] for finding in proof["findings"]}


def test_the_call_may_say_how_far_apart(tmp_path: Path) -> None:
    assert converted(tmp_path, "svg", "--set", "write.svg.apart=3 in", "--set", "write.svg.unit=in") == 0
    (entry, *_) = json.loads(next(tmp_path.rglob("job.json")).read_text())["files"]
    assert (entry["mats_apart_mm"], entry["unit"]) == (76.2, "in")


@pytest.mark.parametrize("form", ["gcode", "hpgl"])
def test_a_file_that_moves_the_machine_itself_holds_one_mat(form: str, tmp_path: Path) -> None:
    assert converted(tmp_path, form) == 1
    document = json.loads(next(tmp_path.rglob("job.json")).read_text())
    assert "one-mat-a-file" in {finding["code"] for finding in document["findings"]}
