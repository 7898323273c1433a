"""What there is: machines and plugins with their settings, as documents."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from clothpath.contracts import Settings
from clothpath.cutting.tried import Tried
from clothpath.files.jobfile import finding_document
from clothpath.findings import Refusal, error, nearest_word
from clothpath.jobs.machines import machine, machines
from clothpath.registry import Registry
from clothpath.units import as_inches

__all__ = ["machines_document", "plugins_document"]

SIXTEENTH_MM: Final = 25.4 / 16
SAME_MM: Final = 1e-6
"""A length this near to a sixteenth of an inch is one."""


def machines_document() -> dict[str, Any]:
    """The machine profiles that ship (schema clothpath/machines@1)."""
    listed = []
    for name in machines():
        each = machine(name)
        usable = each.mat.usable
        listed.append(
            {
                "name": each.name,
                "summary": each.summary,
                "file": each.where,
                "mat_mm": [each.mat.width, each.mat.height],
                "usable_mm": [usable.left, usable.bottom, usable.right, usable.top],
                "formats": [table.format for table in each.writes],
                "blade": {
                    "offset_mm": each.blade.offset,
                    "overcut_mm": each.blade.overcut,
                    "compensated_by": each.blade.compensated_by,
                },
                "speed": {
                    "cutting_mm_s": each.speeds.cutting,
                    "moving_mm_s": each.speeds.moving,
                    "lift_s": each.speeds.lift,
                },
                "tried": [_tried(found) for found in each.tried],
            }
        )
    return {"schema": "clothpath/machines@1", "machines": listed}


def _tried(found: Tried) -> dict[str, Any]:
    return {
        "cloth": found.cloth,
        "preparation": found.preparation,
        "fabrics": list(found.fabrics),
        "settings": found.said,
        "remark": found.remark,
    }


def plugins_document(registry: Registry, names: Sequence[str] = ()) -> dict[str, Any]:
    """The plugins with the JSON Schema of their settings (schema clothpath/plugins@1).

    Args:
        names: list these only, of whatever kind; empty: all.

    Raises:
        Refusal: there is no plugin of a name.
    """
    kinds = (registry.readers, registry.transforms, registry.writers, registry.measurers)
    known = {name for table in kinds for name in table}
    if unknown := [name for name in names if name not in known]:
        raise Refusal(
            *(error("unknown-plugin", f'There is no "{name}".', "", nearest_word(name, known)) for name in unknown)
        )

    def listed(table: Any) -> list[dict[str, Any]]:
        return [
            {
                "name": plugin.name,
                "summary": getattr(plugin, "summary", ""),
                "stage": getattr(plugin, "stage", None),
                "settings": _schema_of(plugin.settings) if hasattr(plugin, "settings") else {},
            }
            for name, plugin in sorted(table.items())
            if not names or name in names
        ]

    return {
        "schema": "clothpath/plugins@1",
        "readers": listed(registry.readers),
        "steps": listed(registry.transforms),
        "writers": listed(registry.writers),
        "measurers": listed(registry.measurers),
        "findings": [finding_document(finding) for finding in registry.findings],
    }


def _schema_of(settings: type[Settings]) -> dict[str, Any]:
    """The JSON Schema of a plugin's settings; the default of a length is text with its unit, as a person states it."""
    schema: dict[str, Any] = settings.model_json_schema()
    for told in schema.get("properties", {}).values():
        if told.get("format") == "length" and isinstance(told.get("default"), float):
            told["default"] = _stated(told["default"])
    return schema


def _stated(mm: float) -> str:
    """A length in inches if it is a whole number of sixteenths, else in millimeters."""
    count = round(mm / SIXTEENTH_MM)
    return as_inches(mm) if count and abs(mm - count * SIXTEENTH_MM) < SAME_MM else f"{mm:.6g} mm"
