"""Measurers share neither code nor libraries with the writers whose files they measure (design.md, section 5)."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

import clothpath.plugins.measurers as measurers

ROOM = Path(measurers.__file__).parent
CORE = {"contracts", "curves", "findings", "proving.measuring", "regions"}
LIBRARIES = {"numpy", "shapely", "pypdfium2"}
"""reportlab, ezdxf and the writers' own rooms (frame, linework, paper, fitting, ...) are not among them."""


def imported(file: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


@pytest.mark.parametrize("file", sorted(ROOM.rglob("*.py")), ids=lambda file: file.relative_to(ROOM).as_posix())
def test_a_measurer_uses_what_no_writer_wrote_with(file: Path) -> None:
    own = {f"plugins.measurers.{file.parent.name}.{each.stem}" for each in file.parent.glob("*.py")}
    for name in imported(file):
        package, _, rest = name.partition(".")
        if package == "clothpath":
            assert rest in CORE or (file.parent != ROOM and rest in own), name
        else:
            assert package in sys.stdlib_module_names or package in LIBRARIES, name


def test_the_check_sees_the_measurers() -> None:
    names = {file.relative_to(ROOM).parts[0].removesuffix(".py") for file in ROOM.rglob("*.py")}
    assert {"svg", "dxf", "pdf", "hpgl", "eps", "gcode"} <= names
