"""One cubic for a stretch of a path, in least squares.

Terminology
    span        a stretch that one cubic is to replace, given as samples along it and the directions at its ends
    fit         the cubic through a span's ends, in its end directions, nearest to its samples in least squares
    miss        the largest distance of a sample from the fit, each sample projected to the curve
    lean        by how much a fit's end leaves the span's direction, where that makes all the difference

Sources: P. J. Schneider, An algorithm for automatically fitting digitized curves, in Graphics Gems (1990), for the fit
in end directions and its new parameters; misses counted across the curve, A. Blake and M. Isard, Active Contours
(1998), ch. 6.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from clothpath.curves import Floats, Points

__all__ = ["SAMPLES", "SMOOTH_RAD", "derivatives", "directions_at_ends", "fitted"]

SMOOTH_RAD: Final = math.radians(1.0)
"""A node at which the direction turns by less than this, in radians, is smooth."""
ROUNDS: Final = 12
"""Rounds of new parameters at most."""
PATIENCE: Final = 3
"""Rounds after which a fit that gains less than a tenth is as good as it gets."""
HOPELESS: Final = 100.0
"""A fit that still misses by this many times what is enough, after those rounds, is given up."""
NEARLY: Final = 2.5
"""A fit that misses by no more than this many times what is enough is tried again with ends that lean."""
LEAN_RAD: Final = 0.45 * SMOOTH_RAD
"""How far an end may lean from its direction, in radians: two that do still make a smooth node."""
LOOPING: Final = 1.6
"""A fit whose control polygon is this many times longer than its span swings out between samples (half turn: 1.48)."""
ALONG: Final = 0.05
"""Weight of a miss along the curve beside one across it; not 0, or straight spans have no best fit."""
SAMPLES: Final = 17
"""Samples of a span."""


def directions_at_ends(p: Points) -> tuple[Points, Points]:
    """Unit directions at the two ends of (m, 4) cubics; where a handle has no length, those of the next one."""

    def first_of(*steps: Points) -> Points:
        found = steps[-1].copy()
        for step in reversed(steps[:-1]):
            found = np.where(np.abs(step) > 1e-9, step, found)
        return found / np.maximum(np.abs(found), 1e-300)

    return (
        first_of(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0], p[:, 3] - p[:, 0]),
        first_of(p[:, 3] - p[:, 2], p[:, 3] - p[:, 1], p[:, 3] - p[:, 0]),
    )


def derivatives(p: Points, t: Floats) -> tuple[Points, Points, Points]:
    """(m, 4) cubics at (m, k) parameters: the points, and the first and second derivatives."""
    p0, p1, p2, p3 = (p[:, i, None] for i in range(4))
    d0, d1, d2 = p1 - p0, p2 - p1, p3 - p2
    s = 1 - t
    ss, st, tt = s * s, s * t, t * t
    at = ss * s * p0 + 3 * ss * t * p1 + 3 * st * t * p2 + tt * t * p3
    return at, 3 * (ss * d0 + 2 * st * d1 + tt * d2), 6 * (s * (d1 - d0) + t * (d2 - d1))


def fitted(
    samples: Points, first: Points, last: Points, enough: float, most: float, guess: Floats | None = None
) -> tuple[Points, Floats]:
    """One cubic for each span.

    Args:
        samples: (m, k) complex, in order along each span, its two ends included; k >= 4.
        first, last: (m,) unit directions at the ends.
        enough: fits that miss by no more, in mm, are not improved.
        most: fits that miss by more, in mm, are tried with leaning ends.
        guess: (m, k) the samples' parameters to begin with; None: by the length of the chords.

    Returns:
        (m, 4) control points, and (m,) the largest distance of a sample from its cubic, in mm.
    """
    p0, p3 = samples[:, 0], samples[:, -1]
    run = np.zeros(samples.shape)
    np.cumsum(np.abs(np.diff(samples, axis=1)), axis=1, out=run[:, 1:])
    total = np.maximum(run[:, -1], 1e-300)
    u = run / total[:, None] if guess is None else guess
    best = p0[:, None] + (p3 - p0)[:, None] * np.array([0, 1 / 3, 2 / 3, 1])
    best_miss = np.full(len(samples), np.inf)
    across: Points | None = None
    live = np.arange(len(samples))
    for turn in range(ROUNDS):
        inner = _handles(samples[live], first[live], last[live], total[live], u, across)
        trial = np.stack((p0[live], *inner, p3[live]), axis=1)
        u, miss, across = _projected(samples[live], trial, u, total[live])
        before = best_miss[live]
        better = miss < before
        best_miss[live[better]], best[live[better]] = miss[better], trial[better]
        now = np.minimum(miss, before)
        worth = (now < 0.9 * before) & (now < HOPELESS * enough)
        more = (now > enough) & (worth | (turn < PATIENCE))
        if not more.any():
            break
        live, u, across = live[more], u[more], across[more]
    near = np.flatnonzero((best_miss > most) & (best_miss < NEARLY * most))
    if len(near):
        leaning, miss = _leaning(samples[near], best[near], first[near], last[near], total[near])
        better = miss < best_miss[near]
        best[near[better]], best_miss[near[better]] = leaning[better], miss[better]
    polygon = np.abs(np.diff(best, axis=1)).sum(axis=1)
    return best, np.where(polygon > LOOPING * total, np.inf, best_miss)


def _handles(
    samples: Points, first: Points, last: Points, total: Floats, u: Floats, across: Points | None
) -> tuple[Points, Points]:
    """The two inner control points, in the end directions, by least squares over their distances from the ends."""
    p0, p3, t0, t1 = samples[:, :1], samples[:, -1:], first[:, None], -last[:, None]
    s = 1 - u
    b1, b2 = 3 * u * s * s, 3 * u * u * s
    rest = samples - p0 * (s * s * s + b1) - p3 * (u * u * u + b2)
    a1, a2 = t0 * b1, t1 * b2
    if across is not None:
        a1, a2, rest = (_weighted(part * across) for part in (a1, a2, rest))
    c11, c22, c12 = ((x.conj() * y).real.sum(1) for x, y in ((a1, a1), (a2, a2), (a1, a2)))
    x1, x2 = (a1.conj() * rest).real.sum(1), (a2.conj() * rest).real.sum(1)
    with np.errstate(divide="ignore", invalid="ignore"):
        det = c11 * c22 - c12 * c12
        l1, l2 = (x1 * c22 - x2 * c12) / det, (c11 * x2 - c12 * x1) / det
        good = (np.minimum(l1, l2) > 1e-3 * total) & (np.maximum(l1, l2) < total)
    l1, l2 = np.where(good, l1, total / 3), np.where(good, l2, total / 3)
    return p0[:, 0] + first * l1, p3[:, 0] - last * l2


def _projected(samples: Points, p: Points, u: Floats, total: Floats) -> tuple[Floats, Floats, Points]:
    """Each sample's foot, two Newton steps from `u`; each cubic's miss; what turns across into imaginary."""
    p0, q1, q2, p3 = (p[:, i, None] for i in range(4))
    d0, d1, d2 = q1 - p0, q2 - q1, p3 - q2
    for _ in range(2):
        s = 1 - u
        slope = 3 * (d0 * s * s + 2 * d1 * s * u + d2 * u * u)
        gap = s * s * (p0 * s + 3 * q1 * u) + u * u * (3 * q2 * s + p3 * u) - samples
        size = np.maximum((slope * slope.conj()).real, 1e-300)
        aside = (gap.conj() * slope).real
        below = size + 6 * (gap.conj() * ((d1 - d0) * s + (d2 - d1) * u)).real
        u = np.clip(u - aside / np.maximum(below, 0.1 * size), 0, 1)
        u[:, 0], u[:, -1] = 0.0, 1.0
    # the last step's gap, less what runs along the curve: where each sample's foot now is
    miss = np.sqrt(np.maximum((gap * gap.conj()).real - aside**2 / size, 0)).max(1)
    lost = (np.abs(aside) > 0.25 * total[:, None] * np.sqrt(size)).any(1)
    return u, np.where(lost, np.inf, miss), slope.conj() / np.sqrt(size)


def _leaning(samples: Points, p: Points, first: Points, last: Points, total: Floats) -> tuple[Points, Floats]:
    """Fits whose ends may lean from their directions by up to LEAN_RAD, from fits `p` that do not."""
    u, _, across = _projected(samples, p, np.linspace(0, 1, samples.shape[1]) + np.zeros(samples.shape), total)
    p0, p3 = samples[:, :1], samples[:, -1:]
    best, best_miss = p.copy(), np.full(len(p), np.inf)
    for _ in range(PATIENCE):
        s = 1 - u
        b1, b2 = 3 * u * s * s, 3 * u * u * s
        rest = _weighted((samples - p0 * (s * s * s) - p3 * (u * u * u)) * across)
        columns = np.stack([_weighted(part * across) for part in (b1 + 0j, 1j * b1, b2 + 0j, 1j * b2)], axis=1)
        normal = np.einsum("mik,mjk->mij", columns.conj(), columns).real
        right = np.einsum("mik,mk->mi", columns.conj(), rest).real
        x = np.linalg.solve(normal + 1e-12 * np.eye(4), right[:, :, None])[:, :, 0]
        trial = np.stack((p0[:, 0], x[:, 0] + 1j * x[:, 1], x[:, 2] + 1j * x[:, 3], p3[:, 0]), axis=1)
        u, miss, across = _projected(samples, trial, u, total)
        head, tail = directions_at_ends(trial)
        lean = np.maximum(np.abs(np.angle(head * first.conj())), np.abs(np.angle(tail * last.conj())))
        better = (lean <= LEAN_RAD) & (miss < best_miss)
        best[better], best_miss[better] = trial[better], miss[better]
    return best, best_miss


def _weighted(turned: Points) -> Points:
    """Parts along the curve count little beside parts across it: samples may slide along the curve."""
    return ALONG * turned.real + 1j * turned.imag
