"""What there is: machines and plugins with their settings, as documents."""

from __future__ import annotations

from typing import Any

from clothpath.cutting.tried import Tried
from clothpath.files.jobfile import finding_document
from clothpath.jobs.machines import machine, machines
from clothpath.registry import Registry

__all__ = ["machines_document", "plugins_document"]


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


def plugins_document(registry: Registry) -> dict[str, Any]:
    """The plugins with the JSON Schema of their settings (schema clothpath/plugins@1)."""

    def listed(table: Any) -> list[dict[str, Any]]:
        return [
            {
                "name": plugin.name,
                "summary": getattr(plugin, "summary", ""),
                "stage": getattr(plugin, "stage", None),
                "settings": plugin.settings.model_json_schema() if hasattr(plugin, "settings") else {},
            }
            for _, plugin in sorted(table.items())
        ]

    return {
        "schema": "clothpath/plugins@1",
        "readers": listed(registry.readers),
        "steps": listed(registry.transforms),
        "writers": listed(registry.writers),
        "measurers": listed(registry.measurers),
        "findings": [finding_document(finding) for finding in registry.findings],
    }
