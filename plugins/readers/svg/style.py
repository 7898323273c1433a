"""The style of each element: presentation attributes, `style`, style sheets, inheritance.

Terminology
    property    a name of CSS with a value; `Style` holds the specified values that matter for cutting, as text
    paint       what a fill or a stroke is: nothing, a color, or a reference to a gradient or pattern

Sources: presentation attributes, SVG 2, 6.6; cascade, specificity and importance, CSS Cascading and Inheritance 4, 6;
which properties inherit, SVG 2, Appendix G (property index); paint, SVG 2, 13.2; custom properties, CSS Custom
Properties 1.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final, cast

import cssselect2
import cssselect2.parser
import tinycss2
import tinycss2.color4
from lxml import etree

from clothpath.plugins.readers.svg.document import SVG, text_in

__all__ = [
    "INITIAL",
    "ROOT_STYLE",
    "Paint",
    "Sheet",
    "Style",
    "color_of",
    "declarations",
    "paint_of",
    "part_of_one",
    "root_attributes",
    "sheet_in",
    "styled",
]

INITIAL: Final[Mapping[str, str]] = MappingProxyType(
    {
        "clip-rule": "nonzero",
        "color": "black",
        "fill": "black",
        "fill-opacity": "1",
        "fill-rule": "nonzero",
        "font-size": "16px",
        "stroke": "none",
        "stroke-linecap": "butt",
        "stroke-linejoin": "miter",
        "stroke-miterlimit": "4",
        "stroke-opacity": "1",
        "stroke-width": "1",
        "stroke-dasharray": "none",
        "visibility": "visible",
        "marker-start": "none",
        "marker-mid": "none",
        "marker-end": "none",
    }
)
"""Properties that inherit, with their initial values."""
OWN: Final = frozenset(
    [
        "clip-path",
        "display",
        "filter",
        "mask",
        "mask-type",
        "opacity",
        "overflow",
        "transform",
        "transform-origin",
        "transform-box",
        "vector-effect",
        "stop-color",
        "stop-opacity",
        "cx",
        "cy",
        "r",
        "rx",
        "ry",
        "x",
        "y",
        "width",
        "height",
        "d",
    ]
)
"""Properties that do not inherit."""
GEOMETRY: Final = frozenset({"cx", "cy", "r", "rx", "ry", "x", "y", "width", "height", "d"})
"""Properties that are read through their attributes where no style gives them."""
_KNOWN: Final = frozenset(INITIAL) | OWN
_ATTRIBUTES: Final = _KNOWN - GEOMETRY
_UNPLAIN: Final = re.compile(r"""["'\/!{}]""")
MOST_SHEET: Final = 300_000
"""Characters of a style sheet, embedded fonts and pictures aside."""
MOST_WAYS: Final = 1_000_000
"""Ways in which a selector may be tried on one element."""
_EMBEDDED: Final = re.compile(r"url\(\s*['\"]?data:[^)]*\)")
_URL: Final = re.compile(r"""url\(\s*(['"]?)(.*?)\1\s*\)\s*(.*)""", re.DOTALL)
_VAR: Final = re.compile(r"var\(\s*(--[\w-]+)\s*(?:,([^()]*))?\)")
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?%?")

Declarations = tuple[tuple[str, str, bool], ...]
"""(property, value, important)."""


@dataclass(frozen=True, slots=True)
class Paint:
    """A fill or stroke.

    Attributes:
        color: "#rrggbb"; None: nothing is painted, or `server` alone says what.
        opacity: of the color, from 0 to 1.
        server: the id of a gradient or pattern; "" if none.
    """

    color: str | None = None
    opacity: float = 1.0
    server: str = ""


@dataclass(frozen=True, slots=True)
class Style:
    """The specified values of one element.

    Attributes:
        inherited: every property that children take over, initial values included.
        own: properties that they do not, where they are given.
    """

    inherited: dict[str, str]
    own: dict[str, str]

    def __getitem__(self, name: str) -> str:
        found = self.inherited.get(name)
        return self.own.get(name, "") if found is None else found


ROOT_STYLE: Final = Style(dict(INITIAL), {})
"""What the outermost element takes over."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Declarations of the style sheets, by element, weakest first, and what was left out of them."""

    by_element: Mapping[etree._Element, Declarations]
    left_out: tuple[str, ...] = ()


@lru_cache(maxsize=4096)
def color_of(text: str, current: str) -> tuple[str, float] | None:
    """The color as "#rrggbb" and its opacity, or None if the text is no color; `current` stands for currentColor."""
    word = text.strip()
    if word.lower() == "currentcolor":
        return color_of(current, "black") if current.strip().lower() != "currentcolor" else ("#000000", 1.0)
    if len(word) == 7 and word[0] == "#":
        try:
            int(word[1:], 16)
        except ValueError:
            return None
        return word.lower(), 1.0
    try:
        found = tinycss2.color4.parse_color(word)
        if found is None or isinstance(found, str):
            return None
        if found.space not in ("srgb", "hsl", "hwb"):
            found = found.to("srgb") if found.space in ("xyz-d50", "xyz-d65", "lab", "lch") else found
        srgb = found if found.space == "srgb" else found.to("srgb")
        digits = "".join(f"{min(255, max(0, round(255 * (c or 0)))):02x}" for c in srgb.coordinates)
        return f"#{digits}", min(1.0, max(0.0, float(srgb.alpha)))
    except (ValueError, TypeError, NotImplementedError, OverflowError):
        return None


@lru_cache(maxsize=4096)
def paint_of(text: str, current: str) -> Paint | None:
    """The paint that a fill or stroke value stands for, or None if the value is not valid."""
    word = text.strip()
    if word == "none" or word.lower() == "none":
        return Paint()
    color = color_of(word, current)
    if color is not None:
        return Paint(*color)
    match = _URL.match(word)
    if match:
        fallback = color_of(match[3], current) if match[3].strip() not in ("", "none") else None
        server = match[2].strip()
        return Paint(fallback[0] if fallback else None, fallback[1] if fallback else 1.0, server.removeprefix("#"))
    if word in ("context-fill", "context-stroke"):
        return Paint()
    head, _, tail = word.partition(" ")
    if tail.lstrip().lower().startswith("icc-color("):
        return paint_of(head, current)
    return None


@lru_cache(maxsize=4096)
def declarations(text: str) -> Declarations:
    """The declarations of a `style` attribute that concern us."""
    if _UNPLAIN.search(text) is None:
        found = []
        for part in text.split(";"):
            name, colon, value = part.partition(":")
            if colon:
                found.append((name.strip().lower(), value.strip(), False))
        return tuple(found)
    return _declared(tinycss2.parse_blocks_contents(text, skip_comments=True, skip_whitespace=True))


def _declared(nodes: Iterable[Any]) -> Declarations:
    return tuple(
        (
            node.name if node.name.startswith("--") else node.lower_name,
            tinycss2.serialize(node.value).strip(),
            bool(node.important),
        )
        for node in nodes
        if node.type == "declaration"
    )


def sheet_of(root: etree._Element, texts: Iterable[str], check_time: Callable[[], None]) -> Sheet:
    """The declarations that style sheets make for each element of the document."""
    deepest = _deepest(root)
    matcher = cssselect2.Matcher()
    left_out: list[str] = []
    order = 0

    def add(nodes: Iterable[Any]) -> None:
        nonlocal order
        for node in nodes:
            check_time()
            if node.type == "at-rule":
                words = tinycss2.serialize(node.prelude).strip().lower()
                name = node.lower_at_keyword
                if name == "media" and node.content is not None and _shown_on_screen(words):
                    add(tinycss2.parse_blocks_contents(node.content, skip_comments=True, skip_whitespace=True))
                elif name not in ("charset", "font-face", "namespace"):
                    left_out.append(f"@{name} {words}".strip())
            elif node.type == "qualified-rule":
                content = tinycss2.parse_blocks_contents(node.content, skip_comments=True, skip_whitespace=True)
                payload = _declared(content)
                try:
                    looks = max(map(_loose_combinators, cssselect2.parser.parse(node.prelude)), default=0)
                    selectors = cssselect2.compile_selector_list(node.prelude) if deepest**looks <= MOST_WAYS else None
                except cssselect2.SelectorError:
                    selectors = None
                if selectors is None:
                    left_out.append(tinycss2.serialize(node.prelude).strip())
                    continue
                for selector in selectors:
                    if selector.pseudo_element is None:
                        matcher.add_selector(selector, (order, payload))
                order += 1

    for text in texts:
        plain = _EMBEDDED.sub("url()", text)
        if len(plain) > MOST_SHEET:
            left_out.append(f"{plain[:40]} (and {len(plain)} characters, which are too many)")
            continue
        add(tinycss2.parse_stylesheet(plain, skip_comments=True, skip_whitespace=True))
    by_element: dict[etree._Element, Declarations] = {}
    for element in cssselect2.ElementWrapper.from_xml_root(root).iter_subtree():
        check_time()
        matches = matcher.match(element)
        if matches:
            by_element[element.etree_element] = tuple(each for *_, (_, payload) in matches for each in payload)
    return Sheet(by_element, tuple(left_out))


def sheet_in(root: etree._Element, check_time: Callable[[], None]) -> Sheet | None:
    """What the <style> elements of a document declare; None if there are none.

    Args:
        check_time: called now and then; raises if the reading takes too long.
    """
    texts = [
        text_in(element)
        for element in root.getroottree().iter(f"{{{SVG}}}style", "style")
        if (element.get("type") or "text/css").strip().lower() in ("text/css", "")
        and _shown_on_screen((element.get("media") or "").lower())
    ]
    return sheet_of(root, texts, check_time) if any(text.strip() for text in texts) else None


def root_attributes(root: etree._Element, sheet: Sheet | None) -> dict[str, str]:
    """The attributes of the outermost element, its width and height as its style has them."""
    own = styled(root, ROOT_STYLE, sheet).own
    found = {str(name): str(value) for name, value in root.attrib.items()}
    return found | {name: own[name] for name in ("width", "height") if name in own}


def _deepest(root: etree._Element) -> int:
    """The most levels or siblings that a selector may have to look through."""
    most = 1
    pending = [(root, 1)]
    while pending:
        element, level = pending.pop()
        most = max(most, level, len(element))
        pending += [(child, level + 1) for child in element]
    return most


def _loose_combinators(selector: Any) -> int:
    """How many combinators of a selector look through many elements: descendant and later sibling."""
    count = 0
    at = selector.parsed_tree
    while hasattr(at, "combinator"):
        count += at.combinator in (" ", "~")
        at = at.left
    return count


def _shown_on_screen(media: str) -> bool:
    return any(query.strip() in ("", "all", "screen", "only screen") for query in media.split(","))


def styled(element: etree._Element, parent: Style, sheet: Sheet | None) -> Style:
    """The style of an element below a parent; values that a property does not take count as not given."""
    given: list[tuple[str, str, bool]] = []
    inline = ""
    for name, value in cast("list[tuple[str, str]]", element.items()):
        if name in _ATTRIBUTES:
            given.append((name, value.strip(), False))
        elif name == "style":
            inline = value
    if sheet is not None:
        given += sheet.by_element.get(element, ())
    if inline:
        given += declarations(inline)
    if not given:
        return parent if not parent.own else Style(parent.inherited, {})
    inherited = parent.inherited.copy()
    own: dict[str, str] = {}
    chosen: dict[str, tuple[str, bool]] = {}
    for name, value, important in given:
        if name in chosen and chosen[name][1] and not important:
            continue
        if name.startswith("--"):
            inherited[name] = value
        elif name in _KNOWN and (name not in INITIAL or _valid(name, value) or "var(" in value):
            chosen[name] = (value, important)
    for name, (value, _) in chosen.items():
        if "var(" in value:
            value = _substituted(value, inherited)
            if name in INITIAL and not _valid(name, value):
                value = "unset"
        word = value.lower()
        if name in INITIAL:
            if word in ("inherit", "unset", "revert"):
                inherited[name] = parent.inherited[name]
            else:
                inherited[name] = INITIAL[name] if word == "initial" else value
        elif word == "inherit":
            own[name] = parent.own.get(name, "")
        elif word not in ("initial", "unset", "revert"):
            own[name] = value
    return Style(inherited, own)


def _substituted(value: str, known: Mapping[str, str]) -> str:
    for _ in range(8):
        value, count = _VAR.subn(lambda match: known.get(match[1], match[2] or "").strip(), value)
        if not count:
            break
    return value


def part_of_one(text: str) -> float | None:
    """A number or percentage held between 0 and 1, or None if the text is neither."""
    word = text.strip()
    if _NUMBER.fullmatch(word) is None:
        return None
    return min(1.0, max(0.0, float(word[:-1]) / 100 if word.endswith("%") else float(word)))


def _valid(name: str, value: str) -> bool:
    """Whether a value is one that the property takes, for the properties where a wrong one must not count."""
    word = value.strip().lower()
    if word in ("inherit", "initial", "unset", "revert"):
        return True
    if name in ("fill", "stroke"):
        return paint_of(value, "black") is not None
    if name == "color":
        return color_of(value, "black") is not None
    if name in ("fill-rule", "clip-rule"):
        return word in ("nonzero", "evenodd")
    if name in ("fill-opacity", "stroke-opacity", "stroke-miterlimit"):
        return _NUMBER.fullmatch(word) is not None
    if name == "visibility":
        return word in ("visible", "hidden", "collapse")
    return bool(word)
