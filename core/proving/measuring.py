"""What every measurer does with the lines that it finds, whatever the format.

Terminology
    found line  a start and the curves from there, as the file has them
    closed      told so by the file, or back at its start
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from clothpath.contracts import Declared, Measured
from clothpath.curves import Curve, OpenPath, Outline, open_path, outline, polygon, transformed
from clothpath.findings import Finding, Outcome, Refusal, error, note

__all__ = ["as_found", "on_the_mat", "reading"]


def as_found(start: complex, curves: Sequence[Curve], closed: bool) -> Outline | OpenPath:
    """The path of a found line; `curves` is not empty. Polylines, which may be long, go by arrays."""
    if max(map(len, curves)) == 1:
        points = np.array([start, *(curve[0] for curve in curves)])
        if closed or points[-1] == start:
            return polygon(points[:-1] if points[-1] == start else points)
        return OpenPath(np.repeat(points[:-1, None], 3, axis=1), np.ones(len(curves), np.bool_), complex(points[-1]))
    return outline(start, curves) if closed or curves[-1][-1] == start else open_path(start, curves)


def on_the_mat(lines: Sequence[Measured], declared: Declared) -> Outcome[tuple[Measured, ...]]:
    """The lines in mat coordinates, where the machine counts from elsewhere, with a finding that says so."""
    if declared.frame is None:
        return Outcome(tuple(lines))
    moved = tuple(replace(line, path=transformed(line.path, declared.frame)) for line in lines)
    return Outcome(moved, (_not_said("where on the mat it counts from"),))


def _not_said(what: str) -> Finding:
    return note("declared", f"The file does not say {what}; measured as declared.")


@contextmanager
def reading(form: str) -> Iterator[None]:
    """Refuse a file that breaks its reader: numbers beyond all measure, nesting without end.

    Raises:
        Refusal: in place of what the block raised.
    """
    hint = "Write the file again."
    try:
        yield
    except RecursionError:
        raise Refusal(error("damaged-file", f"The {form} file is nested too deep.", "", hint)) from None
    except (ValueError, OverflowError, MemoryError, LookupError):
        message = f"The {form} file has a number that is beyond all measure, or text that is none."
        raise Refusal(error("damaged-file", message, "", hint)) from None
