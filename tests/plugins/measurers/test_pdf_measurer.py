"""The PDF measurer on files put together by hand."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import pytest

from clothpath.contracts import Declared
from clothpath.curves import Outline, area
from clothpath.findings import Refusal
from clothpath.plugins.measurers.pdf import PdfMeasurer

MM = 72 / 25.4


def document(
    content: str, page: str = "/MediaBox [0 0 720 360]", form: str = "", pages: int = 1, flate: bool = False
) -> bytes:
    """A PDF of one content stream (shared by its pages) and a form named X, twice as large."""
    return document_of([content] * pages, page, form, "2 0 0 2 0 0", flate)


def document_of(
    contents: Sequence[str], page: str, form: str, matrix: str = "1 0 0 1 0 0", flate: bool = False
) -> bytes:
    """A PDF with a page for each content, and a form named X."""
    pages = len(contents)
    kids = " ".join(f"{10 + n} 0 R" for n in range(pages))
    bodies = {
        1: b"<< /Type /Catalog /Pages 2 0 R >>",
        2: f"<< /Type /Pages /Kids [{kids}] /Count {pages} >>".encode(),
        4: b"<< /Subtype /Form /BBox [0 0 999 999] /Matrix [%s] /Length %d >>\nstream\n%s\nendstream"
        % (matrix.encode(), len(form), form.encode()),
    }
    for n, content in enumerate(contents):
        stream = zlib.compress(content.encode()) if flate else content.encode()
        packed = b"/Filter /FlateDecode" if flate else b""
        bodies[50 + n] = b"<< /Length %d %s >>\nstream\n%s\nendstream" % (len(stream), packed, stream)
        resources = "/Resources << /XObject << /X 4 0 R >> >>"
        bodies[10 + n] = f"<< /Type /Page /Parent 2 0 R {page} /Contents {50 + n} 0 R {resources} >>".encode()
    data = b"%PDF-1.4\n"
    table = [b"0000000000 65535 f \n"]
    last = max(bodies)
    for number in range(1, last + 1):
        if number in bodies:
            table.append(b"%010d 00000 n \n" % len(data))
            data += b"%d 0 obj\n%s\nendobj\n" % (number, bodies[number])
        else:
            table.append(b"0000000000 65535 f \n")
    at = len(data)
    data += b"xref\n0 %d\n%s" % (last + 1, b"".join(table))
    return data + b"trailer << /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (last + 1, at)


def test_user_space_is_a_72nd_of_an_inch() -> None:
    """ISO 32000-1, 8.3.2.3: the default unit is 1/72 in."""
    found = PdfMeasurer().measure(document("72 144 360 72 re S"), Declared()).value
    assert found.page == pytest.approx((254, 127))
    (line,) = found.lines
    assert isinstance(line.path, Outline)
    box = line.path.box
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx((25.4, 50.8, 152.4, 76.2))
    assert found.unit == "pt"


@pytest.mark.parametrize("flate", [False, True])
def test_matrices_forms_and_colors(flate: bool) -> None:
    content = "q 1 0 0 RG 1 0 0 1 72 0 cm 0 1 -1 0 0 0 cm 0 0 36 72 re S Q 0 0 1 RG q 1 0 0 1 360 0 cm /X Do Q"
    outcome = PdfMeasurer().measure(document(content, form="0 0 36 36 re S", flate=flate), Declared())
    first, second = outcome.value.lines
    assert (first.path.box.left, first.path.box.right) == pytest.approx((0, 25.4), abs=1e-5)
    assert first.path.box.top == pytest.approx(12.7)
    assert (second.path.box.left, second.path.box.width) == pytest.approx((127, 25.4))
    assert (first.group, second.group) == ("#ff0000", "#0000ff")


def test_curves_closed_and_open_lines_and_what_is_not_painted() -> None:
    kappa = 0.5522847498307936
    k = 100 * kappa
    corners = [(100, k), (k, 100), (0, 100), (-k, 100), (-100, k), (-100, 0)]
    corners += [(-x, -y) for x, y in corners]
    numbers = [f"{200 + x:.6f} {200 + y:.6f}" for x, y in corners]
    circle = "300 200 m " + " ".join(f"{' '.join(numbers[n : n + 3])} c" for n in (0, 3, 6, 9)) + " h"
    content = f"{circle} 10 10 m 20 10 l S 0 0 50 50 re n 40 40 m 50 40 l 45 50 l 40 40 l f"
    found = PdfMeasurer().measure(document(content), Declared()).value
    assert [isinstance(line.path, Outline) for line in found.lines] == [True, False, True]
    # four cubics are within 2.7e-4 of the circle
    assert area(found.lines[0].path) == pytest.approx(3.14159265 * (100 / MM) ** 2, rel=4e-4)  # type: ignore[arg-type]


def test_the_band_beside_the_trim_box_is_not_counted() -> None:
    page = "/MediaBox [0 0 720 360] /TrimBox [0 72 720 360]"
    content = "10 10 50 50 re S 100 100 72 72 re S 300 60 72 72 re S"
    outcome = PdfMeasurer().measure(document(content, page), Declared())
    assert outcome.value.page == pytest.approx((254, 101.6))
    assert [line.path.box.bottom for line in outcome.value.lines] == pytest.approx([28 / MM, -12 / MM])
    assert [finding.code for finding in outcome.findings] == ["beside-the-mat"]
    assert "1 lines" in outcome.findings[0].message


def test_more_pages_are_said() -> None:
    outcome = PdfMeasurer().measure(document("0 0 9 9 re S", pages=3), Declared())
    assert [finding.code for finding in outcome.findings] == ["not-measured"]
    assert len(outcome.value.lines) == 1


FORM = "36 36 288 72 re S 72 50 36 36 re S"
"""A line from 0.5 to 4.5 in, and one inside it."""
TILES = [
    "/Artifact BMC 9 9 9 9 re S EMC",
    "q 0 0 216 360 re W n 1 0 0 1 -18 0 cm /X Do Q /Artifact BMC 100 100 9 9 re S EMC",
    "q 0 0 216 360 re W n 1 0 0 1 -180 10 cm /X Do Q",
]
"""A cover; a page that shows the form from 18 to 234 points; one that shows it from 180 to 396."""
PAPER = "/MediaBox [0 0 216 360]"


def test_tiles_are_one_drawing() -> None:
    found = PdfMeasurer().measure(document_of(TILES, PAPER, FORM), Declared())
    assert found.findings == ()
    boxes = [line.path.box for line in found.value.lines]
    assert [box.left for box in boxes] == pytest.approx([12.7, 25.4])
    assert [box.right for box in boxes] == pytest.approx([114.3, 38.1])
    assert [box.bottom for box in boxes] == pytest.approx([12.7, 50 / MM])
    assert found.value.page is None


def test_a_line_that_no_tiles_show_whole_is_cut_off() -> None:
    apart = [TILES[0], TILES[1], TILES[2].replace("-180", "-270")]
    found = PdfMeasurer().measure(document_of(apart, PAPER, FORM), Declared())
    assert [finding.code for finding in found.findings] == ["cut-off"]
    assert [line.path.box.left for line in found.value.lines] == pytest.approx([25.4])


@pytest.mark.parametrize("matrix", ["1.01 0 0 1.01 -180 10", "-1 0 0 1 396 10", "0 1 -1 0 216 10"])
def test_tiles_that_show_the_drawing_otherwise_are_refused(matrix: str) -> None:
    other = [TILES[0], TILES[1], TILES[2].replace("1 0 0 1 -180 10", matrix)]
    with pytest.raises(Refusal) as refused:
        PdfMeasurer().measure(document_of(other, PAPER, FORM), Declared())
    assert [finding.code for finding in refused.value.findings] == ["pages-differ"]


WHOLE = document("72 144 360 72 re S")


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "wrong-format"),
        (b"<svg/>", "wrong-format"),
        (WHOLE[: len(WHOLE) // 2], "damaged-file"),
        (WHOLE[:-3], "damaged-file"),
        (WHOLE.replace(b"startxref\n", b"startxref\n1"), "damaged-file"),
        (WHOLE.replace(b"/Kids [10 0 R]", b"/Kids [11 0 R]"), "damaged-file"),
    ],
)
def test_damage_is_refused(data: bytes, code: str) -> None:
    with pytest.raises(Refusal) as refused:
        PdfMeasurer().measure(data, Declared())
    assert refused.value.findings[0].code == code
