"""The size card: the numbers to type into software that does not keep a file's size, measured in the written files.

Terminology
    slip        how software may take a file's numbers for something else, and at which size it then shows the file

Software that ignores the unit scales the whole selection: so the size is that of everything in the file together, set
before the parts are ungrouped. Densities met in software: 72, 90 and 96 px to the inch (CSS Values and Units has 96; 90
and 72 from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from clothpath.contracts import CardWriter, Document, Settings, Written, hookimpl
from clothpath.curves import Box, Path, box_of
from clothpath.cutting.testcut import TEST_CUT
from clothpath.files.names import heading, shown
from clothpath.findings import Outcome
from clothpath.pages.handling import about_markings, fabric_names
from clothpath.pages.page import page
from clothpath.proving.comparison import compared
from clothpath.units import MM_PER_UNIT, as_typed, as_typed_mm

__all__ = ["SizeCard", "Slip", "slips"]

DENSITIES: Final = (72, 90, 96)
NEAR_MM: Final = 0.05
"""A line this near to where it was meant to be is that line."""
SAME: Final = 0.002
"""Slips whose factors differ by less than this part cannot be told apart."""
MANIFOLD: Final = 10.0
"""From this factor on a person is told how many times, not how many percent."""
UNIT_WORDS: Final[Mapping[str, str]] = {
    "mm": "millimeters",
    "cm": "centimeters",
    "in": "inches",
    "pt": "points, 72 to the inch",
    "px": "pixels",
    "plu": "plotter units, 40 to the millimeter",
}


@dataclass(frozen=True, slots=True)
class Slip:
    """One way to take a file wrongly: what happened, and how many times its size it then shows."""

    what: str
    factor: float


class SizeCard:
    """Tells the sizes of all cut files of a job."""

    name: Final = "size-card"
    summary: Final = "The sizes to type into software that ignores a file's unit, measured in the written files"
    settings: Final = Settings

    def tell(self, files: Sequence[Written], settings: Settings) -> Outcome[tuple[Document, ...]]:
        """One page for all files."""
        plan = files[0].sheet.plan
        layout = plan.layout
        designs = ", ".join(shown(demand.design.name) for demand in layout.demands if demand.design.name != TEST_CUT)
        names = fabric_names(layout.fabrics)
        card = page(
            "size-card",
            title=f"Size card: {heading(plan.title) or f'{designs} for {shown(layout.mat.name)}'}",
            markings=about_markings(plan, names) if any(map(_has_markings, files)) else (),
            files=[_told(file, names) for file in files],
        )
        return Outcome((Document("size-card.html", card),))


def slips(unit: str, mm_per_unit: float | None) -> tuple[Slip, ...]:
    """The ways to take a file of this unit wrongly, by how large it is then shown.

    Args:
        unit: as the file states it, "" if it states none.
        mm_per_unit: what one unit of the file is in truth, where the file does not say.
    """
    true = mm_per_unit if mm_per_unit is not None else MM_PER_UNIT.get(unit)
    if true is None or unit == "plu":
        return ()
    found: list[Slip] = []
    for what, taken in _readings(true):
        slip = Slip(what, taken / true)
        if abs(slip.factor - 1) > SAME and all(abs(slip.factor / other.factor - 1) > SAME for other in found):
            found.append(slip)
    return tuple(sorted(found, key=lambda slip: slip.factor))


def _readings(true: float) -> Iterator[tuple[str, float]]:
    """Ways to read the file's numbers, with the size of one unit in each."""
    lengths = {"millimeters": 1.0, "inches": 25.4}
    named = next((name for name, size in lengths.items() if abs(size - true) < 1e-9), "")
    for density in DENSITIES:
        yield f"It took the numbers for pixels, {density} to the inch.", 25.4 / density
    if named:
        other = next(name for name in lengths if name != named)
        yield f"It took {named} for {other}.", lengths[other]
        for density in (72, 90):
            yield f"It made pixels of it at 96 to the inch and took them at {density}.", true * 96 / density


def _has_markings(file: Written) -> bool:
    return any(cut.kind == "mark" for cut in file.sheet.cuts)


def _told(file: Written, names: Mapping[str, str]) -> dict[str, object]:
    unit, declared = file.measurement.unit, file.declared.mm_per_unit
    box = box_of(line.path for line in file.measurement.lines)
    where = f"{file.sheet.which.capitalize()}. " if file.sheet.mats > 1 else ""
    by_fabric = _by_fabric(file)
    return {
        "name": file.name,
        "what": where + _unit_words(unit, declared),
        "box": box,
        "unit_is_fixed": unit == "plu",
        "markings": _markings_words(file, box, [path for paths in by_fabric.values() for path in paths]),
        "slips": [
            {"what": slip.what, "scale": _scale(1 / slip.factor), **_sizes(box, slip.factor)}
            for slip in slips(unit, declared)
        ],
        "fabrics": [
            {
                "label": names[fabric.key],
                "color": fabric.color,
                "outlines": len(by_fabric[fabric.key]),
                **_sizes(box_of(by_fabric[fabric.key]), 1.0),
            }
            for fabric in file.sheet.fabrics
            if len(file.sheet.fabrics) > 1 and fabric.key in by_fabric
        ],
    }


def _scale(factor: float) -> str:
    """What to scale by, as software asks for it: "133.33 %"; far from the size, how many times: "96 x"."""
    return f"{factor:.4g} x" if factor >= MANIFOLD else f"{100 * factor:.2f} %"


def _markings_words(file: Written, box: Box, cut: Sequence[Path]) -> str:
    """Whether the size of a file includes its markings, and what it measures without."""
    if not _has_markings(file) or not cut:
        return ""
    alone = box_of(cut)
    if max(abs(alone.width - box.width), abs(alone.height - box.height)) < NEAR_MM:
        return "The file also holds markings; with and without them it measures the same."
    sizes = _sizes(alone, 1.0)
    return f"The markings are included; without them the file measures {sizes['inches']}, {sizes['mm']}."


def _unit_words(unit: str, declared: float | None) -> str:
    if unit and declared is None:
        return f"The file is in {UNIT_WORDS.get(unit, unit)}."
    each = f"one is {declared:.4g} mm" if declared is not None else "nobody said what one is"
    if unit == "px" and declared is not None:
        each = f"{25.4 / declared:.4g} to the inch"
    return f"The file is in {UNIT_WORDS[unit]}, {each}." if unit else f"The file states no unit; {each}."


def _by_fabric(file: Written) -> dict[str, list[Path]]:
    """Fabric key to its outlines as measured."""
    found = [line.path for line in file.measurement.lines]
    cuts = file.sheet.cuts
    outlines: dict[str, list[Path]] = {}
    for i, j in compared([cut.outline for cut in cuts], found, NEAR_MM).pairs:
        if cuts[i].kind == "cut":
            outlines.setdefault(cuts[i].ref.fabric, []).append(found[j])
    return outlines


def _sizes(box: Box, factor: float) -> dict[str, str]:
    width, height = box.width * factor, box.height * factor
    return {
        "inches": f"{as_typed(width)} x {as_typed(height)}",
        "mm": f"{as_typed_mm(width)} x {as_typed_mm(height)}",
    }


@hookimpl
def clothpath_writers() -> Sequence[CardWriter]:
    return [SizeCard()]
