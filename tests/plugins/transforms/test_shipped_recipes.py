"""The recipes that ship, on two squares that meet edge to edge: what is added or taken off where.

Margin to turn under 3/16 in, satin stitch 1/8 in of which half lies on the piece, underlap 3/16 in: common practice and
memory, as the steps' own tests say.
"""

from __future__ import annotations

import pytest
import shapely

from clothpath.curves import polygon
from clothpath.design import Design, Drawn, Fabric, Piece
from clothpath.findings import Finding
from clothpath.jobs.machines import recipe_path, shipped
from clothpath.pipeline import designed
from clothpath.recipe import NO_SETTINGS, Recipe, load_recipe, resolved, settings_from_arguments
from clothpath.regions import as_polygon, region
from clothpath.registry import installed

IN = 25.4


def square(name: str, left: float, color: str, order: int) -> Piece:
    corners = [left, left + 60, left + 60 + 60j, left + 60j]
    return Piece(name, name, region(polygon(corners)), "cloth", order=order, drawn=Drawn(fill=color))


TWO = Design("two", (square("lower", 0, "#cc5533", 1), square("upper", 60, "#2a8c8c", 2)), (), (Fabric("cloth", "C"),))


def recipe(name: str) -> Recipe:
    path = recipe_path(name, shipped(), "--recipe")
    size = settings_from_arguments(["scale-to-spec.width=120 mm"])
    return resolved(load_recipe(path), str(path), installed(), NO_SETTINGS, (), NO_SETTINGS, size)


def made(name: str) -> tuple[Design, tuple[Finding, ...]]:
    outcome = designed(TWO, recipe(name).stage("design"))
    return outcome.value, outcome.findings


@pytest.mark.parametrize(
    ("name", "edge", "spacing"),
    [("fused", 0.0, IN / 8), ("turned-edge", 3 / 16 * IN, IN / 4), ("satin-stitch", -IN / 16, IN / 8)],
)
def test_free_edges_get_what_the_work_asks_for_and_the_seam_stays_closed(
    name: str, edge: float, spacing: float
) -> None:
    design, findings = made(name)
    lower, upper = (piece.region for piece in design.pieces)
    left, bottom, right = 0 - edge, 0 - edge, 120 + edge
    assert (lower.box.left, lower.box.bottom) == pytest.approx((left, bottom), abs=0.02)
    assert (upper.box.right, upper.box.left) == pytest.approx((right, 60 - edge), abs=0.02)
    assert lower.box.right == pytest.approx(60 + 3 / 16 * IN, abs=0.02)  # tucked: as far as the underlap, no farther
    covered = shapely.union(as_polygon(lower), as_polygon(upper))
    inner = max(-edge, 0) + 0.05
    assert covered.contains(shapely.box(inner, inner, 120 - inner, 60 - inner))
    assert "seam-opens" not in [finding.code for finding in findings]
    assert recipe(name).stage("layout")[0].settings.spacing == pytest.approx(spacing)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("name", "preparation", "grain"),
    [("fused", "fused", "any"), ("satin-stitch", "fused", "any"), ("turned-edge", "bare", "straight")],
)
def test_edges_are_turned_on_bare_cloth_only(name: str, preparation: str, grain: str) -> None:
    design, _ = made(name)
    assert {(fabric.preparation, fabric.grain) for fabric in design.fabrics} == {(preparation, grain)}


def test_every_recipe_that_ships_is_tested_here() -> None:
    names = {path.stem for path in (shipped() / "recipes").glob("*.toml")}
    assert names == {"fused", "satin-stitch", "turned-edge"}


@pytest.mark.parametrize(("name", "margin"), [("fused", 0.0), ("turned-edge", 3 / 16 * IN), ("satin-stitch", -IN / 16)])
def test_each_fabric_keeps_its_margin_for_the_pages(name: str, margin: float) -> None:
    assert [fabric.margin for fabric in made(name)[0].fabrics] == pytest.approx([margin])
