"""The proof of a written file: what was read back from its bytes against what was meant.

Terminology
    proof       a measurement against the cut sheet that the file was written from
    survey      a look at a measurement alone, where nobody knows what was meant
    tip path    what the blade's tip follows when the holder follows the file's path
    misscaled   a file that holds the right paths at another size; a blade whose offset did not change with them would
                make other shapes of them, so they are looked at as the blade would run them at the size that was meant

Every outline of the sheet must be in the file once, where it was meant to be, closed, on the mat; nothing else may be;
and every piece whose fabric is laid wrong side up must be reversed, no other. The last is read by registering the
measured piece to the picture's piece, so that a fault in the layout shows as well as one in the writer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from clothpath.contracts import Measurement
from clothpath.curves import Affine, Box, Outline, Path, box_of, transformed
from clothpath.cutplan import Cut, CutSheet, PieceRef
from clothpath.design import fabric_of, piece_of
from clothpath.findings import Finding, error, note, warning
from clothpath.picture.likeness import LIKE_MM, is_achiral
from clothpath.proving.comparison import Compared, Distortion, compared, doubles
from clothpath.proving.orientation import MeasuredPiece, readings

__all__ = ["Proof", "Survey", "prove", "survey"]

PAGE_MM: Final = 0.05
"""A page that differs from the mat by less is the mat."""
WRITE_AGAIN: Final = "Do not cut this file; write it again."
NAMED_AT_MOST: Final = 5
"""So many lines a finding names; it counts the rest."""
MIX_UPS: Final[tuple[tuple[float, str], ...]] = (
    (25.4, "inches taken for millimeters"),
    (2.54, "inches taken for centimeters"),
    (10.0, "centimeters taken for millimeters"),
    (96 / 72, "96 and 72 pixels to the inch mixed up"),
    (96 / 90, "96 and 90 pixels to the inch mixed up"),
    (90 / 72, "90 and 72 pixels to the inch mixed up"),
    (96 / 25.4, "millimeters and pixels, 96 to the inch, mixed up"),
    (72 / 25.4, "millimeters and points, 72 to the inch, mixed up"),
    (1016 / 1000, "thousandths of an inch taken for plotter units"),
)
RESCALED: Final = 3
"""How often the size of a misscaled file is estimated; each time from what the blade cuts at the last estimate."""
MIX_UP: Final = 0.004
"""A factor within this part of a known one is that one."""


@dataclass(frozen=True, slots=True)
class Proof:
    """Whether a file is what was meant.

    Attributes:
        ok: it may be released.
        size_error_mm: the largest deviation of any outline from where it was meant to be, and of the box of all.
        lost, added: how many lines are missing, and how many nobody meant.
        reversed_ok: whether every piece that is not achiral is the right way round; None if there is none to tell by.
        findings: what is wrong, in words.
    """

    ok: bool
    size_error_mm: float
    lost: int
    added: int
    reversed_ok: bool | None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Survey:
    """What a file holds.

    Attributes:
        box: of all lines; None if there is none.
        groups: the name of each group, layer or pen, and how many lines it has, in file order.
    """

    unit: str
    page: tuple[float, float] | None
    box: Box | None
    closed: int
    open: int
    groups: tuple[tuple[str, int], ...]
    findings: tuple[Finding, ...] = ()


def prove(
    sheet: CutSheet, measurement: Measurement, budget_mm: float, tip: Callable[[Path], Path] | None = None
) -> Proof:
    """Compare a measurement with the sheet that the file was written from.

    Args:
        sheet: what the writer says it `writes`.
        budget_mm: how far an outline may be from where it was meant to be.
        tip: from a path of the file to what the blade's tip follows; None where the file's paths are the outlines.
    """
    meant = [cut for cut in sheet.cuts for _ in range(cut.passes)]
    lines = [line.path for line in measurement.lines]
    if not meant or not lines:
        lost, added = len(meant), len(lines)
        wrong = (error("no-lines", f"The file has {added} lines; {lost} were meant."),) if lost or added else ()
        return Proof(not wrong, 0.0, lost, added, None, wrong)
    found, result = _tried([cut.outline for cut in meant], lines, budget_mm, tip)
    name = _namer(sheet)
    reversed_ok, turned = _orientation(sheet, meant, found, result, budget_mm, name)
    findings = (
        *_size_findings(meant, result, budget_mm, name),
        *_count_findings(meant, found, result, name),
        *_open_findings(meant, found, result, name),
        *_place_findings(sheet, measurement, result, budget_mm),
        *turned,
    )
    size_error = max(result.worst, result.box_error)
    ok = size_error <= budget_mm and not any(finding.severity == "error" for finding in findings)
    return Proof(ok, size_error, len(result.lost), len(result.added), reversed_ok, findings)


def _tried(
    meant: Sequence[Path], lines: Sequence[Path], budget_mm: float, tip: Callable[[Path], Path] | None
) -> tuple[list[Path], Compared]:
    """What the lines of a file cut, and how that compares with what was meant."""
    if tip is None:
        return [*lines], compared(meant, lines, budget_mm)
    found = [tip(line) for line in lines]
    result = compared(meant, found, budget_mm)
    faults = _faults(meant, found, result)
    if faults or (result.distortion and not result.distortion.keeps_size):
        other = _cut_misscaled(meant, lines, tip)
        other_result = compared(meant, other, budget_mm)
        if _faults(meant, other, other_result) <= faults:
            return other, other_result
    return found, result


def _faults(meant: Sequence[Path], found: Sequence[Path], result: Compared) -> int:
    """How many lines are lost, added, or open where they should be closed."""
    opened = sum(isinstance(meant[i], Outline) and not isinstance(found[j], Outline) for i, j in result.pairs)
    return len(result.lost) + len(result.added) + opened


def _cut_misscaled(meant: Sequence[Path], lines: Sequence[Path], tip: Callable[[Path], Path]) -> list[Path]:
    """What a blade would cut at the size that was meant, made as large as the file has it."""
    wanted, factor = box_of(meant), 1.0
    cut = [*lines]
    for _ in range(RESCALED):
        box = box_of(cut)
        factor *= ((box.width + box.height) / (wanted.width + wanted.height)) or 1.0
        cut = [tip(transformed(line, Affine.scale(1 / factor))) for line in lines]
    return [transformed(path, Affine.scale(factor)) for path in cut]


def survey(measurement: Measurement) -> Survey:
    """What a measurement shows by itself: sizes, counts, and what looks wrong."""
    paths = [line.path for line in measurement.lines]
    groups: dict[str, int] = {}
    for line in measurement.lines:
        groups[line.group] = groups.get(line.group, 0) + 1
    closed = sum(isinstance(path, Outline) for path in paths)
    box = box_of(paths) if paths else None
    findings: list[Finding] = []
    if box is None:
        findings.append(error("no-lines", "The file has no line that a machine would follow."))
    elif measurement.page is not None and _beyond(box, measurement.page, PAGE_MM):
        findings.append(warning("outside-page", "Some lines reach beyond the page; a machine may not cut them."))
    if closed < len(paths):
        message = (
            f"{len(paths) - closed} of {len(paths)} lines are open; as cuts they would leave their piece attached."
        )
        findings.append(note("open-lines", message))
    twice = doubles(paths, LIKE_MM)
    if twice:
        message = f"{len(twice)} lines run where another one runs already."
        findings.append(warning("doubled-line", message, hint="Cut once unless a second pass is wanted."))
    return Survey(
        measurement.unit, measurement.page, box, closed, len(paths) - closed, tuple(groups.items()), tuple(findings)
    )


_Namer = Callable[[Cut], str]


def _namer(sheet: CutSheet) -> _Namer:
    """What a person calls a line: "Left wing of gull, copy 2, hole 1"."""

    def name(cut: Cut) -> str:
        called = f"{cut.ref.label or cut.ref.piece} of {cut.ref.design}, copy {cut.ref.copy}"
        if cut.kind == "mark":
            return f"{called}, marking {cut.ring + 1}"
        return f"{called}, hole {cut.ring}" if cut.ring else called

    return name


def _listed(names: Iterable[str]) -> str:
    """The first few names, and how many more there are."""
    distinct = list(dict.fromkeys(names))
    more = f" and {len(distinct) - NAMED_AT_MOST} more" if len(distinct) > NAMED_AT_MOST else ""
    return "; ".join(distinct[:NAMED_AT_MOST]) + more


def _size_findings(meant: Sequence[Cut], result: Compared, budget_mm: float, name: _Namer) -> Iterable[Finding]:
    if result.distortion is not None:
        yield _distortion_finding(result.distortion)
        return
    off = [
        (distance, name(meant[i]))
        for (i, _), distance in zip(result.pairs, result.deviations, strict=True)
        if distance > budget_mm
    ]
    if off:
        worst = max(distance for distance, _ in off)
        message = (
            f"Not where it was meant to be, by up to {worst:.3f} mm ({budget_mm:g} mm are allowed): "
            f"{_listed(called for _, called in off)}."
        )
        yield error("off-place", message, hint=WRITE_AGAIN)


def _distortion_finding(by: Distortion) -> Finding:
    turned = (["seen in a mirror"] if by.flipped else []) + ([f"turned by {90 * by.quarters}°"] if by.quarters else [])
    if turned:
        return error("whole-file-turned", f"The whole file is {' and '.join(turned)}.", hint=WRITE_AGAIN)
    if not by.even:
        message = f"The whole file is {_percent(by.scale_x)} in width and {_percent(by.scale_y)} in height."
        return error("wrong-size", message, hint=WRITE_AGAIN)
    if by.keeps_size:
        return error("whole-file-shifted", "The whole file lies elsewhere on the mat than was meant.", hint=WRITE_AGAIN)
    factor = (by.scale_x * by.scale_y) ** 0.5
    named = [what for known, what in MIX_UPS if abs(max(factor, 1 / factor) / known - 1) < MIX_UP]
    because = f": {named[0]}" if named else ""
    return error("wrong-size", f"The whole file is {_percent(factor)}{because}.", hint=WRITE_AGAIN)


def _percent(factor: float) -> str:
    if 0.5 < factor < 2:
        return f"{abs(factor - 1) * 100:.3g} % too {'large' if factor > 1 else 'small'}"
    return f"{factor:.4g} times as large as meant"


def _count_findings(meant: Sequence[Cut], found: Sequence[Path], result: Compared, name: _Namer) -> Iterable[Finding]:
    if result.lost:
        yield error(
            "lost-line",
            f"Missing from the file: {_listed(name(meant[i]) for i in result.lost)}.",
            hint=WRITE_AGAIN,
        )
    if result.added:
        meant_for = {j: meant[i] for i, j in result.pairs}
        over = {other: one for pair in doubles(found, LIKE_MM) for one, other in (pair, pair[::-1]) if one in meant_for}
        twice = [name(meant_for[over[j]]) for j in result.added if j in over]
        alone = [_place(found[j]) for j in result.added if j not in over]
        if twice:
            yield error("doubled-line", f"More than once in the file: {_listed(twice)}.", hint=WRITE_AGAIN)
        if alone:
            yield error("added-line", f"In the file, and nobody meant it: {_listed(alone)}.", hint=WRITE_AGAIN)


def _place(path: Path) -> str:
    box = path.box
    return f"a line {box.width:.1f} x {box.height:.1f} mm at {box.left:.1f}, {box.bottom:.1f} mm"


def _open_findings(meant: Sequence[Cut], found: Sequence[Path], result: Compared, name: _Namer) -> Iterable[Finding]:
    opened = [
        name(meant[i])
        for i, j in result.pairs
        if isinstance(meant[i].outline, Outline) and not isinstance(found[j], Outline)
    ]
    if opened:
        message = f"Not closed, so that a thread would stay uncut: {_listed(opened)}."
        yield error("open-outline", message, hint=WRITE_AGAIN)


def _place_findings(sheet: CutSheet, measurement: Measurement, result: Compared, budget_mm: float) -> Iterable[Finding]:
    size = (sheet.mat.width, sheet.mat.height)
    page = measurement.page
    if page is not None and max(abs(page[0] - size[0]), abs(page[1] - size[1])) > PAGE_MM:
        message = f"The page measures {page[0]:.2f} x {page[1]:.2f} mm; the mat is {size[0]:.2f} x {size[1]:.2f} mm."
        yield error("wrong-page", message, hint=WRITE_AGAIN)
    if result.distortion and not result.distortion.keeps_size:
        return
    paths = [line.path for line in measurement.lines]
    outside = [path for path in paths if _beyond(path.box, size, budget_mm)] if _may_reach(paths, size) else []
    if outside:
        yield error(
            "outside-mat", f"Reaches beyond the mat: {_listed(map(_place, outside))}.", hint="Lay it out again."
        )


def _may_reach(paths: Sequence[Path], size: tuple[float, float]) -> bool:
    """False if the control points alone show that all paths are on the mat."""
    points = np.concatenate([*(path.nodes.ravel() for path in paths), [path.end for path in paths]])
    x, y = points.real, points.imag
    return bool(x.min() < 0 or y.min() < 0 or x.max() > size[0] or y.max() > size[1])


def _beyond(box: Box, size: tuple[float, float], slack: float) -> bool:
    return box.left < -slack or box.bottom < -slack or box.right > size[0] + slack or box.top > size[1] + slack


def _orientation(
    sheet: CutSheet, meant: Sequence[Cut], found: Sequence[Path], result: Compared, budget_mm: float, name: _Namer
) -> tuple[bool | None, list[Finding]]:
    """Whether every chiral piece is the right way round, and what is wrong."""
    asked = _chiral_pieces(sheet, meant, found, result)
    read = list(zip(asked, readings([piece for _, piece in asked], budget_mm), strict=True))
    laid = dict(sheet.laid)
    wrong: list[Finding] = []
    for side, right, came in (("right-side-up", False, "reversed"), ("wrong-side-up", True, "not reversed")):
        mistaken = [
            name(cut) for (cut, _), got in read if got is not None and got is not right and laid[cut.ref.fabric] == side
        ]
        if mistaken:
            message = f"Came out {came}, though its fabric is laid {side.replace('-', ' ')}: {_listed(mistaken)}."
            wrong.append(error("wrong-way-round", message, hint=WRITE_AGAIN))
    unlike = [name(cut) for (cut, _), got in read if got is None]
    if unlike:
        message = f"Fits neither the picture's piece nor its mirror image, as its grain allows: {_listed(unlike)}."
        wrong.append(error("unlike-picture", message, hint=WRITE_AGAIN))
    return (not wrong if asked else None), wrong


def _chiral_pieces(
    sheet: CutSheet, meant: Sequence[Cut], found: Sequence[Path], result: Compared
) -> list[tuple[Cut, MeasuredPiece]]:
    """The measured pieces that show whether they are reversed, each with its first cut."""
    layout = sheet.plan.layout
    designs = {demand.design.name: demand.design for demand in layout.demands}
    swatches = layout.mats[sheet.mat_number - 1].swatches
    undo = _undone(result.distortion)
    by_piece: dict[PieceRef, dict[int, tuple[Cut, Path]]] = {}
    for i, j in result.pairs:
        if meant[i].kind == "cut":
            path = transformed(found[j], undo) if undo else found[j]
            by_piece.setdefault(meant[i].ref, {}).setdefault(meant[i].ring, (meant[i], path))
    chiral: list[tuple[Cut, MeasuredPiece]] = []
    for ref, rings in by_piece.items():
        picture = piece_of(designs[ref.design], ref.piece).region
        grain = fabric_of(layout.fabrics, ref.fabric).grain
        if 0 in rings and not is_achiral(picture, grain):
            measured = tuple((ring, rings[ring][1]) for ring in sorted(rings))
            chiral.append((rings[0][0], MeasuredPiece(picture, grain, swatches[ref.swatch].turn, measured)))
    return chiral


def _undone(by: Distortion | None) -> Affine | None:
    """The map that takes a distorted file back to its size and its up; whether it is flipped stays to be read."""
    return None if by is None else Affine.turn(-90 * by.quarters) @ Affine.scale(1 / by.scale_x, 1 / by.scale_y)
