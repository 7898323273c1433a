"""A job's files are the same to the byte wherever its drawing, its profile and its output lie."""

from __future__ import annotations

import shutil
from importlib.resources import files
from pathlib import Path

import pytest

from clothpath.cli import run
from clothpath.findings import note

DESIGNS = Path(str(files("clothpath.samples"))) / "tidepool" / "designs"
MACHINE = """
schema = "clothpath/machine@1"
name = "shore-table"
[mat]
width = "600 mm"
height = "600 mm"
[[write]]
format = "gcode"
[[write]]
format = "json"
[[write]]
format = "job-sheet"
"""


@pytest.mark.parametrize("drawing", ["octopus.svg", "anchor.dxf"])
def test_another_folder_makes_no_difference(tmp_path: Path, drawing: str) -> None:
    """The octopus comes with a doubtful size, the anchor without a unit: findings that name their file."""
    made: list[dict[str, bytes]] = []
    for place in (tmp_path / "here", tmp_path / "some" / "where else"):
        place.mkdir(parents=True)
        shutil.copy(DESIGNS / drawing, place)
        (place / "shore-table.toml").write_text(MACHINE)
        call = ["convert", place / drawing, "--machine", place / "shore-table.toml", "--out", place / "cut", "--quiet"]
        assert run([*map(str, call)]) == 0
        out = place / "cut"
        made.append({str(file.relative_to(out)): file.read_bytes() for file in out.rglob("*") if file.is_file()})
    assert made[0] == made[1]
    assert len(made[0]) == 5  # the three that are asked for, the record of the job, and the picture
    told = next(data for name, data in made[0].items() if name.endswith("job.json"))
    assert f'"where": "{drawing}'.encode() in told
    assert not any(str(tmp_path).encode() in data for data in made[0].values())


@pytest.mark.parametrize(
    ("where", "named"),
    [
        ("/home/me/designs/crab.svg: line 3", "crab.svg: line 3"),
        ("designs/crab.svg", "crab.svg"),
        ("C:\\quilts\\crab.svg: <path id='a/b.c'>", "crab.svg: <path id='a/b.c'>"),
        ("crab: 1/4 in seam", "crab: 1/4 in seam"),
        ("left/right wing", "left/right wing"),
        ("", ""),
    ],
)
def test_a_finding_keeps_the_name_of_its_file(where: str, named: str) -> None:
    assert note("code", "Message.", where).by_name().where == named
