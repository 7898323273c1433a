"""Where machines count from: corners and axes, seen from above."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from clothpath.files.frame import FrameSettings, look_mirrored, to_file, to_mat
from clothpath.layout import Mat

MAT = Mat("mat-8x12", 200, 300)


@pytest.mark.parametrize(
    ("chosen", "point", "counted"),
    [
        ({}, 10 + 20j, 10 + 20j),
        ({"origin": "upper-left", "y-axis": "down"}, 10 + 20j, 10 + 280j),
        ({"origin": "lower-right", "x-axis": "up", "y-axis": "left"}, 10 + 20j, 20 + 190j),
        ({"origin": "center"}, 10 + 20j, -90 - 130j),
        ({"origin": "upper-right", "x-axis": "left", "y-axis": "down"}, 10 + 20j, 190 + 280j),
        ({"x-axis": "up", "y-axis": "right"}, 10 + 20j, 20 + 10j),
    ],
)
def test_counts_from_its_corner_along_its_axes(chosen: dict[str, str], point: complex, counted: complex) -> None:
    assert to_file(FrameSettings(**chosen), MAT).apply(point) == counted


@given(
    st.sampled_from(["lower-left", "lower-right", "upper-left", "upper-right", "center"]),
    st.sampled_from([*product(["right", "left"], ["up", "down"]), *product(["up", "down"], ["right", "left"])]),
    st.builds(complex, st.integers(-400, 400), st.integers(-400, 400)),
)
def test_there_and_back(origin: str, axes: tuple[str, str], point: complex) -> None:
    frame = FrameSettings(origin=origin, x_axis=axes[0], y_axis=axes[1])
    assert to_mat(frame, MAT).apply(to_file(frame, MAT).apply(point)) == point
    assert abs(to_file(frame, MAT).determinant) == 1


@pytest.mark.parametrize(("x", "y"), [("right", "left"), ("up", "down"), ("up", "up")])
def test_axes_along_one_line_are_refused(x: str, y: str) -> None:
    with pytest.raises(ValidationError, match="along one line"):
        FrameSettings(x_axis=x, y_axis=y)


@pytest.mark.parametrize(
    ("x", "y", "seen"),
    [
        ("right", "up", None),
        ("up", "left", None),
        ("left", "down", None),
        ("right", "down", "top to bottom"),
        ("left", "up", "left to right"),
        ("up", "right", "mirrored and turned"),
    ],
)
def test_a_file_that_shows_mirrored_is_told_and_is_not_to_be_flipped(x: str, y: str, seen: str | None) -> None:
    """Arithmetic: two axes are left-handed where the turn from the first to the second is clockwise."""
    told = look_mirrored(FrameSettings(x_axis=x, y_axis=y), MAT)
    assert [(each.severity, "Do not flip it" in each.hint) for each in told] == (
        [] if seen is None else [("warning", True)]
    )
    assert all(seen is not None and seen in each.message for each in told)
