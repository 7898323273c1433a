"""Words in any script as they are drawn: Unicode Bidirectional Algorithm (UAX 9); The Unicode Standard, 9.2, Arabic."""

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.files.names import shown
from clothpath.pages.fonts import breakable, respelled, runs
from clothpath.pages.paper import width_of, wrapped


def drawn(said: str) -> str:
    return "".join(run.said for run in runs(said))


@pytest.mark.parametrize(
    ("said", "seen"),
    [
        ("crab claw", "crab claw"),
        ("שלום", "םולש"),
        ("car שלום end", "car םולש end"),
        ("(שלום)", "(םולש)"),  # brackets at the ends of a line that runs to the right, rule N2
        ("שלום (א) ב", "ב (א) םולש"),  # those inside a run to the left are mirrored, rule L4
        ("צדף 12", "12 ףדצ"),  # digits keep their order, rule I2
    ],
)
def test_what_runs_to_the_left_is_drawn_from_its_end(said: str, seen: str) -> None:
    assert drawn(said) == seen


def test_arabic_letters_are_joined() -> None:
    # beh alone, first, between and last: U+FE8F, U+FE91, U+FE92, U+FE90 (The Unicode Standard, table 9-3)
    assert drawn("ب") == "\ufe8f"
    assert drawn("ببب") == "\ufe90\ufe92\ufe91"


def test_names_in_a_list_keep_their_places() -> None:
    # without isolates the digits would go over to the other name
    listed = ", ".join(f"{n} {shown(name)}" for n, name in enumerate(("עין", "פה"), 1))
    assert drawn(listed) == "1 ןיע, 2 הפ"


def test_names_of_pictures() -> None:
    # The Unicode Character Database: U+1F980 is CRAB, U+1F41A SPIRAL SHELL; the joiner and the selector are not seen
    assert drawn("🦀 a") == "(crab) a"
    assert drawn("🦀🐚\ufe0f") == "(crab) (spiral shell)"


@settings(max_examples=60, derandomize=True)
@given(st.text(max_size=30))
def test_a_line_never_holds_what_its_fonts_lack(said: str) -> None:
    from reportlab.pdfbase import pdfmetrics

    for run in runs(shown(said)):
        known = pdfmetrics.getFont(run.font).face.charWidths  # type: ignore[attr-defined]
        assert all(ord(char) in known for char in run.said)
    assert ("?" in drawn(shown(said))) == ("?" in unicodedata.normalize("NFKC", shown(said)))


def test_only_names_in_other_letters_are_told() -> None:
    assert respelled(["crab", "Größe", "蟹", "سرطان", "עַיִן"]) == ()
    (finding,) = respelled(["🦀", "🦀"])
    assert finding.message.count("🦀") == 1


def test_lines_break_between_words_and_within_scripts_that_write_no_spaces() -> None:
    # common practice of Chinese and Japanese: a line may break at any letter
    assert breakable("one two") == ["one", " two"]
    lines = wrapped(["貝殻" * 30, "crab " * 30], 60)
    assert all(width_of(line) <= 60 for line in lines)
    assert "".join(lines).replace(" ", "") == "貝殻" * 30 + "crab" * 30
