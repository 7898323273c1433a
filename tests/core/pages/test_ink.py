"""Colors that show on white; contrast as WCAG 2.1 defines it."""

import colorsys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.pages.ink import LEAST_CONTRAST, contrast_to_white, ink, shade


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


@given(st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}"))
def test_a_shade_is_far_darker_than_a_signal_color_and_shows(color: str) -> None:
    pure_red = contrast_to_white("#ff0000")  # 4.0: its luminance is 0.2126 (WCAG 2.1)
    assert contrast_to_white(shade(color)) > pure_red + 1


def test_a_shade_keeps_the_hue() -> None:
    for color in ("#d9583b", "#a63d2f", "#2a8c8c", "#ecd2a0"):
        parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        shaded = [int(shade(color)[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        assert colorsys.rgb_to_hsv(*shaded)[0] == pytest.approx(colorsys.rgb_to_hsv(*parts)[0], abs=0.02)


def test_fabrics_of_different_colors_have_different_shades() -> None:
    assert len({shade(color) for color in ("#ffffff", "#f7f0df", "#ecd2a0", "#808080", "#000000")}) == 5
