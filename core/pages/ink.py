"""A fabric's color as ink: dark enough to be seen on white, else left as it is; and as the shade of a hairline.

Terminology
    luminance   how bright a color is to the eye, from 0 to 1
    contrast    (luminance of white + 0.05) / (luminance of the color + 0.05)
    shade       the color with every channel at a quarter of its value: same hue and saturation, far darker than any
                color that signals a fault; colors that differ have shades that differ, unless they are all but alike

Source: relative luminance and contrast ratio, Web Content Accessibility Guidelines 2.1; 3 is its least contrast for
lines that carry meaning (success criterion 1.4.11).
"""

from __future__ import annotations

from typing import Final

__all__ = ["LEAST_CONTRAST", "contrast_to_white", "ink", "shade"]

LEAST_CONTRAST: Final = 3.0
"""Of a line on white paper."""
SHADE: Final = 0.25
"""Of a color's channels, what a shade keeps: pure red comes to a luminance of 0.01, white to a gray of contrast 10."""


def contrast_to_white(color: str) -> float:
    """The contrast ratio of "#rrggbb" to white, from 1 to 21."""
    return 1.05 / (_luminance(_channels(color)) + 0.05)


def ink(color: str) -> str:
    """The color itself, or a darker one of the same hue if it would not show on white: "#rrggbb"."""
    channels = _channels(color)
    darkest, lightest = 0.0, 1.0
    if contrast_to_white(color) >= LEAST_CONTRAST:
        return color.lower()
    for _ in range(12):
        middle = (darkest + lightest) / 2
        if contrast_to_white(_hex([c * middle for c in channels])) >= LEAST_CONTRAST:
            darkest = middle
        else:
            lightest = middle
    return _hex([c * darkest for c in channels])


def shade(color: str) -> str:
    """The color as a dark hairline of the same hue: "#rrggbb"."""
    return _hex([c * SHADE for c in _channels(color)])


def _channels(color: str) -> list[float]:
    return [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]


def _hex(channels: list[float]) -> str:
    return "#" + "".join(f"{int(c * 255):02x}" for c in channels)


def _luminance(channels: list[float]) -> float:
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b
