"""What a machine profile says of the names of its files: a pattern, filled in and made safe."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from clothpath.cli import run
from clothpath.files.names import sound_pattern

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="40mm" viewBox="0 0 90 40">
<path id="a" fill="#d9583b" d="M5 5h30v30z"/><path id="b" fill="#2f6f8f" d="M50 5h30v20h-9z"/></svg>"""
MACHINE = """
schema = "clothpath/machine@1"
name = "shore-table"
[mat]
width = "12 in"
height = "12 in"
[[write]]
format = "svg"
per = "fabric"
name = "{fabric}: {design}/{size}"
[[write]]
format = "hpgl"
name = "CUT{mat}"
[[write]]
format = "eps"
name = "CUT{mat}"
[[write]]
format = "dxf"
name = "con"
[[write]]
format = "gcode"
"""


def test_a_pattern_is_filled_in_and_made_safe(tmp_path: Path) -> None:
    """No reserved character, no device name of another system, and no two files of one name."""
    (tmp_path / "gull.svg").write_text(DRAWING)
    (tmp_path / "shore-table.toml").write_text(MACHINE)
    call = ["convert", tmp_path / "gull.svg", "-m", tmp_path / "shore-table.toml", "--out", tmp_path / "cut", "-q"]
    assert run([*map(str, call)]) == 0
    names = {path.name for path in (tmp_path / "cut" / "gull" / "shore-table").iterdir()}
    assert names == {
        "red-d9583b-gull.svg",
        "blue-2f6f8f-gull.svg",
        "CUT1.plt",
        "CUT1.eps",
        "con-file.dxf",
        "gull-shore-table.ngc",
        "job.json",
    }


@pytest.mark.parametrize(
    ("pattern", "told"),
    [
        ("{fabrc}", 'Did you mean "fabric"?'),
        ("{design", "a brace too many or too few"),
        ("{design.name}", "{design.name}"),
        ("{mat:03}", "{mat}"),
        ("{}", "Known here: {design}, {size}"),
    ],
)
def test_a_pattern_that_cannot_be_filled_in_is_refused(pattern: str, told: str) -> None:
    with pytest.raises(ValueError, match=re.escape(pattern)) as caught:
        sound_pattern(pattern)
    assert told in str(caught.value)


def test_a_sound_pattern_is_kept() -> None:
    assert sound_pattern("{design}-{size}-{machine}-{mat}-{fabric}.{format}") is not None
    assert sound_pattern("plain {{brace}}") == "plain {{brace}}"
