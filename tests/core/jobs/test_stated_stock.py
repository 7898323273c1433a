"""`clothpath convert --stock`: what a person says there is, is what the rectangles are cut from."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest

from clothpath.cli import run
from clothpath.findings import Refusal
from clothpath.jobs.oneoff import stock_from_arguments

DESIGNS = Path(str(files("clothpath.samples"))) / "tidepool" / "designs"
CALL = ("convert", "--machine", "mat-12x12", "--set", 'scale-to-spec.height="4 in"', "--json", "--format", "svg")


def converted(
    capsys: pytest.CaptureFixture[str], out: Path, drawings: list[str], *stock: str
) -> tuple[int, list[dict[str, list[dict[str, str]]]]]:
    told = [part for each in stock for part in ("--stock", each)]
    status = run([*CALL, *(str(DESIGNS / name) for name in drawings), "--out", str(out), *told])
    return status, json.loads(capsys.readouterr().out)["jobs"]


def test_rectangles_keep_within_the_cloth_that_is_stated(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The crab's shell goes on a 9 x 3 1/4 in scrap, lengthwise, and on no scrap of 2 x 2 in."""
    status, (job,) = converted(capsys, tmp_path, ["crab.svg"], "Shell=9 x 3 1/4 in, 2 of 5 in square")
    assert (status, job["status"]) == (0, "ok")
    shell = [swatch for mat in job["mats"] for swatch in mat["swatches"] if swatch["fabric"] == "shell"]  # type: ignore[index]
    assert shell
    assert all(sorted((s["width_mm"], s["height_mm"])) <= [4.75 * 25.4 + 0.01, 9 * 25.4 + 0.01] for s in shell)
    status, (job,) = converted(capsys, tmp_path, ["crab.svg"], "shell=2 x 2 in")
    assert (status, job["status"]) == (1, "failed")
    assert "piece-larger-than-stock" in {finding["code"] for finding in job["findings"]}


def test_a_fabric_that_the_drawing_has_not_stops_the_one_drawing_and_warns_for_several(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    status, (job,) = converted(capsys, tmp_path, ["crab.svg"], "shel-pink=fat quarter")
    assert (status, job["status"]) == (1, "failed")
    told = [(f["severity"], f["where"]) for f in job["findings"] if f["code"] == "unknown-fabric"]
    assert told == [("error", "--stock")]
    status, jobs = converted(capsys, tmp_path, ["crab.svg", "fish.svg"], "shell=fat quarter")
    assert status == 0
    warned = [
        any(f["code"] == "unknown-fabric" and f["severity"] == "warning" for f in job["findings"]) for job in jobs
    ]
    assert warned == [False, True]


def test_a_file_says_the_same_as_a_catalog(tmp_path: Path) -> None:
    file = tmp_path / "stock.toml"
    file.write_text('schema = "clothpath/stock@1"\n[[stock]]\nfabric = "shell"\ncommon = "fat-quarter"\ncount = 2\n')
    assert stock_from_arguments([str(file)]) == stock_from_arguments(["shell=2 fat quarters"])


@pytest.mark.parametrize("wrong", ["fat quarter", "=fat quarter", "shell=", "shell=a rag", "there-is-none.toml"])
def test_what_says_no_cloth_is_refused(wrong: str) -> None:
    with pytest.raises(Refusal) as caught:
        stock_from_arguments([wrong])
    assert all(finding.message for finding in caught.value.findings)
