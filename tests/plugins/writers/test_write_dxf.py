"""DXF cut files. DXF reference: $INSUNITS 1 inches, 4 millimeters; $MEASUREMENT 0 English, 1 metric; ASTM D6673-10."""

import io
import re

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from dxf_frames import FOLDER, PLACE, frame, palette
from pydantic import ValidationError
from second_opinions import dxf_header, dxf_layers, dxf_lines, dxf_tags
from test_write_within_budget import FINE_MM
from writer_sheets import crab_sheet

from clothpath.curves import Affine, Outline, box_of, flattened
from clothpath.findings import Refusal
from clothpath.plugins.writers.dxf import DxfSettings, DxfWriter

VERSIONS = {"R12": "AC1009", "R2000": "AC1015", "R2010": "AC1024"}


def written(**chosen: object) -> bytes:
    return DxfWriter().write(crab_sheet(), DxfSettings(**chosen)).value


@pytest.mark.parametrize("version", VERSIONS)
def test_states_its_version_and_unit(version: str) -> None:
    for unit, insunits, measurement in (("mm", "4", "1"), ("in", "1", "0")):
        header = dxf_header(written(version=version, unit=unit))
        assert header["$ACADVER"] == [VERSIONS[version]]
        stated = [header.get("$INSUNITS"), header.get("$MEASUREMENT")]
        assert stated == ([None, None] if version == "R12" else [[insunits], [measurement]])


def test_r12_says_and_declares_what_it_cannot_state() -> None:
    outcome = DxfWriter().write(crab_sheet(), DxfSettings(version="R12", unit="in"))
    assert [finding.code for finding in outcome.findings] == ["unit-not-stated"]
    assert outcome.value.startswith(b"999\nCoordinates are in inches\n")
    assert DxfWriter().declared(crab_sheet(), DxfSettings(version="R12", unit="in")).mm_per_unit == 25.4
    assert DxfWriter().declared(crab_sheet(), DxfSettings()).mm_per_unit is None


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_extents_are_those_of_the_lines(version: str, unit: str) -> None:
    header = dxf_header(written(version=version, unit=unit))
    box = box_of(cut.path for cut in crab_sheet().cuts)
    scale = {"mm": 1, "in": 25.4}[unit]
    assert [float(v) * scale for v in header["$EXTMIN"]] == pytest.approx([box.left, box.bottom, 0], abs=0.001)
    assert [float(v) * scale for v in header["$EXTMAX"]] == pytest.approx([box.right, box.top, 0], abs=0.001)


@pytest.mark.parametrize("version", VERSIONS)
def test_one_layer_a_fabric_in_its_color(version: str) -> None:
    data = written(version=version)
    layers = dxf_layers(data)
    assert {"sand", "coral", "markings"} <= layers.keys()
    red, green, blue = ezdxf.colors.aci2rgb(layers["coral"])
    assert red > green >= blue
    assert [line.group for line in dxf_lines(data, 1)][:4] == ["sand", "sand", "markings", "coral"]


def test_astm_layers() -> None:
    data = written(layers="astm", version="R12")
    assert [line.group for line in dxf_lines(data, 1)][:6] == ["1", "1", "8", "1", "11", "11"]


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("curves", ["best", "arcs", "polylines"])
def test_ezdxf_finds_nothing_to_mend(version: str, curves: str) -> None:
    document = ezdxf.read(io.StringIO(written(version=version, curves=curves).decode()))
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert len(document.modelspace()) == len(crab_sheet().cuts)


@pytest.mark.parametrize("version", VERSIONS)
def test_handles_are_used_once(version: str) -> None:
    data = written(version=version)
    handles = [value for code, value in dxf_tags(data) if code in (5, 105) and value]
    seed = handles.pop(0)
    assert len(set(handles)) == len(handles)
    assert int(seed, 16) > max(int(handle, 16) for handle in handles)


@pytest.mark.parametrize("chosen", [{}, {"version": "R2010"}, {"version": "R12"}, {"curves": "arcs"}])
def test_gdal_reads_every_line_where_it_was_meant_to_be(chosen: dict[str, object]) -> None:
    # GDAL breaks curves into straight steps, so its points lie on them and not the steps between
    meta, _, geometry, fields = pyogrio.raw.read(io.BytesIO(written(**chosen)))
    cuts = crab_sheet().cuts
    names = list(meta["fields"])
    assert fields[names.index("Layer")].tolist()[:4] == ["sand", "sand", "markings", "coral"]
    assert len(geometry) == len(cuts)
    for shape, cut in zip(shapely.from_wkb(geometry), cuts, strict=True):
        meant = flattened(cut.path, FINE_MM)
        if isinstance(cut.path, Outline):
            meant = np.append(meant, meant[0])
            assert shape.is_closed
        line = shapely.LineString(np.column_stack((meant.real, meant.imag)))
        assert shapely.distance(shapely.points(shapely.get_coordinates(shape)), line).max() < 0.01


def test_arcs_save_points() -> None:
    def count(data: bytes) -> int:
        return sum(code == 10 for code, _ in dxf_tags(data))

    assert count(written(version="R12")) < count(written(version="R12", curves="polylines")) / 4


def test_axes_of_the_machine() -> None:
    chosen = {"origin": "lower-right", "x-axis": "up", "y-axis": "left", "curves": "polylines"}
    settings = DxfSettings(**chosen)
    back = DxfWriter().declared(crab_sheet(), settings).frame
    assert back is not None
    for line, meant in zip(dxf_lines(written(**chosen), 1), dxf_lines(written(curves="polylines"), 1), strict=True):
        assert np.abs(back.apply_all(line.points) - meant.points).max() < 1e-4
    assert DxfWriter().declared(crab_sheet(), DxfSettings()).frame is None
    assert Affine.turn(90).apply(back.inverse().apply(203.2)) == pytest.approx(0)


def test_splines_in_r12_are_refused() -> None:
    with pytest.raises(ValidationError, match="R12"):
        DxfSettings(version="R12", curves="splines")


@pytest.mark.parametrize(
    ("chosen", "code"), [({"most-x": "5 in"}, "beyond-reach"), ({"most-points": 20}, "too-many-points")]
)
def test_limits_of_the_machine(chosen: dict[str, object], code: str) -> None:
    with pytest.raises(Refusal) as refused:
        written(**chosen)
    assert {finding.code for finding in refused.value.findings} == {code}


@pytest.mark.parametrize("version", VERSIONS)
def test_frames_that_ship_are_what_ezdxf_writes(version: str) -> None:
    assert (FOLDER / f"frame-{version}.txt").read_text() == frame(version)


def test_colors_that_ship_are_those_of_dxf() -> None:
    assert (FOLDER / "colors.txt").read_text() == palette()
    assert palette().split("\n")[:7] == [  # DXF reference: red, yellow, green, cyan, blue, magenta, white
        "255 0 0",
        "255 255 0",
        "0 255 0",
        "0 255 255",
        "0 0 255",
        "255 0 255",
        "255 255 255",
    ]


def test_every_place_in_a_frame_is_filled() -> None:
    assert re.search(PLACE, frame("R2000"))
    assert not re.search(PLACE, written().decode())
