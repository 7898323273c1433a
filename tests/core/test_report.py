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
