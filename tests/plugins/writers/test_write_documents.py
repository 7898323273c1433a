"""JSON of the model, CSV cut lists, PNG previews."""

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from writer_sheets import crab, crab_layout, crab_sheet

from clothpath.contracts import Measured, Measurement, Settings
from clothpath.curves import OpenPath, area
from clothpath.cutplan import Blade, CutPlan, as_laid
from clothpath.cutting.tried import Speeds, Tried
from clothpath.design import Drawn
from clothpath.files.modelfile import ModelError, as_plain, plan_from, schema
from clothpath.findings import Refusal
from clothpath.layout import Demand, Layout, Stock
from clothpath.plugins.readers.json import JsonReader
from clothpath.plugins.writers.csv import CsvWriter
from clothpath.plugins.writers.json import JsonWriter
from clothpath.plugins.writers.png import PngSettings, PngWriter
from clothpath.units import Length, Speed

SCHEMA = Path(__file__).parents[3] / "shared" / "schemas" / "model.json"


def plan() -> CutPlan:
    return as_laid(crab_layout(), Blade(0.25, 1.0, "file"))


def written(of: CutPlan) -> bytes:
    (document,) = JsonWriter().compose(of, Settings()).value
    assert document.name == "model.json"
    return document.data


def test_model_comes_back_equal() -> None:
    assert plan_from(json.loads(written(plan()))) == plan()


def test_what_a_profile_states_comes_back_with_its_unit_or_as_the_machine_counts_it() -> None:
    sand = Tried("batik", fabrics=("sand",), depth=Length(0.5, 0.1, "0.5 mm"), speed=4.0, passes=2)
    coral = Tried("cotton", "fused", depth=3.0, force=80.0, speed=Speed(76.2, "3 in/s"), remark="A new blade.")
    stated = as_laid(crab_layout(), Blade(), Speeds(80.0, lift=0.2), [sand, coral])
    assert [key for key, _ in stated.tried] == ["sand", "coral"]
    data = json.loads(written(stated))
    jsonschema.validate(data, json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert plan_from(data) == stated


def test_paths_that_are_not_compensated_come_back_as_the_outlines_themselves() -> None:
    back = plan_from(json.loads(written(plan())))
    assert all(cut.path is cut.outline for mat in back.mats for cut in mat.cuts)


def test_compensated_paths_come_back() -> None:
    first = plan()
    moved = tuple(
        replace(cut, path=OpenPath(cut.path.nodes + 1, cut.path.straight, cut.path.end + 1))
        for cut in first.mats[0].cuts
    )
    shifted = replace(first, mats=(replace(first.mats[0], cuts=moved),))
    assert plan_from(json.loads(written(shifted))) == shifted


def test_what_is_written_obeys_the_schema_that_ships() -> None:
    shipped = json.loads(SCHEMA.read_text())
    assert shipped == json.loads(json.dumps(schema()))
    jsonschema.Draft202012Validator.check_schema(shipped)
    jsonschema.validate(json.loads(written(plan())), shipped)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**as_plain(plan()), "blades": 2}, shipped)


def test_every_field_comes_back() -> None:
    layout = replace(crab_layout(), stock=(Stock("sand", 500.0, None, 2), Stock("coral", 10, 20.5)))
    design = layout.demands[0].design
    pieces = tuple(
        replace(p, picture=p.region, copies=3, drawn=Drawn("#aabbcc", None, 0.5, "layer", ("a", "b"), "id", "line 1"))
        for p in design.pieces
    )
    rich = replace(layout, demands=(Demand(replace(design, pieces=pieces), 7),))
    full = as_laid(rich, Blade())
    assert plan_from(json.loads(written(full))) == full


@settings(max_examples=30)
@given(st.text(max_size=60), st.text(max_size=60))
def test_any_name_comes_back(label: str, key: str) -> None:
    design = crab()
    named = replace(design, pieces=tuple(replace(p, label=label) for p in design.pieces), name=key)
    layout = Layout((Demand(named),), named.fabrics, crab_layout().mat)
    only = CutPlan(layout, ())
    try:
        label.encode(), key.encode()
    except UnicodeEncodeError:
        return  # lone surrogates are no text
    assert plan_from(json.loads(written(only))) == only


def test_reader_gives_the_design_back() -> None:
    data = written(plan())
    reader = JsonReader()
    assert reader.recognizes(data[:4096]) > 0.9
    assert reader.recognizes(b'{"schema": "clothpath/job@1"}') == 0
    assert reader.recognizes(b"<svg/>") == 0
    design = reader.read(data, Settings()).value
    assert design == crab()
    assert [fabric.laid for fabric in design.fabrics] == ["right-side-up", "wrong-side-up"]
    assert area(design.pieces[2].region.outer) > 0


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no JSON"),
        (b"{", "no JSON"),
        (b"[" * 100_000, "no JSON"),
        (b"\xff\xfe{}", "no JSON"),
        (b"{}", "no model"),
        (b'{"schema": "clothpath/model@1"}', 'lacks "layout"'),
        (b'{"schema": "clothpath/model@1", "layout": 3}', "should be a table"),
        (b'{"schema": "clothpath/model@1", "layuot": 3}', 'has no "layuot"'),
    ],
)
def test_broken_models_are_refused(data: bytes, said: str) -> None:
    with pytest.raises(Refusal) as refused:
        JsonReader().read(data, Settings())
    assert said in refused.value.findings[0].message


def test_several_designs_are_no_drawing() -> None:
    layout = crab_layout()
    second = Demand(replace(layout.demands[0].design, name="whale"))
    data = written(as_laid(replace(layout, demands=(*layout.demands, second)), Blade()))
    with pytest.raises(Refusal, match="2 designs \\(crab, whale\\)"):
        JsonReader().read(data, Settings())


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[28.0,63.0]", "[28.0]", "2 or 6 numbers"),
        ("[28.0,63.0]", '["a",63.0]', "should be a number"),
        ("[28.0,63.0]", "[1e999,63.0]", "finite"),
        ('"right-side-up"', '"sideways"', "one of right-side-up, wrong-side-up"),
        ('"copies":2', '"copies":2.5', "a whole number"),
    ],
)
def test_what_is_wrong_is_named(old: str, new: str, said: str) -> None:
    text = written(plan()).decode()
    assert old in text
    with pytest.raises(ModelError, match=said):
        plan_from(json.loads(text.replace(old, new, 1)))


def rows(of: CutPlan) -> list[dict[str, str]]:
    (document,) = CsvWriter().compose(of, Settings()).value
    assert document.name == "cut-list.csv"
    return list(csv.DictReader(io.StringIO(document.data.decode("utf-8-sig"), newline="")))


def test_cut_list_has_a_row_a_piece() -> None:
    table = rows(plan())
    assert [(row["piece"], row["copy"]) for row in table][-2:] == [("eye", "1"), ("eye", "2")]
    assert len(table) == 7
    leg, shell = table[0], table[2]
    assert (leg["side up"], leg["reversed"], shell["side up"], shell["reversed"]) == (
        "right-side-up",
        "no",
        "wrong-side-up",
        "yes",
    )
    assert (leg["width (mm)"], leg["width (in)"]) == ("28.00", "1.102")
    assert shell["holes"] == "2"
    eye = table[-1]
    assert float(eye["area (mm2)"]) == pytest.approx(np.pi * 4.5**2, abs=0.05)
    assert float(eye["cut length (mm)"]) == pytest.approx(np.pi * 9, abs=0.05)


@pytest.mark.parametrize("label", ["=1+2", "@sum", "-3", "+crab", 'a "b", c', "two\nlines"])
def test_cells_are_text_and_no_formulas(label: str) -> None:
    first = plan()
    design = first.layout.demands[0].design
    named = replace(design, pieces=tuple(replace(piece, label=label) for piece in design.pieces))
    table = rows(as_laid(replace(first.layout, demands=(Demand(named),)), Blade()))
    assert len(table) == 7
    shown = table[0]["label"]
    assert not shown.startswith(("=", "+", "-", "@"))
    assert shown.removeprefix("'") == " ".join(label.split())


def measured(scale: float = 1.0) -> Measurement:
    lines = tuple(Measured(cut.path) for cut in crab_sheet().cuts)
    return Measurement("mm", (203.2, 304.8), lines[: round(len(lines) * scale)])


def picture(measurement: Measurement, size: int = 610) -> np.ndarray:
    data = PngWriter().draw(crab_sheet(), measurement, PngSettings(size=size)).value
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)


def test_preview_shows_the_mat_and_the_lines() -> None:
    image = picture(measured())
    assert image.shape == (634, 431, 3)
    per_mm = 610 / 304.8

    def around(x: float, y: float) -> np.ndarray:
        row, column = round(12 + (304.8 - y) * per_mm), round(12 + x * per_mm)
        return image[row - 2 : row + 3, column - 2 : column + 3].reshape(-1, 3)

    line = around(125.5, 196)  # the right of the second eye, in a dark shade of its red
    darkest = line[line.sum(axis=1).argmin()]
    assert darkest.max() < 140
    assert int(darkest[0]) > int(darkest[2])
    assert around(150, 280).min() == 255


def test_preview_of_a_file_that_lacks_lines_is_black() -> None:
    image = picture(measured(0.5))
    assert np.abs(image[..., 0] - image[..., 2]).max() < 12  # nothing but grays
    assert image.min() < 60


def test_same_lines_same_picture() -> None:
    draw = PngWriter().draw
    settings = PngSettings(size=300)
    assert draw(crab_sheet(), measured(), settings) == draw(crab_sheet(), measured(), settings)
