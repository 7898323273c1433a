"""What a job takes of cloth, as its document keeps it, so that a whole catalog can be summed up from what was built.

Terminology
    record      what one job takes, fabric by fabric, as plain data
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from clothpath.cloth.amounts import Taking, takings
from clothpath.design import Fabric
from clothpath.layout import Layout

__all__ = ["JobCloth", "cloth_record", "takings_of"]

DIGITS: Final = 4


@dataclass(frozen=True, slots=True)
class JobCloth:
    """One job of a build and what it takes of each fabric.

    Attributes:
        design, size: what the job is called.
    """

    design: str
    size: str
    taken: tuple[Taking, ...]


def cloth_record(layout: Layout) -> list[dict[str, Any]]:
    """What a layout takes, by fabric in their order."""
    return [
        {
            "fabric": each.fabric.key,
            "cloth": each.fabric.cloth_key,
            "label": each.fabric.label,
            "color": each.fabric.color,
            "preparation": each.fabric.preparation,
            "grain": each.fabric.grain,
            "rectangles": [
                {"width_mm": width, "height_mm": height, "count": count}
                for (width, height), count in Counter(
                    (round(w, DIGITS), round(h, DIGITS)) for w, h in each.sizes
                ).items()
            ],
            "pieces_mm2": round(each.pieces_mm2, DIGITS),
        }
        for each in takings(layout)
    ]


def takings_of(record: Sequence[Mapping[str, Any]]) -> tuple[Taking, ...]:
    """The takings that a record tells of."""
    return tuple(
        Taking(
            Fabric(
                each["fabric"],
                each["label"],
                each["color"],
                each["preparation"],
                grain=each["grain"],
                cloth="" if each["cloth"] == each["fabric"] else each["cloth"],
            ),
            tuple((one["width_mm"], one["height_mm"]) for one in each["rectangles"] for _ in range(one["count"])),
            each["pieces_mm2"],
        )
        for each in record
    )
