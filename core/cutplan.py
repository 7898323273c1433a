"""A cut plan: the cuts of each mat in order, with what the file must carry for the blade. Mat coordinates, mm, y up.

Terminology
    cut         one closed outline that the blade follows, or one marking that a pen draws
    path        what the file carries for a cut; it differs from the outline where the file compensates the blade
    overcut     the way that the blade runs on past its start so that no thread is left
    cut sheet   what one file holds: the cuts of one mat, of one fabric of a mat, or of all mats beside each other
    blade       its offset behind the holder's axis, its overcut, and who compensates the offset
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from clothpath.curves import Affine, Path, transformed
from clothpath.cutting.tried import NO_SPEEDS, NOTHING_TRIED, Speeds, Tried, settled
from clothpath.design import Fabric, Side, fabric_of
from clothpath.findings import Finding
from clothpath.layout import Layout, Mat, MatLayout, Swatch, placed
from clothpath.picture.marks import kept_on
from clothpath.units import Speed, both

__all__ = [
    "APART_MM",
    "Blade",
    "Cut",
    "CutPlan",
    "CutSheet",
    "MatCuts",
    "PieceRef",
    "Slicing",
    "as_laid",
    "marks_by_piece",
    "sheets",
]

Slicing = Literal["mat", "fabric", "all"]
APART_MM: Final = 25.4
"""Between mats that lie beside each other in one file, unless a profile says otherwise."""


@dataclass(frozen=True, slots=True)
class Blade:
    """A machine's blade.

    Attributes:
        offset: of the tip behind the holder's axis, in mm; 0 for a tangential knife.
        overcut: in mm; 0 for none.
        compensated_by: who allows for the offset: the machine, or the file.
    """

    offset: float = 0.0
    overcut: float = 0.0
    compensated_by: Literal["machine", "file"] = "machine"


@dataclass(frozen=True, slots=True)
class PieceRef:
    """One copy of one piece on a mat.

    Attributes:
        swatch: index from 0 into the mat's swatches.
        label: what a person calls the piece.
    """

    swatch: int
    fabric: str
    design: str
    piece: str
    copy: int
    label: str


@dataclass(frozen=True, slots=True)
class Cut:
    """One line for the machine.

    Attributes:
        ref: the piece that it belongs to.
        ring: 0 for the outer ring, n for the nth hole; for markings the number of the marking on its piece.
        kind: "cut", or "mark" for what is drawn and never cut.
        outline: what the blade's tip shall follow.
        path: what the file carries; the same object as `outline` unless the file compensates or overcuts.
        passes: how often it is run.
    """

    ref: PieceRef
    ring: int
    kind: Literal["cut", "mark"]
    outline: Path
    path: Path
    passes: int = 1


@dataclass(frozen=True, slots=True)
class MatCuts:
    """The cuts of one mat, in order."""

    cuts: tuple[Cut, ...]


@dataclass(frozen=True, slots=True)
class CutPlan:
    """The cuts of every mat of a layout, in the order of `layout.mats`.

    Attributes:
        speeds: as the machine profile states them.
        tried: by fabric key, the settings that a person found to work on the machine; only fabrics that have some.
        title: what the job is called, for people: "crab, small, for mat-12x12"; "" where nobody named it.
        findings: what was noticed on the way to the plan, for the pages that tell a person.
        formats: of the files and pages that are made of it, so that a page names no other that is not there.
    """

    layout: Layout
    mats: tuple[MatCuts, ...]
    blade: Blade = Blade()
    speeds: Speeds = NO_SPEEDS
    tried: tuple[tuple[str, Tried], ...] = ()
    title: str = ""
    findings: tuple[Finding, ...] = ()
    formats: tuple[str, ...] = ()

    def tried_on(self, fabric: str) -> Tried:
        """What was found to work for the fabric of that key."""
        return dict(self.tried).get(fabric, NOTHING_TRIED)

    def pace(self, fabric: str) -> float | None:
        """How fast that fabric is cut, in mm a second; None: nobody stated it, or only as the machine counts it."""
        own = self.tried_on(fabric).speed
        if own is None:
            return self.speeds.cutting
        return own.mm_per_second if isinstance(own, Speed) else None


@dataclass(frozen=True, slots=True)
class CutSheet:
    """What one cut file holds.

    Attributes:
        plan: the whole plan, for what a header may say; where the mats lie beside each other, they are one mat of it.
        mat_number: of the plan's mats, from 1.
        mats: how many mats there are.
        fabrics: the fabrics whose cuts the file holds, in the order in which they are cut.
        laid: fabric key to the side that faces up.
        cuts: in order.
        apart: mm from one mat to the next, where the sheet holds all mats, the first at the left; None: one mat.
    """

    plan: CutPlan
    mat_number: int
    mats: int
    fabrics: tuple[Fabric, ...]
    laid: tuple[tuple[str, Side], ...]
    cuts: tuple[Cut, ...]
    apart: float | None = None

    @property
    def mat(self) -> Mat:
        return self.plan.layout.mat

    @property
    def which(self) -> str:
        """Which mats it holds, for people: "mat 1 of 2"."""
        if self.apart is None:
            return f"mat {self.mat_number} of {self.mats}"
        return f"mats 1 to {self.mats} from left to right, {both(self.apart)} apart"

    def pieces(self) -> Iterator[tuple[PieceRef, tuple[Cut, ...]]]:
        """The cuts grouped by the piece they belong to, in order of first appearance."""
        groups: dict[PieceRef, list[Cut]] = {}
        for cut in self.cuts:
            groups.setdefault(cut.ref, []).append(cut)
        for ref, cuts in groups.items():
            yield ref, tuple(cuts)


def marks_by_piece(layout: Layout) -> dict[tuple[str, str], list[Path]]:
    """(design, piece) -> the markings on it as far as it is cut, in picture coordinates."""
    found: dict[tuple[str, str], list[Path]] = {}
    for demand in layout.demands:
        design = demand.design
        for piece in design.pieces:
            on = [each.path for each in design.markings if each.role == "mark" and each.on == piece.id]
            if on:
                found[design.name, piece.id] = kept_on(piece.region, on)
    return found


def as_laid(layout: Layout, blade: Blade, speeds: Speeds = NO_SPEEDS, tried: Sequence[Tried] = ()) -> CutPlan:
    """The plan that cuts everything in the order in which it is laid, outer ring first; path steps improve on it.

    Markings go with the piece on which they are drawn. Of what was `tried`, each fabric takes what is for it.
    """
    on_piece = marks_by_piece(layout)
    found = settled(tried, layout.fabrics)
    passes = {key: each.passes for key, each in found if each.passes is not None}
    cuts: list[list[Cut]] = [[] for _ in layout.mats]
    for each in placed(layout):
        where = each.placement
        ref = PieceRef(each.swatch, each.piece.fabric, where.design, where.piece, where.copy, each.piece.label)
        for n, path in enumerate(on_piece.get((where.design, where.piece), [])):
            line = transformed(path, each.affine)
            cuts[each.mat].append(Cut(ref, n, "mark", line, line))
        for n, ring in enumerate(each.region):
            cuts[each.mat].append(Cut(ref, n, "cut", ring, ring, passes.get(ref.fabric, 1)))
    return CutPlan(layout, tuple(MatCuts(tuple(of_mat)) for of_mat in cuts), blade, speeds, found)


def sheets(plan: CutPlan, per: Slicing, apart: float = APART_MM) -> tuple[CutSheet, ...]:
    """The plan divided into files: one a mat, one a fabric of each mat, or one for all mats; none is empty.

    Args:
        apart: mm between mats that lie beside each other in one file.
    """
    count = len(plan.mats)
    if per == "all" and count > 1:
        return tuple(replace(sheet, mats=count, apart=apart) for sheet in sheets(_beside(plan, apart), "mat"))
    found: list[CutSheet] = []
    for number, (mat, cuts) in enumerate(zip(plan.layout.mats, plan.mats, strict=True), start=1):
        keys = list(dict.fromkeys(cut.ref.fabric for cut in cuts.cuts))
        laid = {swatch.fabric: swatch.laid for swatch in mat.swatches}
        for group in [[key] for key in keys] if per == "fabric" else [keys]:
            chosen = tuple(cut for cut in cuts.cuts if cut.ref.fabric in group)
            if chosen:
                fabrics = tuple(fabric_of(plan.layout.fabrics, key) for key in group)
                sides = tuple((key, laid[key]) for key in group)
                found.append(CutSheet(plan, number, count, fabrics, sides, chosen))
    return tuple(found)


def _beside(plan: CutPlan, apart: float) -> CutPlan:
    """The plan on one wide mat that has all mats beside each other, the first at the left."""
    layout, mat = plan.layout, plan.layout.mat
    wide = Mat(mat.name, len(plan.mats) * (mat.width + apart) - apart, mat.height)
    swatches: list[Swatch] = []
    cuts: list[Cut] = []
    for n, (laid, planned) in enumerate(zip(layout.mats, plan.mats, strict=True)):
        way, first = n * (mat.width + apart), len(swatches)
        swatches += (replace(swatch, x=swatch.x + way) for swatch in laid.swatches)
        cuts += (_moved(cut, Affine.shift(way), first) for cut in planned.cuts)
    together = replace(layout, mat=wide, mats=(MatLayout(tuple(swatches)),), cut_from=())
    return replace(plan, layout=together, mats=(MatCuts(tuple(cuts)),))


def _moved(cut: Cut, by: Affine, swatch: int) -> Cut:
    """A cut under a shift, `swatch` being how many swatches come before those of its mat."""
    outline = transformed(cut.outline, by)
    path = outline if cut.path is cut.outline else transformed(cut.path, by)
    return replace(cut, ref=replace(cut.ref, swatch=cut.ref.swatch + swatch), outline=outline, path=path)
