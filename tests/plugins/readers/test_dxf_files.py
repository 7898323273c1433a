"""DXF files as programs have written them for thirty years: versions, encodings, damage."""

from __future__ import annotations

import io
import struct
from math import pi

import ezdxf
import pytest
from dxf_text import MM, circle, dxf, entity, insert, line, read, square, tags

from clothpath.findings import Refusal
from clothpath.plugins.readers.dxf import DxfReader
from clothpath.regions import region_area

VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]


def written(version: str, binary: bool) -> bytes:
    """A ring with a hole on the layer "shell" and a half disk of a bulged polyline, by another program's writer."""
    document = ezdxf.new(version, units=4)
    document.header["$INSUNITS"] = 4
    document.layers.add("shell", color=1)
    space = document.modelspace()
    space.add_circle((0, 0), 10, dxfattribs={"layer": "shell"})
    space.add_circle((0, 0), 4, dxfattribs={"layer": "shell"})
    space.add_polyline2d([(30, 0, 1), (50, 0, 0)], format="xyb", close=True, dxfattribs={"color": 5})
    if binary:
        stream = io.BytesIO()
        document.write(stream, fmt="bin")
        return stream.getvalue()
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode(document.output_encoding)


@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_reads_alike(version: str, binary: bool) -> None:
    outcome = read(written(version, binary))
    ring, half = outcome.value.pieces
    unit = outcome.value.source.mm_per_unit**2  # R12 cannot state one
    assert outcome.value.source.stated_unit == (None if version == "R12" else "mm")
    assert region_area(ring.region) == pytest.approx(84 * pi * unit, rel=1e-5)
    assert region_area(half.region) == pytest.approx(50 * pi * unit, rel=1e-5)
    assert (ring.drawn.layer, ring.drawn.color, half.drawn.color) == ("shell", "#ff0000", "#0000ff")


def test_binary_files_are_read_by_their_group_codes() -> None:
    """DXF Reference, "Binary DXF Files": a 16-bit code, then a string, a double or an integer by its range."""

    def tag(code: int, value: str | float | int) -> bytes:
        if isinstance(value, str):
            return struct.pack("<H", code) + value.encode() + b"\0"
        return struct.pack("<Hd" if isinstance(value, float) else "<Hh", code, value)

    data = b"AutoCAD Binary DXF\r\n\x1a\x00" + b"".join(
        tag(code, value)
        for code, value in [
            (0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1015"), (9, "$INSUNITS"), (70, 5), (0, "ENDSEC"),
            (0, "SECTION"), (2, "ENTITIES"), (0, "CIRCLE"), (100, "AcDbEntity"), (8, "a"), (100, "AcDbCircle"),
            (10, 1.0), (20, 2.0), (40, 3.0), (0, "ENDSEC"), (0, "EOF"),
        ]
    )  # fmt: skip
    (piece,) = read(data).value.pieces
    assert region_area(piece.region) == pytest.approx(900 * pi, rel=1e-5)  # centimeters


@pytest.mark.parametrize(
    ("raw", "version", "page", "shown"),
    [
        ("Bl\u00e4tter".encode("cp1252"), "AC1015", "ANSI_1252", "Blätter"),
        ("Листья".encode("cp1251"), "AC1015", "ANSI_1251", "Листья"),
        ("貝".encode("cp932"), "AC1015", "ANSI_932", "貝"),
        ("貝".encode(), "AC1021", "ANSI_1252", "貝"),
        (rb"Bl\U+00E4tter", "AC1015", "ANSI_1252", "Blätter"),
    ],
)
def test_layer_names_in_the_encoding_that_the_file_states(raw: bytes, version: str, page: str, shown: str) -> None:
    """$DWGCODEPAGE before AC1021, UTF-8 from then on; \\U+nnnn for what the code page lacks."""
    text = dxf(circle(0, 0, 9, layer="@@")).replace("AC1015", version)
    data = text.replace("0\nENDSEC", tags(9, "$DWGCODEPAGE", 3, page) + "0\nENDSEC", 1).encode().replace(b"@@", raw)
    assert read(data).value.pieces[0].drawn.layer == shown


def test_bytes_that_are_no_text_do_no_harm() -> None:
    outcome = read(dxf(circle(0, 0, 9, layer="@")).encode().replace(b"@", b"a\xff\xfe\x81"))
    outcome.value.pieces[0].drawn.layer.encode("utf-8")  # can be written again
    assert len(outcome.value.pieces) == 1


@pytest.mark.parametrize("end", ["\r\n", "\r", "\n"], ids=["crlf", "cr", "lf"])
def test_any_line_ending(end: str) -> None:
    assert len(read(dxf(circle(0, 0, 9)).replace("\n", end).encode()).value.pieces) == 1


def test_comments_a_byte_order_mark_and_indented_codes_are_common() -> None:
    body = "".join(
        f"{text:>3}\n" if i % 2 == 0 else f"{text}\n" for i, text in enumerate(dxf(circle(0, 0, 9)).splitlines())
    )
    assert len(read(b"\xef\xbb\xbf" + (tags(999, "made by hand") + body).encode()).value.pieces) == 1


def test_a_file_of_entities_only() -> None:
    """DXF Reference: R12 allows all other sections to be missing."""
    text = tags(0, "SECTION", 2, "ENTITIES") + circle(0, 0, 90) + tags(0, "ENDSEC", 0, "EOF")
    outcome = read(text.replace("100\nAcDbEntity\n", "").replace("100\nAcDbCircle\n", ""))
    assert len(outcome.value.pieces) == 1
    assert {finding.code for finding in outcome.findings} == {"unit-assumed"}


def test_entities_without_their_subclass_markers_are_read_and_told() -> None:
    """DXF Reference, "Subclass Markers": R2000 wants them; many programs leave them out."""
    text = dxf(square(0, 0, 10), entity("ARC", 10, 30, 20, 0, 40, 10, 50, 0, 51, 180), line(20, 0, 40, 0))
    bare = "".join(f"{c}\n{v}\n" for c, v in zip(*[iter(text.splitlines())] * 2, strict=True) if c != "100")
    outcome = read(bare)
    assert [region_area(p.region) for p in outcome.value.pieces] == pytest.approx([100, 50 * pi], rel=1e-5)
    assert {finding.code for finding in outcome.findings} == {"not-standard"}


WHOLE = dxf(square(0, 0, 10), circle(30, 5, 5))
DAMAGES = {
    "the end of the file only": WHOLE.removesuffix(tags(0, "EOF")),
    "a section does not end": WHOLE.replace(tags(0, "ENDSEC"), "", 1),
    "a number has a comma": WHOLE.replace("10\n30\n20\n5\n40\n5", "10\n30\n20\n5\n40\n5,0"),
    "a whole number is a decimal": WHOLE.replace("70\n1\n", "70\n1.0\n"),
    "an empty line has slipped in": WHOLE.replace("0\nCIRCLE", "\n0\nCIRCLE"),
    "an element lacks what it needs": WHOLE.replace(tags(0, "ENDSEC", 0, "EOF"), entity("MESH", 71, 2))
    + tags(0, "ENDSEC", 0, "EOF"),
    "trailing rubbish": WHOLE + "\x1a\x00\x00garbage",
    "an entity outside a section": WHOLE.replace(tags(0, "EOF"), line(0, 0, 1, 1) + tags(0, "EOF")),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_what_can_be_mended_is_mended(damage: str) -> None:
    """The square at least comes back whole, whatever befell the rest."""
    outcome = read(DAMAGES[damage])
    assert region_area(outcome.value.pieces[0].region) == pytest.approx(100)


def test_a_file_that_breaks_off_is_refused_unless_it_is_asked_for() -> None:
    """DXF Reference, "General DXF File Structure": a section ends with ENDSEC; what stood behind is lost."""
    cut = WHOLE.removesuffix(tags(0, "ENDSEC", 0, "EOF"))
    with pytest.raises(Refusal) as caught:
        read(cut)
    assert [each.code for each in caught.value.findings] == ["broken-off"]
    asked = read(cut, **{"broken-off": "read"})
    assert region_area(asked.value.pieces[0].region) == pytest.approx(100)
    assert {each.code for each in asked.findings} >= {"broken-off"}


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9, 0.97])
@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
def test_a_file_cut_short_is_read_or_refused_in_words(share: float, binary: bool) -> None:
    data = written("R2000", binary)
    codes = _read_or_refused(data[: int(len(data) * share)])
    assert codes & {"refused", "damaged"}


NO_DRAWINGS = {
    "nothing": b"",
    "a picture": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\x06\0\0\0",
    "a letter": b"Dear quilters,\nthis is no drawing.\n",
    "another drawing": b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    "a CAD program's own format": b"AC1015\0\0\0\0\0\0" + bytes(range(256)) * 8,
}


@pytest.mark.parametrize("what", NO_DRAWINGS)
def test_what_is_no_dxf_is_not_recognized_and_refused_in_words(what: str) -> None:
    data = NO_DRAWINGS[what]
    assert DxfReader().recognizes(data[:4096]) == 0
    codes = _read_or_refused(data)
    assert "refused" in codes
    assert codes & {"unreadable", "nothing-drawn"}


def test_an_empty_drawing_says_so() -> None:
    assert _read_or_refused(dxf().encode()) == {"refused", "nothing-drawn"}


def test_a_drawing_of_texts_only_says_what_to_do() -> None:
    with pytest.raises(Refusal) as refusal:
        read(dxf(entity("TEXT", 10, 0, 20, 0, 40, 2, 1, "Crab")))
    assert [finding.code for finding in refusal.value.findings] == ["text", "nothing-drawn"]
    assert "Convert the text to lines" in refusal.value.findings[0].hint


def test_lines_that_never_close_are_markings_and_told() -> None:
    outcome = read(dxf(line(0, 0, 30, 0), line(30, 0, 30, 30)))
    assert not outcome.value.pieces
    assert len(outcome.value.markings) == 1
    assert {finding.code for finding in outcome.findings} == {"open-line", "no-closed-outline"}


@pytest.mark.parametrize(("layer", "told"), [("STITCHING", False), ("Vein_1", False), ("0", True), ("MARKET", True)])
def test_open_lines_on_a_layer_of_markings_need_no_word(layer: str, told: bool) -> None:
    """What such layers are called: common practice."""
    outcome = read(dxf(circle(0, 0, 50), line(0, 0, 30, 0, layer=layer)))
    assert len(outcome.value.markings) == 1
    assert ("open-line" in {finding.code for finding in outcome.findings}) is told


def test_ids_are_the_handles_and_unique_even_where_a_block_stands_twice() -> None:
    block = tags(0, "BLOCK", 8, "0", 2, "eye", 70, 0, 10, 0, 20, 0, 30, 0, 3, "eye") + circle(0, 0, 5, 5, "1F")
    outcome = read(dxf(insert("eye", 0, 0, 5, "A1"), insert("eye", 30, 0, 5, "A1"), blocks=[block + tags(0, "ENDBLK")]))
    assert [piece.id for piece in outcome.value.pieces] == ["A1/1F", "A1/1F-2"]
    assert [piece.label for piece in outcome.value.pieces] == ["eye 1", "eye 2"]


def test_the_other_readings_of_a_size_are_told_in_inches_and_millimeters() -> None:
    outcome = read(dxf(square(0, 0, 100), header={}))
    (finding,) = outcome.findings
    assert "no more than a guess" in finding.message
    assert "3 15/16 in x 3 15/16 in (100 mm x 100 mm)" in finding.message
    assert "in inches it would be 100 in x 100 in (2540 mm x 2540 mm)" in finding.message
    assert outcome.value.source.stated_unit is None


def test_a_stated_unit_is_reported() -> None:
    source = read(dxf(square(0, 0, 10), header=MM)).value.source
    assert (source.stated_unit, source.mm_per_unit) == ("mm", 1.0)


def test_same_bytes_same_design() -> None:
    text = dxf(square(0, 0, 10), circle(30, 5, 5), line(0, 50, 30, 50), line(30, 50, 0, 80), line(0, 80, 0, 50))
    assert read(text) == read(text)


def _read_or_refused(data: bytes) -> set[str]:
    """Codes of what was found; a traceback is a failure."""
    reader = DxfReader()
    try:
        findings = reader.read(data, reader.settings()).findings
    except Refusal as refusal:
        findings = refusal.findings
        return {"refused", *(finding.code for finding in findings)}
    return {finding.code for finding in findings}
