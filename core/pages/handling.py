"""What a person at the machine must know of the cloth and be warned of, in plain words, for the pages beside it.

Terminology
    fabric rectangle    a swatch, as pages for people call it
    name                what a fabric is called on a page: its label, and what differs where two share one
    look-out            warnings of one kind together: what is the case, and once what to do about it

A pen cannot reach the print of cloth that lies wrong side up: what it draws there is on the paper of the web, which is
peeled off before the piece is fused, or on the back of bare cloth (common practice).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from clothpath.cloth.amounts import Supply
from clothpath.cutplan import CutPlan
from clothpath.design import Fabric, Side
from clothpath.files.names import shown, text
from clothpath.findings import Finding, first_few, together
from clothpath.layout import Swatch
from clothpath.units import both

__all__ = [
    "SIDES",
    "SUPPLIES",
    "LookOut",
    "about_markings",
    "fabric_names",
    "grain_words",
    "look_outs",
    "margin_words",
    "piece_words",
    "side_seen",
]

SIDES: Final[Mapping[Side, str]] = {"right-side-up": "Right side up", "wrong-side-up": "Wrong side up"}
SUPPLIES: Final[Mapping[Supply, str]] = {
    "bolt": "",
    "stock": "all of it from the cloth that is there",
    "both": "some of it from the cloth that is there",
    "short": "the cloth that is there does not suffice",
}
"""Where a cloth comes from, the same on every page; of what is bought the page says how much."""
TOPS: Final = {0.0: "top", 90.0: "left", 180.0: "bottom", 270.0: "right"}
"""Where the top of the cloth points on the mat, by the turn of the swatch."""
LONGEST: Final = 40
"""Most letters of a fabric's name."""
PLACES: Final = 4
"""So many places of one warning are named; the rest is counted."""


@dataclass(frozen=True, slots=True)
class LookOut:
    """Warnings of one kind: what is the case, each once, and what to do about it."""

    messages: tuple[str, ...]
    hint: str


def look_outs(findings: Iterable[Finding]) -> tuple[LookOut, ...]:
    """The warnings among the findings, in their order, those of one kind with one hint together.

    What is the case at several places is told once, after their names.
    """
    kinds: dict[tuple[str, str], dict[str, dict[str, None]]] = {}
    for finding in findings:
        if finding.severity == "warning":
            place = "" if finding.code == "shows-through" else finding.by_name().where
            messages = kinds.setdefault((finding.code, finding.hint), {})
            messages.setdefault(finding.message, {})[place] = None
    return tuple(
        LookOut(tuple(text(_placed(message, places), 400) for message, places in messages.items()), text(hint, 400))
        for (_, hint), messages in kinds.items()
    )


def _placed(message: str, places: Iterable[str]) -> str:
    """A message after where it holds: "a.dxf and b.dxf: ..."; of many places the first few, and how many more."""
    named = [place for place in places if place]
    if not named:
        return message
    return f"{together(first_few(named, PLACES))}: {message}"


def about_markings(plan: CutPlan, names: Mapping[str, str]) -> tuple[str, ...]:
    """What to do about the markings of a plan; nothing where it has none."""
    keys = {cut.ref.fabric for mat in plan.mats for cut in mat.cuts if cut.kind == "mark"}
    if not keys:
        return ()
    said = [
        'Markings are drawn and never cut. In a file that holds them they stand in a group or layer named "markings": '
        "set it to draw, or switch it off; software may otherwise cut it."
    ]
    hidden = [each for each in plan.layout.fabrics if each.key in keys and each.laid == "wrong-side-up"]
    for preparation, where in (
        ("fused", "on the paper and peeled off with it"),
        ("bare", "on the back of the cloth"),
    ):
        which = [names[each.key] for each in hidden if each.preparation == preparation]
        if which:
            said.append(
                f"The markings on {together(which)} would be drawn {where}, because that cloth lies wrong side up: "
                "switch them off there, and transfer them by hand from the placement guide."
            )
    return tuple(said)


def fabric_names(fabrics: Sequence[Fabric]) -> dict[str, str]:
    """Fabric key to its name; where several have the same label, with what they differ in."""
    labels = {fabric.key: shown(fabric.label or fabric.key, LONGEST) for fabric in fabrics}
    alike: dict[str, list[Fabric]] = {}
    for fabric in fabrics:
        alike.setdefault(labels[fabric.key].casefold(), []).append(fabric)
    names: dict[str, str] = {}
    for fabric in fabrics:
        others = alike[labels[fabric.key].casefold()]
        told = [_traits(each) for each in others]
        own = _traits(fabric)
        differing = [trait for n, trait in enumerate(own) if len({traits[n] for traits in told}) > 1]
        if told.count(own) > 1:
            differing.append(fabric.key)
        extra = f" ({', '.join(differing)})" if len(others) > 1 else ""
        names[fabric.key] = labels[fabric.key] + extra
    return names


def piece_words(piece: str, fabric: Fabric) -> tuple[str, ...]:
    """What a piece is called and what it is cut from; once, where both are called the same."""
    named = shown(piece, LONGEST), shown(fabric.label or fabric.key, LONGEST)
    return named[1:] if named[0].casefold() == named[1].casefold() else named


def _traits(fabric: Fabric) -> tuple[str, str, str, str]:
    laid = SIDES[fabric.laid].lower() if fabric.laid is not None else "either side up"
    grain = "any grain" if fabric.grain == "any" else f"{fabric.grain} grain"
    return laid, "with web" if fabric.preparation == "fused" else "without web", grain, fabric.color


def margin_words(fabric: Fabric) -> str:
    """What the pieces of a fabric have more or less all round than the finished picture shows; "" where they do not."""
    if not fabric.margin:
        return ""
    size = both(abs(fabric.margin))
    return f"includes {size} to turn under" if fabric.margin > 0 else f"{size} less all round, for the satin stitch"


def side_seen(fabric: Fabric, laid: Side) -> str:
    """What a person sees of a rectangle that lies as it should."""
    if laid == "right-side-up":
        return "you see the print"
    return "you see the paper" if fabric.preparation == "fused" else "you see the back of the cloth"


def grain_words(fabric: Fabric, swatch: Swatch) -> tuple[str, ...]:
    """How the cloth of a rectangle runs on the mat; nothing where its grain does not matter."""
    if fabric.grain == "any":
        return ()
    if fabric.grain != "directional":
        return (f"the selvage {'top to bottom' if swatch.turn % 180 == 0 else 'left to right'}",)
    toward = f"the top of the print toward the {TOPS[swatch.turn % 360]}"
    if swatch.laid == "right-side-up":
        return (toward,)
    back = "paper" if fabric.preparation == "fused" else "back of the cloth"
    return toward, f"mark an arrow on the {back} first, toward the top of the print"
