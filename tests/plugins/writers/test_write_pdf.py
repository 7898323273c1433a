"""PDF templates. ISO 32000-1: user space of 1/72 in, trim box, artifacts; sheets of paper: ISO 216, ANSI/ASME Y14.1."""

import io
from dataclasses import replace

import numpy as np
import pdfplumber
import pypdfium2
import pytest
import shapely
from pdfminer.pdftypes import resolve1
from second_opinions import pdf_lines
from writer_sheets import crab_sheet, spread_sheet

from clothpath.curves import flattened
from clothpath.cutplan import CutSheet
from clothpath.plugins.writers.pdf import PdfSettings, PdfWriter


def written(sheet: CutSheet, **chosen: object) -> bytes:
    return PdfWriter().write(sheet, PdfSettings(**chosen)).value


def words(data: bytes, page: int = 0) -> str:
    return pypdfium2.PdfDocument(data)[page].get_textpage().get_text_bounded().replace("\r\n", " ")


def test_trim_box_is_the_mat_and_the_page_is_larger() -> None:
    page = pypdfium2.PdfDocument(written(crab_sheet()))[0]
    left, bottom, right, top = page.get_trimbox()
    assert ((right - left) / 72 * 25.4, (top - bottom) / 72 * 25.4) == pytest.approx((203.2, 304.8), abs=0.001)
    assert page.get_height() == pytest.approx(top)
    assert bottom / 72 * 25.4 >= 40


def test_check_squares_measure_an_inch_and_25_mm_and_lie_off_the_mat() -> None:
    with pdfplumber.open(io.BytesIO(written(crab_sheet()))) as document:
        page = document.pages[0]
        squares = [(r["width"] / 72 * 25.4, r["height"] / 72 * 25.4) for r in page.rects]
        top = max(float(page.height) - r["top"] for r in page.rects)
        assert np.array(sorted(squares)) == pytest.approx(np.array([(25, 25), (25.4, 25.4)]), abs=0.001)
        assert top < page.page_obj.attrs["TrimBox"][1]


def test_says_how_the_templates_are_used() -> None:
    said = words(written(crab_sheet()))
    assert "Reversed, for Coral print: trace on the paper of the web" in said
    assert "Not reversed, for Sand & shells: use on the right side of the cloth" in said
    assert "actual size" in said
    upright = replace(crab_sheet(), laid=(("sand", "right-side-up"), ("coral", "right-side-up")))
    assert "Reversed, for" not in words(written(upright)).replace("Not reversed", "")


@pytest.mark.parametrize("paper", ["mat", "letter", "a4"])
def test_every_font_is_embedded(paper: str) -> None:
    with pdfplumber.open(io.BytesIO(written(crab_sheet(), paper=paper))) as document:
        fonts = {char["fontname"] for page in document.pages for char in page.chars}
        listed = {
            str(resolve1(font)["BaseFont"])
            for page in document.pages
            for font in resolve1(page.page_obj.resources["Font"]).values()
        }
    assert len(fonts) == 1
    assert all("+" in font for font in fonts)  # a subset that is in the file carries a tag, ISO 32000-1, 9.6.4
    assert not any("Helvetica" in name for name in listed)


@pytest.mark.parametrize(("paper", "width", "height"), [("letter", 612, 792), ("a4", 595.276, 841.89)])
def test_sheets_join_to_the_whole_mat(paper: str, width: float, height: float) -> None:
    data = written(spread_sheet(), paper=paper)
    document = pypdfium2.PdfDocument(data)
    count = len(document) - 1
    assert count > 2
    for page in document:
        assert sorted(page.get_size()) == pytest.approx([width, height], abs=0.01)
    assert f"{count} sheets follow" in words(data)
    assert all(f"sheet {n} of {count}" in words(data, n) for n in range(1, count + 1))
    whole = pdf_lines(written(spread_sheet()))
    lower_left = [min(line.points.real.min() for line in whole), min(line.points.imag.min() for line in whole)]
    for page in range(1, count + 1):
        shown = [line for line in pdf_lines(data, page) if abs(np.ptp(line.points.real)) > 8.5]
        shift = whole_shift(shown[0].points, [line.points for line in whole])
        assert shift is not None
        for line in shown:
            assert any(
                len(line.points) == len(meant.points) and np.abs(line.points - shift - meant.points).max() < 0.01
                for meant in whole
            )
    assert lower_left[0] > 0


def whole_shift(points: np.ndarray, candidates: list[np.ndarray]) -> complex | None:
    """The shift that lays the points onto one of the candidates."""
    for meant in candidates:
        if len(meant) == len(points):
            shift = points[0] - meant[0]
            if np.abs(points - shift - meant).max() < 0.01:
                return complex(shift)
    return None


def test_marks_and_words_are_artifacts() -> None:
    import pypdfium2.raw as pdfium

    page = pypdfium2.PdfDocument(written(crab_sheet()))[0]
    marked = []
    for each in page.get_objects():
        count = pdfium.FPDFPageObj_CountMarks(each.raw)
        names = []
        for n in range(count):
            buffer = (pdfium.FPDF_WCHAR * 32)()
            length = pdfium.c_ulong()
            pdfium.FPDFPageObjMark_GetName(pdfium.FPDFPageObj_GetMark(each.raw, n), buffer, 64, length)
            names.append(bytes(buffer).decode("utf-16-le").rstrip("\0"))
        marked.append("Artifact" in names)
    assert marked == [False] * 11 + [True] * (len(marked) - 11)
    assert len(marked) > 13


@pytest.mark.parametrize("label", ["Größe", "краб", "ψάρι", "סרטן", "サンゴ", "蟹", "게", "螃蟹 6"])
def test_letters_of_most_scripts_are_printed_as_they_are(label: str) -> None:
    sheet = crab_sheet()
    outcome = PdfWriter().write(
        replace(sheet, fabrics=tuple(replace(f, label=label) for f in sheet.fabrics)), PdfSettings()
    )
    assert label in words(outcome.value)
    assert outcome.findings == ()


def test_what_no_font_has_is_told_in_letters_and_in_a_finding() -> None:
    sheet = crab_sheet()
    fabrics = tuple(replace(fabric, label="🦀 केकड़ा") for fabric in sheet.fabrics)
    outcome = PdfWriter().write(replace(sheet, fabrics=fabrics), PdfSettings())
    assert "(crab) kekd'a, reversed" in words(outcome.value)
    (finding,) = outcome.findings
    assert (finding.code, finding.severity) == ("respelled", "note")
    assert '"🦀 केकड़ा" as "(crab) kekd\'a"' in finding.message


def test_each_template_says_what_it_is() -> None:
    said = words(written(crab_sheet()))
    assert "Shell Coral print reversed" in said
    assert "Coral print, reversed: 3 Left claw, 4 Eye." in said
    assert "Sand & shells, not reversed: 1 Left leg, 2 Right leg." in said
    assert said.count("4 Eye") == 3  # on both copies, and in the key


def test_labels_keep_inside_their_outline() -> None:
    sheet = crab_sheet()
    shapes = [
        shapely.Polygon(np.column_stack((p.real, p.imag)))
        for p in (flattened(cut.outline, 0.1) for cut in sheet.cuts if cut.kind == "cut" and cut.ring == 0)
    ]
    with pdfplumber.open(io.BytesIO(written(sheet))) as document:
        page = document.pages[0]
        band = page.page_obj.attrs["TrimBox"][1]
        boxes = [
            shapely.box(c["x0"], c["y0"] - band, c["x1"], c["y1"] - band)
            for c in page.chars
            if c["y0"] > band and c["text"] != " "
        ]
    assert len(boxes) > 60
    for box in boxes:
        middle = shapely.affinity.scale(box.centroid, 25.4 / 72, 25.4 / 72, origin=(0, 0))
        assert sum(shape.contains(middle) for shape in shapes) == 1


def test_a_template_with_no_room_for_its_label_has_a_number_and_the_key_says_what_it_means() -> None:
    sheet = crab_sheet()
    cuts = tuple(replace(cut, ref=replace(cut.ref, label="A very long name of a piece")) for cut in sheet.cuts)
    said = words(written(replace(sheet, cuts=cuts)))
    on_templates, _, key = said.partition("Numbers on small templates:")
    assert on_templates.count("A very long name of a piece") == 1  # on the shell
    assert key.count("A very long name of a piece") == 5


def test_outlines_are_near_black_whatever_the_fabric() -> None:
    groups = {line.group for line in pdf_lines(written(crab_sheet()))}
    assert groups == {"(0.101961, 0.101961, 0.101961)"}


def test_a_dot_of_the_fabric_color_stands_in_each_template() -> None:
    with pdfplumber.open(io.BytesIO(written(crab_sheet()))) as document:
        dots = [curve["non_stroking_color"] for curve in document.pages[0].curves if curve["fill"]]
    coral, sand = (0xC8 / 255, 0x55 / 255, 0x3D / 255), (0xE8 / 255, 0xD9 / 255, 0xA8 / 255)
    near = [[np.abs(np.array(dot) - of).max() < 0.01 for dot in dots].count(True) for of in (coral, sand)]
    assert near == [5, 2]


def test_the_finished_size_is_said() -> None:
    box = crab_sheet().plan.layout.demands[0].design.finished_box
    assert f"({box.width:.1f} mm) wide" in words(written(crab_sheet()))


def test_the_title_of_the_job_is_said() -> None:
    sheet = crab_sheet()
    titled = replace(sheet, plan=replace(sheet.plan, title="crab, small, for roll-24"))
    for paper in ("mat", "letter"):
        assert "crab, small, for roll-24, mat 1 of 1" in words(written(titled, paper=paper))


def grained(fabric: str, grain: str) -> CutSheet:
    """The crab with this rule for one of its fabrics."""
    sheet = crab_sheet()
    return replace(sheet, fabrics=tuple(replace(f, grain=grain) if f.key == fabric else f for f in sheet.fabrics))


def test_pieces_whose_grain_matters_have_a_grain_line_that_is_no_cut_line() -> None:
    plain, lengthwise = written(crab_sheet()), written(grained("coral", "lengthwise"))
    assert "grain" not in words(plain)
    assert "grain" in words(lengthwise).partition("Numbers")[0]
    assert len(pdf_lines(lengthwise)) == len(pdf_lines(plain)) == 11


def test_a_grain_line_runs_along_the_selvage() -> None:
    def of(sheet: CutSheet) -> list[complex]:
        with pdfplumber.open(io.BytesIO(written(sheet))) as document:
            return [complex(line["width"], line["height"]) for line in document.pages[0].lines]

    shafts = [line for line in of(grained("coral", "lengthwise")) if abs(line) > 30]
    assert not [line for line in of(crab_sheet()) if abs(line) > 30]
    assert shafts
    assert all(line.real == pytest.approx(0, abs=0.01) for line in shafts)  # the swatch is not turned: up the mat


def test_where_a_grain_line_has_no_room_the_words_say_how_the_grain_runs() -> None:
    said = words(written(grained("sand", "straight")))
    assert "The grain of small Sand & shells templates runs up and down the drawing." in said
    assert "runs up the drawing, toward the top of the print." in words(written(grained("sand", "directional")))
