"""The step `separate`: say which fabric each piece is cut from, and what is cut, marked or left out.

Terminology
    stray       a piece that no rule names although there are rules
    selector    "color:#c8553d", "layer:shell", "group:claws" or "piece:left-eye": which drawn things are meant
    rule        a fabric's table in the catalog: how to find its pieces, and how the cloth is treated

A piece goes to the rule that names it most closely: by piece id, else by group, else by layer, else by color. What no
rule names is put together as `by` says. A rule that finds no piece while pieces are left over is an error: a
color is mistyped most likely, and the pieces would be cut from cloth that nobody chose.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, Final, Literal, TypeVar

from pydantic import BeforeValidator, Field

from clothpath.contracts import FromCatalog, FromSteps, Settings, Transform, hookimpl
from clothpath.design import Design, Drawn, Fabric, Grain, Marking, Paper, Piece, Preparation, Role, default_grain
from clothpath.findings import Finding, Outcome, Refusal, error, listed, nearest_word, note, warning
from clothpath.picture.fabrics import NO_COLOR, color_name, slug
from clothpath.picture.marks import Placed, placed_on
from clothpath.regions import box_of_regions, region_area
from clothpath.units import both

__all__ = ["FabricRule", "Separate", "SeparateSettings"]

T = TypeVar("T")

SELECTOR_KINDS: Final = ("piece", "group", "layer", "color")
"""From the closest to the widest."""
ROUGHLY: Final = 0.002
"""Sizes and areas that differ by less than this share are the same for the eye."""


def _color(value: object) -> object:
    if not isinstance(value, str):
        return value
    text = value.strip().lower()
    if re.fullmatch(r"#[0-9a-f]{3}", text):
        return "#" + "".join(2 * digit for digit in text[1:])
    if re.fullmatch(r"#[0-9a-f]{6}", text):
        return text
    raise ValueError(f'"{value}" is no color; write it as "#c8553d"')


Color = Annotated[str, BeforeValidator(_color)]


def _selector(value: object) -> object:
    if not isinstance(value, str):
        return value
    kind, colon, rest = value.partition(":")
    if not colon or kind not in SELECTOR_KINDS or not rest:
        raise ValueError(f'"{value}" selects nothing; write "color:#444444", "layer:NAME", "group:NAME" or "piece:ID"')
    return f"color:{_color(rest)}" if kind == "color" else value


Selector = Annotated[str, BeforeValidator(_selector)]


class FabricRule(Settings):
    """One fabric: how to find its pieces, and how the cloth is treated."""

    label: str = Field("", description="what a person calls it; default: its key")
    color: Color | None = Field(None, description="of its pieces in the drawing, and on pages")
    layer: str | None = Field(None, description="the layer that holds its pieces")
    group: str | None = Field(None, description="the group that holds its pieces")
    pieces: tuple[str, ...] = Field((), description="ids of its pieces")
    preparation: Preparation | None = Field(
        None, description="paper-backed web on the wrong side, or bare cloth; default: as for the others, else fused"
    )
    paper: Paper | None = Field(None, description="keep: laid wrong side up, cut reversed; leave: right side up")
    grain: Grain | None = Field(None, description="how a piece may be turned; default: any if fused, straight if bare")

    def selectors(self) -> tuple[str, ...]:
        """How its pieces are found; the color is a way only where nothing closer is given."""
        found = [f"piece:{piece}" for piece in self.pieces]
        found += [f"group:{self.group}"] if self.group else []
        found += [f"layer:{self.layer}"] if self.layer else []
        return tuple(found) or ((f"color:{self.color}",) if self.color else ())

    def fabric(self, key: str, drawn_color: str, others: Preparation) -> Fabric:
        preparation = self.preparation or others
        grain = self.grain or default_grain(preparation)
        color = self.color or drawn_color
        return Fabric(key, self.label or key.replace("-", " "), color, preparation, self.paper, grain)


class SeparateSettings(Settings):
    """Fabrics and roles."""

    by: Literal["drawing", "color", "layer", "group"] = Field(
        "drawing", description="what puts pieces together that no rule names; drawing: the reader's guess"
    )
    fabric: Annotated[dict[str, FabricRule], FromCatalog()] = Field({}, description="the fabrics, by key")
    preparation: Annotated[Preparation | None, FromSteps()] = Field(
        None, description="fused or bare: how the fabrics are prepared of which nothing closer is said"
    )
    mark: Annotated[tuple[Selector, ...], FromCatalog()] = Field((), description="what is only drawn on the cloth")
    omit: Annotated[tuple[Selector, ...], FromCatalog()] = Field((), description="what is left out altogether")
    piece_copies: Annotated[dict[str, int], FromCatalog()] = Field(
        {}, description="copies of a piece that one design needs"
    )


class Separate:
    """Pieces to fabrics, lines to roles."""

    name = "separate"
    summary = "Say which fabric each piece is cut from, and what is cut, marked or left out"
    stage: Literal["design"] = "design"
    settings = SeparateSettings

    def apply(self, design: Design, settings: SeparateSettings) -> Outcome[Design]:
        """The picture with every piece's role and fabric settled, and every marking on its piece.

        Raises:
            Refusal: a piece id of a rule does not exist, a rule names nothing to find its pieces by or keeps paper that
                bare cloth does not have, a rule finds no piece while pieces are left over, or nothing is cut.
        """
        if not design.pieces:
            message = (
                f"Nothing in this drawing is closed, so there is nothing to cut; open lines: {len(design.markings)}."
            )
            raise Refusal(error("nothing-closed", message, design.name, "Close the outlines in the drawing."))
        _check(design, settings)
        roles: list[tuple[str, Role]] = _closest_first(
            [(selector, "mark") for selector in settings.mark] + [(selector, "omit") for selector in settings.omit]
        )
        rules = _closest_first(
            [(selector, key) for key, rule in settings.fabric.items() for selector in rule.selectors()]
        )
        found: list[Finding] = []
        cut: list[Piece] = []
        marked: list[Marking] = []
        strays: list[Piece] = []
        for piece in design.pieces:
            role = _chosen(piece.id, piece.drawn, roles) or piece.role
            if role == "mark":
                marked += _as_markings(piece)
                continue
            key = _chosen(piece.id, piece.drawn, rules)
            if key is None and role == "cut" and rules:
                strays.append(piece)
            fabric = key or _put_together(piece, settings.by)
            copies = settings.piece_copies.get(piece.id, piece.copies)
            cut.append(replace(piece, role=role, fabric=fabric, copies=copies))
        if not any(piece.role == "cut" for piece in cut):
            message = "Nothing in this drawing is cut: every closed shape is marked or left out."
            raise Refusal(error("nothing-to-cut", message, design.name, "Look at the mark and omit selectors."))
        idle = [key for key in settings.fabric if all(piece.fabric != key for piece in cut)]
        if strays and idle:
            raise Refusal(*(_mistyped(design, key, settings.fabric[key], strays) for key in idle))
        if strays:
            names = listed(piece.id for piece in strays)
            message = f"No fabric of the catalog names these pieces: {names}; they are put together by {settings.by}."
            hint = "Add them to a fabric, or mark or omit them."
            found.append(warning("piece-without-fabric", message, design.name, hint))
        fabrics = _fabrics(design, cut, settings)
        found += _idle(settings, idle, design) + _background(design, cut, rules)
        markings = [replace(each, role=_chosen(each.id, each.drawn, roles) or each.role) for each in design.markings]
        placed = placed_on([piece for piece in cut if piece.role == "cut"], (*markings, *marked))
        found += _astray(placed, design.name)
        return Outcome(replace(design, pieces=tuple(cut), markings=placed.markings, fabrics=fabrics), tuple(found))


def _astray(placed: Placed, where: str) -> list[Finding]:
    """Findings on markings that are drawn on no piece, and on those that reach beyond the pieces they are drawn on."""
    found: list[Finding] = []
    if placed.lost:
        message = f"These markings lie on no piece and go into no cut file: {listed(placed.lost)}."
        hint = "Move them onto a piece in the drawing, or omit them."
        found.append(warning("marking-on-nothing", message, where, hint))
    if placed.shortened:
        message = f"These markings reach beyond the pieces that they are drawn on: {listed(placed.shortened)}."
        hint = "They end at the edge of the cloth, so that nothing cuts into another piece."
        found.append(note("marking-cut-off", message, where, hint))
    return found


def _check(design: Design, settings: SeparateSettings) -> None:
    ids = {piece.id for piece in design.pieces} | {marking.id for marking in design.markings}
    faults: list[Finding] = []
    named = [(f"fabric.{key}", f"piece:{piece}") for key, rule in settings.fabric.items() for piece in rule.pieces]
    named += [("mark", selector) for selector in settings.mark] + [("omit", selector) for selector in settings.omit]
    named += [("piece-copies", f"piece:{piece}") for piece in settings.piece_copies]
    for where, selector in named:
        kind, _, name = selector.partition(":")
        if kind == "piece" and name not in ids:
            message = f'The drawing has no piece "{name}".'
            faults.append(error("unknown-piece", message, f"{design.name}: {where}", nearest_word(name, ids)))
    for key, rule in settings.fabric.items():
        if not rule.selectors():
            message = f'Nothing says which pieces are cut from "{key}".'
            hint = "Give it a color, layer, group or pieces."
            faults.append(error("fabric-without-rule", message, design.name, hint))
        if (rule.preparation or settings.preparation) == "bare" and rule.paper == "keep":
            whose = f'"{key}" has' if rule.preparation else f'In this recipe preparation is "bare", and "{key}" has'
            stated = 'preparation = "bare" and ' if rule.preparation else ""
            message = f'{whose} {stated}paper = "keep", but bare cloth has no paper.'
            hint = f'Take paper = "keep" out, or write preparation = "fused" for "{key}".'
            faults.append(error("bare-with-paper", message, f"{design.name}: fabric.{key}", hint))
    if faults:
        raise Refusal(*faults)


def _closest_first(rules: Sequence[tuple[str, T]]) -> list[tuple[str, T]]:
    return sorted(rules, key=lambda rule: SELECTOR_KINDS.index(rule[0].partition(":")[0]))


def _chosen(thing: str, drawn: Drawn, rules: Sequence[tuple[str, T]]) -> T | None:
    """What the first selector that means the thing stands for."""
    return next((what for selector, what in rules if _meant(selector, thing, drawn)), None)


def _meant(selector: str, thing: str, drawn: Drawn) -> bool:
    kind, _, name = selector.partition(":")
    if kind == "piece":
        return thing == name
    if kind == "layer":
        return drawn.layer == name
    if kind == "group":
        return name in drawn.groups
    return drawn.color == name


def _as_markings(piece: Piece) -> list[Marking]:
    rings = list(piece.region)
    ids = [piece.id] + [f"{piece.id}-{n}" for n in range(2, len(rings) + 1)]
    return [Marking(each, piece.label, ring, "mark", piece.drawn) for each, ring in zip(ids, rings, strict=True)]


def _put_together(piece: Piece, by: str) -> str:
    if by == "color":
        return color_name(piece.drawn.color) if piece.drawn.color else "no-color"
    if by == "layer":
        return slug(piece.drawn.layer) or "no-layer"
    if by == "group":
        return slug(piece.drawn.groups[-1]) if piece.drawn.groups else "no-group"
    return piece.fabric


def _fabrics(design: Design, pieces: Sequence[Piece], settings: SeparateSettings) -> tuple[Fabric, ...]:
    rules, others = settings.fabric, settings.preparation
    guessed = {fabric.key: _prepared(fabric, others) if others else fabric for fabric in design.fabrics}
    found: dict[str, Fabric] = {}
    for piece in pieces:
        key = piece.fabric
        if key in found or piece.role != "cut":
            continue
        color = piece.drawn.color or NO_COLOR
        if key in rules:
            found[key] = rules[key].fabric(key, color, others or "fused")
        else:
            found[key] = guessed.get(key) or FabricRule().fabric(key, color, others or "fused")
    return tuple(found.values())


def _prepared(fabric: Fabric, preparation: Preparation) -> Fabric:
    """The fabric prepared so; its grain is that of the preparation unless it was another than the old one's."""
    if fabric.preparation == preparation:
        return fabric
    usual = fabric.grain == default_grain(fabric.preparation)
    return replace(fabric, preparation=preparation, grain=default_grain(preparation) if usual else fabric.grain)


def _idle(settings: SeparateSettings, idle: Sequence[str], design: Design) -> list[Finding]:
    colors = sorted({piece.drawn.color for piece in design.pieces if piece.drawn.color})
    layers = sorted({piece.drawn.layer for piece in design.pieces if piece.drawn.layer})
    has = f"colors {', '.join(colors) or 'none'}" + (f"; layers {', '.join(layers)}" if layers else "")
    found: list[Finding] = []
    for key in idle:
        message = f'No piece is cut from "{key}" ({", ".join(settings.fabric[key].selectors())}).'
        found.append(warning("fabric-unused", message, design.name, f"The drawing has {has}."))
    return found


def _mistyped(design: Design, key: str, rule: FabricRule, strays: Sequence[Piece]) -> Finding:
    """A fabric gets no piece while pieces have no fabric: most likely one of the two is spelled otherwise."""
    message = (
        f'No piece is cut from "{key}" ({", ".join(rule.selectors())}), but no fabric names '
        f"{listed(piece.id for piece in strays)}."
    )
    hints: list[str] = []
    drawn = [(piece, color) for piece in strays if (color := piece.drawn.color)]
    if rule.color and drawn:
        color = rule.color
        piece, nearest = min(drawn, key=lambda each: _distance(each[1], color))
        hints.append(f'The nearest of their colors is {nearest} of "{piece.id}"; "{key}" has {color}.')
    if rule.layer:
        hints.append(f"Layers: {nearest_word(rule.layer, {piece.drawn.layer for piece in strays})}")
    if rule.group:
        hints.append(f"Groups: {nearest_word(rule.group, {name for piece in strays for name in piece.drawn.groups})}")
    hints.append("Correct the rule, or mark or omit the pieces, or take the fabric out.")
    return error("fabric-unused", message, f"{design.name}: fabric.{key}", " ".join(hints))


def _background(design: Design, pieces: Sequence[Piece], rules: Sequence[tuple[str, str]]) -> list[Finding]:
    """A rectangle beneath all the rest, or as large as the page, that no rule names more closely than by its color."""
    first, *rest = [piece for piece in pieces if piece.role == "cut"]
    named = [rule for rule in rules if not rule[0].startswith("color:")]
    box = first.region.box
    full = box.width * box.height
    stated = _chosen(first.id, first.drawn, named) is not None
    if not rest or stated or abs(region_area(first.region) - full) > ROUGHLY * full:
        return []
    others = box_of_regions(piece.region for piece in rest)
    slack = ROUGHLY * max(box.width, box.height)
    holds = (
        min(others.left - box.left, others.bottom - box.bottom, box.right - others.right, box.top - others.top)
        >= -slack
    )
    page = design.source.size_mm
    if not holds and (page is None or max(abs(box.width - page[0]), abs(box.height - page[1])) > slack):
        return []
    size = f"{both(box.width)} wide, {both(box.height)} high"
    message = f'"{first.label}" looks like a background, but will be cut: a rectangle behind the picture, {size}.'
    selector = f"piece:{first.id}"
    hint = (
        f'To leave it out, put omit = ["{selector}"] among the roles in the catalog, or --set separate.omit={selector}.'
    )
    return [warning("looks-like-background", message, f"{design.name}: {first.id}", hint)]


def _distance(one: str, other: str) -> float:
    """How far two colors are apart in RGB, from 0 to 441."""
    return float(sum((int(one[i : i + 2], 16) - int(other[i : i + 2], 16)) ** 2 for i in (1, 3, 5)) ** 0.5)


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Separate()]
