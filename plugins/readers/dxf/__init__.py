"""The DXF reader: drawings of CAD and pattern programs, R12 to R2018, ASCII or binary, damaged or not.

Terminology
    stroke      what one element of the file draws
    ring        a closed loop, drawn closed or joined of loose edges
    group       strokes of one layer and color; rings nested in a group are holes

Source: DXF Reference (R12 to R2018).
"""

from __future__ import annotations

from pydantic import Field

from clothpath.chains import GAP_MM
from clothpath.contracts import Millimeters, Reader, Settings, hookimpl
from clothpath.curves import Box, box_of, open_path
from clothpath.design import Design, Source
from clothpath.findings import Outcome, Refusal, error
from clothpath.plugins.readers.dxf.document import BINARY, Deadline, opened
from clothpath.plugins.readers.dxf.drawing import Content, drawn
from clothpath.plugins.readers.dxf.pieces import picture_of
from clothpath.plugins.readers.dxf.shapes import Shape
from clothpath.plugins.readers.dxf.sizes import taken_unit

__all__ = ["DxfReader", "DxfSettings", "clothpath_readers"]


class DxfSettings(Settings):
    """How a DXF file is read."""

    gap: Millimeters = Field(GAP_MM, description="widest gap between line ends that is closed")
    most_seconds: float = Field(10.0, gt=0, description="longest time for one file, in seconds")
    most_megabytes: float = Field(40.0, gt=0, description="largest file, in megabytes")
    most_elements: int = Field(200_000, gt=0, description="most elements once blocks are inserted")


class DxfReader:
    name = "dxf"
    summary = "DXF drawings, R12 to R2018, ASCII or binary"
    settings = DxfSettings

    def recognizes(self, head: bytes) -> float:
        if head.startswith(BINARY):
            return 1.0
        lines = [line.strip() for line in head.lstrip(b"\xef\xbb\xbf").splitlines()[:400]]
        codes, values = lines[::2], lines[1::2]
        while codes and codes[0] == b"999":  # comments
            codes, values = codes[1:], values[1:]
        if codes[:1] == [b"0"] and values[:1] == [b"SECTION"]:
            return 1.0
        return 0.5 if b"SECTION" in values and b"0" in codes else 0.0

    def read(self, data: bytes, settings: DxfSettings) -> Outcome[Design]:
        return _read(data, settings)


def _read(data: bytes, settings: DxfSettings) -> Outcome[Design]:
    if len(data) > settings.most_megabytes * 1e6:
        raise Refusal(
            error(
                "too-large",
                f"The file has {len(data) / 1e6:.0f} MB; more than {settings.most_megabytes:g} MB are not read.",
                hint="Save only the parts that are to be cut, or raise the setting most-megabytes.",
            )
        )
    deadline = Deadline(settings.most_seconds)
    document, findings = opened(data, deadline)
    content = drawn(document, settings.most_elements, deadline)
    findings += content.findings
    box = _box(content)
    if box is None:
        nothing = error(
            "nothing-drawn",
            "There is no line in this drawing that could be cut.",
            hint="Check that the picture is in the model space and on layers that are shown.",
        )
        raise Refusal(*findings, nothing)
    scale, stated, told = taken_unit(document.header, box)
    picture = picture_of(content, scale, settings.gap)
    findings += told + picture.findings
    if not picture.pieces:
        open_only = error(
            "no-closed-outline",
            "No line of this drawing closes, so there is no piece to cut.",
            hint="Close the outlines in the drawing program, or allow a wider gap.",
        )
        raise Refusal(*findings, open_only)
    source = Source(reader="dxf", stated_unit=stated, mm_per_unit=scale)
    return Outcome(Design("", picture.pieces, picture.markings, picture.fabrics, source), tuple(findings))


def _box(content: Content) -> Box | None:
    edges = [stroke.shape.edge for stroke in content.strokes if isinstance(stroke.shape, Shape)]
    return box_of(open_path(edge.start, edge.segments) for edge in edges) if edges else None


@hookimpl
def clothpath_readers() -> list[Reader]:
    return [DxfReader()]
