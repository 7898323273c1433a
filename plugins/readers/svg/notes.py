"""What the SVG reader has to say: each kind of finding in one place, and never too many of one kind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Final

from lxml import etree

from clothpath.findings import Finding, Severity
from clothpath.plugins.readers.svg.document import local, place, text_in

__all__ = ["MOST_OF_A_KIND", "Notes"]

MOST_OF_A_KIND: Final = 12
"""Findings of one code that are told one by one; the rest are counted."""


class Notes:
    """The findings of one reading."""

    def __init__(self) -> None:
        self._found: list[Finding] = []
        self._count: Counter[tuple[str, Severity]] = Counter()

    def add(self, severity: Severity, code: str, message: str, where: str = "", hint: str = "") -> None:
        self._count[code, severity] += 1
        if self._count[code, severity] <= MOST_OF_A_KIND:
            self._found.append(Finding(code, severity, message, where, hint))

    def extend(self, findings: Iterable[Finding]) -> None:
        for each in findings:
            self.add(each.severity, each.code, each.message, each.where, each.hint)

    def all(self) -> tuple[Finding, ...]:
        """Every finding, and how many more there were of the codes that came too often."""
        more = [
            Finding(code, severity, f"{count - MOST_OF_A_KIND} more of the same ({code}).")
            for (code, severity), count in self._count.items()
            if count > MOST_OF_A_KIND
        ]
        return (*self._found, *more)

    def hidden(self, element: etree._Element, reason: str) -> None:
        words = {"display": "display: none", "visibility": "visibility: hidden", "opacity": "opacity 0"}
        message = f"Something hidden ({words[reason]}) was left out."
        self.add("note", "hidden", message, place(element), "Show it in your drawing program if it is to be cut.")

    def unpainted(self, element: etree._Element) -> None:
        message = "A shape with neither fill nor stroke was left out: nobody can see it."
        self.add("note", "unpainted", message, place(element), "Give it a fill if it is to be cut.")

    def empty(self, element: etree._Element, tag: str) -> None:
        self.add("note", "empty-shape", f"A <{tag}> without any extent was left out.", place(element))

    def beyond_measure(self, element: etree._Element) -> None:
        message = "A shape reaches farther than any cloth, more than a kilometer; it was left out."
        self.add(
            "warning", "beyond-measure", message, place(element), "Look for a wrong number or unit in the drawing."
        )

    def cut_at_fault(self, element: etree._Element, tag: str, fault: int) -> None:
        attribute = "d" if tag == "path" else "points"
        text = element.get(attribute) or ""
        near = " ".join(text[max(0, fault - 12) : fault + 12].split())
        message = f'The line breaks off: its data cannot be read from character {fault + 1} on, near "{near}".'
        self.add("warning", "path-cut", message, place(element), "Look at this shape; draw the missing part again.")

    def bad_value(self, element: etree._Element, name: str, text: str) -> None:
        shown = text if len(text) <= 40 else f"{text[:37]}..."
        self.add("warning", "bad-value", f'{name}="{shown}" cannot be read and was not used.', place(element))

    def not_cut(self, element: etree._Element, tag: str) -> None:
        if tag == "text":
            text = " ".join(text_in(element).split())[:40]
            message = f'The text "{text}" cannot be cut as it is: its letters are not outlines.'
            hint = "Turn it into paths in your drawing program (usually called convert to path or create outlines)."
            self.add("warning", "text", message, place(element), hint)
        elif tag == "image":
            message = "A picture made of pixels cannot be cut."
            hint = "Trace it in your drawing program and delete the picture, if it is more than a background."
            self.add("warning", "bitmap", message, place(element), hint)
        elif tag == "foreignObject":
            message = "Web page content inside the drawing cannot be cut."
            self.add("warning", "foreign-content", message, place(element))
        else:
            self.add(
                "note", "unknown-element", f"<{local(element)}> is not known to SVG; it was left out.", place(element)
            )

    def external(self, element: etree._Element, reference: str) -> None:
        what = f'"{reference[:60]}"' if reference else "nothing"
        message = f"A <use> shows {what}, which is outside the drawing; other files are never opened."
        self.add("warning", "external-reference", message, place(element), "Embed what it shows in the drawing.")

    def missing(self, element: etree._Element, reference: str) -> None:
        message = f'This shows or uses "{reference}", which the drawing does not have.'
        hint = "Look whether something is missing in the picture, and draw it again."
        self.add("warning", "missing-reference", message, place(element), hint)

    def circular(self, element: etree._Element, reference: str) -> None:
        message = f'This refers to "{reference}", of which it is itself a part; the reference was not followed.'
        self.add("warning", "circular-reference", message, place(element))

    def clip_unknown(self, element: etree._Element, kind: str, text: str) -> None:
        shown = text if len(text) <= 40 else f"{text[:37]}..."
        message = f'The {kind} "{shown}" was not applied: only paths and shapes of the drawing itself are.'
        self.add(
            "warning", "clip-not-applied", message, place(element), "Cut the shape itself in your drawing program."
        )

    def filtered(self, element: etree._Element) -> None:
        message = "A filter (blur, shadow or the like) was left out; the shapes themselves were read."
        self.add("note", "filter-ignored", message, place(element))

    def markers(self, element: etree._Element) -> None:
        message = "Arrowheads or other markers on a line were left out."
        self.add("note", "markers-ignored", message, place(element))

    def too_deep(self, element: etree._Element, depth: int) -> None:
        message = f"Groups are nested more than {depth} deep; what lies deeper was left out."
        self.add("warning", "too-deep", message, place(element))

    def sheet_left_out(self, rules: Iterable[str]) -> None:
        for rule in rules:
            shown = rule if len(rule) <= 60 else f"{rule[:57]}..."
            self.add("note", "style-rule-ignored", f'The style rule "{shown}" was not used.', "<style>")
