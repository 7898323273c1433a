"""Names that any system takes. Reserved characters and devices: Naming Files, Paths, and Namespaces (Win32)."""

import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.files.names import FILE_NAME_BYTES, ascii_text, file_name, plain_word, text, unique, word

HOSTILE = [
    "../../etc/passwd",
    "C:\\temp\\crab",
    'the "best" crab',
    "it's <a> crab|",
    "CON",
    "nul.svg",
    "com1",
    "LPT³",
    "x" * 300,
    "é" * 300,
    "سرطان البحر",
    "\u202egnp.exe",
    "🦀🦀",
    "two\nlines\r\n\ttab",
    "",
    "   ",
    "...",
    "-rf",
    "a\x00b",
    "e\u0301toile",
    "~crab$ & shell; `x`",
    "%%u0041",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_file_name_is_safe_on_every_system(name: str) -> None:
    made = file_name(name, ".svg")
    stem = made.removesuffix(".svg")
    assert not re.search(r'[<>:"/\\|?*\x00-\x1f\x7f]', made)
    assert stem.strip(" .-") == stem
    assert stem
    assert len(made.encode()) <= FILE_NAME_BYTES
    assert unicodedata.is_normalized("NFC", made)
    assert not re.fullmatch(r"(?i)(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])(\..*)?", made)
    assert not any(unicodedata.category(char) in ("Cf", "Cc", "Zs") for char in made)


@given(st.text(max_size=400))
def test_any_text_makes_a_name(name: str) -> None:
    made = file_name(name, ".dxf")
    assert made.endswith(".dxf")
    assert 5 <= len(made.encode()) <= FILE_NAME_BYTES
    assert not re.search(r'[<>:"/\\|?*\s\x00-\x1f\x7f]', made)


@pytest.mark.parametrize(
    ("name", "made"),
    [
        ("Sea star (small)", "Sea-star-small"),
        ("crab-mat-8x12", "crab-mat-8x12"),
        ("étoile de mer", "étoile-de-mer"),
        ("سرطان البحر", "سرطان-البحر"),
        ("🦀 crab", "crab-crab"),
        ("4 1/2 in", "4-1-2-in"),
        ("v1.2", "v1.2"),
        ("\n", "unnamed"),
    ],
)
def test_names_stay_readable(name: str, made: str) -> None:
    assert word(name) == made


@given(st.text(max_size=80))
def test_plain_word_is_plain(name: str) -> None:
    assert re.fullmatch(r"[A-Za-z0-9]+(-[A-Za-z0-9]+)*", plain_word(name))


@pytest.mark.parametrize(
    ("name", "made"),
    [
        ("Étoile Größe", "Etoile-Grosse"),
        ("краб", "krab"),
        ("ψάρι", "psari"),
        ("カニ", "kani"),
        ("🦀 claw", "crab-claw"),
        ("\u0378", "unnamed"),
    ],
)
def test_plain_word_can_be_read(name: str, made: str) -> None:
    # Greek as ISO 843 writes it, Cyrillic and kana as is usual in English (Hepburn)
    assert plain_word(name).casefold() == made.casefold()


@given(st.text(max_size=200))
def test_text_is_one_line_of_what_can_be_seen(name: str) -> None:
    made = text(name)
    assert len(made) <= 120
    assert not any(unicodedata.category(char) in ("Cc", "Cf", "Cs", "Cn", "Co") for char in made)
    assert made == made.strip()


def test_long_text_ends_in_an_ellipsis() -> None:
    assert text("x" * 300, 10) == "xxxxxxxxx…"


@given(st.text(max_size=80))
def test_ascii_text_is_ascii(name: str) -> None:
    assert re.fullmatch(r"[ -~]*", ascii_text(name))


def test_unique_tells_apart_what_case_does_not() -> None:
    # file systems that keep case but do not tell it apart
    assert unique(["Crab.svg", "crab.svg", "CRAB.svg"], str) == ("Crab.svg", "crab-2.svg", "CRAB-3.svg")


@given(st.lists(st.text(max_size=6), max_size=12))
def test_unique_names_differ(names: list[str]) -> None:
    made = unique(names, lambda name: file_name(name, ".svg"))
    assert len({name.casefold() for name in made}) == len(names)
