"""Small SVG drawings, each with what the specification says is in it.

A case gives the section that governs it, its purpose in one line, the drawing, and the expected pieces: color, box
(left, top, right, bottom) and area, in user units of the root, y down. All expectations are worked out from the
specification, by hand or by the arithmetic that stands beside them. Where resvg paints otherwise, `resvg` says why it
is not asked.

SVG: Scalable Vector Graphics 2. CSS: Cascading Style Sheets modules as named. Masking: CSS Masking Module Level 1.
Transforms: CSS Transforms Module Level 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from math import pi, sqrt

__all__ = ["CASES", "Case", "Expected", "document"]


@dataclass(frozen=True)
class Expected:
    """One piece, or one marking if `marking` is set."""

    color: str
    box: tuple[float, float, float, float]
    area: float
    holes: int = 0
    marking: bool = False


@dataclass(frozen=True)
class Case:
    """One drawing; `resvg` is the reason for not asking resvg, "" if it is asked."""

    section: str
    purpose: str
    body: str
    expected: tuple[Expected, ...]
    root: str = 'width="100" height="100" viewBox="0 0 100 100"'
    resvg: str = ""


def document(case: Case) -> str:
    names = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"<svg {names} {case.root}>{case.body}</svg>"


BLACK, RED, BLUE, GREEN = "#000000", "#ff0000", "#0000ff", "#008000"


def box(left: float, top: float, right: float, bottom: float, color: str = BLACK, **more: object) -> Expected:
    """A piece that fills its box unless `area` says otherwise."""
    given = dict(more)
    area = given.pop("area", (right - left) * (bottom - top))
    return Expected(color, (left, top, right, bottom), float(area), **given)  # type: ignore[arg-type]


def disc(cx: float, cy: float, rx: float, ry: float | None = None, color: str = BLACK) -> Expected:
    ry = rx if ry is None else ry
    return Expected(color, (cx - rx, cy - ry, cx + rx, cy + ry), pi * rx * ry)


def line(left: float, top: float, right: float, bottom: float, color: str = BLACK) -> Expected:
    return Expected(color, (left, top, right, bottom), 0.0, marking=True)


def curve_at(x: float) -> float:
    """The height of the cubic 0,20 20,20 20,60 40,60 at x, by bisection on its parameter."""
    low, high = 0.0, 1.0
    for _ in range(60):
        t = (low + high) / 2
        low, high = (t, high) if 60 * (1 - t) ** 2 * t + 60 * (1 - t) * t**2 + 40 * t**3 < x else (low, t)
    return 20 * ((1 - t) ** 3 + 3 * (1 - t) ** 2 * t) + 60 * (3 * (1 - t) * t**2 + t**3)


CASES: list[Case] = []


def case(section: str, purpose: str, body: str, *expected: Expected, **more: str) -> None:
    CASES.append(Case(section, purpose, body, expected, **more))


def path(section: str, purpose: str, data: str, *expected: Expected, **more: str) -> None:
    case(section, purpose, f'<path d="{data}"/>', *expected, **more)


# Basic shapes
case("SVG 10.2", "a plain rectangle", '<rect x="10" y="20" width="30" height="40"/>', box(10, 20, 40, 60))
case("SVG 10.2", "x and y are 0 if not given", '<rect width="30" height="40"/>', box(0, 0, 30, 40))
ROUNDED = 30 * 40 - (4 - pi) * 5 * 5
case("SVG 10.2", "rx alone rounds both ways", '<rect width="30" height="40" rx="5"/>', box(0, 0, 30, 40, area=ROUNDED))
case("SVG 10.2", "ry alone rounds both ways", '<rect width="30" height="40" ry="5"/>', box(0, 0, 30, 40, area=ROUNDED))
case(
    "SVG 10.2",
    "rx is held to half the width",
    '<rect width="20" height="40" rx="50" ry="8"/>',
    box(0, 0, 20, 40, area=800 - (4 - pi) * 10 * 8),
)
case(
    "SVG 10.2",
    "rx and ry differ",
    '<rect width="40" height="40" rx="10" ry="4"/>',
    box(0, 0, 40, 40, area=1600 - (4 - pi) * 40),
)
case("SVG 10.2", "rx of 0 leaves the corners", '<rect width="30" height="40" rx="0" ry="9"/>', box(0, 0, 30, 40))
case("SVG 10.2", "without width it is not drawn", '<rect height="40"/><circle r="9"/>', disc(0, 0, 9))
case("SVG 8.9", "a negative width is not drawn", '<rect width="-5" height="40"/><circle r="9"/>', disc(0, 0, 9))
case("SVG 8.9", "percentages of both sides", '<rect x="10%" y="20%" width="50%" height="25%"/>', box(10, 20, 60, 45))
case("SVG 10.3", "a circle", '<circle cx="50" cy="40" r="30"/>', disc(50, 40, 30))
case("SVG 10.3", "a circle without radius is not drawn", '<circle cx="9"/><circle r="9"/>', disc(0, 0, 9))
DIAGONAL = sqrt((100**2 + 50**2) / 2)
case(
    "SVG 8.9",
    "a radius in percent is of the diagonal by the root of 2",
    '<circle cx="50" cy="25" r="20%"/>',
    disc(50, 25, 0.2 * DIAGONAL),
    root='width="100" height="50" viewBox="0 0 100 50"',
)
case("SVG 10.4", "an ellipse", '<ellipse cx="50" cy="40" rx="30" ry="10"/>', disc(50, 40, 30, 10))
case("SVG 10.4", "an ellipse with rx alone is a circle", '<ellipse cx="50" cy="40" rx="30"/>', disc(50, 40, 30))
case("SVG 10.4", "an ellipse without height is not drawn", '<ellipse rx="9" ry="0"/><circle r="9"/>', disc(0, 0, 9))
case(
    "SVG 10.5",
    "a line encloses nothing",
    '<line x1="10" y1="20" x2="50" y2="40" stroke="red"/>',
    line(10, 20, 50, 40, RED),
)
case(
    "SVG 10.6", "a polyline is filled as if closed", '<polyline points="0,0 40,0 40,30"/>', box(0, 0, 40, 30, area=600)
)
case("SVG 10.7", "a polygon", '<polygon points="0,0 40,0 40,30 0,30"/>', box(0, 0, 40, 30))
case("SVG 10.7", "points without commas", '<polygon points="0 0 40 0 40 30 0 30"/>', box(0, 0, 40, 30))
case("SVG 10.7", "an odd last number is left out", '<polygon points="0 0 40 0 40 30 0 30 9"/>', box(0, 0, 40, 30))

# Path data
path("SVG 9.3.3", "absolute lines", "M10 10 L40 10 L40 30 L10 30 Z", box(10, 10, 40, 30))
path("SVG 9.3.3", "pairs after M are lines", "M10 10 40 10 40 30 10 30Z", box(10, 10, 40, 30))
path("SVG 9.3.3", "pairs after m are relative lines", "m10 10 30 0 0 20 -30 0z", box(10, 10, 40, 30))
path("SVG 9.3.4", "H, V, h and v", "M10 10 H40 V30 h-30 v-20 z", box(10, 10, 40, 30))
path(
    "SVG 9.3.4",
    "after z a relative command starts at the start",
    "m10 10h30v20h-30z l-10 0 v10 z",
    box(10, 10, 40, 30),
    box(0, 10, 10, 20, area=50),
)
path(
    "SVG 9.3.4",
    "after z a relative moveto counts from the start",
    "m10 10h9v9h-9zm20 20h9v9h-9z",
    box(10, 10, 19, 19),
    box(30, 30, 39, 39),
)
path("SVG 9.3.9", "numbers run together", "M.5.5L9.5.5 9.5 9.5-.5 9.5z", box(-0.5, 0.5, 9.5, 9.5, area=85.5))
path("SVG 9.3.9", "numbers with exponents", "M1e1 1E+1 4e1 1e1 4e1 300e-1 1e1 3e1z", box(10, 10, 40, 30))
path("SVG 9.3.9", "plus signs and commas", "M+10,+10,40,10,40,30,10,30z", box(10, 10, 40, 30))
HALF = 2 * 20 / 3  # a cubic with control points at a third of its chord's height: area 3/5 of the box of its controls
path(
    "SVG 9.3.6",
    "a cubic: 3/4 of the controls' height, 3/5 of their area",
    "M0 20 C0 0 40 0 40 20",
    box(0, 5, 40, 20, area=0.6 * 800),
)
path("SVG 9.3.6", "c is relative", "m0 20c0-20 40-20 40 0", box(0, 5, 40, 20, area=480))
path(
    "SVG 9.3.6",
    "S mirrors the control point",
    "M0 50 C0 30 20 30 20 50 S40 70 40 50",
    box(0, 35, 20, 50, area=240),
    box(20, 50, 40, 65, area=240),
)
path(
    "SVG 9.3.6",
    "S without a cubic before it starts at its own point",
    "M0 20 S40 0 40 20",
    box(0, 20 - 80 / 9, 40, 20, area=240 + 0.0),
)
path(
    "SVG 9.3.7",
    "a quadratic: half the control's height, 2/3 of its triangle",
    "M0 20 Q20 0 40 20",
    box(0, 10, 40, 20, area=2 / 3 * 400),
)
path(
    "SVG 9.3.7",
    "T mirrors the control point",
    "M0 50 Q10 30 20 50 T40 50",
    box(0, 40, 20, 50, area=400 / 3),
    box(20, 50, 40, 60, area=400 / 3),
)
path("SVG 9.3.7", "T without a quadratic before it is a line", "M0 0 H20 V20 T0 20", box(0, 0, 20, 20))
path(
    "SVG 9.3.7",
    "T after T goes on mirroring",
    "M0 50q5-20 10 0t10 0t10 0",
    box(0, 40, 10, 50, area=200 / 3),
    box(10, 50, 20, 60, area=200 / 3),
    box(20, 40, 30, 50, area=200 / 3),
)
SEGMENT = (
    100 * (2 * pi / 3 - sqrt(3) / 2) / 2
)  # of a circle of radius 10 cut at half its radius: r^2/2 (angle - sin angle)
path(
    "SVG 9.3.8",
    "an arc, small and against the clock",
    f"M0 0 A10 10 0 0 0 {10 * sqrt(3)} 0",
    box(0, 0, 10 * sqrt(3), 5, area=SEGMENT),
)
path(
    "SVG 9.3.8",
    "an arc, small and with the clock",
    f"M0 50 A10 10 0 0 1 {10 * sqrt(3)} 50",
    box(0, 45, 10 * sqrt(3), 50, area=SEGMENT),
)
LEFT = 5 * sqrt(3) - 10
path(
    "SVG 9.3.8",
    "an arc, large and with the clock",
    f"M0 50 A10 10 0 1 1 {10 * sqrt(3)} 50",
    box(LEFT, 35, LEFT + 20, 50, area=100 * pi - SEGMENT),
)
path(
    "SVG 9.3.8",
    "an arc, large and against the clock",
    f"M0 50 A10 10 0 1 0 {10 * sqrt(3)} 50",
    box(LEFT, 50, LEFT + 20, 65, area=100 * pi - SEGMENT),
)
path("SVG 9.3.8", "flags need nothing around them", "M0 20a20 20 0 0120-20v20z", box(0, 0, 20, 20, area=100 * pi))
path("SVG B.2.5", "radii that are too small grow", "M0 50 A1 1 0 0 1 40 50", box(0, 30, 40, 50, area=200 * pi))
path("SVG B.2.5", "a radius of 0 is a line", "M0 0 H20 A0 9 0 0 1 20 20 H0z", box(0, 0, 20, 20))
path(
    "SVG B.2.5", "a negative radius counts as positive", "M0 50 A-20 -20 0 0 1 40 50", box(0, 30, 40, 50, area=200 * pi)
)
path("SVG B.2.5", "an arc to its own start is nothing", "M10 10 A5 5 0 1 1 10 10 H20 V20 H10z", box(10, 10, 20, 20))
TILT = sqrt((20**2 + 10**2) / 2)  # half the width of an ellipse of half axes 20 and 10 turned by 45 degrees
path(
    "SVG 9.3.8",
    "the x axis of an arc turns",
    f"M{50 - 10 * sqrt(2)} {50 - 10 * sqrt(2)} "
    f"a20 10 45 1 1 {20 * sqrt(2)} {20 * sqrt(2)} a20 10 45 1 1 {-20 * sqrt(2)} {-20 * sqrt(2)}z",
    box(50 - TILT, 50 - TILT, 50 + TILT, 50 + TILT, area=200 * pi),
)
path("SVG 9.5.4", "what stands before a fault is drawn", "M10 10 H40 V30 H10 Z x M50 50 H90 V90 Z", box(10, 10, 40, 30))
path("SVG 9.5.4", "an argument too few ends it", "M10 10 H40 V30 H10 Z M50 50 L60", box(10, 10, 40, 30))
path("SVG 9.5.4", "a doubled comma ends it", "M10 10 H40 V30 L10 30 L 5,,5 Z", box(10, 10, 40, 30))
case("SVG 9.5.4", "without a moveto nothing is drawn", '<path d="L40 0 40 40z"/><circle r="9"/>', disc(0, 0, 9))
case("SVG 9.3.1", "d of none draws nothing", '<path d="none"/><circle r="9"/>', disc(0, 0, 9))

# Fill rules
RINGS = "M10 10H50V50H10z M20 20H40V40H20z"
COUNTER = "M10 10H50V50H10z M20 20V40H40V20z"
path("SVG 13.4.2", "non-zero: a ring inside, run the same way, is no hole", RINGS, box(10, 10, 50, 50))
path(
    "SVG 13.4.2",
    "non-zero: a ring inside, run the other way, is a hole",
    COUNTER,
    box(10, 10, 50, 50, area=1200, holes=1),
)
case(
    "SVG 13.4.2",
    "even-odd: a ring inside is a hole",
    f'<path fill-rule="evenodd" d="{RINGS}"/>',
    box(10, 10, 50, 50, area=1200, holes=1),
)
case(
    "SVG 13.4.2",
    "even-odd: an island in the hole is a piece of its own",
    f'<path fill-rule="evenodd" d="{RINGS}M25 25h10v10h-10z"/>',
    box(10, 10, 50, 50, area=1200, holes=1),
    box(25, 25, 35, 35),
)
case(
    "SVG 13.4.2",
    "the rule is inherited",
    f'<g fill-rule="evenodd"><path d="{RINGS}"/></g>',
    box(10, 10, 50, 50, area=1200, holes=1),
)
OVERLAP = "M10 10H40V40H10z M20 20H60V60H20z"
path("SVG 13.4.2", "non-zero: rings that overlap are one", OVERLAP, box(10, 10, 60, 60, area=900 + 1600 - 400))
case(
    "SVG 13.4.2",
    "even-odd: what two rings share is out",
    f'<path fill-rule="evenodd" d="{OVERLAP}"/>',
    box(10, 10, 40, 40, area=500),
    box(20, 20, 60, 60, area=1200),
)
TIPS = [(50 + 40 * math.sin(4 * pi * k / 5), 50 - 40 * math.cos(4 * pi * k / 5)) for k in range(5)]
STAR = "M" + " ".join(f"{x:.12f} {y:.12f}" for x, y in TIPS) + "z"
STAR_BOX = (50 - 40 * math.sin(2 * pi / 5), 10.0, 50 + 40 * math.sin(2 * pi / 5), 50 + 40 * math.cos(pi / 5))
INNER = 40 * math.cos(2 * pi / 5) / math.cos(pi / 5)  # radius of a pentagram's inner corners
PENTAGON = 2.5 * INNER**2 * math.sin(2 * pi / 5)
WHOLE_STAR = 5 * 40 * INNER * math.sin(pi / 5)
path("SVG 13.4.2", "non-zero: a pentagram is a star", STAR, box(*STAR_BOX, area=WHOLE_STAR))
path(
    "SVG 13.4.2",
    "a figure of eight is two pieces",
    "M10 10 L50 50 V10 L10 50z",
    box(10, 10, 30, 50, area=400),
    box(30, 10, 50, 50, area=400),
)
path(
    "SVG 13.4.2",
    "rings that touch in a corner stay two",
    "M10 10h20v20h-20z M30 30h20v20h-20z",
    box(10, 10, 30, 30),
    box(30, 30, 50, 50),
)
path("SVG 13.4", "open subpaths are filled as if closed", "M10 10H40V30H10", box(10, 10, 40, 30))
case(
    "SVG 13.5",
    "a closed stroke is cut along its middle",
    '<rect x="10" y="10" width="30" height="20" fill="none" stroke="blue" stroke-width="2"/>',
    box(10, 10, 40, 30, BLUE),
)
case(
    "SVG 13.5",
    "fill and stroke on one shape are one piece",
    '<rect x="10" y="10" width="30" height="20" fill="red" stroke="blue"/>',
    box(10, 10, 40, 30, RED),
)
case(
    "SVG 13.5",
    "an open stroke is a marking",
    '<path fill="none" stroke="blue" d="M10 10H40V30"/>',
    line(10, 10, 40, 30, BLUE),
)
case(
    "SVG 13.5",
    "stroke width 0 paints nothing",
    '<rect width="9" height="9" fill="none" stroke="red" stroke-width="0"/><circle r="9"/>',
    disc(0, 0, 9),
)
case(
    "SVG 13.2",
    "neither fill nor stroke: nothing",
    '<rect width="9" height="9" fill="none"/><circle r="9"/>',
    disc(0, 0, 9),
)

# viewBox and preserveAspectRatio: a view of 20 x 10 in a viewport of 100 x 100, and of 10 x 20
for high in (False, True):
    wide, tall = (10, 20) if high else (20, 10)
    for meet in ("meet", "slice"):
        scale = 5.0 if meet == "meet" else 10.0
        for at, name in ((0.0, "Min"), (0.5, "Mid"), (1.0, "Max")):
            room_x, room_y = 100 - wide * scale, 100 - tall * scale
            x, y = room_x * at, room_y * at
            left, top, right, bottom = x + 2 * scale, y + 2 * scale, x + (wide - 2) * scale, y + (tall - 2) * scale
            inside = (max(left, 0.0), max(top, 0.0), min(right, 100.0), min(bottom, 100.0))
            case(
                "SVG 8.7",
                f"x{name}Y{name} {meet}, view {'higher' if high else 'wider'} than the viewport",
                f'<svg viewBox="0 0 {wide} {tall}" preserveAspectRatio="x{name}Y{name} {meet}">'
                f'<rect x="2" y="2" width="{wide - 4}" height="{tall - 4}"/></svg>',
                box(*inside),
            )
case(
    "SVG 8.7",
    "none stretches",
    '<svg viewBox="0 0 20 10" preserveAspectRatio="none"><rect x="2" y="2" width="6" height="6"/></svg>',
    box(10, 20, 40, 80),
)
case(
    "SVG 8.7",
    "not given is xMidYMid meet",
    '<svg viewBox="0 0 20 10"><rect x="2" y="2" width="6" height="6"/></svg>',
    box(10, 35, 40, 65),
)
case(
    "SVG 8.7",
    "xMinYMax mixes",
    '<svg viewBox="0 0 20 10" preserveAspectRatio="xMinYMax"><rect x="2" y="2" width="6" height="6"/></svg>',
    box(10, 60, 40, 90),
)
case(
    "SVG 8.6",
    "a viewBox may begin anywhere",
    '<svg viewBox="-10 -20 50 50"><rect x="0" y="0" width="10" height="10"/></svg>',
    box(20, 40, 40, 60),
)
case(
    "SVG 8.6",
    "a viewBox with commas",
    '<svg viewBox="0,0,50,50"><rect width="10" height="10"/></svg>',
    box(0, 0, 20, 20),
)
case(
    "SVG 8.6",
    "a viewBox of no width shows nothing",
    '<svg viewBox="0 0 0 50"><rect width="10" height="10"/></svg><circle r="9"/>',
    disc(0, 0, 9),
    resvg="it ignores such a viewBox",
)
case(
    "SVG 8.2",
    "the root's viewBox scales",
    '<rect x="1" y="2" width="3" height="4"/>',
    box(10, 20, 40, 60),
    root='width="100" height="100" viewBox="0 0 10 10"',
)
case(
    "SVG 8.2",
    "a root without viewBox counts in px",
    '<rect x="1" y="2" width="3" height="4"/>',
    box(1, 2, 4, 6),
    root='width="100" height="100"',
)

# Nested viewports
INNER_SVG = '<svg x="10" y="20" width="40" height="20" viewBox="0 0 20 10">'
case(
    "SVG 8.6",
    "a nested svg has its place and its own coordinates",
    INNER_SVG + '<rect x="5" y="2" width="10" height="6"/></svg>',
    box(20, 24, 40, 36),
)
case(
    "SVG 3.6",
    "a nested svg clips what passes its edge",
    INNER_SVG + '<rect x="5" y="2" width="100" height="6"/></svg>',
    box(20, 24, 50, 36),
)
case(
    "SVG 3.6",
    "overflow: visible lets it pass",
    INNER_SVG.replace("<svg", '<svg overflow="visible"') + '<rect x="5" y="2" width="30" height="6"/></svg>',
    box(20, 24, 80, 36),
)
case(
    "SVG 8.9",
    "percentages refer to the nested viewBox",
    INNER_SVG + '<rect width="50%" height="50%"/></svg>',
    box(10, 20, 30, 30),
)
case(
    "SVG 8.6",
    "a nested svg without size takes all of the viewport",
    '<svg x="50" viewBox="0 0 10 10"><rect width="4" height="4"/></svg>',
    box(50, 0, 90, 40),
)
case(
    "SVG 8.6",
    "a nested svg in percent",
    '<svg x="10%" y="10%" width="50%" height="50%" viewBox="0 0 10 10"><rect width="2" height="2"/></svg>',
    box(10, 10, 20, 20),
)
case(
    "SVG 8.6",
    "a nested svg of no width shows nothing",
    '<svg width="0"><rect width="9" height="9"/></svg><circle r="9"/>',
    disc(0, 0, 9),
    resvg="it ignores such a width",
)
case(
    "SVG 8.6",
    "a transform on a nested svg applies outside its x and y",
    '<svg x="10" width="20" height="20" transform="scale(2)"><rect width="5" height="5"/></svg>',
    box(20, 0, 30, 10),
)

# Transforms
UNIT = '<rect width="10" height="10"/>'


def moved(section: str, purpose: str, transform: str, *expected: Expected, **more: str) -> None:
    case(section, purpose, f'<g transform="{transform}">{UNIT}</g>', *expected, **more)


moved("Transforms 12", "translate with two numbers", "translate(10 20)", box(10, 20, 20, 30))
moved("Transforms 12", "translate with one", "translate(10)", box(10, 0, 20, 10))
moved("Transforms 12", "scale with one number", "scale(3)", box(0, 0, 30, 30))
moved("Transforms 12", "scale with two", "scale(3,2)", box(0, 0, 30, 20))
moved("Transforms 12", "a mirror keeps the piece a piece", "translate(50) scale(-1 1)", box(40, 0, 50, 10))
moved("Transforms 12", "rotate is with the clock, y being down", "translate(50 0) rotate(90)", box(40, 0, 50, 10))
moved("Transforms 12", "rotate about a point", "rotate(180 20 20)", box(30, 30, 40, 40))
moved("Transforms 12", "skewX", "translate(0 10) skewX(45)", box(0, 10, 20, 20, area=100))
moved("Transforms 12", "skewY", "skewY(45)", box(0, 0, 10, 20, area=100))
moved("Transforms 12", "matrix", "matrix(2 0 0 3 5 7)", box(5, 7, 25, 37))
moved("Transforms 12", "a list applies from the right", "translate(10) scale(2)", box(10, 0, 30, 20))
moved("Transforms 12", "and the other way round", "scale(2) translate(10)", box(20, 0, 40, 20))
moved("Transforms 8", "commas and no spaces", "translate(10,20),scale(2)", box(10, 20, 30, 40))
moved(
    "Transforms 8",
    "spaces before the parenthesis",
    "translate (10 20)",
    box(10, 20, 20, 30),
    resvg="it takes none of the list",
)
moved(
    "Transforms 8",
    "a malformed list is not applied",
    "translate(10 20) bend(9)",
    box(0, 0, 10, 10),
    resvg="it applies what stands before",
)
case(
    "Transforms 5",
    "groups multiply",
    f'<g transform="translate(10)"><g transform="scale(2)">{UNIT}</g></g>',
    box(10, 0, 30, 20),
)
case(
    "Transforms 12",
    "a style may transform, with units",
    f'<g style="transform: translate(10px, 5px) rotate(0.25turn)">{UNIT}</g>',
    box(0, 5, 10, 15),
    resvg="it knows transforms without units only",
)
case(
    "Transforms 6",
    "transform-origin in numbers",
    '<rect x="10" y="10" width="10" height="10" transform="rotate(180)" transform-origin="25 25"/>',
    box(30, 30, 40, 40),
)
case(
    "Transforms 6",
    "transform-origin in percent is of the viewport",
    '<rect x="10" y="10" width="10" height="10" style="transform: scale(2); transform-origin: 10% 10%"/>',
    box(10, 10, 30, 30),
)
case(
    "Transforms 6",
    "transform-origin in words",
    '<rect x="40" y="40" width="10" height="10" style="transform: scale(2); transform-origin: center"/>',
    box(30, 30, 50, 50),
)
case(
    "Transforms 7",
    "fill-box makes the origin the shape's own",
    '<rect x="40" y="40" width="10" height="10" '
    'style="transform: scale(2); transform-origin: center; transform-box: fill-box"/>',
    box(35, 35, 55, 55),
    resvg="it knows no transform-box",
)

# Units, in a drawing of 1 px to the unit
for text, px in (
    ("1in", 96.0),
    ("2.54cm", 96.0),
    ("25.4mm", 96.0),
    ("72pt", 96.0),
    ("6pc", 96.0),
    ("96px", 96.0),
    ("1.5em", 24.0),
    ("3ex", 24.0),
    ("2rem", 32.0),
):
    case(
        "CSS Values 5.2, 6",
        f"{text} is {px:g} px",
        f'<rect width="{text}" height="10"/>',
        box(0, 0, px, 10),
        root='width="100" height="100"',
        resvg="it knows no rem" if "rem" in text else "",
    )
case(
    "CSS Values 6", "101.6q is an inch", '<rect width="101.6q" height="10"/>', box(0, 0, 96, 10), resvg="it knows no q"
)
case(
    "CSS Values 5.1",
    "em follows the font size",
    '<g font-size="20"><rect width="2em" height="1em"/></g>',
    box(0, 0, 40, 20),
)
case(
    "CSS Values 5.1",
    "a font size in em counts from the parent's",
    '<g font-size="20"><g font-size="2em"><rect width="1em" height="1em"/></g></g>',
    box(0, 0, 40, 40),
)

# Structure
case("SVG 5.3", "defs draws nothing", f"<defs>{UNIT}</defs><circle r='9'/>", disc(0, 0, 9))
case("SVG 5.5", "a symbol draws nothing by itself", f"<symbol id='s'>{UNIT}</symbol><circle r='9'/>", disc(0, 0, 9))
case(
    "SVG 5.6",
    "use shows what it names",
    f"<defs><g id='s'>{UNIT}</g></defs><use href='#s' x='20' y='30'/>",
    box(20, 30, 30, 40),
)
case(
    "SVG 5.6",
    "use by xlink:href",
    f"<defs><g id='s'>{UNIT}</g></defs><use xlink:href='#s' x='20'/>",
    box(20, 0, 30, 10),
)
case(
    "SVG 5.6",
    "use applies its transform before x and y",
    f"<defs><g id='s'>{UNIT}</g></defs><use href='#s' x='10' transform='scale(2)'/>",
    box(20, 0, 40, 20),
)
SYMBOL = "<symbol id='s' viewBox='0 0 10 10'><rect x='2' y='2' width='4' height='4'/></symbol>"
case(
    "SVG 5.6",
    "a symbol takes its size from use",
    f"{SYMBOL}<use href='#s' x='10' y='10' width='50' height='50'/>",
    box(20, 20, 40, 40),
)
case("SVG 5.6", "a symbol without size takes the viewport", f"{SYMBOL}<use href='#s'/>", box(20, 20, 60, 60))
case(
    "SVG 5.6",
    "a symbol's own size gives way to that of use",
    "<symbol id='s' viewBox='0 0 10 10' width='90' height='90'>"
    "<rect x='2' y='2' width='4' height='4'/></symbol><use href='#s' width='50' height='50'/>",
    box(10, 10, 30, 30),
    resvg="it knows no size on symbol",
)
case(
    "SVG 5.5",
    "a symbol clips at its edge",
    "<symbol id='s' viewBox='0 0 10 10'><rect x='2' y='2' width='40' height='4'/>"
    "</symbol><use href='#s' width='50' height='50'/>",
    box(10, 10, 50, 30),
)
case(
    "SVG 5.6",
    "an svg takes its size from use",
    "<defs><svg id='s' width='5' height='5' viewBox='0 0 10 10'>"
    "<rect width='4' height='4'/></svg></defs><use href='#s' width='50' height='50'/>",
    box(0, 0, 20, 20),
)
case(
    "SVG 5.6",
    "use of use",
    f"<defs><g id='a'>{UNIT}</g><use id='b' href='#a' x='10'/></defs><use href='#b' y='20'/>",
    box(10, 20, 20, 30),
)
case(
    "SVG 5.6",
    "what is shown inherits from use",
    f"<defs><g id='s'>{UNIT}</g></defs><use href='#s' fill='red'/>",
    box(0, 0, 10, 10, RED),
)
case(
    "SVG 5.6",
    "but keeps what it says itself",
    "<defs><rect id='s' width='10' height='10' fill='blue'/></defs><use href='#s' fill='red'/>",
    box(0, 0, 10, 10, BLUE),
)
case(
    "SVG 5.6",
    "use of itself is not followed",
    f"<g id='s'>{UNIT}<use href='#s'/></g>",
    box(0, 0, 10, 10),
    resvg="it drops the group",
)
case(
    "SVG 5.6",
    "uses in a circle are not followed",
    f"<use id='a' href='#b'/><use id='b' href='#a'/>{UNIT}",
    box(0, 0, 10, 10),
)
case("SVG 5.6", "use of what is not there draws nothing", f"<use href='#nothing'/>{UNIT}", box(0, 0, 10, 10))
case(
    "SVG 5.9",
    "switch takes the first child that passes",
    "<switch><rect width='5' height='5' systemLanguage='xx'/>"
    "<rect width='10' height='10' systemLanguage='en'/><rect width='20' height='20'/></switch>",
    box(0, 0, 10, 10),
)
case(
    "SVG 5.9",
    "switch falls through to what asks for nothing",
    "<switch><rect width='5' height='5' systemLanguage='xx, yy'/><rect width='20' height='20'/></switch>",
    box(0, 0, 20, 20),
)
case(
    "SVG 5.9",
    "an unknown extension does not pass",
    "<switch><rect width='5' height='5' requiredExtensions='http://example.org/'/>"
    "<rect width='20' height='20'/></switch>",
    box(0, 0, 20, 20),
)
case(
    "SVG 5.9",
    "a language passes with its region",
    "<rect width='10' height='10' systemLanguage='en-US'/><rect width='20' height='20' systemLanguage='xx'/>",
    box(0, 0, 10, 10),
)
case("SVG 16.2", "a link is a group", f"<a xlink:href='http://example.org/'>{UNIT}</a>", box(0, 0, 10, 10))
case("SVG 3.2", "unknown elements draw nothing", f"<blob>{UNIT}</blob><circle r='9'/>", disc(0, 0, 9))
case(
    "SVG 5.1",
    "elements of other namespaces draw nothing",
    f"<x:g xmlns:x='http://example.org/'>{UNIT}</x:g><circle r='9'/>",
    disc(0, 0, 9),
)
case(
    "SVG 3.3",
    "later shapes lie above earlier ones",
    "<rect width='30' height='30' fill='red'/><rect width='20' height='20' fill='blue'/>",
    box(0, 0, 30, 30, RED),
    box(0, 0, 20, 20, BLUE),
)

# Visibility
case("SVG 11.4", "display: none hides a group", f"<g display='none'>{UNIT}</g><circle r='9'/>", disc(0, 0, 9))
case(
    "SVG 11.4",
    "what is visible in a hidden group shows",
    "<g visibility='hidden'><rect width='9' height='9'/><rect width='10' height='10' visibility='visible'/></g>",
    box(0, 0, 10, 10),
)
case("SVG 11.4", "collapse hides", "<rect width='9' height='9' visibility='collapse'/><circle r='9'/>", disc(0, 0, 9))
case("CSS Color 3.2", "opacity 0 hides a group", f"<g opacity='0'>{UNIT}</g><circle r='9'/>", disc(0, 0, 9))
case(
    "SVG 13.4.3",
    "fill-opacity 0 is no fill",
    "<rect width='9' height='9' fill-opacity='0'/><circle r='9'/>",
    disc(0, 0, 9),
)
case(
    "SVG 13.4.3",
    "fill-opacity 0% is no fill",
    "<rect width='9' height='9' fill-opacity='0%'/><circle r='9'/>",
    disc(0, 0, 9),
)

# Style
R10 = "width='10' height='10'"


def style(section: str, purpose: str, sheet: str, body: str, *colors: str, **more: str) -> None:
    case(section, purpose, f"<style>{sheet}</style>{body}", *(box(0, 0, 10, 10, color) for color in colors), **more)


style("SVG 6.6", "a sheet beats a presentation attribute", "rect {fill: red}", f"<rect {R10} fill='blue'/>", RED)
style(
    "CSS Cascade 6",
    "the style attribute beats a sheet",
    "#a {fill: blue}",
    f"<rect id='a' {R10} style='fill: red'/>",
    RED,
)
style(
    "CSS Cascade 6.3",
    "!important beats the style attribute",
    "rect {fill: red !important}",
    f"<rect {R10} style='fill: blue'/>",
    RED,
)
style("Selectors 17", "an id beats a class", "#a {fill: red} .b {fill: blue}", f"<rect id='a' class='b' {R10}/>", RED)
style("Selectors 17", "a class beats a type", ".b {fill: red} rect {fill: blue}", f"<rect class='b' {R10}/>", RED)
style("CSS Cascade 6.4", "the later of equals wins", "rect {fill: blue} rect {fill: red}", f"<rect {R10}/>", RED)
style(
    "Selectors 15.2",
    "child combinator",
    "g.x > rect {fill: red}",
    f"<g class='x'><rect {R10}/><g><rect {R10}/></g></g>",
    RED,
    BLACK,
)
style("Selectors 15.1", "descendant combinator", ".x rect {fill: red}", f"<g class='x'><g><rect {R10}/></g></g>", RED)
style("Selectors 15.3", "next sibling", "rect + rect {fill: red}", f"<rect {R10}/><rect {R10}/>", BLACK, RED)
style(
    "Selectors 6.4",
    "attribute selector",
    "rect[data-cloth='shell'] {fill: red}",
    f"<rect data-cloth='shell' {R10}/>",
    RED,
)
style(
    "Selectors 13.3", "first-child", "g rect:first-child {fill: red}", f"<g><rect {R10}/><rect {R10}/></g>", RED, BLACK
)
style(
    "Selectors 13.3",
    "nth-child",
    "g rect:nth-child(2) {fill: red}",
    f"<g><rect {R10}/><rect {R10}/></g>",
    BLACK,
    RED,
    resvg="it knows no nth-child",
)
style("Selectors 4.1", "a list of selectors", "circle, rect {fill: red}", f"<rect {R10}/>", RED)
style("Selectors 5.2", "everything", "* {fill: red}", f"<rect {R10}/>", RED)
style(
    "Selectors 6.6", "two classes", ".a.b {fill: red}", f"<rect class='b a' {R10}/><rect class='a' {R10}/>", RED, BLACK
)
style(
    "Selectors 4.3",
    "not",
    "rect:not(.a) {fill: red}",
    f"<rect {R10}/><rect class='a' {R10}/>",
    RED,
    BLACK,
    resvg="it knows no :not",
)
style(
    "CSS Syntax 5.4",
    "a rule that is not understood is passed over",
    "rect:::x {fill: blue} rect {fill: red}",
    f"<rect {R10}/>",
    RED,
)
style("CSS Syntax 9", "comments", "/* rect {fill: blue} */ rect {fill: /* not blue */ red}", f"<rect {R10}/>", RED)
style(
    "CSS Conditional 2",
    "rules for the screen count, those for print do not",
    "@media screen {rect {fill: red}} @media print {rect {fill: blue}}",
    f"<rect {R10}/>",
    RED,
    resvg="it knows no @media",
)
style(
    "CSS Variables 3",
    "custom properties",
    "svg {--shell: red} rect {fill: var(--shell, blue)}",
    f"<rect {R10}/>",
    RED,
    resvg="it knows no var()",
)
style(
    "CSS Variables 3",
    "the fallback of var()",
    "rect {fill: var(--nothing, red)}",
    f"<rect {R10}/>",
    RED,
    resvg="it knows no var()",
)
style("SVG 6.3", "a sheet in CDATA", "<![CDATA[ g > rect {fill: red} ]]>", f"<g><rect {R10}/></g>", RED)
style(
    "SVG 9.2",
    "geometry by style",
    "rect {width: 10px; height: 10px}",
    "<rect width='50' height='50'/>",
    BLACK,
    resvg="it takes geometry from attributes",
)


def paint(section: str, purpose: str, attributes: str, color: str, around: str = "", **more: str) -> None:
    case(section, purpose, f"<g {around}><rect {R10} {attributes}/></g>", box(0, 0, 10, 10, color), **more)


paint("CSS Color 4.2", "six digits", "fill='#C8553D'", "#c8553d")
paint("CSS Color 4.2", "three digits", "fill='#F80'", "#ff8800")
paint("CSS Color 4.1", "rgb()", "fill='rgb(200, 85, 61)'", "#c8553d")
paint("CSS Color 4.1", "rgb() in percent", "fill='rgb(100%, 0%, 0%)'", RED)
paint("CSS Color 4.1", "rgb() without commas", "fill='rgb(200 85 61)'", "#c8553d")
paint("CSS Color 7", "hsl()", "fill='hsl(120, 100%, 25%)'", "#008000")
paint("CSS Color 6.1", "a name in any case", "fill='DarkOrange'", "#ff8c00")
paint(
    "CSS Color 4.2",
    "eight digits: the color stays, the cloth is not transparent",
    "fill='#ff000080'",
    RED,
    resvg="a transparent color",
)
paint("CSS Color 9.2", "currentColor", "fill='currentColor' color='red'", RED)
paint("CSS Color 9.2", "currentColor is inherited as such", "color='red'", RED, "fill='currentColor' color='blue'")
paint("CSS Cascade 7.2", "inherit", "fill='inherit'", RED, "fill='red'")
paint("CSS Cascade 7.2", "initial", "fill='initial'", BLACK, "fill='red'", resvg="it knows no initial")
paint("CSS Cascade 7.2", "fill is inherited", "", RED, "fill='red'")
paint(
    "SVG 6.6",
    "a value that is no color counts as not given",
    "fill='rainbow'",
    RED,
    "fill='red'",
    resvg="it paints nothing",
)
paint("SVG 13.2", "icc-color is left out", "fill='#ff0000 icc-color(p, 1, 2)'", RED, resvg="it knows no icc-color")
paint("SVG 13.2", "a server that is missing gives way to the fallback", "fill='url(#none) red'", RED)
paint(
    "CSS Style Attributes 2",
    "a style attribute with several declarations",
    "style='stroke:none;fill:red;opacity:1'",
    RED,
)
paint("CSS Style Attributes 2", "and without spaces, ended by a semicolon", "style='fill:#f00;'", RED)
case(
    "SVG 13.2",
    "a missing server without fallback paints nothing",
    f"<rect {R10} fill='url(#none)'/><circle r='9'/>",
    disc(0, 0, 9),
)
case(
    "CSS Color 4.1",
    "rgba() with alpha 0 paints nothing",
    f"<rect {R10} fill='rgba(255,0,0,0)'/><circle r='9'/>",
    disc(0, 0, 9),
)
case("CSS Color 6.2", "transparent paints nothing", f"<rect {R10} fill='transparent'/><circle r='9'/>", disc(0, 0, 9))
GRADIENT = "<linearGradient id='g'><stop stop-color='red'/><stop offset='1' stop-color='blue'/></linearGradient>"
case(
    "SVG 14.2",
    "a gradient fills; its first stop tells the cloth",
    f"{GRADIENT}<rect {R10} fill='url(#g)'/>",
    box(0, 0, 10, 10, RED),
    resvg="cloth has one color",
)
case(
    "SVG 14.2",
    "a gradient of one stop is a plain color",
    f"<linearGradient id='g'><stop stop-color='red'/></linearGradient><rect {R10} fill='url(#g)'/>",
    box(0, 0, 10, 10, RED),
)
case(
    "SVG 14.2",
    "a gradient takes its stops from another",
    f"{GRADIENT}<radialGradient id='h' href='#g'/><rect {R10} fill='url(#h)'/>",
    box(0, 0, 10, 10, RED),
    resvg="cloth has one color",
)
case(
    "SVG 14.2",
    "a gradient without stops paints nothing",
    f"<linearGradient id='g'/><rect {R10} fill='url(#g)'/><circle r='9'/>",
    disc(0, 0, 9),
)

# Clipping and masking
BIG = "<rect width='60' height='60' fill='red'"


def clip(section: str, purpose: str, defs: str, body: str, *expected: Expected, **more: str) -> None:
    case(section, purpose, f"<defs>{defs}</defs>{body}", *expected, **more)


CLIP = "<clipPath id='c'><rect x='10' y='10' width='20' height='80'/></clipPath>"
clip("Masking 5", "a rectangle clips a shape", CLIP, f"{BIG} clip-path='url(#c)'/>", box(10, 10, 30, 60, RED))
clip(
    "Masking 5",
    "a circle clips a shape",
    "<clipPath id='c'><circle cx='30' cy='30' r='20'/></clipPath>",
    f"{BIG} clip-path='url(#c)'/>",
    disc(30, 30, 20, color=RED),
)
clip("Masking 5", "a clip on a group", CLIP, f"<g clip-path='url(#c)'>{BIG}/></g>", box(10, 10, 30, 60, RED))
clip(
    "Masking 5",
    "clips of group and shape both count",
    CLIP + "<clipPath id='d'><rect width='90' height='20'/></clipPath>",
    f"<g clip-path='url(#c)'>{BIG} clip-path='url(#d)'/></g>",
    box(10, 10, 30, 20, RED),
)
clip(
    "Masking 5",
    "shapes of a clip path are put together",
    "<clipPath id='c'><rect width='20' height='20'/><rect x='10' y='10' width='20' height='20'/></clipPath>",
    f"{BIG} clip-path='url(#c)'/>",
    box(0, 0, 30, 30, RED, area=700),
)
clip(
    "Masking 5",
    "a clip path has its own transform",
    "<clipPath id='c' transform='translate(10 10)'><rect width='20' height='20'/></clipPath>",
    f"{BIG} clip-path='url(#c)'/>",
    box(10, 10, 30, 30, RED),
)
clip(
    "Masking 5",
    "a clip follows the transform of the clipped",
    CLIP,
    f"<g transform='scale(.5)' clip-path='url(#c)'>{BIG}/></g>",
    box(5, 5, 15, 30, RED),
)
clip(
    "Masking 5",
    "objectBoundingBox counts in the shape's box",
    "<clipPath id='c' clipPathUnits='objectBoundingBox'><rect width='.5' height='.25'/></clipPath>",
    "<rect x='20' y='20' width='40' height='40' fill='red' clip-path='url(#c)'/>",
    box(20, 20, 40, 30, RED),
)
clip(
    "Masking 5",
    "of a group: the box of all that is in it",
    "<clipPath id='c' clipPathUnits='objectBoundingBox'><rect width='.5' height='1'/></clipPath>",
    "<g clip-path='url(#c)' fill='red'><rect width='20' height='20'/><rect x='20' y='20' width='20' height='20'/></g>",
    box(0, 0, 20, 20, RED),
)
clip(
    "Masking 5",
    "an empty clip path hides",
    "<clipPath id='c'/>",
    f"{BIG} clip-path='url(#c)'/><circle r='9'/>",
    disc(0, 0, 9),
)
clip(
    "Masking 5",
    "a clip path that is not there does not clip",
    "",
    f"{BIG} clip-path='url(#c)'/>",
    box(0, 0, 60, 60, RED),
)
clip(
    "Masking 5",
    "a clip path may itself be clipped",
    CLIP + "<clipPath id='d' clip-path='url(#c)'><rect width='90' height='20'/></clipPath>",
    f"{BIG} clip-path='url(#d)'/>",
    box(10, 10, 30, 20, RED),
)
clip(
    "Masking 5",
    "a shape in a clip path may be clipped",
    CLIP + "<clipPath id='d'><rect width='90' height='20' clip-path='url(#c)'/></clipPath>",
    f"{BIG} clip-path='url(#d)'/>",
    box(10, 10, 30, 20, RED),
)
clip(
    "Masking 5",
    "use in a clip path",
    "<rect id='r' x='10' y='10' width='20' height='20'/><clipPath id='c'><use href='#r'/></clipPath>",
    f"{BIG} clip-path='url(#c)'/>",
    box(10, 10, 30, 30, RED),
)
clip(
    "Masking 5.2",
    "clip-rule says what is inside",
    f"<clipPath id='c'><path clip-rule='evenodd' d='{RINGS}'/></clipPath>",
    f"{BIG} clip-path='url(#c)'/>",
    box(10, 10, 50, 50, RED, area=1200, holes=1),
)
clip(
    "Masking 5",
    "fill and opacity do not matter in a clip path",
    "<clipPath id='c'><rect width='20' height='20' fill='none'/></clipPath>",
    f"{BIG} clip-path='url(#c)'/>",
    box(0, 0, 20, 20, RED),
)
clip(
    "Masking 5",
    "what is hidden in a clip path does not clip",
    "<clipPath id='c'><rect width='90' height='90' display='none'/><rect width='20' height='20'/></clipPath>",
    f"{BIG} clip-path='url(#c)'/>",
    box(0, 0, 20, 20, RED),
)
clip("Masking 5", "a clip by style", CLIP, f"{BIG} style='clip-path: url(\"#c\")'/>", box(10, 10, 30, 60, RED))
clip(
    "Masking 5",
    "an open line is clipped too",
    CLIP,
    "<path fill='none' stroke='red' d='M0 50H90' clip-path='url(#c)'/>",
    line(10, 50, 30, 50, RED),
)
clip(
    "Masking 5",
    "a clipped curve stays on its curve",
    CLIP,
    "<path fill='none' stroke='red' d='M0 20C20 20 20 60 40 60' clip-path='url(#c)'/>",
    line(10, curve_at(10), 30, curve_at(30), RED),
)
MASK = "<mask id='m' maskUnits='userSpaceOnUse' x='0' y='0' width='100' height='100'>"
clip(
    "Masking 7",
    "a white rectangle in a mask lets through",
    f"{MASK}<rect x='10' y='10' width='20' height='80' fill='white'/></mask>",
    f"{BIG} mask='url(#m)'/>",
    box(10, 10, 30, 60, RED),
)
clip(
    "Masking 7",
    "black in a mask's white shuts",
    f"{MASK}<rect width='90' height='90' fill='white'/><rect x='10' y='10' width='20' height='20'/></mask>",
    f"{BIG} mask='url(#m)'/>",
    box(0, 0, 60, 60, RED, area=3200, holes=1),
)
clip(
    "Masking 7.5",
    "a mask by alpha looks at opacity only",
    "<mask id='m' style='mask-type: alpha'><rect x='10' y='10' width='20' height='20'/></mask>",
    f"{BIG} mask='url(#m)'/>",
    box(10, 10, 30, 30, RED),
)
clip(
    "Masking 7.4",
    "a mask covers a tenth more than the box",
    "<mask id='m'><rect width='100' height='100' fill='white'/></mask>",
    f"{BIG} mask='url(#m)'/>",
    box(0, 0, 60, 60, RED),
)
clip(
    "Masking 7.4",
    "a mask's own rectangle bounds it",
    "<mask id='m' x='0' y='0' width='.5' height='1'><rect width='100' height='100' fill='white'/></mask>",
    f"{BIG} mask='url(#m)'/>",
    box(0, 0, 30, 60, RED),
)
