"""PNG previews of cut files: the lines that were read back from the file's bytes, on the mat.

What the picture shows is what a machine would follow, not what was meant. Lines take the color of their fabric as long
as the file holds as many as it should; else all are black.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from pydantic import Field

from clothpath.contracts import Measurement, Settings, hookimpl
from clothpath.curves import Affine, Path, transformed
from clothpath.cutplan import CutSheet
from clothpath.findings import Outcome, Refusal, error
from clothpath.layout import Mat
from clothpath.pages.ink import shade
from clothpath.pages.portrait import path_data

__all__ = ["PngSettings", "PngWriter"]

LINE_PIXELS: Final = 1.6
RIM_PIXELS: Final = 12
"""Around the mat."""
BACKGROUND: Final = "#d9d9d4"


class PngSettings(Settings):
    """How a preview is drawn."""

    size: int = Field(800, ge=100, le=8000, description="Pixels of the mat's longer side.")


class PngWriter:
    """Draws PNG previews."""

    name: Final = "png"
    summary: Final = "A picture of each cut file, drawn from what was read back from it"
    suffix: Final = ".png"
    settings: Final = PngSettings

    def draw(self, sheet: CutSheet, measurement: Measurement, settings: PngSettings) -> Outcome[bytes]:
        """The picture.

        Raises:
            Refusal: it could not be drawn.
        """
        import resvg_py

        mat = sheet.mat
        scale = settings.size / max(mat.width, mat.height)
        paths = [line.path for line in measurement.lines]
        drawing = "".join(_drawing(mat, paths, _looks(sheet, len(paths)), scale))
        try:
            image = resvg_py.svg_to_bytes(svg_string=drawing, dpi=96, skip_system_fonts=True)
        except ValueError as fault:
            raise Refusal(error("not-drawn", f"The preview could not be drawn: {fault}")) from None
        return Outcome(bytes(image))


def _looks(sheet: CutSheet, count: int) -> list[str]:
    """The SVG attributes of each line; all alike if the file does not hold as many lines as it should."""
    colors = {fabric.key: shade(fabric.color) for fabric in sheet.fabrics}
    looks = [
        'stroke="#000000" stroke-dasharray="5 3"' if cut.kind == "mark" else f'stroke="{colors[cut.ref.fabric]}"'
        for cut in sheet.cuts
        for _ in range(cut.passes)
    ]
    return looks if len(looks) == count else ['stroke="#000000"'] * count


def _drawing(mat: Mat, paths: Sequence[Path], looks: Sequence[str], scale: float) -> Iterator[str]:
    width, height = mat.width * scale, mat.height * scale
    full = (width + 2 * RIM_PIXELS, height + 2 * RIM_PIXELS)
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{full[0]:.0f}" height="{full[1]:.0f}">'
        f'<rect width="100%" height="100%" fill="{BACKGROUND}"/>'
        f'<rect x="{RIM_PIXELS}" y="{RIM_PIXELS}" width="{width:.2f}" height="{height:.2f}" fill="#ffffff"/>'
        f'<g fill="none" stroke-width="{LINE_PIXELS}" stroke-linejoin="round">'
    )
    onto = Affine(a=scale, d=-scale, e=RIM_PIXELS, f=height + RIM_PIXELS)
    for path, look in zip(paths, looks, strict=True):
        yield f'<path {look} d="{path_data(transformed(path, onto))}"/>'
    yield "</g></svg>"


@hookimpl
def clothpath_writers() -> list[PngWriter]:
    """The PNG writer."""
    return [PngWriter()]
