"""The step `separate`: say which fabric each piece is cut from, and what is cut, marked or left out.

Terminology
    selector    "color:#c8553d", "layer:shell", "group:claws" or "piece:left-eye": which drawn things are meant
    rule        a fabric's table in the catalog: how to find its pieces, and how the cloth is treated

A piece goes to the rule that names it most closely: by piece id, else by group, else by layer, else by color. What no
rule names is put together as `by` says.
"""

from __future__ import annotations

import colorsys
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Annotated, Final, Literal, TypeVar

import shapely
from pydantic import BeforeValidator, Field

from clothpath.contracts import FromCatalog, Settings, Transform, hookimpl
from clothpath.curves import Outline, flattened
from clothpath.design import Design, Drawn, Fabric, Grain, Marking, Paper, Piece, Preparation, Role, default_grain
from clothpath.findings import Finding, Outcome, Refusal, error, nearest_word, note, warning
from clothpath.regions import as_polygon, xy

__all__ = ["FabricRule", "Separate", "SeparateSettings"]

T = TypeVar("T")

SELECTOR_KINDS: Final = ("piece", "group", "layer", "color")
"""From the closest to the widest."""
NEAR_COLOR: Final = 40.0
"""Colors no further apart than this (distance in RGB, 0 to 441) may have been meant to be the same."""


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
    preparation: Preparation = Field("fused", description="paper-backed web on the wrong side, or bare cloth")
    paper: Paper | None = Field(None, description="keep: laid wrong side up, cut reversed; leave: right side up")
    grain: Grain | None = Field(None, description="how a piece may be turned; default: any if fused, straight if bare")

    def selectors(self) -> tuple[str, ...]:
        """How its pieces are found; the color is a way only where nothing closer is given."""
        found = [f"piece:{piece}" for piece in self.pieces]
        found += [f"group:{self.group}"] if self.group else []
        found += [f"layer:{self.layer}"] if self.layer else []
        return tuple(found) or ((f"color:{self.color}",) if self.color else ())

    def fabric(self, key: str, drawn_color: str) -> Fabric:
        grain = self.grain or default_grain(self.preparation)
        color = self.color or drawn_color
        return Fabric(key, self.label or key.replace("-", " "), color, self.preparation, self.paper, grain)


class SeparateSettings(Settings):
    """Fabrics and roles."""

    by: Literal["drawing", "color", "layer", "group"] = Field(
        "drawing", description="what puts pieces together that no rule names; drawing: the reader's guess"
    )
    fabric: Annotated[dict[str, FabricRule], FromCatalog()] = Field({}, description="the fabrics, by key")
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
            Refusal: a piece id of a rule does not exist, a rule names nothing to find its pieces by, or nothing is cut.
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
        if strays:
            names = ", ".join(piece.id for piece in strays[:8]) + (" …" if len(strays) > 8 else "")
            message = f"No fabric of the catalog names these pieces: {names}; they are put together by {settings.by}."
            hint = _near_color_hint(strays, settings.fabric) or "Add them to a fabric, or mark or omit them."
            found.append(warning("piece-without-fabric", message, design.name, hint))
        fabrics = _fabrics(design, cut, settings.fabric)
        found += _idle(settings, cut, design)
        markings = [replace(each, role=_chosen(each.id, each.drawn, roles) or each.role) for each in design.markings]
        placed, loose = _on_pieces((*markings, *marked), cut)
        if loose:
            names = ", ".join(loose[:8]) + (" …" if len(loose) > 8 else "")
            message = f"These markings lie on no piece and go into no cut file: {names}."
            found.append(note("marking-on-nothing", message, design.name))
        return Outcome(replace(design, pieces=tuple(cut), markings=placed, fabrics=fabrics), tuple(found))


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


def slug(text: str) -> str:
    """A key that a person can type: lower case letters and digits with hyphens."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")


def color_name(color: str) -> str:
    """A key for a color that a person can tell apart: a plain word for the hue, and the digits."""
    r, g, b = (int(color[i : i + 2], 16) / 255 for i in (1, 3, 5))
    hue, light, saturation = colorsys.rgb_to_hls(r, g, b)
    if saturation < 0.12 or light < 0.06 or light > 0.96:
        word = "black" if light < 0.2 else "white" if light > 0.9 else "gray"
    else:
        names = ("red", "orange", "yellow", "green", "green", "teal", "blue", "blue", "purple", "pink", "red")
        word = names[round(hue * 10)]
        if word in ("red", "orange", "yellow") and light < 0.35:
            word = "brown"
    return f"{word}-{color[1:]}"


def _fabrics(design: Design, pieces: Sequence[Piece], rules: Mapping[str, FabricRule]) -> tuple[Fabric, ...]:
    guessed = {fabric.key: fabric for fabric in design.fabrics}
    found: dict[str, Fabric] = {}
    for piece in pieces:
        key = piece.fabric
        if key in found or piece.role != "cut":
            continue
        color = piece.drawn.color or "#808080"
        if key in rules:
            found[key] = rules[key].fabric(key, color)
        else:
            found[key] = guessed.get(key) or Fabric(key, key.replace("-", " "), color)
    return tuple(found.values())


def _idle(settings: SeparateSettings, pieces: Sequence[Piece], design: Design) -> list[Finding]:
    used = {piece.fabric for piece in pieces}
    colors = sorted({piece.drawn.color for piece in design.pieces if piece.drawn.color})
    layers = sorted({piece.drawn.layer for piece in design.pieces if piece.drawn.layer})
    found: list[Finding] = []
    for key, rule in settings.fabric.items():
        if key not in used:
            what = ", ".join(rule.selectors())
            has = f"colors {', '.join(colors) or 'none'}" + (f"; layers {', '.join(layers)}" if layers else "")
            message = f'No piece is cut from "{key}" ({what}).'
            found.append(warning("fabric-unused", message, design.name, f"The drawing has {has}."))
    return found


def _near_color_hint(strays: Sequence[Piece], rules: Mapping[str, FabricRule]) -> str:
    for piece in strays:
        if piece.drawn.color is None:
            continue
        for key, rule in rules.items():
            if rule.color and not rule.pieces and _distance(piece.drawn.color, rule.color) <= NEAR_COLOR:
                return f'{piece.id} is drawn in {piece.drawn.color}; "{key}" has {rule.color}. Make them the same.'
    return ""


def _distance(one: str, other: str) -> float:
    return float(sum((int(one[i : i + 2], 16) - int(other[i : i + 2], 16)) ** 2 for i in (1, 3, 5)) ** 0.5)


def _on_pieces(markings: Sequence[Marking], pieces: Sequence[Piece]) -> tuple[tuple[Marking, ...], list[str]]:
    """The markings, each on the topmost cut piece that holds the middle of it, and the ids of those on none."""
    if not markings:
        return (), []
    cut = [piece for piece in pieces if piece.role == "cut"]
    polygons = [as_polygon(piece.region) for piece in cut]
    placed: list[Marking] = []
    loose: list[str] = []
    for marking in markings:
        points = xy(flattened(marking.path))
        if isinstance(marking.path, Outline):
            middle = shapely.Polygon(points).representative_point() if len(points) > 2 else shapely.Point(points[0])
        else:
            middle = shapely.line_interpolate_point(shapely.LineString(points), 0.5, normalized=True)
        on = [piece for piece, polygon in zip(cut, polygons, strict=True) if polygon.contains(middle)]
        if not on and marking.role == "mark":
            loose.append(marking.id)
        top = max(on, key=lambda piece: piece.order).id if on else None
        placed.append(replace(marking, on=top))
    return tuple(placed), loose


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Separate()]
