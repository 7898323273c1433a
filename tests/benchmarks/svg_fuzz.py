"""Damage SVG drawings at random and read them: each must end in a design or in a refusal, within the limits.

    python tests/benchmarks/svg_fuzz.py --seconds 3600 [--seed 1] [--keep FOLDER] [--last FILE] [FILE or FOLDER...]

Seeds are the cases of the reader's tests and the files given; without any, those of a corpus in CORPORA that is there.
A drawing is damaged as a tree (elements moved, copied, wrapped, exchanged between drawings; attributes and path data
changed), as text, or as bytes, or all of it, and may be compressed. What raised anything else, took more processor time
than the limit, or took more memory is kept and told; exit status 1 if there was one. The input that is being read
stands in the file --last, so that a crash or a hang, after which nothing could be kept, leaves it behind.
"""

from __future__ import annotations

import copy
import gzip
import random
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from fuzzing import Damage, fuzzed
from lxml import etree

from clothpath.plugins.readers.svg import SvgReader, SvgSettings

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "plugins" / "readers"))
from svg_cases import CASES, document

CORPORA = [Path("/tmp/npm/node_modules/@twemoji/svg"), Path("/tmp/npm/node_modules/bootstrap-icons/icons")]
MOST_FILES = 800
"""Files of the corpora that are seeds: every so many of them."""
GROWN = 0.01
"""How often something large is put in where it may be."""
MOST_COPIED = 100
"""Elements of a group that is copied."""
SVG = "{http://www.w3.org/2000/svg}"
SCRAPS = [
    *("<", ">", '"', "'", "&", "&amp;", "&#0;", "#", "%", "-", ";", "{", "}", "(", ")", "\0", "é", "]]>", "<!--", "/>"),
    *("e9", "1e999", "1e30", "1e-30", "NaN", "Infinity", "0", "-1", "M", "z", "A1 1 0 0", "t9 9", "0 0 0 0"),
    *("calc(1px", "url(#s)", "url(#c)", "<g>", "</g>", "<use href='#s'/>", "!important", "inherit", "var(--x)"),
    *("objectBoundingBox", " transform='scale(0)'", " transform='matrix(1 2 2 4 0 0)'", " viewBox='0 0 0 0'"),
    *(" clip-path='url(#c)'", " id='s'", "<style>*{fill:red}</style>", "<!DOCTYPE svg [<!ENTITY a 'b'>]>", "&a;"),
]
WRAPS = ["g", "svg", "symbol", "defs", "clipPath", "mask", "switch", "a", "pattern", "linearGradient", "text", "marker"]
SHAPES = ["path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "use", "g", "image", "text", "svg"]
NUMBERS = ["0", "-0", "-1", "1e-30", "1e30", "1e308", "-1e308", "0.001", "36", "50%", "1in", "2em", "1e5mm", "nan", ""]
VALUES = {
    "d": [
        "M0 0",
        "M0 0h1e9v1e9z",
        "M1 1A0 5 0 0 1 9 9",
        "M0 0Q9 9 0 0T5 5T9 0z",
        "m1 1zzm2 2l1e200 0",
        "M0 0L9 9 L0 9 9 0z",
    ],
    "points": ["0,0 9,9 0,9 9,0", "1", "1 2 3", "0 0 0 0 0 0"],
    "transform": [
        "scale(0)",
        "scale(1e-200)",
        "rotate(45 1e9 1e9)",
        "matrix(1 2 2 4 0 0)",
        "skewX(90)",
        "translate(9%,9)",
    ],
    "viewBox": ["0 0 0 0", "0 0 1e-9 1e-9", "0 0 1e9 1e9", "-5 -5 10 10", "0 0 36"],
    "preserveAspectRatio": ["none", "xMinYMax slice", "xMidYMid", "bad"],
    "style": [
        "fill:none;stroke:red;stroke-width:9",
        "display:none",
        "--x:red;fill:var(--x)",
        "transform:scale(2)",
        ";;:{",
    ],
    "fill": ["none", "#f00", "url(#s)", "context-fill", "currentColor", "rgb(1e9,0,0)", "hsl(9 9% 9%)"],
    "stroke": ["none", "blue", "url(#s) red", "context-stroke"],
    "stroke-width": [*NUMBERS, "900"],
    "stroke-linejoin": ["round", "bevel", "miter"],
    "stroke-linecap": ["round", "square"],
    "stroke-miterlimit": ["0", "1e9", "-1"],
    "stroke-dasharray": ["1", "none", "0 0"],
    "fill-rule": ["evenodd", "nonzero", "odd"],
    "clip-path": ["url(#s)", "url(#c)", "circle(5px)", "none"],
    "mask": ["url(#s)", "none"],
    "clipPathUnits": ["objectBoundingBox", "userSpaceOnUse"],
    "maskUnits": ["objectBoundingBox", "userSpaceOnUse"],
    "opacity": ["0", "0.5", "200%"],
    "transform-origin": ["center", "1px 2px", "50% bottom"],
    "transform-box": ["fill-box", "view-box"],
    "font-size": ["0", "1e9px", "larger", "2em"],
    "href": ["#s", "#c", "#", "other.svg#s", "data:,"],
    "id": ["s", "c"],
    **dict.fromkeys(("width", "height", "x", "y", "r", "rx", "ry", "cx", "cy", "x1", "y2"), NUMBERS),
}


SETTINGS = [
    SvgSettings(),
    SvgSettings(),
    SvgSettings.model_validate({"pixels_per_inch": "72", "gap": "2 mm", "wide_stroke": "0.1 mm"}),
    SvgSettings(bare_unit="mm", most_points=2_000, most_elements=300, most_seconds=1.0),
]


def tree_damaged(root: etree._Element, pick: random.Random, others: Sequence[bytes]) -> None:
    """A few changes to the drawing's elements and their attributes."""
    for _ in range(pick.choice((1, 1, 2, 3, 6))):
        elements = [each for each in root.iter(etree.Element) if each is not root]
        if not elements:
            return
        pick.choice(TREE_STEPS)(pick.choice(elements), pick.choice(elements), pick, others)


def _moved(one: etree._Element, other: etree._Element, pick: random.Random, _: Sequence[bytes]) -> None:
    if one is not other and one not in list(other.iterancestors()):
        other.insert(pick.randint(0, len(other)), one)


def _copied(one: etree._Element, other: etree._Element, pick: random.Random, _: Sequence[bytes]) -> None:
    if sum(1 for _ in one.iter()) < MOST_COPIED:
        pattern = copy.deepcopy(one)
        for _ in range(pick.choice((1, 2, 20))):
            other.append(copy.deepcopy(pattern))


def _taken_out(one: etree._Element, _: etree._Element, __: random.Random, ___: Sequence[bytes]) -> None:
    parent = one.getparent()
    if parent is not None:
        parent.remove(one)


def _wrapped(one: etree._Element, _: etree._Element, pick: random.Random, __: Sequence[bytes]) -> None:
    for _ in range(pick.choice((1, 1, 1, 2, 60, 600))):
        parent = one.getparent()
        if parent is None:
            return
        around = etree.Element(SVG + pick.choice(WRAPS), {"id": pick.choice("sc")} if pick.random() < 0.5 else {})
        parent.replace(one, around)
        around.append(one)


def _renamed(one: etree._Element, _: etree._Element, pick: random.Random, __: Sequence[bytes]) -> None:
    one.tag = SVG + pick.choice((*SHAPES, *WRAPS))


def _given(one: etree._Element, _: etree._Element, pick: random.Random, __: Sequence[bytes]) -> None:
    name = pick.choice(list(VALUES))
    one.set(name, pick.choice(VALUES[name]))


def _attributes_of_another(one: etree._Element, other: etree._Element, _: random.Random, __: Sequence[bytes]) -> None:
    for name, value in other.items():
        one.set(name, value)


def _shown_again(one: etree._Element, other: etree._Element, pick: random.Random, _: Sequence[bytes]) -> None:
    one.set("id", "s")
    for _ in range(pick.choice((1, 3, 12))):
        etree.SubElement(other, SVG + "use", href="#s", x=pick.choice(NUMBERS), width=pick.choice(NUMBERS))


def _grown(one: etree._Element, _: etree._Element, pick: random.Random, __: Sequence[bytes]) -> None:
    """Once in a while something that would grow beyond the limits."""
    if pick.random() > GROWN:
        return
    what = pick.choice(("uses", "points", "crossings", "siblings"))
    if what == "uses":
        for level in range(pick.choice((6, 14))):
            group = etree.SubElement(one, SVG + "g", id=f"level{level}")
            for _ in range(8):
                etree.SubElement(group, SVG + "use", href=f"#level{level - 1}", x="1")
            etree.SubElement(group, SVG + "path", d="M0 0h9v9z")
    elif what == "siblings":
        for _ in range(5_000):
            etree.SubElement(one, SVG + "rect", width="5", height="5", x=str(pick.random() * 30))
    else:
        count = pick.choice((500, 5_000, 60_000))
        spread = 36 if what == "crossings" else 0.2
        data = " ".join(f"{i % 36 + pick.random() * spread:.3f} {i / count * 36:.3f}" for i in range(count))
        etree.SubElement(one, SVG + "path", d=f"M{data}z", **{"fill-rule": pick.choice(("evenodd", "nonzero"))})


def _from_another_drawing(one: etree._Element, _: etree._Element, pick: random.Random, others: Sequence[bytes]) -> None:
    try:
        root = etree.fromstring(pick.choice(others), etree.XMLParser(resolve_entities=False, no_network=True))
    except etree.XMLSyntaxError:
        return
    one.append(pick.choice(list(root.iter(etree.Element))))


def _data_damaged(one: etree._Element, _: etree._Element, pick: random.Random, __: Sequence[bytes]) -> None:
    name = "points" if one.get("points") else "d"
    data = one.get(name) or "M1 1h9v9z"
    for _ in range(pick.randint(1, 4)):
        at = pick.randrange(len(data) + 1)
        end = min(len(data), at + pick.choice((0, 1, 3, 9, 40)))
        letter = pick.choice("MmZzLlHhVvCcSsQqTtAa")
        put = pick.choice(
            (letter, "", data[at:end] * 3, pick.choice(NUMBERS), f"{letter}{pick.choice(NUMBERS)} 5", " 0 0 ")
        )
        data = data[:at] + put + data[end:]
    one.set(name, "".join(each for each in data if each >= " "))


TREE_STEPS: list[Callable[[etree._Element, etree._Element, random.Random, Sequence[bytes]], None]] = [
    _moved, _copied, _taken_out, _wrapped, _renamed, _given, _given, _given, _attributes_of_another, _shown_again,
    _from_another_drawing, _data_damaged, _data_damaged, _grown,
]  # fmt: skip


def text_damaged(text: str, pick: random.Random) -> str:
    """The text with a few cuts, scraps, repeats and exchanges."""
    for _ in range(pick.randint(1, 6)):
        at = pick.randrange(len(text) + 1)
        end = min(len(text), at + pick.choice((0, 0, 1, 2, 5, 20, 80)))
        what = pick.choice(("scrap", "scrap", "cut", "repeat", "digit", "move"))
        if what == "scrap":
            text = text[:at] + pick.choice(SCRAPS) + text[end:]
        elif what == "cut":
            text = text[:at] + text[end:]
        elif what == "repeat":
            text = text[:end] + text[at:end] * pick.choice((1, 3, 30)) + text[end:]
        elif what == "digit":
            text = "".join(pick.choice("0123456789.-e") if c.isdigit() and pick.random() < 0.1 else c for c in text)
        else:
            to = pick.randrange(len(text) + 1)
            text = text[:to] + text[at:end] + text[to:]
    return text


def bytes_damaged(data: bytes, pick: random.Random) -> bytes:
    """The bytes with a few of them changed, the end cut off, in another encoding, or compressed and then changed."""
    what = pick.choice(("bytes", "bytes", "cut", "utf-16", "gzip", "damaged gzip"))
    if what == "cut":
        return data[: pick.randrange(len(data) + 1)]
    if what == "utf-16":
        return data.decode("utf-8", "replace").encode(pick.choice(("utf-16", "utf-16-be", "utf-16-le")))
    if what == "gzip":
        return gzip.compress(data, mtime=0)
    changed = bytearray(gzip.compress(data, mtime=0) if what == "damaged gzip" else data)
    for _ in range(pick.choice((1, 2, 8))):
        if changed:
            changed[pick.randrange(len(changed))] = pick.randrange(256)
    return bytes(changed)


def damaged(seed: bytes, pick: random.Random, others: Sequence[bytes]) -> tuple[bytes, str]:
    """A damaged drawing, and in which of the three ways it was damaged."""
    ways = pick.choice(("tree", "tree", "tree", "text", "bytes", "tree text", "tree bytes", "tree text bytes"))
    data = seed
    if "tree" in ways:
        try:
            root = etree.fromstring(data, etree.XMLParser(resolve_entities=False, no_network=True, recover=True))
        except etree.XMLSyntaxError:
            root = None
        if root is not None:
            tree_damaged(root, pick, others)
            data = etree.tostring(root)
    if "text" in ways:
        data = text_damaged(data.decode("utf-8", "replace"), pick).encode("utf-8", "surrogatepass")
    if "bytes" in ways:
        data = bytes_damaged(data, pick)
    return data, ways


def seeds_of(given: Sequence[Path]) -> list[bytes]:
    """The drawings to damage."""
    files = [file for each in given for file in (sorted(each.glob("*.svg")) if each.is_dir() else [each])]
    if not given:
        files = [file for folder in CORPORA for file in sorted(folder.glob("*.svg"))]
        files = files[:: max(1, len(files) // MOST_FILES)]
    return [document(case).encode() for case in CASES] + [file.read_bytes() for file in files]


def damage(files: Sequence[Path]) -> Damage:
    """Damage to the seeds."""
    seeds = seeds_of(files)
    print(f"{len(seeds)} seeds, {len(CASES)} of them cases of the tests", flush=True)
    return lambda pick: damaged(pick.choice(seeds), pick, seeds)


if __name__ == "__main__":
    sys.exit(fuzzed(SvgReader(), damage, "svg", __doc__ or "", SETTINGS))
