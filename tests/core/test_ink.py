"""Colors that show on white; contrast as WCAG 2.1 defines it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.ink import LEAST_CONTRAST, contrast_to_white, ink


@pytest.mark.parametrize(
    ("color", "contrast"),
    [
        ("#000000", 21.0),  # WCAG 2.1: the largest contrast there is
        ("#ffffff", 1.0),
        ("#767676", 4.54),  # the lightest gray of contrast 4.5 (memory)
    ],
)
def test_contrast(color: str, contrast: float) -> None:
    assert contrast_to_white(color) == pytest.approx(contrast, abs=0.01)


@given(st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}"))
def test_every_line_shows(color: str) -> None:
    assert contrast_to_white(ink(color)) >= LEAST_CONTRAST


def test_dark_colors_stay() -> None:
    assert ink("#C8553D") == "#c8553d"


def test_hue_stays() -> None:
    red, green, blue = (int(ink("#ffff80")[i : i + 2], 16) for i in (1, 3, 5))
    assert red == green
    assert blue == pytest.approx(red / 2, abs=1)
