"""Plain lines and arcs taken straight from the tags of a file, run by run.

Terminology
    plain       a LINE, ARC or CIRCLE with nothing but what it needs to be drawn
    run         plain entities that follow one another; the first of them goes on to ezdxf as stand-in for all
    stand-in    an entity that says in extended data (group codes 1001 and 1071) which run belongs in its place

Of 100,000 lines, ezdxf takes 2.4 s of computing to make objects once the tags are read (3.2 s with them), its iterator
for large files (`addons.iterdxf`) no less; taken so they need 0.5 s. Whatever is not plain is left to ezdxf.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final

__all__ = ["Plain", "Run", "run_at", "without_runs"]

STAND_IN: Final = "CLOTHPATH_RUN"
"""The application that the extended data is filed under."""
_TEXTS: Final = {5: "handle", 8: "layer"}
_NUMBERS: Final = {62: "color", 420: "true_color", 60: "invisible"}
_SKIPPED: Final = frozenset({100, 330, 6, 48, 370, 39})
"""Markers, owner, line type and its scale, line weight, thickness: nothing that changes where a line runs."""
_REALS: Final = frozenset({10, 20, 30, 11, 21, 31, 40, 50, 51, 210, 220, 230})
_ANGLES: Final = {50: "start_angle", 51: "end_angle"}
_KINDS: Final = {
    "LINE": frozenset({10, 20, 11, 21}),
    "ARC": frozenset({10, 20, 40, 50, 51}),
    "CIRCLE": frozenset({10, 20, 40}),
}
"""What each must have."""


class Values(dict[str, Any]):
    """The attributes of an entity, to be asked for like those of ezdxf."""

    hasattr = dict.__contains__

    def __getattr__(self, name: str) -> Any:
        return self[name]


class Plain:
    """A plain entity, to be asked like one of ezdxf."""

    __slots__ = ("_kind", "dxf")

    def __init__(self, kind: str, dxf: Values) -> None:
        self._kind, self.dxf = kind, dxf

    def dxftype(self) -> str:
        return self._kind


Run = list[Plain]


def without_runs(tags: Iterable[Any], runs: list[Run]) -> Iterator[Any]:
    """The tags with a stand-in for each run, which goes to `runs`."""
    from ezdxf.lldxf.types import DXFTag

    entity: list[Any] = []
    running = False
    for tag in tags:
        if tag.code != 0:
            entity.append(tag)
            continue
        found = _plain(entity)
        if found is None:
            yield from entity
        elif running:
            runs[-1].append(found)
        else:
            yield from entity
            yield DXFTag(1001, STAND_IN)
            yield DXFTag(1071, str(len(runs)))
            runs.append([found])
        running = found is not None
        entity = [tag]
    yield from entity


def run_at(entity: Any, runs: list[Run]) -> Run:
    """The run that the entity stands in for, given once; empty if it stands for itself."""
    if isinstance(entity, Plain) or not entity.has_xdata(STAND_IN):
        return []
    number = entity.get_xdata(STAND_IN)[-1].value
    if not isinstance(number, int) or not 0 <= number < len(runs):
        return []
    run, runs[number] = runs[number], []
    return run


def _plain(entity: list[Any]) -> Plain | None:
    """The entity, if it is plain."""
    needed = _KINDS.get(entity[0].value) if entity else None
    if needed is None:
        return None
    values = Values()
    reals: dict[int, float] = {}
    try:
        for tag in entity[1:]:
            code = tag.code
            if code in _REALS:
                if code in reals:
                    return None
                reals[code] = float(tag.value)
            elif (name := _TEXTS.get(code)) is not None:
                values[name] = tag.value
            elif (name := _NUMBERS.get(code)) is not None:
                values[name] = int(tag.value)
            elif code not in _SKIPPED:
                return None
    except ValueError:
        return None
    if not needed <= reals.keys():
        return None
    if 210 in reals:
        values["extrusion"] = reals.get(210, 0.0), reals.get(220, 0.0), reals.get(230, 1.0)
    if entity[0].value == "LINE":
        values["start"], values["end"] = (reals[10], reals[20]), (reals[11], reals[21])
    else:
        values["center"], values["radius"] = (reals[10], reals[20], reals.get(30, 0.0)), reals[40]
        values |= {name: reals[code] for code, name in _ANGLES.items() if code in reals}
    return Plain(entity[0].value, values)
