"""The DXF reader: drawings of CAD and pattern programs, R12 to R2018, ASCII or binary, damaged or not.

Terminology
    stroke      what one element of the file draws
    ring        a closed loop, drawn closed or joined of loose edges
    group       strokes of one layer and color; rings nested in a group are holes

Source: DXF Reference (R12 to R2018).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from pydantic import Field

from clothpath.areas.chains import GAP_MM
from clothpath.contracts import Millimeters, Reader, hookimpl
from clothpath.curves import Box, Curve, open_path
from clothpath.design import Design, Source
from clothpath.files.reading import Deadline, ReadingSettings, allow_more, uncollected
from clothpath.findings import Outcome, Refusal, error, warning
from clothpath.plugins.readers.dxf.document import count_of, opened, seems_dxf, states
from clothpath.plugins.readers.dxf.drawing import Content, content_of
from clothpath.plugins.readers.dxf.patterns import is_pattern, pattern_of, stated_system
from clothpath.plugins.readers.dxf.pieces import picture_of
from clothpath.plugins.readers.dxf.rings import Terms
from clothpath.plugins.readers.dxf.shapes import Stroke
from clothpath.plugins.readers.dxf.sizes import metric_or_english, unit_of

__all__ = ["DxfReader", "DxfSettings", "clothpath_readers"]

_UNIT_VARIABLES: Final = ("$INSUNITS", "$MEASUREMENT", "$LUNITS")


class DxfSettings(ReadingSettings):
    """How a DXF file is read."""

    gap: Millimeters = Field(GAP_MM, description="widest gap between line ends that is closed")
    most_elements: int = Field(250_000, gt=0, description="most lines and arcs once blocks are inserted")


class DxfReader:
    name = "dxf"
    summary = "DXF drawings of CAD and pattern programs, R12 to R2018, ASCII or binary"
    settings = DxfSettings

    def recognizes(self, head: bytes) -> float:
        return seems_dxf(head)

    def read(self, data: bytes, settings: DxfSettings) -> Outcome[Design]:
        """The design; see `contracts.Reader`.

        Raises:
            Refusal: the file is no DXF, is damaged beyond repair or beyond a limit, or has nothing that can be cut.
        """
        if len(data) > settings.most_megabytes * 1e6:
            message = f"The file has {len(data) / 1e6:.0f} MB; more than {settings.most_megabytes:g} MB are not read."
            hint = f"Save only the parts that are to be cut, or {allow_more(self.name, 'most-megabytes')}."
            raise Refusal(error("too-large", message, hint=hint))
        with uncollected():
            return self._read(data, settings)

    def _read(self, data: bytes, settings: DxfSettings) -> Outcome[Design]:
        deadline = Deadline(self.name, settings.most_seconds)
        file = opened(data, settings, deadline)
        content = content_of(file, settings.most_elements, deadline)
        for _ in range(count_of(data, "IMAGE") - content.leftovers.count("kind", "IMAGE")):
            content.leftovers.add("kind", "IMAGE", "")  # ezdxf drops those whose picture file it is not told
        pattern = is_pattern(content)
        if not pattern:
            content.leave_dots_and_words()
        box = _box(content)
        if box is None:
            hint = "Check that the picture is in the model space and on layers that are shown, as lines."
            nothing = error("nothing-drawn", "The drawing has no line that could be cut.", hint=hint)
            raise Refusal(*file.damage, *content.leftovers.findings(), nothing)
        system = stated_system(content) if pattern else None
        unit = metric_or_english(system, box) if system else unit_of(_header(file.document, data), box)
        picture = (pattern_of if pattern else picture_of)(content, Terms(unit.mm, settings.gap, deadline))
        findings = [*file.damage, *unit.findings, *content.leftovers.findings(), *picture.findings]
        if not picture.pieces:
            hint = (
                "Close the outlines in the drawing program, or have wider gaps closed: "
                '--set tidy.gap="1 mm", or gap = "1 mm" at the step tidy of a recipe.'
            )
            message = "No line of the drawing closes, so nothing can be cut."
            findings.append(warning("no-closed-outline", message, hint=hint))
        source = Source("", self.name, unit.stated, unit.mm)
        return Outcome(Design("", picture.pieces, picture.markings, picture.fabrics, source), tuple(findings))


def _header(document: Any, data: bytes) -> dict[str, int]:
    """The header variables about units that the file itself sets."""
    found: dict[str, int] = {}
    for name in _UNIT_VARIABLES:
        value = document.header.get(name) if states(data, name) else None
        if isinstance(value, int):
            found[name] = value
    return found


def _box(content: Content) -> Box | None:
    """The box of every stroke, in the drawing's unit: that of one path through all, since jumps stay within it."""
    edges = [item.what.edge for item in content.items if isinstance(item.what, Stroke)]
    if not edges:
        return None
    through: list[Curve] = [segment for edge in edges for segment in ((edge.start,), *edge.segments)]
    return open_path(edges[0].start, through).box


@hookimpl
def clothpath_readers() -> Sequence[Reader]:
    return [DxfReader()]
