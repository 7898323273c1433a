"""Released files measured again: what was altered is told, for machines with frames, blades and passes of their own."""

from __future__ import annotations

import json
import shutil
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from clothpath.cli import run
from clothpath.proving.remeasure import remeasured
from clothpath.registry import installed

WHALE = Path(str(files("clothpath.samples"))) / "tidepool" / "designs" / "whale.svg"
MACHINE = """
schema = "clothpath/machine@1"
name = "odd-table"
[mat]
width = "500 mm"
height = "500 mm"
margin = "10 mm"
[[write]]
format = "hpgl"
origin = "upper-left"
x-axis = "down"
y-axis = "right"
[[write]]
format = "gcode"
origin = "center"
feed = "1000 mm"
[[write]]
format = "dxf"
version = "R12"
unit = "in"
[[write]]
format = "eps"
[[write]]
format = "svg"
per = "fabric"
unit = "px"
density = 90
[blade]
offset = "0.25 mm"
overcut = "1 mm"
compensated-by = "file"
"""
RECIPE = """
schema = "clothpath/recipe@1"
[[step]]
use = "separate"
[[step]]
use = "mirror"
[[step]]
use = "nest"
[[step]]
use = "drag-knife"
passes = 2
"""


@pytest.fixture(scope="module")
def released(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job's folder for a machine that has it all."""
    place = tmp_path_factory.mktemp("released")
    (place / "odd-table.toml").write_text(MACHINE)
    (place / "twice.toml").write_text(RECIPE)
    call = ["convert", WHALE, "--machine", place / "odd-table.toml", "--recipe", place / "twice.toml", "--out", place]
    assert run([*map(str, call), "--quiet"]) == 0
    return next(place.rglob("job.json")).parent


@pytest.fixture
def folder(released: Path, tmp_path: Path) -> Path:
    """A copy to do harm to."""
    shutil.copytree(released, tmp_path / "job")
    return tmp_path / "job"


def again(path: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = remeasured([path], installed())["files"]
    return found


def codes(file: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in file["findings"]}


def test_what_was_released_is_proved_again(folder: Path) -> None:
    found = again(folder)
    assert {file["format"] for file in found} == {"hpgl", "gcode", "dxf", "eps", "svg"}
    assert [file["path"] for file in found if not file["ok"]] == []
    assert all(file["proof"]["reversed_ok"] for file in found if file["format"] != "svg")


@pytest.mark.parametrize("form", ["hpgl", "gcode", "dxf", "eps", "svg"])
def test_another_wording_is_told_from_another_shape(folder: Path, form: str) -> None:
    listed = json.loads((folder / "job.json").read_text())["files"]
    path = folder / Path(next(file["path"] for file in listed if file["format"] == form)).name
    end = {"hpgl": b"SP0;", "gcode": b"M2", "dxf": b"  0\nEOF", "eps": b"showpage", "svg": b"</svg>"}[form]
    said = {"hpgl": b"PG;", "gcode": b"(x)\n", "dxf": b"999\nx\n", "eps": b"% x\n", "svg": b"<!-- x -->"}[form]
    path.write_bytes(path.read_bytes().replace(end, said + end))
    (file,) = again(path)
    assert not file["ok"]
    assert file["proof"]["ok"]
    assert "file-altered" in codes(file)


def test_an_altered_shape_is_told(folder: Path) -> None:
    path = next(folder.glob("*.eps"))
    path.write_bytes(path.read_bytes().replace(b"gsave", b"gsave 1.01 1.01 scale"))
    (file,) = again(path)
    assert {"file-altered", "wrong-size"} <= codes(file)
    assert not file["proof"]["ok"]


def test_a_file_that_is_gone_and_one_that_nobody_listed(folder: Path) -> None:
    gone = next(folder.glob("*.plt"))
    gone.rename(folder / "stray.plt")
    found = {Path(file["path"]).name: file for file in again(folder)}
    assert codes(found[gone.name]) == {"file-missing"}
    assert "not-listed" in codes(found["stray.plt"])
    assert found["stray.plt"]["ok"] is None


def test_a_damaged_file_is_told(folder: Path) -> None:
    path = next(folder.glob("*.ngc"))
    path.write_bytes(path.read_bytes()[:-20])
    (file,) = again(path)
    assert {"file-altered", "damaged-file"} <= codes(file)
    assert file["ok"] is False


CATALOG = """
schema = "clothpath/catalog@1"
recipe = "fused"
machines = ["mat-12x12"]
[[design]]
file = "beak.svg"
drawn = "right"
[design.fabric.print]
color = "#d8b848"
preparation = "fused"
paper = "keep"
grain = "directional"
"""
BEAK = """<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">
<path id="beak" fill="#d8b848" d="M10 90 L55.9615 49.6077 L67.9615 70.3923 Z"/></svg>"""
"""An isosceles triangle, its axis at 30 degrees: in a mirror it is the same but for a turn."""


def test_a_piece_that_only_its_grain_makes_chiral_is_read_again(tmp_path: Path) -> None:
    (tmp_path / "beak.svg").write_text(BEAK)
    (tmp_path / "catalog.toml").write_text(CATALOG)
    assert run(["build", str(tmp_path / "catalog.toml"), "--out", str(tmp_path / "cut"), "--quiet"]) == 0
    folder = next((tmp_path / "cut").rglob("job.json")).parent
    job = json.loads((folder / "job.json").read_text())
    assert job["mats"][0]["swatches"][0]["grain"] == "directional"
    (file,) = [each for each in again(folder) if each["proof"]]
    assert file["proof"]["reversed_ok"] is True
    (folder / "job.json").write_text(json.dumps(job).replace('"directional"', '"any"'))
    (file,) = [each for each in again(folder) if each["proof"]]
    assert file["proof"]["reversed_ok"] is None


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A build with its front page and its cloth report on top."""
    place = tmp_path_factory.mktemp("built")
    (place / "beak.svg").write_text(BEAK)
    (place / "catalog.toml").write_text(CATALOG)
    assert run(["build", str(place / "catalog.toml"), "--out", str(place / "cut"), "--quiet"]) == 0
    return place / "cut"


@pytest.fixture
def build(built: Path, tmp_path: Path) -> Path:
    """A copy to do harm to."""
    shutil.copytree(built, tmp_path / "cut")
    return tmp_path / "cut"


def told(build: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    status = run(["proof", str(build)])
    return status, capsys.readouterr().out


def test_a_build_that_nobody_touched_is_told_in_one_line(build: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, said = told(build, capsys)
    count = len(again(build))
    assert (status, said) == (0, f"{count} files are as released\n")


@pytest.mark.parametrize("name", ["index.html", "cloth-report-mat-12x12.html", "cloth-report-mat-12x12.csv"])
def test_a_page_on_top_of_a_build_that_was_altered_is_told(
    build: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    page = build / name
    page.write_bytes(page.read_bytes() + b" ")
    status, said = told(build, capsys)
    assert status == 1
    assert said.splitlines()[0] == f"{page}: NOT AS RELEASED"
    assert said.splitlines()[-1] == f'1 of {len(again(build))} files is NOT as released: "{page}"'
    (alone,) = again(page)
    assert codes(alone) == {"file-altered"}


def test_a_page_on_top_of_a_build_that_is_gone_is_told(build: Path) -> None:
    (build / "index.html").unlink()
    (gone,) = [file for file in again(build) if not file["ok"]]
    assert codes(gone) == {"file-missing"}


def test_a_file_that_no_job_released_is_not_called_altered(build: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (build / "mine.svg").write_text(BEAK)
    (build / "torn.dxf").write_text("0\nSECTION\n")
    _, said = told(build, capsys)
    assert f"{build / 'mine.svg'}: never released by a job" in said
    assert f"{build / 'torn.dxf'}: never released by a job" in said
    assert "NOT" not in said
    assert said.splitlines()[-1] == f"{len(again(build)) - 2} files are as released"


def test_a_file_that_a_person_names_is_told_in_full(build: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cut = next(build.rglob("beak*.svg"))
    assert run(["proof", str(cut)]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"{cut}: as released\n  1 line, together ")
    assert said.splitlines()[-1] == "1 file is as released"


def test_the_index_of_another_program_is_let_be_and_a_damaged_one_told(
    build: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (build / "beak" / "index.json").write_text("[1, 2]")
    assert told(build, capsys)[0] == 0
    (build / "index.json").write_text((build / "index.json").read_text()[:-20])
    assert run(["proof", str(build)]) == 2
    assert "The index of a build is damaged" in capsys.readouterr().err
