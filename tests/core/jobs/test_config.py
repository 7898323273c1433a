"""Config files: every mistake is told with its file, its key and its remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from clothpath.findings import Finding, Refusal
from clothpath.jobs.config import CatalogFile, MachineFile, RecipeFile, StockFile, load_config

MACHINE = """
schema = "clothpath/machine@1"
name = "small"
[mat]
width = "8 in"
height = "12 in"
margin = "1/4 in"
margin-top = "1 in"
[[write]]
format = "svg"
unit = "in"
"""


def refused(path: Path, text: str, model: type = MachineFile) -> Finding:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Refusal) as caught:
        load_config(path, model)
    return caught.value.findings[0]


def test_a_machine_profile_is_a_mat_with_margins(tmp_path: Path) -> None:
    file = tmp_path / "small.toml"
    file.write_text(MACHINE)
    mat = load_config(file, MachineFile).mat.mat("small")
    usable = mat.usable
    assert (mat.width, mat.height) == (203.2, 304.8)
    assert (usable.left, usable.bottom, usable.right) == pytest.approx((6.35, 6.35, 203.2 - 6.35))
    assert usable.top == pytest.approx(304.8 - 25.4)


@pytest.mark.parametrize(
    ("before", "after", "code", "where", "told"),
    [
        ('margin = "1/4 in"', 'margn = "1/4 in"', "unknown-key", "mat.margn", 'Did you mean "margin"'),
        ('margin = "1/4 in"', "margin = 3", "wrong-value", "mat.margin", "no unit"),
        ('margin = "1/4 in"', 'margin = "3"', "wrong-value", "mat.margin", "no unit"),
        ('margin = "1/4 in"', 'margin = "3 px"', "wrong-value", "mat.margin", "no fixed size"),
        ('name = "small"', "", "missing-key", "name", "missing"),
        ("machine@1", "machine@9", "wrong-value", "schema", "clothpath/machine@1"),
        ('format = "svg"', "", "missing-key", "write[1].format", "missing"),
        ('format = "svg"', 'format = "svg"\nper = "fabrics"', "wrong-value", "write[1].per", 'Did you mean "fabric"'),
        ('width = "8 in"', "width = ", "not-toml", "", "line 5"),
    ],
)
def test_a_mistake_names_file_key_and_remedy(
    tmp_path: Path, before: str, after: str, code: str, where: str, told: str
) -> None:
    file = tmp_path / "small.toml"
    finding = refused(file, MACHINE.replace(before, after))
    assert finding.code == code
    assert finding.severity == "error"
    assert str(file) in finding.where
    assert where in finding.where
    assert told in f"{finding.message} {finding.hint}"


def test_every_mistake_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    file = tmp_path / "small.toml"
    file.write_text(MACHINE.replace('margin = "1/4 in"', "margin = 3").replace('name = "small"', "nam = 1"))
    with pytest.raises(Refusal) as caught:
        load_config(file, MachineFile)
    assert sorted(finding.code for finding in caught.value.findings) == ["missing-key", "unknown-key", "wrong-value"]


@pytest.mark.parametrize("model", [MachineFile, RecipeFile, CatalogFile])
def test_a_missing_an_empty_and_a_binary_file_are_told(tmp_path: Path, model: type) -> None:
    with pytest.raises(Refusal) as caught:
        load_config(tmp_path / "nowhere.toml", model)
    assert caught.value.findings[0].code == "no-such-file"
    assert refused(tmp_path / "empty.toml", "", model).code == "missing-key"
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00\x80")
    with pytest.raises(Refusal) as caught:
        load_config(binary, model)
    assert caught.value.findings[0].code == "unreadable"


SCRAP = 'schema = "clothpath/stock@1"\n[[stock]]\nfabric = "red"\noutline = {}\n'
OUTLINE_EXAMPLE = 'For example: outline = [["0 in", "0 in"], ["5 in", "0 in"], ["0 in", "5 in"]]'


@pytest.mark.parametrize(
    "outline",
    [
        '["0 in, 0 in", "5 in, 0 in", "0 in, 5 in"]',
        '[["0 in", "0 in"], ["5 in"], ["0 in", "5 in"]]',
        '[["0 in", "0 in"], ["5 in", "0 in"]]',
        '"0 in, 0 in"',
    ],
)
def test_a_value_of_several_parts_is_told_once_in_plain_words_with_an_example_that_works(
    tmp_path: Path, outline: str
) -> None:
    file = tmp_path / "scraps.toml"
    file.write_text(SCRAP.format(outline), encoding="utf-8")
    with pytest.raises(Refusal) as caught:
        load_config(file, StockFile)
    (found,) = caught.value.findings
    assert found.where == f"{file}: stock[1].outline"
    assert "seen from the right side" in found.message
    assert found.hint == OUTLINE_EXAMPLE
    file.write_text(SCRAP.format(OUTLINE_EXAMPLE.partition(" = ")[2]), encoding="utf-8")
    assert load_config(file, StockFile).stock[0].stock("red").height == pytest.approx(127.0)


def test_a_corner_without_a_unit_is_told_as_that_alone(tmp_path: Path) -> None:
    file = tmp_path / "scraps.toml"
    file.write_text(SCRAP.format('[["0 in", "0 in"], ["5 in", "0 in"], ["0 in", 5]]'), encoding="utf-8")
    with pytest.raises(Refusal) as caught:
        load_config(file, StockFile)
    (found,) = caught.value.findings
    assert found.message == '5 has no unit; write "5 in" or "5 mm".'


@pytest.mark.parametrize(
    ("key", "said", "told"),
    [
        ("machines", '"mat-12x12"', 'It must be a list in brackets, not "mat-12x12". Write ["mat-12x12"].'),
        ("name", "7", "It must be a text in quotes, not 7."),
        ("settings", "[1, true]", "It must be a table with keys of its own, not [1, true]."),
    ],
)
def test_what_a_value_must_be_is_said_in_plain_words(tmp_path: Path, key: str, said: str, told: str) -> None:
    lines = {"schema": '"clothpath/catalog@1"', "machines": '["mat-12x12"]', "design": '[{file = "a.svg"}]'}
    text = "\n".join(f"{name} = {value}" for name, value in (lines | {key: said}).items())
    found = refused(tmp_path / "catalog.toml", text, CatalogFile)
    assert f"{found.message} {found.hint}".strip() == told
