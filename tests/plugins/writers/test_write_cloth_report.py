"""The cloth report: what a shop owner reads off it, worked out by hand from strips of a 40 in cloth."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace

import pytest
from pydantic import ValidationError

from clothpath.cloth.amounts import Taking
from clothpath.cloth.record import JobCloth
from clothpath.contracts import Document
from clothpath.curves import polygon
from clothpath.cutplan import Blade, as_laid
from clothpath.design import Design, Fabric, Piece
from clothpath.layout import Demand, Layout, Mat, MatLayout, Placement, Stock, Swatch
from clothpath.plugins.writers.cloth_report import ClothReport, ClothReportSettings
from clothpath.regions import region

IN = 25.4
RED, BARE, BLUE = Fabric("red", "Red"), Fabric("red-2", "Red", preparation="bare", cloth="red"), Fabric("blue", "Blue")


def taking(fabric: Fabric, width: float, height: float, count: int, pieces: float = 0.0) -> Taking:
    """So many rectangles of so many inches, `pieces` square inches of them in pieces."""
    return Taking(fabric, ((width * IN, height * IN),) * count, pieces * IN**2)


def shown(documents: tuple[Document, ...]) -> tuple[str, list[dict[str, str]]]:
    """The words of the page, and the rows of the table."""
    page, table = documents
    assert (page.name, table.name) == ("cloth-report.html", "cloth-report.csv")
    words = re.sub(r"<style>.*?</style>|<[^>]+>", " ", page.data.decode(), flags=re.DOTALL)
    rows = list(csv.DictReader(io.StringIO(table.data.decode("utf-8-sig"))))
    return " ".join(words.split()), rows


def summed(*taken: Taking, stock: tuple[Stock, ...] = (), **settings: object) -> tuple[str, list[dict[str, str]]]:
    asked = ClothReportSettings.model_validate({"surplus": "0 %", **settings})
    jobs = [JobCloth(f"design-{n}", "small", (each,)) for n, each in enumerate(taken)]
    return shown(ClothReport().sum_up("everything", jobs, stock, asked).value)


def test_a_kit_of_two_designs_by_hand() -> None:
    """Ten kits, 10 % on top.

    Red, 4 x 5 in, two a kit: 20, ten to a 40 in strip of 5 in: two strips, 10 in; with 10 % 11 in: 3/8 yd (13 1/2 in),
    279.4 mm: 30 cm. Blue, 8 x 3 in, one a kit: ten, turned 3 across and 8 along thirteen go into a strip of 8 in, but
    upright five go into one of 3 in: two strips, 6 in; with 10 % 6.6 in: 1/4 yd (9 in), 167.6 mm: 20 cm.
    Web, 17 in: 20 of 4 x 5 and ten of 8 x 3 are 640 in²; they cannot take less than 640 / 17 = 37.6 in.
    """
    words, rows = summed(taking(RED, 4, 5, 2, 25), taking(BLUE, 8, 3, 1, 12), kits=10, surplus="10 %")
    red, blue, web17, web20 = rows
    assert (red["buy_yd"], red["buy_m"], red["cut_in"]) == ("0.375", "0.3", "10")
    assert (blue["buy_yd"], blue["buy_m"], blue["cut_in"]) == ("0.25", "0.2", "6")
    assert red["how_to_cut"] == "2 strips 5 in by width of cloth, each cut into 10 at 4 in"
    assert blue["how_to_cut"] == "2 strips 3 in by width of cloth, each cut into 5 at 8 in"
    assert (red["rectangles_in2"], red["pieces_in2"], red["left_in2"]) == ("400.0", "250.0", "150.0")
    assert red["rectangles_cm2"] == "2581"  # 400 x 6.4516
    assert (red["kits"], red["surplus_percent"]) == ("10", "10")
    assert 640 / 17 <= float(web17["cut_in"]) <= 1.3 * 640 / 17
    assert 640 / 20 <= float(web20["cut_in"]) <= 1.3 * 640 / 20
    assert (web17["wide_in"], web20["wide_in"]) == ("17", "20")
    assert "Everything in the list at the end, 10 times; 10 % is bought on top" in words
    assert "Red 3/8 yd 30 cm 40 in (1016 mm) 10 in (254 mm)" in words


def test_cloth_of_several_jobs_is_pooled_and_each_job_told_by_itself() -> None:
    """Four 5 in squares in each of two jobs: one strip together, 1/4 yd (5 in); each alone takes a strip too."""
    words, rows = summed(taking(RED, 5, 5, 4), taking(RED, 5, 5, 4))
    assert rows[0]["how_to_cut"] == "1 strip 5 in by width of cloth, cut into 8 at 5 in"
    assert rows[0]["buy_yd"] == "0.25"
    assert re.search(r"design-0 small Red 1/4 yd .* design-1 small Red 1/4 yd", words)


def test_one_cloth_with_and_without_web_is_one_to_buy_and_two_to_prepare() -> None:
    words, rows = summed(taking(RED, 5, 5, 4), taking(BARE, 5, 5, 4))
    fused, bare = rows[:2]
    assert (fused["cloth"], bare["cloth"]) == ("red", "red")
    assert (fused["treated"], bare["treated"]) == ("with web", "without web")
    assert fused["how_to_cut"] == "1 strip 5 in by width of cloth, cut into 8 at 5 in"
    assert (bare["how_to_cut"], bare["buy_yd"]) == ("", "")
    assert words.count("40 in (1016 mm)") == 1
    assert float(rows[2]["cut_in"]) == 10  # four 5 in squares on 17 in of web: three side by side


def test_stock_is_cut_up_first_and_what_it_leaves_is_told() -> None:
    """Twelve 5 in squares come out of a fat quarter of 20 x 18 in; 360 - 300 = 60 in² are left (arithmetic)."""
    quarter = Stock("red", 20 * IN, 18 * IN, 1, "fat quarter")
    words, (red, *_) = summed(taking(RED, 5, 5, 1, 10), stock=(quarter,), kits=12)
    assert (red["from"], red["buy_yd"]) == ("stock", "")
    assert red["how_to_cut"] == "3 strips 5 in by width of cloth, each cut into 4 at 5 in"
    assert "all of it from the cloth that is there nothing" in words
    assert "Left of the cloth that is begun: 60 in² (387 cm²)" in words
    words, (red, *_) = summed(taking(RED, 5, 5, 1), stock=(quarter,), kits=13)
    assert (red["from"], red["buy_yd"]) == ("stock that does not suffice", "0.375")
    assert "the cloth that is there does not suffice" in words


def test_the_page_of_one_job_is_about_that_job() -> None:
    square = region(polygon([0j, 4 * IN + 0j, (4 + 4j) * IN, 4j * IN]))
    design = Design("crab", (Piece("p", "p", square, "red"),), (), (RED,))
    lying = Placement("crab", "p", 1, False, 0.0, complex(IN / 2, IN / 2))
    swatch = Swatch("red", "right-side-up", 0.0, 0.0, 5 * IN, 5 * IN, 0.0, (lying,))
    layout = Layout((Demand(design),), (RED,), Mat("mat-12x12", 300, 300), (MatLayout((swatch,)),))
    plan = replace(as_laid(layout, Blade()), title="crab, small, for mat-12x12")
    settings = ClothReportSettings.model_validate({"kits": 8, "surplus": "0 %"})
    words, rows = shown(ClothReport().compose(plan, settings).value)
    assert "Cloth for crab, small, for mat-12x12" in words
    assert "Everything in this job, 8 times" in words
    assert "Each job by itself" not in words
    assert rows[0]["how_to_cut"] == "1 strip 5 in by width of cloth, cut into 8 at 5 in"
    assert (rows[0]["pieces_in2"], rows[0]["left_in2"]) == ("128.0", "72.0")


@pytest.mark.parametrize("wrong", [0.1, "0.1", "ten %", "-5 %", "200 %"])
def test_a_surplus_without_its_sign_is_refused(wrong: object) -> None:
    with pytest.raises(ValidationError):
        ClothReportSettings.model_validate({"surplus": wrong})


def test_labels_are_only_words() -> None:
    bad = replace(RED, label="=1+1<script>")
    page, table = (
        ClothReport().sum_up("x", [JobCloth("d", "s", (taking(bad, 5, 5, 1),))], (), ClothReportSettings()).value
    )
    assert b"<script>" not in page.data
    assert b"'=1+1<script>" in table.data
