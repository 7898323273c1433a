"""What a person found on a machine: read from its profile, carried to the files that can say it, and printed."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest

from clothpath.cli import run
from clothpath.cutting.tried import Speeds, Tried, settled
from clothpath.design import Fabric
from clothpath.findings import Finding, Refusal
from clothpath.jobs.listing import machines_document
from clothpath.jobs.machines import machine
from clothpath.proving.remeasure import remeasured
from clothpath.registry import installed

SAMPLES = Path(str(files("clothpath.samples"))) / "tidepool"
SCHEMAS = Path(str(files("clothpath.shared"))) / "schemas"
TABLES = """
[speed]
cutting = "80 mm/s"
moving = "6 in/s"
lift = 0.2

[[tried]]
cloth = "cotton with web"
preparation = "fused"
depth = "0.4 mm"
force = 80
speed = "50 mm/s"
passes = 2
remark = "A new blade."
"""
MACHINE = f"""
schema = "clothpath/machine@1"
name = "shore-table"
[mat]
width = "600 mm"
height = "600 mm"
[[write]]
format = "hpgl"
[[write]]
format = "gcode"
[[write]]
format = "svg"
[[write]]
format = "job-sheet"
{TABLES}
"""
MORE = """
[[tried]]
cloth = "a loose weave"
fabric = ["legs", "shell"]
passes = 1
speed = 3
"""


def profile(folder: Path, text: str) -> Path:
    file = folder / "shore-table.toml"
    file.write_text(text, encoding="utf-8")
    return file


def refused(folder: Path, text: str) -> Finding:
    with pytest.raises(Refusal) as caught:
        machine(str(profile(folder, text)))
    return caught.value.findings[0]


def test_a_profile_states_speeds_and_what_was_tried(tmp_path: Path) -> None:
    read = machine(str(profile(tmp_path, MACHINE)))
    assert read.speeds == Speeds(80.0, pytest.approx(152.4), 0.2)
    (found,) = read.tried
    assert (found.cloth, found.preparation, found.remark) == ("cotton with web", "fused", "A new blade.")
    assert found.said == "depth 0.4 mm, force 80, speed 50 mm/s, 2 passes"


def test_the_profiles_that_ship_make_nothing_up() -> None:
    for name in ("mat-12x12", "roll-24", "flatbed-knife"):
        assert (machine(name).speeds, machine(name).tried) == (Speeds(), ())
    document = machines_document()
    jsonschema.validate(document, json.loads((SCHEMAS / "machines.json").read_text()))
    assert {str(each["speed"]) for each in document["machines"]} == {
        "{'cutting_mm_s': None, 'moving_mm_s': None, 'lift_s': None}"
    }
    assert all(each["tried"] == [] for each in document["machines"])


@pytest.mark.parametrize(
    ("before", "after", "code", "where", "told"),
    [
        ('cutting = "80 mm/s"', 'cuting = "80 mm/s"', "unknown-key", "speed.cuting", 'Did you mean "cutting"'),
        ('cutting = "80 mm/s"', "cutting = 80", "wrong-value", "speed.cutting", '"80 mm/s"'),
        ('cutting = "80 mm/s"', 'cutting = "80 mm"', "wrong-value", "speed.cutting", '"80 mm/s"'),
        ("lift = 0.2", "lift = -1", "wrong-value", "speed.lift", "at least 0"),
        ('cloth = "cotton with web"', "", "missing-key", "tried[1].cloth", "missing"),
        ('remark = "', 'remarks = "', "unknown-key", "tried[1].remarks", 'Did you mean "remark"'),
        ('"fused"', '"fussed"', "wrong-value", "tried[1].preparation", 'Did you mean "fused"'),
        ('preparation = "fused"', "", "wrong-value", "tried[1]", "which fabrics this is for"),
        ('depth = "0.4 mm"', 'depth = "4"', "wrong-value", "tried[1].depth", "no unit"),
        ('depth = "0.4 mm"', 'depth = "-4 mm"', "wrong-value", "tried[1].depth", "above the cloth"),
        ("force = 80", 'force = "80"', "wrong-value", "tried[1].force", "number that a machine shows"),
        ("force = 80", 'force = "180 g"', "wrong-value", "tried[1].force", "write the number only, force = 180"),
        ("force = 80", "force = true", "wrong-value", "tried[1].force", "number that a machine shows"),
        ('speed = "50 mm/s"', 'speed = "fast"', "wrong-value", "tried[1].speed", '"80 mm/s"'),
        ("passes = 2", "passes = 0", "wrong-value", "tried[1].passes", "at least 1"),
        ("[[tried]]", "[[tired]]", "unknown-key", "tired", 'Did you mean "tried"'),
    ],
)
def test_a_mistake_names_key_and_remedy(
    tmp_path: Path, before: str, after: str, code: str, where: str, told: str
) -> None:
    finding = refused(tmp_path, MACHINE.replace(before, after, 1))
    assert finding.code == code
    assert finding.where.endswith(where)
    assert told in f"{finding.message} {finding.hint}"


def test_two_tables_for_the_same_fabrics_are_an_error(tmp_path: Path) -> None:
    again = '[[tried]]\ncloth = "felt"\npreparation = "fused"\n'
    finding = refused(tmp_path, MACHINE + again)
    assert (finding.code, finding.where.rpartition(": ")[2]) == ("tried-twice", "tried[2]")
    assert "fused fabrics" in finding.message


def test_the_name_of_a_fabric_counts_more_than_its_preparation() -> None:
    sand, coral, foam = Fabric("sand", ""), Fabric("coral", ""), Fabric("foam", "", preparation="bare")
    fused = Tried("cotton", "fused")
    named = Tried("batik", fabrics=("coral", "foam"))
    both = Tried("linen", "fused", ("foam",))
    assert settled([named, fused, both], [sand, coral, foam]) == (("sand", fused), ("coral", named), ("foam", named))


def test_a_job_carries_what_was_found_and_is_proved(tmp_path: Path) -> None:
    file = profile(tmp_path, MACHINE + MORE)
    call = ["convert", SAMPLES / "designs" / "crab.svg", "-m", file, "--out", tmp_path]
    assert run([*map(str, call), "--quiet"]) == 0
    folder = tmp_path / "crab" / "shore-table"
    job = json.loads((folder / "job.json").read_text())
    jsonschema.validate(job, json.loads((SCHEMAS / "job.json").read_text()))
    passes = {entry["format"]: entry["passes"] for entry in job["files"] if entry["proof"]}
    fabrics = list(passes["hpgl"])
    loose = [key for key in fabrics if key in ("legs", "shell")]
    assert len(loose) == 2
    for form in ("hpgl", "gcode"):
        assert passes[form] == {key: 1 if key in loose else 2 for key in fabrics}
    assert set(passes["svg"].values()) == {1}
    plotted = next(folder.glob("*.plt")).read_text()
    assert {"VS5;", "FS80;"} <= set(plotted.split())
    milled = next(folder.glob("*.ngc")).read_text()
    assert "G1 Z-0.4 F3000" in milled
    assert "(Found for a loose weave: speed 3, 1 pass." in milled
    page = re.sub(r"<[^>]+>", " ", next(folder.glob("*job-sheet.html")).read_text())
    assert re.search(r"as cotton with web: depth 0.4 mm, force 80, speed 50 mm/s, 2 passes. A new blade.", page)
    told, _, _ = page.partition("Before you start the machine")
    assert "which a file of the format svg cannot tell the machine." in told
    assert "Set 2 passes at the machine." in told
    assert all(each["ok"] for each in remeasured([folder], installed())["files"])


def test_the_time_follows_from_the_speeds_alone(tmp_path: Path) -> None:
    size = 'width="100mm" height="100mm"'
    drawing = f'<svg xmlns="http://www.w3.org/2000/svg" {size}><rect {size}/></svg>'
    (tmp_path / "block.svg").write_text(drawing)
    stated = MACHINE.replace(
        TABLES, '[speed]\ncutting = "4 mm/s"\n[[tried]]\ncloth = "x"\npreparation = "fused"\npasses = 3\n'
    )
    call = ["convert", tmp_path / "block.svg", "-m", profile(tmp_path, stated), "--out", tmp_path]
    assert run([*map(str, call), "--quiet"]) == 0
    page = re.sub(r"<[^>]+>", " ", next(tmp_path.rglob("*job-sheet.html")).read_text())
    # three times round a square of 100 mm at 4 mm/s: 300 s
    assert re.search(r"Time\s+5 min", page)


def test_changed_settings_make_a_job_anew(tmp_path: Path) -> None:
    file = profile(tmp_path, MACHINE)
    call = ["convert", SAMPLES / "designs" / "whale.svg", "-m", file, "--out", tmp_path, "--quiet"]
    assert run([*map(str, call)]) == 0
    profile(tmp_path, MACHINE.replace("force = 80", "force = 90"))
    assert run([*map(str, call)]) == 0
    assert "FS90;" in next(tmp_path.rglob("*.plt")).read_text()


def test_a_test_cut_is_made_with_what_was_found_for_its_cloth(tmp_path: Path) -> None:
    """Its pen has force and speed of its own in the plotter file, its outlines come twice, and the sheet names it."""
    recipe = tmp_path / "tried-first.toml"
    steps = ["separate", "mirror", "nest", "test-cut", "cut-order"]
    recipe.write_text('schema = "clothpath/recipe@1"\n' + "".join(f'[[step]]\nuse = "{step}"\n' for step in steps))
    drawing = SAMPLES / "designs" / "whale.svg"
    call = ["convert", drawing, "-m", profile(tmp_path, MACHINE), "--recipe", recipe, "--out", tmp_path, "--quiet"]
    assert run([*map(str, call)]) == 0
    plotted = next(tmp_path.rglob("*.plt")).read_text()
    before, first = plotted.split("SP1;")[:2]
    assert {"VS5;", "FS80;"} <= set(before.split())
    strokes = [line for line in first.partition("SP2;")[0].split("\n") if line.startswith("PU") and "PD" in line]
    assert len(strokes) == 4
    assert strokes[0] == strokes[1] != strokes[2] == strokes[3]
    milled = next(tmp_path.rglob("*.ngc")).read_text()
    assert re.search(r"\(Fabric: Test cut on .*\)\n\(Found for cotton with web: depth 0.4 mm, force 80", milled)
    page = re.sub(r"<[^>]+>", " ", next(tmp_path.rglob("*job-sheet.html")).read_text())
    assert re.search(r"Test cut on [^:]+, as cotton with web: depth 0.4 mm, force 80", page)
    assert all(each["ok"] for each in remeasured([next(tmp_path.rglob("job.json")).parent], installed())["files"])
