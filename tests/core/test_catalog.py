"""Catalogs: as many mistakes as there are told in one round, and tables of sizes as spreadsheets write them."""

from __future__ import annotations

from pathlib import Path

import pytest

from clothpath.catalog import jobs_of
from clothpath.findings import Finding, Refusal
from clothpath.recipe import NO_SETTINGS

SHELL = """<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="40mm" viewBox="0 0 80 40">
<path id="shell" fill="#c8553d" d="M0 0H80L40 40z"/></svg>"""
CATALOG = """schema = "clothpath/catalog@1"
machines = ["mat-12x12"]
sizes = "sizes.csv"
[[design]]
file = "shell.svg"
drawn = "right"
[design.fabric.coral]
color = "#c8553d"
paper = "keep"
[design.size.large]
width = "8 in"
[design.settings.nest]
spacing = "1/8 in"
[[stock]]
fabric = "coral"
common = "fat-quarter"
"""
SIZES = "design,size,width,height\nshell,small,4 in,\nshell,medium,6 in,3 in\n"


def catalog(folder: Path, text: str = CATALOG, sizes: str | bytes = SIZES) -> Path:
    (folder / "shell.svg").write_text(SHELL, encoding="utf-8")
    (folder / "sizes.csv").write_bytes(sizes if isinstance(sizes, bytes) else sizes.encode())
    (folder / "catalog.toml").write_text(text, encoding="utf-8")
    return folder / "catalog.toml"


def mistakes(path: Path) -> dict[str, Finding]:
    """What is wrong, by place without the folder."""
    with pytest.raises(Refusal) as caught:
        jobs_of(path, (), NO_SETTINGS, ())
    return {finding.by_name().where: finding for finding in caught.value.findings}


def test_mistakes_of_every_section_are_told_in_one_round(tmp_path: Path) -> None:
    wrong = (
        CATALOG.replace('["mat-12x12"]', '["mat-12x13", "mat-12x12"]')
        .replace('paper = "keep"', 'papr = "keep"')
        .replace('"8 in"', '"8"')
        .replace("spacing", "spacng")
        .replace('fabric = "coral"\ncommon', 'fabric = "corral"\ncommon')
        + '[[stock]]\nfabric = "coral"\ncommon = "fat-quart"\n[[kit]]\nname = "reef"\ndesigns = "shell"\n'
    )
    lines = (
        "design,size,width,height\nshell,small,4,\nshell,small,4 in,\nshell,small,5 in,\n,x,3 in,\nshel,small,4 in,\n"
    )
    found = mistakes(catalog(tmp_path, wrong, lines))
    assert {where: finding.code for where, finding in found.items()} == {
        "catalog.toml: machines": "unknown-machine",
        "catalog.toml: shell: fabric.coral.papr": "unknown-key",
        "catalog.toml: design[1].size.large.width": "wrong-value",
        "catalog.toml: shell: settings: spacng": "unknown-key",
        "catalog.toml: stock": "unknown-fabric",
        "catalog.toml: stock[2]": "wrong-value",
        "catalog.toml: kit[1].designs": "wrong-value",
        "sizes.csv": "unknown-design",
        "sizes.csv: line 2: width": "wrong-value",
        "sizes.csv: line 4": "size-twice",
        "sizes.csv: line 5": "wrong-line",
    }


def test_a_machine_that_is_not_there_hides_no_other_mistake(tmp_path: Path) -> None:
    wrong = CATALOG.replace('["mat-12x12"]', '["mat-12x13"]').replace("spacing", "spacng")
    assert set(mistakes(catalog(tmp_path, wrong))) == {
        "catalog.toml: machines",
        "catalog.toml: shell: settings: spacng",
    }


def test_a_design_that_cannot_be_read_makes_no_further_mistakes(tmp_path: Path) -> None:
    found = mistakes(catalog(tmp_path, CATALOG.replace('file = "shell.svg"\n', "")))
    assert {where: finding.code for where, finding in found.items()} == {"catalog.toml: design[1].file": "missing-key"}


def test_a_table_with_semicolons_is_taken(tmp_path: Path) -> None:
    jobs = jobs_of(
        catalog(tmp_path, sizes="\ufeff" + SIZES.replace(",", ";").replace("\n", "\r\n")), (), NO_SETTINGS, ()
    )
    assert [job.size for job in jobs] == ["small", "medium", "large"]


@pytest.mark.parametrize(
    ("sizes", "code", "told"),
    [
        ("design;size;width\n", "wrong-columns", "The first line is design;size;width; it must be design,size,width"),
        ("design,size,width,height\nmüschel,small,4 in,\n".encode("cp1252"), "unreadable", "in UTF-8"),
    ],
)
def test_another_table_is_told(tmp_path: Path, sizes: str | bytes, code: str, told: str) -> None:
    (found,) = mistakes(catalog(tmp_path, sizes=sizes)).values()
    assert found.code == code
    assert told in f"{found.message} {found.hint}"
