"""The bytes of a file as an XML tree, safely.

Terminology
    entity      a name in the file's own document type that stands for a text; old drawing programs use a few
    bomb        entities made of entities, or a compressed file that swells without end

External entities, document types and references are never fetched. Sources: XML 1.0 (5th ed.), 4.2 and 4.4 (entities);
RFC 1952 (gzip, for .svgz); SVG 2, 5.1 (the svg element and its namespace).
"""

from __future__ import annotations

import re
import zlib
from typing import Final

from lxml import etree

from clothpath.files.reading import ReadingSettings, allow_more, ends_early
from clothpath.findings import Finding, Refusal, error, warning

__all__ = ["SVG", "XLINK", "local", "parsed", "place", "reference_of", "seems_svg", "text_in"]

SVG: Final = "http://www.w3.org/2000/svg"
XLINK: Final = "http://www.w3.org/1999/xlink"
ENTITY_GROWTH: Final = 1_000_000
"""Characters that entities of a file may add to it."""

_GZIP: Final = b"\x1f\x8b"
_ENTITY: Final = re.compile(rb"""<!ENTITY\s+(%\s+)?([^\s"'>]+)\s+(?:"([^"]*)"|'([^']*)'|(SYSTEM|PUBLIC))""")
_ROOT: Final = re.compile(r"<(?:[A-Za-z_][\w.-]*:)?svg[\s>/]|<!DOCTYPE\s+(?:[\w.-]+:)?svg\b", re.IGNORECASE)
_END: Final = re.compile(rb"</(?:[A-Za-z_][\w.-]*:)?svg\s*>", re.IGNORECASE)
_WHERE_IT_IS: Final = re.compile(r", line \d.*", re.DOTALL)
_FOREIGN_ROOT: Final = re.compile(r"<(?![?!])(?!(?:[A-Za-z_][\w.-]*:)?svg[\s>/])[A-Za-z_]")


def seems_svg(head: bytes) -> float:
    """How sure it is, from 0 to 1, that a file beginning with these bytes is SVG, compressed or not."""
    if head[:2] == _GZIP:
        try:
            head = zlib.decompressobj(wbits=31).decompress(head, 4096)
        except zlib.error:
            return 0.0
    text = _as_text(head)
    root = _ROOT.search(text)
    if root is None:
        return 0.3 if text.lstrip().startswith(("<?xml", "<!--")) and _FOREIGN_ROOT.search(text) is None else 0.0
    foreign = _FOREIGN_ROOT.search(text, 0, root.start())
    return 0.4 if foreign or not text.lstrip().startswith("<") else 1.0


def _as_text(head: bytes) -> str:
    for mark, encoding in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"), (b"\xef\xbb\xbf", "utf-8")):
        if head.startswith(mark):
            return head[len(mark) :].decode(encoding, "ignore")
    if head[1:4:2] == b"\0\0":
        return head.decode("utf-16-le", "ignore")
    if head[:3:2] == b"\0\0":
        return head.decode("utf-16-be", "ignore")
    return head.decode("latin-1")


def parsed(data: bytes, settings: ReadingSettings) -> tuple[etree._Element, list[Finding]]:
    """The root element, and findings on what is damaged.

    Raises:
        Refusal: empty, too large, not XML, no SVG, a bomb, or broken off where the settings do not allow it.
    """
    data = _decompressed(data, settings)
    if not data.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise Refusal(error("empty-file", "The file is empty.", hint="Export or copy the drawing again."))
    _check_entities(data)
    findings: list[Finding] = []
    root: etree._Element | None
    try:
        root = etree.fromstring(data, _PARSER)
    except (etree.XMLSyntaxError, ValueError) as fault:
        root = _mended(data, fault, findings, settings)
    space = str(root.tag).rpartition("}")[0].removeprefix("{")
    if local(root) != "svg" or space not in (SVG, ""):
        inner = next((each for each in root.iter(f"{{{SVG}}}svg")), None)
        if inner is None:
            what = f"Its outermost element is <{local(root)}>, not <svg>."
            raise Refusal(error("not-svg", f"This is an XML file, but no SVG drawing. {what}", "line 1"))
        findings.append(
            warning(
                "svg-inside", f"The drawing stands inside a <{local(root)}>; the first <svg> was read.", place(inner)
            )
        )
        root = inner
    elif not space:
        findings.append(
            warning(
                "no-namespace",
                "xmlns is missing from the <svg>, so a browser shows nothing; it was read as SVG all the same.",
                place(root),
            )
        )
    return root, findings


def place(element: etree._Element) -> str:
    """Where an element stands, for findings: "line 12, <path id='claw'>"."""
    name = element.get("id")
    shown = f"<{local(element)} id='{name}'>" if name else f"<{local(element)}>"
    return f"line {element.sourceline}, {shown}" if element.sourceline else shown


def reference_of(element: etree._Element) -> str:
    """What an element refers to: its href, with or without the prefix that old files use, declared or not."""
    found = element.get("href") or element.get(f"{{{XLINK}}}href") or element.get("xlink:href") or ""
    return found.strip()


def text_in(element: etree._Element) -> str:
    """All text inside an element."""
    return "".join(str(part) for part in element.itertext())


def local(element: etree._Element) -> str:
    """The name of an element without its namespace; "" for comments and the like."""
    tag = element.tag
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def _parser(recover: bool) -> etree.XMLParser:
    return etree.XMLParser(
        resolve_entities="internal",  # type: ignore[arg-type] # the stubs do not know it yet
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        attribute_defaults=False,
        huge_tree=False,
        recover=recover,
    )


_PARSER: Final = _parser(recover=False)


def _decompressed(data: bytes, settings: ReadingSettings) -> bytes:
    largest = int(settings.most_megabytes * 1e6)
    if data[:2] == _GZIP:
        unpack = zlib.decompressobj(wbits=31)
        try:
            data = unpack.decompress(data, largest + 1)
        except zlib.error:
            data = b""
        if not data:
            message = "The file is compressed (.svgz), but damaged, and cannot be unpacked."
            raise Refusal(error("damaged-file", message, hint="Copy the file again, or save it as plain .svg."))
    if len(data) > largest:
        message = f"The file is larger than {largest // 1_000_000} MB, which is more than the reader takes on."
        hint = f"Take embedded pictures out, or {allow_more('svg', 'most-megabytes')}."
        raise Refusal(error("file-too-large", message, hint=hint))
    return data


def _check_entities(data: bytes) -> None:
    if b"<!ENTITY" not in data:
        return
    end = data.find(b"]>")
    grown = 0
    for match in _ENTITY.finditer(data, 0, end if end >= 0 else len(data)):
        value = match[3] or match[4] or b""
        if match[1] or re.search(rb"&(?!#)[^;\s]+;", value):
            message = "The file builds texts out of one another, as harmful files do; it was not read."
            raise Refusal(
                error("entity-bomb", message, "document type", "Save the drawing as plain SVG in a drawing program.")
            )
        grown += len(value) * data.count(b"&" + match[2] + b";")
    if grown > ENTITY_GROWTH:
        raise Refusal(
            error(
                "entity-bomb", "The file would swell beyond measure while it is read; it was not read.", "document type"
            )
        )


def _mended(data: bytes, fault: Exception, findings: list[Finding], settings: ReadingSettings) -> etree._Element:
    """What can be read of a file that is not well-formed.

    Raises:
        Refusal: nothing of it, or its end is missing and the settings do not allow it.
    """
    line = getattr(fault, "lineno", None)
    where = f"line {line}" if line else ""
    reason = _WHERE_IT_IS.sub("", str(fault))
    try:
        root = etree.fromstring(data, _parser(recover=True))
    except (etree.XMLSyntaxError, ValueError):
        root = None
    if root is None:
        message = f"The file is not XML, so it is no SVG drawing: {reason}."
        raise Refusal(
            error("not-xml", message, where, "Open it in a drawing program and save it as plain SVG.")
        ) from fault
    if _END.search(data.replace(b"\0", b"")) is None:
        findings.append(ends_early("svg", settings, where))
        return root
    message = f"The file is damaged ({reason}); what could be understood of it was read."
    findings.append(warning("damaged-file", message, where, "Compare the pieces with the drawing before you cut."))
    return root
