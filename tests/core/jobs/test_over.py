"""The layering order that the catalog states for pairs of pieces, from the catalog to the files."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from clothpath.catalog import jobs_of
from clothpath.findings import Refusal
from clothpath.jobs.job import Result, run
from clothpath.recipe import NO_SETTINGS

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="40mm" viewBox="0 0 80 40">
<path id="tower" fill="#c8553d" d="M0 0H40V40H0z"/>
<path id="window" fill="#2d6a8a" d="M40 0H80V40H40z"/></svg>"""
MACHINE = """schema = "clothpath/machine@1"
name = "board"
[mat]
width = "12 in"
height = "12 in"
[[write]]
format = "json"
[[write]]
format = "placement-guide"
"""


def built(folder: Path, over: str, steps: tuple[str, ...] = ("underlap",)) -> Result:
    """The one job of a catalog with these pairs and design steps."""
    (folder / "lighthouse.svg").write_text(DRAWING, encoding="utf-8")
    (folder / "board.toml").write_text(MACHINE, encoding="utf-8")
    used = "".join(f'[[step]]\nuse = "{step}"\n' for step in ("separate", *steps, "mirror", "nest", "cut-order"))
    (folder / "sewn.toml").write_text(f'schema = "clothpath/recipe@1"\n{used}', encoding="utf-8")
    paper = "" if "turn-under" in steps else 'paper = "keep"\n'  # cloth whose edges are turned is bare
    (folder / "catalog.toml").write_text(
        'schema = "clothpath/catalog@1"\nrecipe = "sewn.toml"\nmachines = ["board.toml"]\n'
        f'[[design]]\nfile = "lighthouse.svg"\nover = {over}\n'
        f'[design.fabric.brick]\ncolor = "#c8553d"\n{paper}'
        f'[design.fabric.sea]\ncolor = "#2d6a8a"\n{paper}',
        encoding="utf-8",
    )
    (job,) = jobs_of(folder / "catalog.toml", (), NO_SETTINGS, ())
    return run(job)


def heights(result: Result) -> dict[str, tuple[int, float]]:
    """Each piece's place in the layering order, and its width in mm as it is cut."""
    assert result.plan is not None
    (demand,) = result.plan.layout.demands
    return {piece.id: (piece.order, round(piece.region.box.width, 2)) for piece in demand.design.pieces}


def test_the_drawing_decides_where_the_catalog_says_nothing(tmp_path: Path) -> None:
    assert heights(built(tmp_path, "[]")) == {"tower": (1, 44.76), "window": (2, 40.0)}


def test_a_pair_of_the_catalog_overrules_the_drawing_down_to_the_files(tmp_path: Path) -> None:
    result = built(tmp_path, '[["tower", "window"]]')
    assert result.status == "ok"
    assert heights(result) == {"window": (1, 44.76), "tower": (2, 40.0)}
    model = json.loads(next(file.data for file in result.files if file.format == "json"))
    assert [piece["id"] for piece in model["layout"]["demands"][0]["design"]["pieces"]] == ["window", "tower"]


@pytest.mark.parametrize("steps", [("less-bulk",), ("less-bulk", "turn-under")])
def test_less_bulk_obeys_it_too(tmp_path: Path, steps: tuple[str, ...]) -> None:
    result = built(tmp_path, '[["tower", "window"]]', steps)
    assert {piece: order for piece, (order, _) in heights(result).items()} == {"window": 1, "tower": 2}


@pytest.mark.parametrize(
    ("over", "code", "told"),
    [
        ('[["tower", "window"], ["window", "tower"]]', "order-contradicts", '"tower" over "window" over "tower"'),
        ('[["tower", "tower"]]', "order-contradicts", "over itself"),
        ('[["towr", "window"]]', "piece-unknown", 'Did you mean "tower"?'),
    ],
)
def test_pairs_that_cannot_be_followed_fail_the_job_and_say_where(
    tmp_path: Path, over: str, code: str, told: str
) -> None:
    result = built(tmp_path, over)
    assert result.status == "failed"
    assert not result.files
    (finding,) = [finding for finding in result.findings if finding.severity == "error"]
    assert finding.code == code
    assert told in f"{finding.message} {finding.hint}"
    assert "lighthouse" in finding.where


def test_what_no_step_asks_for_is_told(tmp_path: Path) -> None:
    result = built(tmp_path, '[["tower", "window"]]', ())
    (finding,) = [finding for finding in result.findings if finding.code == "catalog-unheard"]
    assert "`over`" in finding.message
    assert "sewn.toml" in finding.hint
    assert "catalog-unheard" not in {finding.code for finding in built(tmp_path, "[]", ()).findings}


def test_a_pair_is_two_ids(tmp_path: Path) -> None:
    with pytest.raises(Refusal) as refusal:
        built(tmp_path, '[["tower"]]')
    assert "over" in refusal.value.findings[0].where
