"""The step `economy`: many points become few curves, few stay as they are."""

from __future__ import annotations

import numpy as np

from clothpath.curves import circle, flattened, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.plugins.transforms.economy import Economy, EconomySettings
from clothpath.regions import Region, region


def design(*regions: Region) -> Design:
    pieces = tuple(Piece(f"p{i}", f"p{i}", each, "cloth", order=i + 1) for i, each in enumerate(regions))
    return Design("try", pieces, (), (Fabric("cloth", "Cloth"),))


def test_a_traced_ring_comes_back_as_a_few_curves() -> None:
    traced = region(polygon(flattened(circle(0, 30), 0.001)), [polygon(flattened(circle(0, 12), 0.001))])
    outcome = Economy().apply(design(traced), EconomySettings())
    (piece,) = outcome.value.pieces
    assert sum(map(len, traced)) > 400
    assert sum(map(len, piece.region)) <= 12  # two circles of four quarters, and half as much again
    assert piece.picture is None  # the picture is the same, only said more briefly
    assert [finding.code for finding in outcome.findings] == ["points-spared"]
    for ring, radius in zip(piece.region, (30, 12), strict=True):
        assert np.abs(np.abs(flattened(ring, 0.001)) - radius).max() < 0.02


def test_spare_pieces_are_left_alone() -> None:
    before = design(region(circle(0, 30)), region(polygon([0, 40, 30j])))
    outcome = Economy().apply(before, EconomySettings())
    assert outcome.findings == ()
    assert outcome.value.pieces[1] == before.pieces[1]


def test_what_is_worth_it_can_be_set() -> None:
    # three rings of eight eighths can be said in quarters
    eighths = design(region(circle(0, 30), [circle(12, 5), circle(-12, 5)]))
    assert Economy().apply(eighths, EconomySettings(least=0.9)).value == eighths
    assert sum(map(len, Economy().apply(eighths, EconomySettings(least=0.3)).value.pieces[0].region)) <= 15
