"""Released files measured again, against what their job's document says was meant (schema clothpath/proof@1).

A page or a table is not measured: it is as released if its bytes are those that its job's document knows, or the index
of its build for one that tells of all jobs.

Terminology
    altered     a file whose bytes are not those that were released
    bare        a file that no job's document lists: it is measured, and there is nothing to compare it with
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any, Final

from clothpath.contracts import Declared, Measurement
from clothpath.curves import Affine, Path, box_of, open_path, polygon, transformed
from clothpath.cutplan import Blade, CutSheet, as_laid, sheets
from clothpath.cutting.tips import allowed
from clothpath.design import Design, Fabric, Marking, Piece
from clothpath.files.jobfile import DIGITS, RING_MM, finding_document, proof_document
from clothpath.files.names import INDEX_FILE, JOB_FILE
from clothpath.findings import Finding, Refusal, error, note, warning
from clothpath.layout import Demand, Layout, Mat, MatLayout, Placement, Swatch
from clothpath.proof import prove, survey
from clothpath.regions import region
from clothpath.registry import Registry, guarded

__all__ = ["remeasured"]

Manifest = Mapping[str, Any]
_NEVER_RELEASED: Final = {"released": False}
"""Over a document: of a file that no job made, or of a job that made none."""
_GONE: Final = error("file-missing", "The file was released and is not there any more.", "", "Build the job again.")


def remeasured(paths: Sequence[FilePath], registry: Registry) -> dict[str, Any]:
    """The document of `proof`: every file below the paths, measured again.

    Raises:
        Refusal: a path does not exist, or nothing below it can be measured.
    """
    files: list[dict[str, Any]] = []
    for path in paths:
        if not path.exists():
            raise Refusal(error("no-such-file", "There is no such file or folder.", str(path), "Check the name."))
        found = list(_of_folder(path, registry) if path.is_dir() else _of_file(path, registry))
        if not found:
            message = "Nothing here was released by a job, and nothing else can be measured."
            raise Refusal(
                error("nothing-to-measure", message, str(path), "Name a folder that a build wrote, or a file.")
            )
        files += found
    return {"schema": "clothpath/proof@1", "files": files}


def _of_folder(folder: FilePath, registry: Registry) -> Iterator[dict[str, Any]]:
    listed: set[FilePath] = set()
    for index_file in sorted(folder.rglob(INDEX_FILE)):
        for entry in _pages(index_file):
            yield _page(index_file.parent / entry["path"], entry)
    for job_file in sorted(folder.rglob(JOB_FILE)):
        manifest = _manifest(job_file)
        for entry in manifest["files"]:
            path = job_file.parent / FilePath(entry["path"]).name
            listed.add(path)
            yield _against(path, entry, manifest, registry) if entry["proof"] else _page(path, entry)
        if manifest["status"] != "ok":
            why = "This job failed, so it released nothing; its job.json says why."
            failed = warning("job-failed", why, "", "Mend what it says, and build again.")
            yield _document(job_file, "job", None, (failed,)) | _NEVER_RELEASED
    for path in sorted(folder.rglob("*")):
        if path.is_file() and path not in listed and _format(path, registry) is not None:
            yield _bare(path, registry)


def _of_file(path: FilePath, registry: Registry) -> Iterator[dict[str, Any]]:
    job_file = path.parent / JOB_FILE
    if job_file.exists():
        manifest = _manifest(job_file)
        for entry in manifest["files"]:
            if FilePath(entry["path"]).name == path.name:
                yield _against(path, entry, manifest, registry) if entry["proof"] else _page(path, entry)
                return
    index_file = path.parent / INDEX_FILE
    if index_file.exists():
        for entry in _pages(index_file):
            if entry["path"] == path.name:
                yield _page(path, entry)
                return
    if _format(path, registry) is not None:
        yield _bare(path, registry)


def _manifest(path: FilePath) -> Manifest:
    try:
        manifest: Manifest = json.loads(path.read_text(encoding="utf-8"))
        if manifest["schema"] != "clothpath/job@1":
            raise ValueError(f"its schema is {manifest['schema']}")
    except (OSError, ValueError, KeyError, TypeError) as fault:
        message = f"The job's document is damaged: {fault}."
        raise Refusal(error("job-damaged", message, str(path), "Build the job again.")) from None
    return manifest


def _pages(index_file: FilePath) -> Sequence[Mapping[str, Any]]:
    """The pages that the index of a build knows by their bytes; none where the file of that name is no such index.

    Raises:
        Refusal: the file is damaged.
    """
    try:
        index = json.loads(index_file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as fault:
        message = f"The index of a build is damaged: {fault}."
        raise Refusal(error("index-damaged", message, str(index_file), "Build the catalog again.")) from None
    if not isinstance(index, dict) or index.get("schema") != "clothpath/build@1":
        return ()
    pages: Sequence[Mapping[str, Any]] = index.get("pages", ())
    return pages


def _format(path: FilePath, registry: Registry) -> str | None:
    """The format that a measurer knows and that the file's ending names."""
    by_suffix = {getattr(writer, "suffix", None): name for name, writer in registry.writers.items()}
    name = by_suffix.get(path.suffix.lower())
    return name if name in registry.measurers else None


def _document(path: FilePath, form: str, ok: bool | None, found: Sequence[Finding]) -> dict[str, Any]:
    return {
        "path": str(path),
        "format": form,
        "ok": ok,
        "released": True,
        "unit": None,
        "size_mm": None,
        "lines": 0,
        "proof": None,
        "findings": [finding_document(finding) for finding in found],
    }


def _measured(document: dict[str, Any], measurement: Measurement) -> dict[str, Any]:
    box = box_of(line.path for line in measurement.lines) if measurement.lines else None
    return document | {
        "unit": measurement.unit,
        "size_mm": [round(box.width, DIGITS), round(box.height, DIGITS)] if box else None,
        "lines": len(measurement.lines),
    }


def _bare(path: FilePath, registry: Registry) -> dict[str, Any]:
    form = str(_format(path, registry))
    try:
        outcome = guarded(form, lambda: registry.measurers[form].measure(path.read_bytes(), Declared()), Measurement)
    except Refusal as refusal:
        return _document(path, form, False, refusal.findings) | _NEVER_RELEASED
    alone = note("not-listed", "No job's document lists this file, so there is nothing to compare it with.")
    seen = survey(outcome.value).findings
    found = (*outcome.findings, *seen, alone)
    ok = False if any(finding.severity == "error" for finding in found) else None
    return _measured(_document(path, form, ok, found), outcome.value) | _NEVER_RELEASED


def _page(path: FilePath, entry: Mapping[str, Any]) -> dict[str, Any]:
    """A page for people: whether it is there as it was released."""
    if not path.exists():
        return _document(path, entry["format"], False, (_GONE,))
    if hashlib.sha256(path.read_bytes()).hexdigest() != entry.get("sha256"):
        message = "The page was altered since it was released."
        altered = error("file-altered", message, "", "Do not trust what it says; build the job again.")
        return _document(path, entry["format"], False, (altered,))
    return _document(path, entry["format"], True, ())


def _against(path: FilePath, entry: Mapping[str, Any], manifest: Manifest, registry: Registry) -> dict[str, Any]:
    form = entry["format"]
    if not path.exists():
        return _document(path, form, False, (_GONE,))
    if form not in registry.measurers:
        return _document(path, form, False, (error("no-measurer", f'No plugin measures "{form}".'),))
    data = path.read_bytes()
    found: list[Finding] = []
    altered = hashlib.sha256(data).hexdigest() != entry.get("sha256")
    if altered:
        message = "The file was altered since it was released: its bytes are others."
        found.append(
            warning("file-altered", message, "", "What was altered is told below; if nothing, only its wording.")
        )
    measurer = registry.measurers[form]
    declared = _declared(entry.get("declared", {}))
    try:
        outcome = guarded(form, lambda: measurer.measure(data, declared), Measurement)
        sheet = _sheet(entry, manifest)
        proof = prove(sheet, outcome.value, *allowed(sheet, declared, measurer.budget_mm + RING_MM))
    except Refusal as refusal:
        return _document(path, form, False, (*found, *refusal.findings))
    found += [*outcome.findings, *proof.findings]
    document = _document(path, form, proof.ok and not altered, found)
    return _measured(document, outcome.value) | {"proof": proof_document(proof)}


def _declared(told: Mapping[str, Any]) -> Declared:
    frame = told.get("frame")
    return replace(Declared(**{**told, "frame": None}), frame=Affine(**frame) if frame else None)


def _sheet(entry: Mapping[str, Any], manifest: Manifest) -> CutSheet:
    """What the file must hold, rebuilt from the document: each piece as the picture shows it, and where it lies."""
    apart = entry.get("mats_apart_mm")
    mats = manifest["mats"] if entry["mat"] is None else [manifest["mats"][entry["mat"] - 1]]
    fabrics: dict[str, Fabric] = {}
    designs: dict[str, tuple[list[Piece], list[Marking]]] = {}
    swatches: list[list[Swatch]] = [[] for _ in mats]
    for n, (m, swatch) in enumerate((m, swatch) for m, mat in enumerate(mats) for swatch in mat["swatches"]):
        key, laid, cloth_turn = swatch["fabric"], swatch["laid"], swatch["turn_deg"]
        fabrics.setdefault(key, Fabric(key, key, laid=laid, grain=swatch.get("grain", "any")))
        placements = []
        for each in swatch["pieces"]:
            name = f"{each['piece']} {n} {each['copy']}"
            turned = Affine.turn(cloth_turn + each["turn_deg"])
            back = (turned @ Affine.flip() if each["reversed"] else turned).inverse()
            pieces, markings = designs.setdefault(each["design"], ([], []))
            rings = [transformed(polygon([complex(*p) for p in ring]), back) for ring in each["rings_mm"]]
            pieces.append(Piece(name, each["piece"], region(rings[0], rings[1:]), key, order=len(pieces) + 1))
            for k, line in enumerate(each.get("marks_mm", [])):
                markings.append(Marking(f"{name} {k}", name, transformed(_line(line), back), on=name))
            placements.append(Placement(each["design"], name, each["copy"], each["reversed"], each["turn_deg"], 0j))
        swatches[m].append(Swatch(key, laid, 0.0, 0.0, 0.0, 0.0, cloth_turn, tuple(placements)))
    demands = tuple(
        Demand(Design(name, tuple(pieces), tuple(markings), tuple(fabrics.values())))
        for name, (pieces, markings) in designs.items()
    )
    size = Mat(manifest["machine"], mats[0]["width_mm"], mats[0]["height_mm"])
    layout = Layout(demands, tuple(fabrics.values()), size, tuple(MatLayout(tuple(each)) for each in swatches))
    whole = sheets(as_laid(layout, Blade()), "all", apart or 0.0)[0]
    wanted = set(entry.get("fabrics", fabrics))
    cuts = tuple(
        replace(cut, passes=entry.get("passes", {}).get(cut.ref.fabric, 1)) if cut.kind == "cut" else cut
        for cut in whole.cuts
        if cut.ref.fabric in wanted and (cut.kind == "cut" or entry.get("markings", True))
    )
    return replace(whole, fabrics=tuple(f for f in whole.fabrics if f.key in wanted), cuts=cuts)


def _line(points: Sequence[Sequence[float]]) -> Path:
    first, *rest = [complex(*point) for point in points]
    return polygon([first, *rest[:-1]]) if first == rest[-1] else open_path(first, [(point,) for point in rest])
