"""Flats sliced across: where each slice is solid, and how much room it leaves beside and inside.

For bounds, solid parts are never taken larger than they are and rooms never smaller; for packing it is the
other way round (`bands`). Metres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import cast

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, from_wkb

SHORT_M = 0.02  # slices shorter than this (the chords of an arch) are joined to a neighbor
SLIT_M = 0.002  # a knife cut is no room for anything
STEPS = 10  # slices laid across a sloped edge

Band = tuple[float, float]  # from, to


@dataclass(frozen=True)
class Slice:
    """One slice of a flat, `length_m` long: solid heights from low to high, gaps between them, extent over all.

    bands: the solid parts as large as they get anywhere in the slice, from and to.
    """

    length_m: float
    solid: tuple[float, ...]
    gaps: tuple[float, ...]
    extent_m: float
    bands: tuple[Band, ...] = ()

    @property
    def most(self) -> float:
        """Height of the largest solid part."""
        return max(self.solid, default=0.0)


@dataclass(frozen=True)
class Sections:
    """A flat as slices along one direction."""

    slices: tuple[Slice, ...]

    @property
    def length_m(self) -> float:
        """Length of the whole flat."""
        return math.fsum(s.length_m for s in self.slices)

    @property
    def least_most(self) -> float:
        """Wherever the flat is cut across, one solid part is at least this high."""
        return min((s.most for s in self.slices), default=0.0)

    def runs(self, height_m: float, width_m: float) -> list[float]:
        """For each slice: how far the room of that height goes to either side, on stock of a width.

        The room is counted in whole slices; infinite where it reaches an end of the flat.
        """
        out = [0.0] * len(self.slices)
        at, run = 0, 0.0
        open_start = True
        for k, s in enumerate([*self.slices, None]):
            if s is not None and max((width_m - s.extent_m, *s.gaps)) >= height_m - 1e-6:
                run += s.length_m
                continue
            if run:
                value = math.inf if open_start or s is None else run
                out[at:k] = [value] * (k - at)
            at, run, open_start = k + 1, 0.0, False
        return out


def rectangle(length_m: float, height_m: float) -> Sections:
    """Return a whole rectangle as its one slice."""
    return Sections((Slice(length_m, (height_m,), (), height_m, ((0.0, height_m),)),))


def sections(poly: Polygon, across: bool = False) -> Sections:
    """Return a flat sliced across x (or across y when it is turned)."""
    return _sections(bytes(poly.wkb), across)


@lru_cache(maxsize=4096)  # packing and bounds slice the same flats, and an edit leaves most of them as they were
def _sections(wkb: bytes, across: bool) -> Sections:
    poly = cast(Polygon, from_wkb(wkb))
    low, high, cuts = _edges(poly, across)
    slices = [_slice(low, high, a, b) for a, b in pairwise(cuts)]
    return Sections(tuple(_joined(slices)))


def _edges(poly: Polygon, across: bool) -> tuple[NDArray[np.float64], NDArray[np.float64], list[float]]:
    """All edges that are not upright, as rows (x0, y0) and (x1, y1) with x0 < x1, and where to cut across."""
    starts, ends = [], []
    for ring in [poly.exterior, *poly.interiors]:
        points = np.asarray(ring.coords)[:, [1, 0]] if across else np.asarray(ring.coords)
        starts.append(points[:-1])
        ends.append(points[1:])
    a, b = np.concatenate(starts), np.concatenate(ends)
    xs = set(np.round(a[:, 0], 6).tolist())
    for k in np.flatnonzero((np.abs(b - a) > SHORT_M).all(axis=1)):
        xs.update(np.round(np.linspace(a[k, 0], b[k, 0], STEPS + 1), 6).tolist())
    flip = a[:, 0] > b[:, 0]
    a, b = np.where(flip[:, None], b, a), np.where(flip[:, None], a, b)
    keep = b[:, 0] - a[:, 0] > 1e-9
    return a[keep], b[keep], sorted(xs)


def _slice(low: NDArray[np.float64], high: NDArray[np.float64], a: float, b: float) -> Slice:
    middle = (a + b) / 2
    over = (low[:, 0] < middle) & (high[:, 0] > middle)
    p, q = low[over], high[over]
    if not len(p):
        return Slice(b - a, (), (), 0.0)
    slope = (q[:, 1] - p[:, 1]) / (q[:, 0] - p[:, 0])
    ya, yb = p[:, 1] + slope * (a - p[:, 0]), p[:, 1] + slope * (b - p[:, 0])
    order = np.argsort(ya + yb, kind="stable")
    least, most = np.minimum(ya, yb)[order].tolist(), np.maximum(ya, yb)[order].tolist()
    solid: list[float] = []
    gaps: list[float] = []
    bands: list[Band] = []
    foot = 0
    for k in range(1, len(least), 2):
        gap = most[k + 1] - least[k] if k + 1 < len(least) else math.inf
        if gap > SLIT_M:
            solid.append(max(0.0, least[k] - most[foot]))
            bands.append((least[foot], most[k]))
            if gap < math.inf:
                gaps.append(gap)
                foot = k + 1
    return Slice(b - a, tuple(solid), tuple(gaps), max(0.0, least[-1] - most[0]), tuple(bands))


def _joined(slices: Sequence[Slice]) -> list[Slice]:
    """Join equal neighbors, and short slices to the neighbor before."""
    out: list[Slice] = []
    for s in slices:
        last = out[-1] if out else None
        if last is not None and last.bands == s.bands and last.solid == s.solid:
            out[-1] = Slice(last.length_m + s.length_m, s.solid, s.gaps, s.extent_m, s.bands)
        elif last is not None and _short(last, s):
            solid = (min(last.most, s.most),)
            gaps = (max((0.0, *last.gaps, *s.gaps)),) * max(len(last.gaps), len(s.gaps))
            extent = min(last.extent_m, s.extent_m)
            out[-1] = Slice(last.length_m + s.length_m, solid, gaps, extent, _merged(last.bands, s.bands))
        else:
            out.append(s)
    return out


def _short(a: Slice, b: Slice) -> bool:
    """True when one of the two is short and both leave about the same extent."""
    return min(a.length_m, b.length_m) < SHORT_M and abs(a.extent_m - b.extent_m) < SHORT_M


def _merged(a: Sequence[Band], b: Sequence[Band]) -> tuple[Band, ...]:
    out: list[Band] = []
    for low, high in sorted([*a, *b]):
        if out and low <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], high))
        else:
            out.append((low, high))
    return tuple(out)
