"""The path of a drag knife's holder where outlines have what no blade can follow."""

from __future__ import annotations

import shapely

from clothpath.curves import flattened, outline
from clothpath.cutting.blade import tip_path
from clothpath.cutting.holder import compensated
from clothpath.regions import xy


def test_a_hook_finer_than_a_blade_does_not_turn_it_the_wrong_way() -> None:
    """Of a drawing with a control point 0.005 mm beside its end, against the way that the curve goes on."""
    end = -53 + 11j
    shape = outline(0j, [(0.9 + 3.7j, 1.7 + 7.7j, 2.3 + 11.7j), (2.305 + 11.699j, -31.5 + 16.6j, end), (0j,)])
    tips, _ = tip_path(compensated(shape, 0.5, 1.0), 0.5)
    line = shapely.LineString([*xy(flattened(shape, 0.001)), (0.0, 0.0)])
    assert shapely.distance(line, shapely.points(xy(tips))).max() < 0.05
