"""What a job did, as the JSON document that is promised (schema clothpath/job@1), and its release into a folder.

A folder is made beside its place and moved there when it is whole, so that it is never left half written.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path as FilePath
from typing import Any, Final

from clothpath.cloth.record import cloth_record
from clothpath.curves import Outline, Path, box_of, flattened, transformed
from clothpath.cutplan import marks_by_piece
from clothpath.cutting.testcut import without_test_cuts
from clothpath.design import fabric_of
from clothpath.files.names import JOB_FILE
from clothpath.findings import Finding, Refusal, error
from clothpath.jobs.job import Result
from clothpath.layout import Layout, placed
from clothpath.pipeline import Produced
from clothpath.proof import Proof

__all__ = [
    "RING_MM",
    "causes",
    "dumped",
    "errors_of",
    "finding_document",
    "job_document",
    "proof_document",
    "release",
    "released_folder",
]

RING_MM: Final = 0.01
"""How far a ring in the document may be from the curve that it stands for."""
DIGITS: Final = 4
_PAIR: Final = re.compile(r"\[\s+(-?[\d.e-]+),\s+(-?[\d.e-]+)\s+\]")


def dumped(document: Mapping[str, Any]) -> str:
    """A document as text, the same for the same content, a point to a line."""
    return _PAIR.sub(r"[\1, \2]", json.dumps(document, indent=1, ensure_ascii=False)) + "\n"


def finding_document(finding: Finding) -> dict[str, str]:
    """A finding as promised."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "message": finding.message,
        "where": finding.where,
        "hint": finding.hint,
    }


def proof_document(proof: Proof) -> dict[str, Any]:
    """A proof as promised."""
    return {
        "ok": proof.ok,
        "size_error_mm": round(proof.size_error_mm, 6),
        "lost": proof.lost,
        "added": proof.added,
        "reversed_ok": proof.reversed_ok,
    }


def job_document(result: Result) -> dict[str, Any]:
    """The document of a job."""
    job = result.job
    return {
        "schema": "clothpath/job@1",
        "design": job.design,
        "size": job.size,
        "machine": job.machine.name,
        "status": result.status,
        "files": [_file(job.folder, file) for file in result.files if file.released and result.status == "ok"],
        "mats": list(_mats(result.plan.layout)) if result.plan and result.status == "ok" else [],
        "cloth": cloth_record(without_test_cuts(result.plan.layout)) if result.plan and result.status == "ok" else [],
        "findings": [finding_document(finding.by_name()) for finding in result.findings],
    }


def _file(folder: FilePath, file: Produced) -> dict[str, Any]:
    document: dict[str, Any] = {
        "path": (folder / file.name).as_posix(),
        "format": file.format,
        "mat": None,
        "unit": None,
        "size_mm": None,
        "pieces": 0,
        "proof": None,
    }
    if file.sheet is not None and file.measurement is not None and file.proof is not None:
        box = box_of(line.path for line in file.measurement.lines)
        document |= {
            "mat": None if file.sheet.apart is not None else file.sheet.mat_number,
            "mats_apart_mm": file.sheet.apart,
            "unit": file.measurement.unit,
            "size_mm": [round(box.width, DIGITS), round(box.height, DIGITS)],
            "pieces": len({cut.ref for cut in file.sheet.cuts if cut.kind == "cut"}),
            "fabrics": [fabric.key for fabric in file.sheet.fabrics],
            "markings": any(cut.kind == "mark" for cut in file.sheet.cuts),
            "passes": {cut.ref.fabric: cut.passes for cut in file.sheet.cuts if cut.kind == "cut"},
            "declared": {key: value for key, value in asdict(file.declared).items() if value is not None},
            "proof": proof_document(file.proof),
        }
    return document | {"sha256": hashlib.sha256(file.data).hexdigest()}


def _mats(layout: Layout) -> Iterator[dict[str, Any]]:
    lying: dict[tuple[int, int], list[dict[str, Any]]] = {}
    marks = marks_by_piece(layout)
    for each in placed(layout):
        where = each.placement
        key = (where.design, where.piece)
        lying.setdefault((each.mat, each.swatch), []).append(
            {
                "design": where.design,
                "piece": where.piece,
                "copy": where.copy,
                "reversed": where.reversed,
                "turn_deg": round(where.turn, DIGITS),
                "rings_mm": [_points(ring) for ring in each.region],
                "marks_mm": [_line(transformed(path, each.affine)) for path in marks.get(key, [])],
            }
        )
    for m, mat in enumerate(layout.mats):
        yield {
            "mat": m + 1,
            "width_mm": round(layout.mat.width, DIGITS),
            "height_mm": round(layout.mat.height, DIGITS),
            "times": mat.times,
            "swatches": [
                {
                    "fabric": swatch.fabric,
                    "laid": swatch.laid,
                    "x_mm": round(swatch.x, DIGITS),
                    "y_mm": round(swatch.y, DIGITS),
                    "width_mm": round(swatch.width, DIGITS),
                    "height_mm": round(swatch.height, DIGITS),
                    "turn_deg": swatch.turn,
                    "grain": fabric_of(layout.fabrics, swatch.fabric).grain,
                    "pieces": lying.get((m, s), []),
                }
                for s, swatch in enumerate(mat.swatches)
            ],
        }


def _points(path: Path) -> list[list[float]]:
    points = flattened(path, RING_MM)
    return [
        [round(x, DIGITS), round(y, DIGITS)] for x, y in zip(points.real.tolist(), points.imag.tolist(), strict=True)
    ]


def _line(path: Path) -> list[list[float]]:
    """The points of a marking, the first one again at the end if it is closed."""
    points = _points(path)
    return [*points, points[0]] if isinstance(path, Outline) else points


def release(result: Result, out: FilePath, mark: str | None) -> dict[str, Any]:
    """Put the files of a job and its document into its folder below `out`, all or none; return the document.

    `mark` is the job's fingerprint, by which a later build knows that nothing has changed.

    A job that failed leaves just its document, so that no older file can be taken for its result.

    Raises:
        Refusal: the folder cannot be written.
    """
    document = job_document(result) | {"fingerprint": mark}
    files = {file.name: file.data for file in result.files} if result.status == "ok" else {}
    with released_folder(out / result.job.folder) as folder:
        for name, data in files.items():
            (folder / name).write_bytes(data)
        (folder / JOB_FILE).write_text(dumped(document), encoding="utf-8")
    return document


@contextmanager
def released_folder(place: FilePath) -> Iterator[FilePath]:
    """A new folder that takes `place` when the block ends well, and vanishes when it does not.

    Of a job's folder at `place` the job's own files are replaced, and whatever else a person put there stays; a folder
    that is no job's is not touched.

    Raises:
        Refusal: it cannot be written, or something that is no job's folder stands there.
    """
    if place.exists() and not (place.is_dir() and (not any(place.iterdir()) or (place / JOB_FILE).exists())):
        raise Refusal(_taken(place))
    fresh: FilePath | None = None
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        fresh = FilePath(tempfile.mkdtemp(prefix=".clothpath-", dir=place.parent))
        fresh.chmod(0o755)
        yield fresh
        if place.exists():
            own = _own_files(place)
            strangers = sorted(path.name for path in place.iterdir() if path.name not in own)
            for name in strangers:
                if (fresh / name).exists():
                    raise Refusal(_taken(place / name))
            stale = fresh.with_name(fresh.name + "-old")
            place.rename(stale)
            for name in strangers:
                (stale / name).rename(fresh / name)
            fresh.rename(place)
            shutil.rmtree(stale, ignore_errors=True)
        else:
            fresh.rename(place)
        fresh = None
    except OSError as fault:
        why = fault.strerror or str(fault)
        message = f"The output folder cannot be written: {why}."
        raise Refusal(error("unwritable", message, str(place), "Choose a folder that you may write to.")) from None
    finally:
        if fresh is not None:
            shutil.rmtree(fresh, ignore_errors=True)


def _taken(place: FilePath) -> Finding:
    message = "Something that no job made stands where this job must write."
    return error("folder-taken", message, str(place), "Move it away, or name another output folder.")


def _own_files(folder: FilePath) -> set[str]:
    """The names of the files that the job in a folder released there."""
    try:
        manifest = json.loads((folder / JOB_FILE).read_text(encoding="utf-8"))
        return {JOB_FILE, *(FilePath(entry["path"]).name for entry in manifest["files"])}
    except (OSError, ValueError, KeyError, TypeError):
        return {JOB_FILE}


def write_whole(path: FilePath, data: bytes) -> None:
    """Write a file so that it is there whole or not at all.

    Raises:
        Refusal: it cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_name(f".{path.name}.new")
        fresh.write_bytes(data)
        fresh.replace(path)
    except OSError as fault:
        message = f"The file cannot be written: {fault.strerror}."
        raise Refusal(error("unwritable", message, str(path), "Choose a folder that you may write to.")) from None


def errors_of(document: Mapping[str, Any]) -> list[Mapping[str, str]]:
    """Why a job failed: the errors among the findings of its document."""
    return [finding for finding in document["findings"] if finding["severity"] == "error"]


def causes(documents: Sequence[Mapping[str, Any]]) -> list[tuple[list[Mapping[str, str]], list[int]]]:
    """Why jobs failed, each cause once: its errors, and the numbers of the documents of those that failed from it."""
    found: list[tuple[list[Mapping[str, str]], list[int]]] = []
    for number, document in enumerate(documents):
        if document["status"] != "ok":
            errors = errors_of(document)
            same = next((numbers for known, numbers in found if known == errors), None)
            if same is None:
                found.append((errors, [number]))
            else:
                same.append(number)
    return found


def totals(findings: Iterable[Mapping[str, str]]) -> dict[str, int]:
    """How many findings there are of each severity."""
    counts = {"error": 0, "warning": 0, "note": 0}
    for finding in findings:
        counts[finding["severity"]] += 1
    return counts
