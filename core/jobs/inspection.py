"""What is in a drawing, as the JSON document that is promised (schema clothpath/inspect@1)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path as FilePath
from typing import Any

from clothpath.contracts import Settings
from clothpath.design import Design, Grain, Marking, Piece
from clothpath.files.jobfile import DIGITS, finding_document
from clothpath.findings import Refusal
from clothpath.picture.likeness import Likeness, is_achiral, likeness
from clothpath.picture.neighbors import contacts, layering
from clothpath.pipeline import read_drawing
from clothpath.recipe import Layer, reading
from clothpath.regions import region_area
from clothpath.registry import Registry, drawings

__all__ = ["inspected"]


def inspected(files: Sequence[FilePath], registry: Registry, arguments: Layer) -> dict[str, Any]:
    """The document of `inspect`; a file that cannot be read has its error among its findings.

    Args:
        files: drawings, or folders of drawings.

    Raises:
        Refusal: a folder holds no drawing; the arguments set what is no setting of a reader.
    """
    told = reading(registry, arguments)
    named = drawings(files, registry)
    return {
        "schema": "clothpath/inspect@1",
        "files": [_file(path, registry, told) for path in named.value],
        "findings": [finding_document(finding) for finding in named.findings],
    }


def _file(path: FilePath, registry: Registry, told: Mapping[str, Settings]) -> dict[str, Any]:
    document: dict[str, Any] = {
        "path": str(path),
        "reader": None,
        "size_mm": None,
        "stated_unit": None,
        "pieces": [],
        "fabrics": [],
        "findings": [],
    }
    try:
        outcome = read_drawing(registry, path, path.stem, drawn_reversed=False, reading=told)
    except Refusal as refusal:
        return document | {"findings": [finding_document(finding) for finding in refusal.findings]}
    design = outcome.value
    box = design.finished_box if design.cut_pieces else None
    known = likeness(design)
    return document | {
        "reader": design.source.reader,
        "size_mm": [round(box.width, DIGITS), round(box.height, DIGITS)] if box else None,
        "page_mm": [round(side, DIGITS) for side in design.source.size_mm] if design.source.size_mm else None,
        "stated_unit": design.source.stated_unit,
        "pieces": [
            *(_piece(piece, design, known) for piece in design.pieces),
            *(_marking(each) for each in design.markings),
        ],
        "fabrics": [
            {
                "key": fabric.key,
                "label": fabric.label,
                "color": fabric.color,
                "pieces": sum(piece.fabric == fabric.key for piece in design.pieces),
            }
            for fabric in design.fabrics
        ],
        "alike": [
            {"pieces": list(each.pieces), "mirrored": list(each.mirrored)}
            for each in known.classes
            if len(each.pieces) + len(each.mirrored) > 1
        ],
        "layering": layering(contacts(design)),
        "findings": [finding_document(finding) for finding in outcome.findings],
    }


def _piece(piece: Piece, design: Design, known: Likeness) -> dict[str, Any]:
    grain: Grain = next((fabric.grain for fabric in design.fabrics if fabric.key == piece.fabric), "any")
    box = piece.region.box
    found = dict(known.symmetries).get(piece.id)
    return {
        "id": piece.id,
        "label": piece.label,
        "fabric": piece.fabric,
        "role": piece.role,
        "size_mm": [round(box.width, DIGITS), round(box.height, DIGITS)],
        "area_mm2": round(region_area(piece.region), DIGITS),
        "holes": len(piece.region.holes),
        "achiral": is_achiral(piece.region, grain),
        "symmetry": {"order": found.order, "axes_deg": list(found.axes_deg)} if found else None,
    }


def _marking(marking: Marking) -> dict[str, Any]:
    box = marking.path.box
    return {
        "id": marking.id,
        "label": marking.label,
        "fabric": None,
        "role": marking.role,
        "size_mm": [round(box.width, DIGITS), round(box.height, DIGITS)],
        "area_mm2": None,
        "holes": 0,
        "achiral": None,
    }
