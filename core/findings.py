"""What the program noticed, in words for people.

Terminology
    finding     one thing noticed: a code for programs, a severity, a message, where it is, what to do about it
    outcome     a value together with the findings made on the way to it
    refusal     the exception that carries the findings because of which there is no value
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final, Generic, Literal, TypeVar

__all__ = [
    "Finding",
    "Outcome",
    "Refusal",
    "Severity",
    "counted",
    "error",
    "first_few",
    "listed",
    "nearest_word",
    "note",
    "together",
    "warning",
]

Severity = Literal["error", "warning", "note"]
T = TypeVar("T")

LISTED: Final = 6
"""As many names as a finding lists; the rest is counted."""
_FOLDER: Final = re.compile(r"^(?:[A-Za-z]:)?[^:]*[/\\](?=[^/\\:]+\.[A-Za-z0-9]+(?::|$))")
"""What stands before the name of a file at the beginning of a place."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that the program noticed.

    Attributes:
        code: short and stable, lower case with hyphens ("unit-assumed"); programs test it, people may search for it.
        severity: "error" (no result), "warning" (look before you cut) or "note" (so you know).
        message: what is the case, in one or two sentences.
        where: file, element or key, in the source's own coordinates; empty if it concerns the whole call.
        hint: what to do about it; empty if there is nothing to do.
    """

    code: str
    severity: Severity
    message: str
    where: str = ""
    hint: str = ""

    def at(self, place: str) -> Finding:
        """The same finding with `place` put before where it is."""
        where = f"{place}: {self.where}" if self.where else place
        return Finding(self.code, self.severity, self.message, where, self.hint)

    def by_name(self) -> Finding:
        """The same finding with its file by name alone, so that a record of it is the same wherever the files lie."""
        return Finding(self.code, self.severity, self.message, _FOLDER.sub("", self.where), self.hint)


def error(code: str, message: str, where: str = "", hint: str = "") -> Finding:
    """A finding because of which there is no result."""
    return Finding(code, "error", message, where, hint)


def warning(code: str, message: str, where: str = "", hint: str = "") -> Finding:
    """A finding to look at before cutting."""
    return Finding(code, "warning", message, where, hint)


def note(code: str, message: str, where: str = "", hint: str = "") -> Finding:
    """A finding that needs no action."""
    return Finding(code, "note", message, where, hint)


@dataclass(frozen=True, slots=True)
class Outcome(Generic[T]):
    """A value together with the findings made on the way to it."""

    value: T
    findings: tuple[Finding, ...] = ()


class Refusal(Exception):  # noqa: N818 - a refusal is the word for it
    """There is no result, and the findings say why; at least one of them is an error."""

    def __init__(self, *findings: Finding) -> None:
        super().__init__("; ".join(f.message for f in findings))
        self.findings = findings

    def __reduce__(self) -> tuple[type[Refusal], tuple[Finding, ...]]:
        return type(self), self.findings


def nearest_word(word: str, known: Iterable[str]) -> str:
    """'Did you mean "x"?' for the known word nearest to `word`, else the list of what is known."""
    words = sorted(known)
    close = get_close_matches(word, words, n=1, cutoff=0.6)
    return f'Did you mean "{close[0]}"?' if close else f"Known here: {', '.join(words) or 'nothing'}."


def listed(names: Iterable[str]) -> str:
    """'"a", "b" and "c"': the names of things, each once; of many the first few, and how many more there are."""
    return together(first_few([f'"{name}"' for name in dict.fromkeys(names)], LISTED))


def first_few(words: Sequence[str], most: int) -> list[str]:
    """The words, of more than `most` the first ones and how many more there are: ["a", "b", "3 more"]."""
    more = len(words) - most
    return [*words[:most], f"{more} more"] if more > 0 else list(words)


def together(words: Sequence[str]) -> str:
    """The words as "a, b and c"; there is one at least."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def counted(number: int, what: str) -> str:
    """A number of things: "1 piece", "2 pieces"."""
    return f"{number} {what}{'' if number == 1 else 's'}"
