"""First guesses at fabrics: words for colors are those of CSS Color 4 (named colors) where these are plain words."""

from __future__ import annotations

import pytest

from clothpath.design import Fabric
from clothpath.picture.fabrics import called, color_name, slug

RED, ROSE = Fabric("red", "Barn"), Fabric("red-rose", "Rose")


@pytest.mark.parametrize(
    ("color", "word"),
    [
        ("#ff0000", "red"),
        ("#dc143c", "red"),  # crimson
        ("#b22222", "red"),  # firebrick
        ("#a52a2a", "brown"),
        ("#8b4513", "brown"),  # saddlebrown
        ("#ffa500", "orange"),
        ("#ff8c00", "orange"),  # darkorange
        ("#d2b48c", "tan"),
        ("#ffff00", "yellow"),
        ("#ffcc00", "yellow"),  # not in CSS; between gold, #ffd700, and orange, #ffa500: what a person calls yellow
        ("#ffd700", "yellow"),  # gold
        ("#808000", "olive"),
        ("#008000", "green"),
        ("#9acd32", "green"),  # yellowgreen
        ("#008080", "teal"),
        ("#0000ff", "blue"),
        ("#000080", "blue"),  # navy
        ("#87ceeb", "blue"),  # skyblue
        ("#800080", "purple"),
        ("#ff69b4", "pink"),  # hotpink
        ("#ffc0cb", "pink"),
        ("#000000", "black"),
        ("#808080", "gray"),
        ("#ffffff", "white"),
    ],
)
def test_a_color_has_the_word_that_a_person_uses(color: str, word: str) -> None:
    assert color_name(color) == f"{word}-{color[1:]}"


def test_a_key_can_be_typed() -> None:
    assert slug("Grün, 2. Lage") == "grun-2-lage"


def test_a_whole_key_or_label_comes_before_one_that_only_begins_so() -> None:
    assert called((RED, ROSE), "red") == (RED,)
    assert called((RED, ROSE), "rose") == (ROSE,)
    assert called((RED, ROSE), "re") == (RED, ROSE)
    assert called((RED, ROSE), "blue") == ()
    assert called((RED, ROSE), "") == ()
