"""What the calls say at a terminal."""

from __future__ import annotations

from pathlib import Path

import pytest

from clothpath.cli import run

SQUARE = '<path{} fill="{}" d="M{} 0h20v30l-20-10z"/>'


def drawing(file: Path, *shapes: str) -> str:
    """A drawing of these shapes; its path as a call has it."""
    picture = '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="40mm" viewBox="0 0 200 40">{}</svg>'
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(picture.format("".join(shapes)), encoding="utf-8")
    return str(file)


def square(at: int, name: str = "", color: str = "#c8553d") -> str:
    return SQUARE.format(f' id="{name}"' if name else "", color, at)


def test_inspect_calls_a_piece_by_one_name_everywhere(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shapes = [square(0, "bow"), square(30, "bow"), square(60)]
    assert run(["inspect", drawing(tmp_path / "bows.svg", *shapes)]) == 0
    said = capsys.readouterr().out
    assert [line.strip().partition(":")[0] for line in said.splitlines() if line.startswith("    ")] == [
        "bow",
        "bow (bow-2)",
        "piece-3",
    ]
    assert 'Of one shape: "bow", "bow (bow-2)" and "piece-3".' in said


def test_a_folder_is_told_of_to_its_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Drawings of folders in it are left out aloud, a job's own files are none; then how many are done, which not."""
    designs, out = tmp_path / "designs", str(tmp_path / "designs" / "cut")
    drawing(designs / "a.svg", square(0))
    drawing(designs / "b.svg", '<path fill="none" stroke="#000" d="M0 0L9 9"/>')
    drawing(designs / "older" / "deep" / "c.svg", square(0))
    (designs / "older" / "gone.svg").symlink_to(designs / "nowhere.svg")
    for _ in range(2):
        assert run(["convert", str(designs), "-m", "mat-12x12", "--out", out]) == 1
    said = capsys.readouterr().out.splitlines()
    assert f'1 of 2 jobs done, in {out}. FAILED: "b for mat-12x12"' == said[-1]
    told = f'Look: Drawings in folders inside this folder were left out: "{designs / "older" / "deep"}". [{designs}]'
    assert told in said
    assert run(["convert", str(designs / "a.svg"), "-m", "mat-12x12", "--out", out]) == 0
    assert "1 of 1" not in capsys.readouterr().out


def test_a_folder_that_holds_only_folders_says_where_its_drawings_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawing(tmp_path / "designs" / "older" / "c.svg", square(0))
    assert run(["inspect", str(tmp_path / "designs")]) == 2
    assert f'There are some in "{tmp_path / "designs" / "older"}"' in capsys.readouterr().err
    inside = [str(tmp_path / "designs"), str(tmp_path / "designs" / "older")]
    drawing(tmp_path / "designs" / "a.svg", square(0))
    assert run(["inspect", *inside]) == 0
    assert "left out" not in capsys.readouterr().out


def test_a_design_none_of_whose_jobs_is_done_has_failed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drawing(tmp_path / "good.svg", square(0, "bow"))
    drawing(tmp_path / "line.svg", '<path fill="none" stroke="#000" d="M0 0L9 9"/>')
    (tmp_path / "catalog.toml").write_text(
        'schema = "clothpath/catalog@1"\nmachines = ["mat-12x12"]\n'
        '[[design]]\nfile = "good.svg"\ndrawn = "right"\n'
        '[design.fabric.coral]\ncolor = "#c8553d"\npaper = "keep"\n'
        '[design.size.small]\nwidth = "4 in"\n[design.size.vast]\nwidth = "90 in"\n'
        '[[design]]\nfile = "line.svg"\ndrawn = "right"\n',
        encoding="utf-8",
    )
    assert run(["build", str(tmp_path / "catalog.toml"), "--out", str(tmp_path / "cut")]) == 1
    said = capsys.readouterr()
    lines = (said.out + said.err).splitlines()
    assert lines[:3] == [
        f"1 of 3 jobs done, in {tmp_path / 'cut'}",
        "  good (small, vast) for mat-12x12  NOT ALL DONE",
        "  line (as-drawn) for mat-12x12  FAILED",
    ]


def test_a_filled_mat_says_how_many_it_took(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call = ["-m", "mat-12x12", "--set", "nest.arrangement=fill", "--out", str(tmp_path / "cut")]
    assert run(["convert", drawing(tmp_path / "bow.svg", square(0, "bow")), *call]) == 0
    said = capsys.readouterr().out
    pieces = int(said.partition(".svg: ")[2].partition(" piece")[0])
    assert pieces > 1
    assert f"Note: As many as one mat takes: {pieces}. [bow]" in said


def test_what_is_no_drawing_is_told_how_to_save_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0 a photo")
    assert run(["inspect", str(tmp_path / "photo.jpg")]) == 1
    assert 'choose "Save as" or "Export", and there SVG or DXF' in capsys.readouterr().out
