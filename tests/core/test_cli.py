"""The commands as a person or a program calls them: documents, exit statuses, and what is left on disk."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import jsonschema
import lxml.html
import pytest
from PIL import Image

from clothpath.cli import run

SAMPLES = Path(str(files("clothpath.samples"))) / "tidepool"
SCHEMAS = Path(str(files("clothpath.shared"))) / "schemas"
CRAB = SAMPLES / "designs" / "crab.svg"
BLANK = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">{}</svg>'


class Call:
    """A call with --json: its status and its document, which must fit its schema."""

    def __init__(self, capsys: pytest.CaptureFixture[str]) -> None:
        self.capsys = capsys

    def __call__(self, *arguments: object) -> tuple[int, dict[str, Any]]:
        status = run([*map(str, arguments), "--json"])
        document: dict[str, Any] = json.loads(self.capsys.readouterr().out)
        kind = document["schema"].removeprefix("clothpath/").removesuffix("@1")
        jsonschema.validate(document, json.loads((SCHEMAS / f"{kind}.json").read_text()))
        return status, document


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    return Call(capsys)


def catalog(folder: Path, *designs: str, machines: str = '["mat-12x12"]', more: str = "") -> Path:
    """A catalog beside copies of the samples, with just these designs."""
    shutil.copytree(SAMPLES, folder / "tidepool")
    text = (folder / "tidepool" / "catalog.toml").read_text(encoding="utf-8")
    head, *tables = text.split("[[design]]")
    kept = [table for table in tables if any(f'designs/{name}"' in table for name in designs)]
    head = head[: head.index("machines")] + f'machines = {machines}\nsizes = "sizes.csv"\n'
    sizes = folder / "tidepool" / "sizes.csv"
    stems = {Path(name).stem for name in designs}
    lines = sizes.read_text().splitlines()
    sizes.write_text("\n".join([lines[0], *(line for line in lines[1:] if line.split(",")[0] in stems)]) + "\n")
    path = folder / "tidepool" / "catalog.toml"
    path.write_text("[[design]]".join([head, *kept]) + more, encoding="utf-8")
    return path


def test_two_fabrics_keep_their_paper_and_two_leave_it_and_just_the_first_two_are_reversed(
    tmp_path: Path, call: Call
) -> None:
    # common practice: paper up on the mat: cut reversed; right side up: not reversed
    status, document = call("build", catalog(tmp_path, "crab.svg"), "--out", tmp_path / "cut")
    assert status == 0
    assert [job["status"] for job in document["jobs"]] == ["ok", "ok"]
    for job in document["jobs"]:
        folder = tmp_path / "cut" / job["folder"]
        made = json.loads((folder / "job.json").read_text())
        jsonschema.validate(made, json.loads((SCHEMAS / "job.json").read_text()))
        laid = {swatch["fabric"]: swatch["laid"] for mat in made["mats"] for swatch in mat["swatches"]}
        assert laid == {
            "brick": "wrong-side-up",
            "coral": "wrong-side-up",
            "sand": "right-side-up",
            "foam": "right-side-up",
        }
        for mat in made["mats"]:
            for swatch in mat["swatches"]:
                assert {piece["reversed"] for piece in swatch["pieces"]} == {swatch["fabric"] in ("brick", "coral")}
        for file in made["files"]:
            assert (tmp_path / "cut" / file["path"]).is_file()
            if file["format"] != "svg":  # pages for people
                continue
            assert file["proof"]["ok"]
            assert file["proof"]["size_error_mm"] <= 0.01  # design.md section 8
            assert (file["proof"]["lost"], file["proof"]["added"]) == (0, 0)
    assert json.loads((tmp_path / "cut" / "index.json").read_text()) == document


def test_a_build_is_the_same_to_the_byte_on_any_number_of_workers(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg", "anchor.dxf", machines='["mat-12x12", "roll-24", "flatbed-knife"]')
    made: list[dict[str, bytes]] = []
    for workers in (1, 2):
        out = tmp_path / f"cut{workers}"
        assert call("build", path, "--out", out, "--jobs", workers)[0] == 0
        made.append({str(file.relative_to(out)): file.read_bytes() for file in out.rglob("*") if file.is_file()})
    cut_files = [name for name in made[0] if name.endswith((".svg", ".plt", ".dxf"))]
    assert len(cut_files) == 2 * 2 * 3
    assert made[0] == made[1]


def test_a_second_build_does_only_what_has_changed(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg", "anchor.dxf")
    out = tmp_path / "cut"

    def stamps() -> dict[str, int]:
        return {
            job.parent.parent.name + job.parent.parent.parent.name: job.stat().st_mtime_ns
            for job in out.rglob("job.json")
        }

    first = call("build", path, "--out", out)
    before = stamps()
    assert call("build", path, "--out", out) == first
    assert stamps() == before
    drawing = path.parent / "designs" / "whale.svg"
    drawing.write_text(drawing.read_text().replace("</svg>", "<!-- touched --></svg>"))
    released = out / "anchor" / "small" / "mat-12x12" / "anchor-small-mat-12x12.svg"
    released.write_text("spoilt")
    assert call("build", path, "--out", out) == first
    assert {name for name, stamp in stamps().items() if stamp != before[name]} == {
        "smallwhale",
        "largewhale",
        "smallanchor",
    }
    assert released.read_text() != "spoilt"
    call("build", path, "--out", out, "--anew")
    assert all(stamp != before[name] for name, stamp in stamps().items())


def test_a_kit_pools_the_fabrics_of_its_designs(tmp_path: Path, call: Call) -> None:
    kit = '\n[[kit]]\nname = "shore"\ntimes = 2\ndesigns = {"whale/small" = 1, "turtle/small" = 2}\n'
    path = catalog(tmp_path, "whale.svg", "turtle.svg", more=kit)
    status, document = call("build", path, "--out", tmp_path / "cut")
    assert status == 0
    job = next(job for job in document["jobs"] if job["design"] == "shore")
    made = json.loads((tmp_path / "cut" / job["folder"] / "job.json").read_text())
    copies: dict[str, int] = {}
    together: dict[str, set[str]] = {}
    for mat in made["mats"]:
        for swatch in mat["swatches"]:
            for piece in swatch["pieces"]:
                if piece["piece"] in ("flipper", "rim"):
                    copies[piece["piece"]] = copies.get(piece["piece"], 0) + mat["times"]
                together.setdefault(swatch["fabric"], set()).add(piece["design"])
    assert copies == {"flipper": 2, "rim": 4}
    # both designs have lagoon teal that keeps its paper and shallow aqua that leaves it
    assert together["lagoon"] == together["aqua"] == {"whale-small", "turtle-small"}


def test_a_cloth_that_two_designs_of_a_kit_lay_differently_is_cut_apart(tmp_path: Path, call: Call) -> None:
    # the whale's cream keeps its paper, the octopus's leaves it
    kit = '\n[[kit]]\nname = "shore"\ndesigns = {"whale/small" = 1, "octopus/small" = 1}\n'
    path = catalog(tmp_path, "whale.svg", "octopus.svg", more=kit)
    assert call("build", path, "--out", tmp_path / "cut")[0] == 0
    made = json.loads((tmp_path / "cut" / "shore" / "times-1" / "mat-12x12" / "job.json").read_text())
    laid = {swatch["fabric"]: swatch["laid"] for mat in made["mats"] for swatch in mat["swatches"]}
    assert (laid["foam"], laid["foam-2"]) == ("wrong-side-up", "right-side-up")
    assert "fabric-split" in [finding["code"] for finding in made["findings"]]


def test_a_kit_pools_a_fabric_by_its_key_whatever_color_each_drawing_gives_it(tmp_path: Path, call: Call) -> None:
    text = 'schema = "clothpath/catalog@1"\nname = "Shore"\nrecipe = "fused"\nmachines = ["mat-12x12"]\n'
    for name, color in (("pebble", "#d8b25a"), ("shell", "#55aa55")):
        shape = f'<rect id="{name}" width="40" height="30" fill="{color}"/>'
        root = 'xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm" viewBox="0 0 50 50"'
        (tmp_path / f"{name}.svg").write_text(f"<svg {root}>{shape}</svg>")
        text += f'[[design]]\nfile = "{name}.svg"\n[design.fabric.sand]\ncolor = "{color}"\npaper = "leave"\n'
    (tmp_path / "shore.toml").write_text(text + '[[kit]]\nname = "shore"\ndesigns = {pebble = 1, shell = 1}\n')
    assert call("build", tmp_path / "shore.toml", "--out", tmp_path / "cut")[0] == 0
    made = json.loads((tmp_path / "cut" / "shore" / "times-1" / "mat-12x12" / "job.json").read_text())
    ((swatch,),) = (mat["swatches"] for mat in made["mats"])
    assert {piece["piece"] for piece in swatch["pieces"]} == {"pebble", "shell"}
    assert "fabric-split" not in {finding["code"] for finding in made["findings"]}


def test_a_written_out_size_beats_the_table_and_the_difference_is_told(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg")
    text = path.read_text().replace("[design.roles]", '[design.size.small]\nwidth = "5 in"\n[design.roles]', 1)
    path.write_text(text)
    call("build", path, "--out", tmp_path / "cut")
    made = json.loads((tmp_path / "cut" / "whale" / "small" / "mat-12x12" / "job.json").read_text())
    told = [finding for finding in made["findings"] if finding["code"] == "size-differs"]
    assert "5 in is taken" in told[0]["message"]


# --- bad input: each a clear error with file, place and remedy


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("missing.svg", None, "no such file"),
        ("empty.svg", b"", "empty file"),
        ("words.svg", b"this is not XML", "no drawing that can be read"),
        ("picture.svg", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "PNG picture"),
        ("cut-off.svg", b'<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0', ""),
        ("open.svg", BLANK.format('<path d="M1 1L9 9" fill="none" stroke="#000"/>').encode(), "closed"),
    ],
)
def test_a_bad_drawing_fails_its_own_job_and_leaves_no_file(
    tmp_path: Path, call: Call, name: str, content: bytes | None, told: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    good = tmp_path / "good.svg"
    good.write_text(BLANK.format('<rect width="30" height="20"/>'))
    out = tmp_path / "cut"
    status, document = call("convert", tmp_path / name, good, "--machine", "mat-12x12", "--out", out)
    assert status == 1
    assert [job["status"] for job in document["jobs"]] == ["failed", "ok"]
    errors = [finding for finding in document["jobs"][0]["findings"] if finding["severity"] == "error"]
    assert told in " ".join(finding["message"] for finding in errors)
    assert Path(name).stem in " ".join(finding["where"] for finding in errors)
    assert [path.name for path in (out / Path(name).stem).rglob("*") if path.is_file()] == ["job.json"]
    assert not list(out.rglob(".clothpath-*"))


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (["--machine", "mat-12x13"], "unknown-machine", "mat-8x12"),
        ([], "no-machine", "mat-12x12"),
        (["--machine", "mat-12x12", "--set", "nest.spacng=1/8 in"], "unknown-key", 'Did you mean "spacing"'),
        (["--machine", "mat-12x12", "--set", "nest.spacing=3"], "wrong-value", "no unit"),
        (["--machine", "mat-12x12", "--set", "spacing"], "wrong-set", "STEP.SETTING=VALUE"),
        (["--machine", "mat-12x12", "--format", "svgg"], "unknown-format", 'Did you mean "svg"'),
        (["--machine", "mat-12x12", "--recipe", "nowhere.toml"], "unknown-recipe", "fused"),
        (["--machine", "mat-12x12", "--set", "read.svgg.gap=1 mm"], "unknown-reader", 'Did you mean "svg"'),
        (["--machine", "mat-12x12", "--set", "read.svg.gip=1 mm"], "unknown-key", 'Did you mean "gap"'),
        (["--machine", "mat-12x12", "--set", "write.svgg.per=fabric"], "unknown-format", 'Did you mean "svg"'),
        (["--machine", "mat-12x12", "--set", "write.svg.unitt=in"], "unknown-key", 'Did you mean "unit"'),
        (["--machine", "mat-12x12", "--copies", "none"], "wrong-call", "--copies"),
        (["--machine", "mat-12x12", "--copies", "0"], "wrong-call", "--copies must be greater than or equal to 1"),
        (["--machines", "mat-12x12"], "wrong-call", "--machine"),
    ],
)
def test_a_wrong_call_is_told_before_any_work_is_done(
    tmp_path: Path, call: Call, arguments: list[str], code: str, told: str
) -> None:
    status, document = call("convert", CRAB, "--out", tmp_path / "cut", *arguments)
    assert (status, document["schema"]) == (2, "clothpath/error@1")
    finding = document["findings"][0]
    assert finding["code"] == code
    assert told in " ".join(finding.values())
    assert not (tmp_path / "cut").exists()


def test_the_reader_takes_what_the_call_says_of_pixels(tmp_path: Path, call: Call) -> None:
    # 72 user units: one inch at 72 to the inch, 3/4 in at CSS's 96 (CSS Values and Units 3, 6.2)
    drawing = tmp_path / "square.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="72" height="72"><path d="M0 0h72v72h-72z"/></svg>'
    )
    assert call("inspect", drawing)[1]["files"][0]["size_mm"] == [19.05, 19.05]
    as_72 = ("--set", "read.svg.pixels-per-inch=72")
    assert call("inspect", drawing, *as_72)[1]["files"][0]["size_mm"] == [25.4, 25.4]
    _, document = call("convert", drawing, "-m", "mat-12x12", "--out", tmp_path / "cut", *as_72)
    assert document["jobs"][0]["files"][0]["size_mm"] == [25.4, 25.4]
    assert call("inspect", drawing, "--set", "nest.spacing=3 mm")[0] == 2


def test_a_recipe_and_a_catalog_may_say_how_drawings_are_read(tmp_path: Path, call: Call) -> None:
    # a limit below what the drawing holds is the setting whose effect is surest
    path = catalog(tmp_path, "whale.svg", more="\n[settings.read.svg]\nmost-points = 2\n")
    status, document = call("build", path, "--out", tmp_path / "cut")
    assert status == 1
    assert all("read.svg.most-points=" in job["errors"][0]["hint"] for job in document["jobs"])


def test_the_call_may_say_how_files_are_written(tmp_path: Path, call: Call) -> None:
    call("convert", CRAB, "-m", "mat-12x12", "--out", tmp_path, "--set", "write.svg.unit=mm")
    assert 'width="304.8mm"' in next(tmp_path.rglob("*.svg")).read_text()


def test_a_missing_drawing_is_told_with_the_place_that_names_it(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg", "crab.svg")
    (path.parent / "designs" / "whale.svg").unlink()
    status, document = call("build", path, "--out", tmp_path / "cut")
    assert status == 1
    assert {job["design"] for job in document["jobs"] if job["status"] == "ok"} == {"crab"}
    failed = [job for job in document["jobs"] if job["status"] == "failed"]
    assert all(f"{path}: whale" in job["errors"][0]["hint"] for job in failed)


def test_the_front_page_leads_to_every_file_and_tells_what_is_left_over(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg", "crab.svg")
    out = tmp_path / "cut & dried"
    call("build", path, "--out", out)
    page = lxml.html.fromstring((out / "index.html").read_bytes())
    linked = {unquote(href) for href in page.xpath("//section//a/@href | //table//a/@href | //img/@src")}
    assert all((out / href).is_file() for href in linked)
    made = {file.relative_to(out).as_posix() for file in out.rglob("*.*") if file.is_file()}
    unlinked = {Path(name).name for name in made - linked}
    assert unlinked == {"index.html", "index.json", "job.json", "picture.png"}
    assert {"whale/small/picture.png", "crab/small/picture.png"} <= linked
    assert "From another build" not in page.text_content()

    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('file = "designs/crab.svg"', 'file = "designs/crab.svg"\nname = "shore-crab"'))
    (path.parent / "sizes.csv").write_text((path.parent / "sizes.csv").read_text().replace("crab,", "shore-crab,"))
    status, document = call("build", path, "--out", out)
    assert status == 0
    (stale,) = [finding for finding in document["findings"] if finding["code"] == "left-over"]
    assert '"crab/small/mat-12x12"' in stale["message"]
    assert (out / "crab" / "small" / "mat-12x12" / "job.json").is_file()
    assert "crab/small/mat-12x12" in lxml.html.fromstring((out / "index.html").read_bytes()).text_content()


def test_the_front_page_says_what_to_look_at_and_tells_one_cause_once(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg", "crab.svg", machines='["mat-12x12", "roll-24"]')
    (path.parent / "designs" / "whale.svg").write_text("<svg")
    call("build", path, "--out", tmp_path / "cut")
    page = lxml.html.fromstring((tmp_path / "cut" / "index.html").read_bytes())
    whale, *others = page.xpath("//h3")
    assert whale.text_content().count("whale") == 4
    assert not others
    rows = {row.text_content() for row in page.xpath("//details")}
    assert any("hard to handle" in row for row in rows)
    (picture,) = page.xpath("//section//img/@src")
    colors = {color for _, color in Image.open(tmp_path / "cut" / unquote(picture)).convert("RGB").getcolors(1 << 20)}
    assert {(0xD9, 0x58, 0x3B), (0xA6, 0x3D, 0x2F)} <= colors  # the crab's shell and legs, as its drawing has them


def test_a_misspelt_drawing_is_told_as_such(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg")
    good = path.read_text(encoding="utf-8")
    path.write_text(good.replace("whale.svg", "whael.svg"), encoding="utf-8")
    status, document = call("build", path, "--out", tmp_path / "cut")
    assert status == 2
    assert ['"designs/whael.svg"' in finding["message"] for finding in document["findings"]] == [True]
    (path.parent / "sizes.csv").write_text("design,size,width,height\n")
    status, document = call("build", path, "--out", tmp_path / "cut")
    assert status == 1
    assert 'Did you mean "whale.svg"?' in document["jobs"][0]["errors"][0]["hint"]


def test_every_mistake_of_a_catalog_is_told_at_once(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg", "crab.svg", machines='["mat-12x12", "mat-12x13"]')
    text = path.read_text(encoding="utf-8").replace(
        "[design.size", "[design.settings.nest]\nspacng = 3\n[design.size", 1
    )
    path.write_text(
        text + '\n[[design]]\nfile = "designs/crab.svg"\nname = "third"\nrecipe = "fuzed"\n', encoding="utf-8"
    )
    status, document = call("build", path, "--out", tmp_path / "cut")
    assert status == 2
    assert {finding["code"] for finding in document["findings"]} == {"unknown-machine", "unknown-recipe", "unknown-key"}


def test_a_folder_stands_for_the_drawings_in_it(tmp_path: Path, call: Call) -> None:
    shutil.copytree(SAMPLES / "designs", tmp_path / "designs")
    (tmp_path / "designs" / "notes.txt").write_text("An <svg> file has a root element of that name.")
    (tmp_path / "designs" / "older").mkdir()
    shutil.copy(CRAB, tmp_path / "designs" / "older")
    files = call("inspect", tmp_path / "designs")[1]["files"]
    assert [Path(file["path"]).name for file in files] == sorted(file.name for file in (SAMPLES / "designs").iterdir())
    (tmp_path / "empty").mkdir()
    status, document = call("convert", tmp_path / "empty", "-m", "mat-12x12", "--out", tmp_path / "cut")
    assert (status, document["findings"][0]["code"]) == (2, "no-drawing")


def test_steps_out_of_stage_order_are_a_wrong_config(tmp_path: Path, call: Call) -> None:
    recipe = tmp_path / "odd.toml"
    recipe.write_text('schema = "clothpath/recipe@1"\n[[step]]\nuse = "nest"\n[[step]]\nuse = "separate"\n')
    status, document = call("convert", CRAB, "-m", "mat-12x12", "--recipe", recipe, "--out", tmp_path / "cut")
    assert (status, document["findings"][0]["code"]) == (2, "stage-order")


def test_a_size_that_contradicts_the_drawing_shows_both(tmp_path: Path, call: Call) -> None:
    sizes = ["--set", "scale-to-spec.width=5 in", "--set", "scale-to-spec.height=7 in"]
    status, document = call("convert", CRAB, "-m", "mat-12x12", "--out", tmp_path / "cut", *sizes)
    assert status == 1
    error = next(f for f in document["jobs"][0]["findings"] if f["severity"] == "error")
    assert "5 in" in error["message"]
    assert "7 in" in error["message"]


def test_what_needs_a_larger_mat_is_not_cut_off_in_silence(tmp_path: Path, call: Call) -> None:
    starfish, size = SAMPLES / "designs" / "starfish.dxf", "scale-to-spec.height=9 1/2 in"
    status, document = call("convert", starfish, "-m", "mat-8x12", "-m", "mat-12x12", "--out", tmp_path, "--set", size)
    assert status == 1
    small, large = document["jobs"]
    assert (small["status"], large["status"]) == ("failed", "ok")
    error = next(f for f in small["findings"] if f["severity"] == "error")
    assert "in" in error["message"]
    assert error["hint"]
    assert small["files"] == []


@pytest.mark.skipif(os.geteuid() == 0 and not Path("/proc").exists(), reason="needs a folder nobody may write")
def test_an_output_folder_that_cannot_be_written_is_told(call: Call) -> None:
    status, document = call("convert", CRAB, "-m", "mat-12x12", "--out", "/proc/clothpath")
    assert (status, document["findings"][0]["code"]) == (2, "unwritable")


def test_a_folder_that_is_no_job_is_not_touched(tmp_path: Path, call: Call) -> None:
    place = tmp_path / "cut" / "crab" / "mat-12x12"
    place.mkdir(parents=True)
    (place / "letter.txt").write_text("mine")
    status, document = call("convert", CRAB, "-m", "mat-12x12", "--out", tmp_path / "cut")
    assert status == 1
    assert document["jobs"][0]["status"] == "failed"
    assert [path.name for path in place.iterdir()] == ["letter.txt"]


def test_what_a_person_puts_beside_the_files_stays(tmp_path: Path, call: Call) -> None:
    place = tmp_path / "cut" / "crab" / "mat-12x12"
    for copies in (1, 2):
        assert call("convert", CRAB, "-m", "mat-12x12", "--out", tmp_path / "cut", "--copies", copies)[0] == 0
        (place / "my note.txt").write_text("sharpen the blade")
    assert call("convert", CRAB, "-m", "mat-12x12", "--out", tmp_path / "cut")[0] == 0
    assert (place / "my note.txt").read_text() == "sharpen the blade"
    assert not list(tmp_path.rglob(".clothpath-*"))


def test_a_failing_job_takes_away_what_an_earlier_one_released(tmp_path: Path, call: Call) -> None:
    drawing = tmp_path / "crab.svg"
    shutil.copy(CRAB, drawing)
    place = tmp_path / "cut" / "crab" / "mat-12x12"
    assert call("convert", drawing, "-m", "mat-12x12", "--out", tmp_path / "cut")[0] == 0
    assert len(list(place.glob("*.svg"))) == 1
    drawing.write_text("")
    assert call("convert", drawing, "-m", "mat-12x12", "--out", tmp_path / "cut")[0] == 1
    assert [path.name for path in place.iterdir()] == ["job.json"]


# --- the other calls


def test_released_files_are_proved_again_and_an_altered_one_is_told(tmp_path: Path, call: Call) -> None:
    call("convert", CRAB, "-m", "mat-12x12", "-m", "roll-24", "-m", "flatbed-knife", "--out", tmp_path)
    status, document = call("proof", tmp_path)
    assert status == 0
    assert {file["ok"] for file in document["files"]} == {True}
    assert {"svg", "hpgl", "dxf", "job-sheet"} <= {file["format"] for file in document["files"]}
    sheet = next(tmp_path.rglob("*job-sheet.html"))
    sheet.write_text(sheet.read_text(encoding="utf-8").replace("side up", "side down"), encoding="utf-8")
    assert call("proof", sheet)[0] == 1
    svg = next(tmp_path.rglob("*.svg"))
    text = (
        svg.read_text(encoding="utf-8")
        .replace('width="12in"', 'width="12.12in"')
        .replace('height="12in"', 'height="12.12in"')
    )
    svg.write_text(text, encoding="utf-8")
    status, document = call("proof", svg)
    assert status == 1
    assert document["files"][0]["ok"] is False
    assert "file-altered" in [finding["code"] for finding in document["files"][0]["findings"]]
    assert document["files"][0]["proof"]["size_error_mm"] > 0.1


def test_a_file_without_a_manifest_is_measured(tmp_path: Path, call: Call) -> None:
    alone = tmp_path / "alone.svg"
    alone.write_text(BLANK.format('<path d="M10 10H40V30H10Z"/>'))
    status, document = call("proof", alone)
    assert status == 0
    assert document["files"][0]["ok"] is None
    assert document["files"][0]["size_mm"] == [30, 20]


def test_inspect_tells_what_is_in_a_drawing(call: Call) -> None:
    status, document = call("inspect", CRAB)
    crab = document["files"][0]
    assert status == 0
    assert crab["reader"] == "svg"
    assert crab["stated_unit"] == "mm"
    claw = next(piece for piece in crab["pieces"] if piece["id"] == "large-claw")
    assert claw["achiral"] is False
    assert sum(fabric["pieces"] for fabric in crab["fabrics"]) == sum(p["role"] == "cut" for p in crab["pieces"])


def test_machines_and_plugins_are_listed(call: Call) -> None:
    machines = call("machines")[1]["machines"]
    # common practice: 12 x 12 and 8 x 12 in mats
    sizes = {machine["name"]: machine["mat_mm"] for machine in machines}
    assert sizes["mat-12x12"] == pytest.approx([304.8, 304.8])
    assert sizes["mat-8x12"] == pytest.approx([203.2, 304.8])
    plugins = call("plugins")[1]
    nest = next(step for step in plugins["steps"] if step["name"] == "nest")
    assert nest["settings"]["properties"]["spacing"]["description"]
    assert plugins["findings"] == []


def test_a_catalog_may_name_a_recipe_that_ships(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg")
    text = path.read_text().replace('recipe = "fused.toml"', 'recipe = "fused"')
    path.write_text(text)
    assert call("build", path, "--out", tmp_path / "cut")[0] == 0
    path.write_text(text.replace('recipe = "fused"', 'recipe = "fusd"'))
    status, document = call("build", path, "--out", tmp_path / "cut")
    assert (status, document["findings"][0]["code"]) == (2, "unknown-recipe")
    assert 'Did you mean "fused"' in document["findings"][0]["hint"]


@pytest.mark.parametrize("content", [None, "1 / 0\n", "import nothing_there\n", "x = 1\n"])
def test_a_plugin_file_that_does_not_load_is_a_wrong_call(tmp_path: Path, call: Call, content: str | None) -> None:
    file = tmp_path / "step.py"
    if content is not None:
        file.write_text(content)
    status, document = call("inspect", CRAB, "--plugin-file", file)
    assert (status, document["schema"]) == (2, "clothpath/error@1")
    assert str(file) in document["findings"][0]["where"]


def test_an_interrupted_build_says_so(tmp_path: Path) -> None:
    path = catalog(tmp_path, "crab.svg", "turtle.svg", "octopus.svg", "pelican.svg", "jellyfish.svg", "seahorse.svg")
    asked = [sys.executable, "-m", "clothpath", "build", str(path), "--out", str(tmp_path / "cut")]
    build = subprocess.Popen(
        asked,
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # which a shell ignores in the background
    )
    while not list((tmp_path / "cut").rglob("job.json")) and build.poll() is None:
        time.sleep(0.01)
    build.send_signal(signal.SIGINT)
    said = build.communicate(timeout=30)[1]
    assert build.returncode == 130
    assert "Interrupted" in said


def test_output_that_nobody_reads_on_is_no_mistake() -> None:
    listed = subprocess.run(
        f"{sys.executable} -m clothpath plugins | head -n 1", shell=True, capture_output=True, text=True
    )
    assert listed.stderr == ""


def test_a_failure_is_told_even_when_quiet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["convert", str(tmp_path / "none.svg"), "-m", "mat-12x12", "--out", str(tmp_path), "--quiet"]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert "no such file" in said.err


def test_words_go_to_standard_output_and_complaints_to_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["machines"]) == 0
    assert "mat-12x12" in capsys.readouterr().out
    assert run(["frobnicate"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "frobnicate" in said.err
    assert run(["machines", "--quiet"]) == 0
    assert capsys.readouterr().out == ""


def test_the_version_is_told_without_loading_anything() -> None:
    watched = (
        "import sys; sys.argv[1:] = ['--version']; from clothpath.__main__ import main; main(); print(len(sys.modules))"
    )
    bare = subprocess.run([sys.executable, "-c", "import sys; print(len(sys.modules))"], capture_output=True, text=True)
    told = subprocess.run([sys.executable, "-c", watched], capture_output=True, text=True)
    version, modules = told.stdout.split("\n")[:2]
    assert version.startswith("clothpath ")
    assert int(modules) - int(bare.stdout) <= 5


def test_a_doubt_about_the_unit_is_a_warning_only_where_no_size_is_stated(tmp_path: Path, call: Call) -> None:
    octopus = SAMPLES / "designs" / "octopus.svg"
    severities = []
    for sizes in ([], ["--set", "scale-to-spec.width=6 in"]):
        document = call("convert", octopus, "-m", "mat-12x12", "--out", tmp_path, *sizes)[1]
        severities += [f["severity"] for f in document["jobs"][0]["findings"] if f["code"] == "unit-assumed"]
    assert severities == ["warning", "note"]


def test_what_a_timed_search_finds_is_kept_beside_the_catalog(tmp_path: Path, call: Call) -> None:
    path = catalog(tmp_path, "whale.svg")
    sizes = path.parent / "sizes.csv"
    sizes.write_text("".join(line for line in sizes.read_text().splitlines(True) if ",large," not in line))
    asked = ["--set", "nest.effort=better", "--set", "nest.seconds=0.5"]
    made = []
    for out in ("one", "two"):
        assert call("build", path, "--out", tmp_path / out, *asked)[0] == 0
        made.append((tmp_path / out / "whale" / "small" / "mat-12x12" / "whale-small-mat-12x12.svg").read_bytes())
    assert made[0] == made[1]
    kept = json.loads((path.parent / "catalog.layouts.json").read_text())
    assert [entry["title"] for entry in kept["layouts"]] == ["whale-small-mat-12x12"]
