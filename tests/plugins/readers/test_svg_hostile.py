"""Files that are damaged, foreign or made to do harm: the SVG reader says what is wrong, soon, and opens nothing else.

Sources: XML 1.0 (5th ed.), 4.4 (entities) and 2.8 (document type); SVG 2, 2.5 (external references) and 9.5.4 (errors
in path data); the limits of 10 s and 1 GiB are the project's own.
"""

from __future__ import annotations

import gzip
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clothpath.design import Design
from clothpath.findings import Finding, Refusal
from clothpath.plugins.readers.svg import SvgReader, SvgSettings

NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
SQUARE = '<rect id="square" width="10" height="10"/>'
READER = SvgReader()
SLOW_S = 10.0


def svg(body: str, root: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"') -> str:
    return f"<svg {NS} {root}>{body}</svg>"


def read(data: bytes | str, **given: object) -> tuple[Design, tuple[Finding, ...]]:
    text = data.encode() if isinstance(data, str) else data
    outcome = READER.read(text, SvgSettings.model_validate(given))
    return outcome.value, outcome.findings


def codes(findings: tuple[Finding, ...]) -> set[str]:
    return {finding.code for finding in findings}


def refusal(data: bytes | str, **given: object) -> tuple[Finding, ...]:
    with pytest.raises(Refusal) as caught:
        read(data, **given)
    return tuple(finding for finding in caught.value.findings if finding.severity == "error")


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "empty-file"),
        (b" \n\t ", "empty-file"),
        (b"\xef\xbb\xbf", "empty-file"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not-xml"),
        (b"just some words", "not-xml"),
        (b"<html><body>no drawing</body></html>", "not-svg"),
        (svg("").encode(), "nothing-drawn"),
        (svg("<text x='9' y='9'>Crab</text>").encode(), "nothing-drawn"),
        (b"\x1f\x8b\x08\x00broken", "damaged-file"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(data: bytes, code: str) -> None:
    errors = refusal(data)
    assert [finding.code for finding in errors] == [code]
    assert errors[0].message.endswith(".")


def test_an_entity_bomb_is_not_set_off() -> None:
    layers = "".join(f'<!ENTITY b{n} "{f"&b{n - 1};" * 10}">' for n in range(1, 10))
    bomb = f'<!DOCTYPE svg [<!ENTITY b0 "ha">{layers}]>{svg(f"<desc>&b9;</desc>{SQUARE}")}'
    started = time.process_time()
    assert [each.code for each in refusal(bomb)] == ["entity-bomb"]
    assert time.process_time() - started < 1


def test_one_large_entity_used_often_is_a_bomb_too() -> None:
    body = f"<desc>{'&a;' * 1_000}</desc>{SQUARE}"
    bomb = f'<!DOCTYPE svg [<!ENTITY a "{"x" * 50_000}">]>{svg(body)}'
    assert [each.code for each in refusal(bomb)] == ["entity-bomb"]


def test_the_small_entities_of_old_programs_are_understood() -> None:
    kind = '"-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd"'
    entities = '<!ENTITY ns "http://www.w3.org/2000/svg"><!ENTITY st0 "fill:#C8553D;">'
    drawing = '<svg xmlns="&ns;" width="9mm" height="9mm"><rect style="&st0;" width="5" height="5"/></svg>'
    old = f"<!DOCTYPE svg PUBLIC {kind} [{entities}]>{drawing}"
    design, _ = read(old)
    assert [piece.drawn.fill for piece in design.pieces] == ["#c8553d"]


def test_no_file_outside_is_opened(tmp_path: Path) -> None:
    secret = tmp_path / "secret.svg"
    secret.write_text(svg('<g id="s"><circle r="40"/></g>'))
    entity = f'<!DOCTYPE svg [<!ENTITY s SYSTEM "{secret.as_uri()}">]>{svg(f"<desc>&s;</desc>{SQUARE}")}'
    design, _ = read(entity)
    assert [piece.id for piece in design.pieces] == ["square"]
    used = svg(f'<use xlink:href="{secret.as_uri()}#s"/><image href="{secret.as_uri()}" width="9" height="9"/>{SQUARE}')
    design, findings = read(used)
    assert [piece.id for piece in design.pieces] == ["square"]
    assert {"external-reference", "bitmap"} <= codes(findings)
    styled = svg(f'<style>@import url("{secret.as_uri()}"); rect {{fill: red}}</style>{SQUARE}')
    design, findings = read(styled)
    assert design.pieces[0].drawn.fill == "#ff0000"
    assert "style-rule-ignored" in codes(findings)


def test_uses_that_multiply_are_stopped() -> None:
    levels = "".join(f'<g id="l{n}">' + f'<use href="#l{n - 1}"/>' * 10 + "</g>" for n in range(1, 9))
    bomb = svg(f'<defs><g id="l0">{SQUARE}</g>{levels}</defs><use href="#l8"/>')
    started = time.process_time()
    assert [each.code for each in refusal(bomb, most_elements=20_000)] == ["too-many-elements"]
    assert time.process_time() - started < SLOW_S


def test_the_time_limit_is_kept() -> None:
    many = svg("".join(f'<rect x="{n}" width="1" height="1"/>' for n in range(20_000)))
    errors = refusal(many, most_seconds=0.05)
    assert [each.code for each in errors] == ["too-slow"]
    assert "most-seconds" in errors[0].hint


def test_a_compressed_file_that_swells_is_refused() -> None:
    swelling = gzip.compress(svg(" " * 60_000_000 + SQUARE).encode())
    assert len(swelling) < 100_000
    assert [each.code for each in refusal(swelling)] == ["file-too-large"]


def test_a_compressed_drawing_is_read_and_recognized() -> None:
    data = gzip.compress(svg(SQUARE).encode())
    design, _ = read(data)
    assert [piece.id for piece in design.pieces] == ["square"]
    assert READER.recognizes(data) == 1.0


def test_groups_nested_without_end_do_not_overflow() -> None:
    started = time.process_time()
    design, findings = read(svg(SQUARE + "<g>" * 5_000 + '<rect id="deep" width="5" height="5"/>' + "</g>" * 5_000))
    assert design.pieces[0].id == "square"
    assert codes(findings) & {"too-deep", "damaged-file"}
    assert time.process_time() - started < SLOW_S


def test_uses_nested_without_end_do_not_overflow() -> None:
    chain = "".join(f'<g id="u{n}"><use href="#u{n + 1}"/></g>' for n in range(3_000))
    design, findings = read(
        svg(f'<defs>{chain}<g id="u3000">{SQUARE}</g></defs><use href="#u0"/><rect width="5" height="5"/>')
    )
    assert len(design.pieces) == 1
    assert "too-deep" in codes(findings)


SMALL = '<rect width="5" height="5"'
BIG = '<rect width="9" height="9"'


@pytest.mark.parametrize(
    "body",
    [
        '<g id="a"><use href="#a"/></g>',
        '<use id="a" href="#b"/><use id="b" href="#a"/>',
        f'<clipPath id="c" clip-path="url(#c)">{SMALL}/></clipPath>{BIG} clip-path="url(#c)"/>',
        f'<clipPath id="c">{SMALL} clip-path="url(#c)"/></clipPath>{BIG} clip-path="url(#c)"/>',
        f'<mask id="m">{SMALL} fill="white" mask="url(#m)"/></mask>{BIG} mask="url(#m)"/>',
        '<symbol id="s"><use href="#s"/></symbol><use href="#s"/>',
    ],
)
def test_what_refers_to_itself_is_told_and_not_followed(body: str) -> None:
    _, findings = read(svg(body + SQUARE))
    assert "circular-reference" in codes(findings)


def test_gradients_that_take_from_each_other_end() -> None:
    loop = '<linearGradient id="a" href="#b"/><linearGradient id="b" href="#a"/>'
    design, _ = read(svg(f'{loop}<rect width="5" height="5" fill="url(#a)"/>{SQUARE}'))
    assert [piece.id for piece in design.pieces] == ["square"]


def scribble(corners: int) -> str:
    state = 7
    points = []
    for _ in range(corners):
        state = (state * 1_103_515_245 + 12_345) % 2**31
        points.append(f"{state % 1_000 / 10} {state // 1_000 % 1_000 / 10}")
    return " ".join(points)


def test_a_scribble_is_left_out_and_told() -> None:
    started = time.process_time()
    design, findings = read(svg(f'<polygon points="{scribble(20_000)}"/>{SQUARE}'))
    assert [piece.id for piece in design.pieces] == ["square"]
    assert "scribble" in codes(findings)
    assert time.process_time() - started < SLOW_S


def test_a_path_of_thirty_thousand_rings_is_read_in_time() -> None:
    rings = "".join(f"M{n % 300} {n // 300}h.5v.5h-.5z" for n in range(30_000))
    started = time.process_time()
    design, _ = read(svg(f'<path d="{rings}"/>'))
    assert len(design.pieces) == 30_000
    assert time.process_time() - started < SLOW_S


def test_numbers_beyond_all_measure_are_cut_off() -> None:
    design, findings = read(
        svg(f'<path d="M0 0H10V10H0Z M0 0 L1e400 9 9 9z"/><rect width="1e999" height="5"/>{SQUARE}')
    )
    assert len(design.pieces) == 2
    assert "path-cut" in codes(findings)


@pytest.mark.parametrize("size", ["1e300", "-1e300", "1e-300", "1e18"])
def test_extreme_numbers_do_no_harm(size: str) -> None:
    path, disc = f'<path stroke="red" d="M0 0L{size} 0 0 {size}z"/>', f'<circle r="{size}"/>'
    design, _ = read(svg(f'{path}{disc}<rect width="{size}" height="1" transform="scale({size})"/>{SQUARE}'))
    assert "square" in {piece.id for piece in design.pieces}


@pytest.mark.parametrize("far", ["82e9", "9e8", "9e5"])
def test_a_wide_line_that_reaches_too_far_takes_neither_time_nor_memory(far: str) -> None:
    """Found by the fuzz run: 24 million points for a number with a stray exponent."""
    started = time.process_time()
    line = f'<path fill="none" stroke="red" stroke-width="5" d="M9 9C{far} 7 {far} {far} 9 {far}"/>'
    design, findings = read(svg(line + SQUARE))
    assert "square" in {piece.id for piece in design.pieces}
    assert codes(findings) & {"beyond-measure", "wide-stroke"}
    assert sum(len(piece.region.outer) for piece in design.pieces) < 100_000
    assert time.process_time() - started < SLOW_S


@pytest.mark.parametrize("packed", [bytes, gzip.compress], ids=["plain", "compressed"])
def test_a_file_cut_short_is_refused_unless_it_is_asked_for(packed: Callable[[bytes], bytes]) -> None:
    """XML 1.0 (5th ed.), 2.1: a document ends with the end tag of its root; what stood before it is lost."""
    whole = svg(f'{SQUARE}<rect id="second" x="20" width="10" height="10"/>')
    cut = packed(whole[: whole.index("second") + 12].encode())
    (told,) = refusal(cut)
    assert told.code == "broken-off"
    assert "line" in told.where
    design, findings = read(cut, **{"broken-off": "read"})
    assert design.pieces[0].id == "square"
    assert any(each.code == "broken-off" and each.severity == "warning" for each in findings)


def test_a_fault_in_the_middle_of_a_whole_file_is_told_and_read_over() -> None:
    design, findings = read(svg(f"<title>fish & chips</title>{SQUARE}"))
    assert design.pieces[0].id == "square"
    assert any(each.code == "damaged-file" and each.severity == "warning" and "line" in each.where for each in findings)


def test_an_undeclared_prefix_is_mended() -> None:
    body = f'<g id="s">{SQUARE}</g><use xlink:href="#s" x="20"/>'
    text = f'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">{body}</svg>'
    design, findings = read(text)
    assert len(design.pieces) == 2
    assert "damaged-file" in codes(findings)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_encodings(encoding: str) -> None:
    declared = encoding.removesuffix("-sig").upper() if encoding != "latin-1" else "ISO-8859-1"
    declared = "UTF-16" if "utf-16" in encoding else declared
    mark = {"utf-16-le": "\ufeff", "utf-16-be": "\ufeff"}.get(encoding, "")
    text = f'{mark}<?xml version="1.0" encoding="{declared}"?>{svg(SQUARE.replace("square", "crème"))}'
    data = text.encode(encoding)
    design, _ = read(data)
    assert [piece.id for piece in design.pieces] == ["crème"]
    assert READER.recognizes(data[:4096]) == 1.0


def test_scripts_and_handlers_are_left_alone() -> None:
    design, _ = read(svg(f'<script>throw 1</script><rect onload="alert(1)" width="5" height="5"/>{SQUARE}'))
    assert len(design.pieces) == 2


@pytest.mark.parametrize(
    ("head", "least", "most"),
    [
        (b"<svg/>", 1.0, 1.0),
        (b'<?xml version="1.0"?>\n<!-- a crab -->\n<svg xmlns="http://www.w3.org/2000/svg">', 1.0, 1.0),
        (b'<!DOCTYPE svg PUBLIC "x" "y"><svg>', 1.0, 1.0),
        (b"<svg:svg xmlns:svg='http://www.w3.org/2000/svg'>", 1.0, 1.0),
        (b"<html><body><svg>", 0.1, 0.6),
        (b"  0\nSECTION\n  2\nHEADER\n", 0.0, 0.0),
        (b"\x89PNG\r\n\x1a\n", 0.0, 0.0),
        (b"", 0.0, 0.0),
    ],
)
def test_recognizes(head: bytes, least: float, most: float) -> None:
    assert least <= READER.recognizes(head) <= most


def test_too_many_findings_of_a_kind_are_counted() -> None:
    _, findings = read(svg("<text>a</text>" * 500 + SQUARE))
    assert 2 < len([each for each in findings if each.code == "text"]) < 30
    assert any("more of the same" in each.message for each in findings)


SEEDS = [
    svg(f'<g transform="rotate(9)"><path d="M0 0C1 1 2 2 9 0A5 5 0 0 1 0 0z" style="fill:red"/></g>{SQUARE}'),
    svg(
        "<style>g > rect {fill: red}</style><defs><symbol id='s' viewBox='0 0 9 9'>"
        + SQUARE
        + "</symbol></defs><use href='#s' width='9'/>"
    ),
    svg(f'<clipPath id="c"><circle r="5"/></clipPath><g clip-path="url(#c)">{SQUARE}</g><line x2="9" stroke="red"/>'),
]
SCRAPS = [
    *("<", ">", '"', "&", "#", "%", "-", ";", "{", "}", "\0", "é", "]]>"),
    *("e9", "1e999", "NaN", "M", "z", "A1 1 0 0", "0 0 0 0", "calc(1px", "!important"),
    *("url(#s)", "<g>", "</g>", "<use href='#s'/>"),
]


def ends_well(data: bytes) -> None:
    try:
        design, findings = read(data, most_seconds=5.0, most_elements=10_000)
    except Refusal as caught:
        findings = caught.findings
        assert any(each.severity == "error" for each in findings)
    else:
        ids = [piece.id for piece in design.pieces] + [marking.id for marking in design.markings]
        assert len(ids) == len(set(ids))
        assert all(each.severity != "error" for each in findings)


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.sampled_from(SEEDS),
    st.lists(st.tuples(st.integers(0, 500), st.integers(0, 12), st.sampled_from(SCRAPS)), max_size=6),
)
def test_any_damage_ends_in_a_design_or_in_words(seed: str, cuts: list[tuple[int, int, str]]) -> None:
    text = seed
    for at, length, scrap in cuts:
        at %= len(text) + 1
        text = text[:at] + scrap + text[at + length :]
    ends_well(text.encode())


@settings(max_examples=100)
@given(st.text("MmLlHhVvCcSsQqTtAaZz0123456789.,-+eE \n", max_size=60))
def test_any_path_data_ends_in_a_design_or_in_words(data: str) -> None:
    ends_well(svg(f'<path stroke="red" d="{data}"/>{SQUARE}').encode())


@settings(max_examples=60)
@given(st.binary(max_size=200))
def test_any_bytes_end_in_words(data: bytes) -> None:
    ends_well(data)


@pytest.mark.parametrize("box", ["0 0 1e307 1e307", "0 0 1e308 9", "0 0 1e12 1e12"])
def test_a_page_beyond_all_measure_is_no_mistake_of_ours(box: str) -> None:
    """Found by the fuzz target: what the page would be in inches was more than a number can hold."""
    text = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}">{SQUARE}</svg>'
    with pytest.raises(Refusal) as caught:
        read(text)
    assert {"beyond-measure", "nothing-drawn"} == codes(caught.value.findings)
    assert "more than a kilometer" in caught.value.findings[0].message


def test_a_stroke_wider_than_any_cloth_is_left_out_and_told() -> None:
    wide = '<path d="M0 0h9" stroke="#000" stroke-width="1e307" transform="scale(1e9)"/>'
    design, findings = read(svg(f"{wide}{SQUARE}"))
    assert len(design.pieces) == 1
    assert "beyond-measure" in codes(findings)
