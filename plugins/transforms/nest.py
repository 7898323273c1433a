"""The step `nest`: lays pieces on swatches and swatches on mats.

Terminology
    spacing     least distance between two pieces
    gap         least distance between two swatches
    ruler       which lines a person's ruler shows: sizes of swatches and their places on the mat are read from them
    keep-out    a box on the mat that nothing may touch
    test cut    a small cut in a corner of the mat, before the real ones, to see whether the blade is set right
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Annotated, Final, Literal

from pydantic import Field, model_validator

from clothpath.contracts import FromCatalog, LayoutStep, Millimeters, Settings, hookimpl
from clothpath.curves import Box
from clothpath.design import Fabric, fabric_of
from clothpath.files.layoutfile import fingerprint, kept, restored, shelf
from clothpath.findings import Finding, Outcome, Refusal, error, nearest_word, note, warning
from clothpath.layout import Layout, Mat, Stock
from clothpath.mats.drawn import as_drawn
from clothpath.mats.kits import filled, in_kits
from clothpath.mats.lay import laid_out
from clothpath.mats.wanted import Fixed, Rules, multiplied
from clothpath.nesting import BadPartError, NestingError
from clothpath.proving.layoutcheck import Clearances, faults

__all__ = ["FixedSwatch", "KeepOut", "Nest", "NestSettings"]

INCH_MM: Final = 25.4
RULER_STEP_MM: Final = {"inch": INCH_MM / 8, "metric": 5.0}
PLACE_STEP_MM: Final = {"inch": INCH_MM / 2, "metric": 10.0}
TIMED_S: Final = {"quick": 0.0, "better": 5.0, "best": 60.0}
FAULT_HINT: Final = "The layout was made wrongly, which is a fault of this program: please report it with the drawing."
DRAWN_HINT: Final = 'The drawing has it so: change the drawing, the settings of nest, or take arrangement = "nest".'

Corner = Literal["lower-left", "lower-right", "upper-left", "upper-right"]


class KeepOut(Settings):
    """A box on the mat that nothing may touch, measured from the mat's own left and bottom edges."""

    left: Millimeters
    bottom: Millimeters
    width: Millimeters = Field(gt=0)
    height: Millimeters = Field(gt=0)

    def box(self) -> Box:
        return Box(self.left, self.bottom, self.left + self.width, self.bottom + self.height)


class FixedSwatch(Settings):
    """A swatch that must lie at a stated place, measured from the mat's own left and bottom edges."""

    fabric: str = Field(description="the fabric's key")
    left: Millimeters
    bottom: Millimeters
    mat: int = Field(1, ge=1, le=100, description="number of the mat, from 1")
    width: Millimeters | None = Field(None, gt=0, description="with height: the cloth is cut to this size already")
    height: Millimeters | None = Field(None, gt=0)

    @model_validator(mode="after")
    def _both_sizes(self) -> FixedSwatch:
        if (self.width is None) != (self.height is None):
            raise ValueError("state both width and height of a fixed rectangle, or neither")
        return self

    def fixed(self) -> Fixed:
        size = None if self.width is None or self.height is None else (self.width, self.height)
        return Fixed(self.fabric, self.left, self.bottom, self.mat, size)


class NestSettings(Settings):
    """How pieces are laid on swatches and swatches on mats."""

    arrangement: Literal["nest", "fill", "as-drawn"] = Field(
        "nest", description="nest: as tight as can be; fill: as many as one mat takes; as-drawn: as the drawing has it"
    )
    copies: int = Field(1, ge=1, le=10_000, description="how often every design is laid, on top of its own count")
    kits: Annotated[int, FromCatalog()] = Field(
        1, ge=1, le=10_000, description="how many times all of that is cut; equal mats are listed once, with a number"
    )
    spacing: Millimeters = Field(INCH_MM / 8, ge=0, description="least distance between two pieces")
    swatch_margin: Millimeters = Field(
        INCH_MM / 8, ge=0, description="least distance between a piece and the edge of its fabric rectangle"
    )
    gap: Millimeters = Field(INCH_MM / 4, ge=0, description="least distance between two fabric rectangles on a mat")
    effort: Literal["quick", "better", "best"] = Field(
        "quick", description="quick is repeatable to the byte; better (5 s) and best (60 s) search for a time"
    )
    seconds: float | None = Field(None, gt=0, le=3600, description="how long better and best search, in all")
    ruler: Literal["inch", "metric"] | None = Field(
        None, description="sizes and places in inches or in centimeters; left out: metric if the mat is in whole cm"
    )
    ruler_step: Millimeters | None = Field(
        None, gt=0, description='sizes of rectangles are multiples of it; left out: "1/8 in" or "5 mm"'
    )
    place_step: Millimeters | None = Field(
        None, gt=0, description='rectangles sit at multiples of it from the mat\'s edges; left out: "1/2 in" or "1 cm"'
    )
    turn_swatches: bool = Field(True, description="whether a fabric rectangle may lie on the mat turned by a quarter")
    keep_out: tuple[KeepOut, ...] = Field((), description="boxes on the mat that nothing may touch")
    test_cut: Corner | None = Field(None, description="the corner of the usable area that is kept free for a test cut")
    test_cut_size: Millimeters = Field(INCH_MM, gt=0, description="side of the square that is kept free for it")
    fixed: tuple[FixedSwatch, ...] = Field((), description="rectangles that lie at a place of their own")

    @model_validator(mode="after")
    def _fill_counts_by_itself(self) -> NestSettings:
        if self.arrangement == "fill" and (self.copies > 1 or self.kits > 1):
            raise ValueError('arrangement = "fill" finds out the number itself; leave out copies and kits')
        if self.arrangement == "as-drawn" and self.fixed:
            raise ValueError('arrangement = "as-drawn" takes the places from the drawing; leave out fixed')
        return self


class Nest:
    """Lays every piece that is cut, as many copies as are wanted, on as few mats and as little cloth as it can."""

    name: Final = "nest"
    summary: Final = "Lays pieces on fabric rectangles and these on mats"
    stage: Final = "layout"
    settings: Final = NestSettings

    def apply(self, layout: Layout, settings: NestSettings, mat: Mat, stock: Sequence[Stock]) -> Outcome[Layout]:
        asked = replace(layout, mat=_with_keep_outs(mat, settings), stock=tuple(stock))
        _check_names(asked, settings)
        rules = rules_of(settings, mat)
        here = shelf()
        key = fingerprint(asked, settings.model_dump_json(exclude={"effort", "seconds"})) if here else ""
        found = here.known.get(key) if here else None
        if found is not None and found.serves(settings.effort):
            laid = restored(asked, found)
            if settings.arrangement != "fill":
                laid = replace(laid, demands=multiplied(asked, settings.copies * settings.kits).demands)
            if not _broken(laid, rules):
                return Outcome(
                    laid, (*_kept_remark(found.title), *_count_remark(asked, laid, settings), *_remarks(laid))
                )
        outcome = _searched(asked, settings, rules)
        laid = outcome.value
        broken = _broken(laid, rules)
        if broken:
            hint = DRAWN_HINT if settings.arrangement == "as-drawn" else FAULT_HINT
            raise Refusal(*(replace(each, hint=hint) for each in broken))
        if here and settings.effort != "quick":
            here.added[key] = kept(laid, key, settings.effort, here.title)
        return Outcome(laid, (*outcome.findings, *_count_remark(asked, laid, settings), *_remarks(laid)))


def _broken(layout: Layout, rules: Rules) -> tuple[Finding, ...]:
    return faults(layout, Clearances(rules.spacing, rules.margin, rules.gap))


def _kept_remark(title: str) -> Iterator[Finding]:
    message = "The layout was kept from an earlier search."
    yield note("layout-kept", message, title, "Delete it from the file of layouts to search anew.")


def _count_remark(asked: Layout, laid: Layout, settings: NestSettings) -> Iterator[Finding]:
    """How many a mat was filled with: nobody stated it."""
    if settings.arrangement == "fill" and len(laid.mats) == 1:
        kits = laid.demands[0].count // asked.demands[0].count
        where = asked.demands[0].design.name if len(asked.demands) == 1 else ""
        yield note("filled", f"As many as one mat takes: {kits}.", where)


def _searched(asked: Layout, settings: NestSettings, rules: Rules) -> Outcome[Layout]:
    try:
        return _arranged(asked, settings, rules)
    except BadPartError as fault:
        number, piece = (int(n) for n in fault.key.split("."))
        design = asked.demands[number].design
        where = f"{design.name}: {design.pieces[piece].id}"
        hint = "Draw it as a closed shape, or leave it out with separate (omit)."
        raise Refusal(error("piece-without-area", f"The piece cannot be laid: {fault.why}.", where, hint)) from None
    except NestingError as fault:
        raise Refusal(error("nesting-failed", f"The pieces could not be laid: {fault}.", hint=FAULT_HINT)) from None


def _arranged(layout: Layout, settings: NestSettings, rules: Rules) -> Outcome[Layout]:
    wanted = multiplied(layout, settings.copies)
    if settings.arrangement == "fill":
        return filled(wanted, rules)
    if settings.arrangement == "as-drawn":
        return as_drawn(wanted, rules, settings.kits)
    if settings.kits > 1:
        return Outcome(in_kits(wanted, rules, settings.kits))
    return Outcome(laid_out(wanted, rules))


def rules_of(settings: NestSettings, mat: Mat) -> Rules:
    """The rules that the settings state for this mat."""
    ruler = settings.ruler or ("metric" if _whole_centimeters(mat) else "inch")
    return Rules(
        spacing=settings.spacing,
        margin=settings.swatch_margin,
        gap=settings.gap,
        ruler_step=settings.ruler_step or RULER_STEP_MM[ruler],
        place_step=settings.place_step or PLACE_STEP_MM[ruler],
        turn_swatches=settings.turn_swatches,
        seconds=settings.seconds if settings.seconds and settings.effort != "quick" else TIMED_S[settings.effort],
        fixed=tuple(each.fixed() for each in settings.fixed),
    )


def _whole_centimeters(mat: Mat) -> bool:
    return all(abs(size / 10 - round(size / 10)) < 1e-6 for size in (mat.width, mat.height))


def _with_keep_outs(mat: Mat, settings: NestSettings) -> Mat:
    boxes = [each.box() for each in settings.keep_out]
    if settings.test_cut is not None:
        usable, side = mat.usable, settings.test_cut_size
        left = usable.left if settings.test_cut.endswith("left") else usable.right - side
        bottom = usable.bottom if settings.test_cut.startswith("lower") else usable.top - side
        boxes.append(Box(left, bottom, left + side, bottom + side))
    return replace(mat, keep_out=(*mat.keep_out, *boxes))


def _check_names(layout: Layout, settings: NestSettings) -> None:
    known = [fabric.key for fabric in layout.fabrics]
    unknown = [each.fabric for each in settings.fixed if each.fabric not in known]
    if unknown:
        raise Refusal(
            *(
                error("fabric-unknown", f'No fabric is called "{key}".', "nest: fixed", nearest_word(key, known))
                for key in unknown
            )
        )


def _remarks(layout: Layout) -> Iterator[Finding]:
    """What a person should know of a layout that is sound."""
    spread: dict[str, set[int]] = {}
    for number, mat in enumerate(layout.mats, start=1):
        keys = dict.fromkeys(swatch.fabric for swatch in mat.swatches)
        yield from _two_blades(number, [fabric_of(layout.fabrics, key) for key in keys])
        for key in keys:
            spread.setdefault(key, set()).add(number)
    for key, numbers in spread.items():
        if len(numbers) > 1:
            listed = ", ".join(str(number) for number in sorted(numbers))
            yield note("fabric-on-several-mats", f'"{key}" does not go on one mat; it lies on mats {listed}.', key)


def _two_blades(number: int, fabrics: Sequence[Fabric]) -> Iterator[Finding]:
    fused = [fabric.label for fabric in fabrics if fabric.preparation == "fused"]
    bare = [fabric.label for fabric in fabrics if fabric.preparation == "bare"]
    if fused and bare:
        message = f"Fused cloth ({', '.join(fused)}) and bare cloth ({', '.join(bare)}) lie on one mat."
        hint = "They want different blades: try a corner first, or cut them on mats of their own."
        yield warning("fused-and-bare", message, f"mat {number}", hint)


@hookimpl
def clothpath_transforms() -> Sequence[LayoutStep]:
    return [Nest()]
