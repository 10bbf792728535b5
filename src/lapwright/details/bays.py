"""The gap behind the cladding, cut into bays.

Whatever crosses the wall (a head, a sill, a roof, a band) cuts the gap. A bay is a stretch of gap between
two such cuts, or between a cut and the end of the wall, in which air and water run straight up and down:
it wants an inlet along its lower edge and an outlet along its upper one.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import Context
from lapwright.details.places import is_new
from lapwright.details.runs import Line
from lapwright.details.shapes import IN
from lapwright.geometry import box, merged, polygons, quad, snap
from lapwright.survey.model import Attachment, Face, Zone

ROOF_CLEAR_M = 1 * IN  # the gap starts 1 in above a roof, as siding does: common practice (1-2 in)
ROOF_M = 6 * IN  # framing and boards of a small roof whose depth is not given: common practice
THIN_M = 1 * IN  # a line without a depth in the job is taken this thick
TINY_M = 1.5 * IN  # less height than this between two cuts is closed by their trim: no bay
NARROW_M = 12 * IN  # water and air pass beside a cut narrower than this in a mat: common practice
GAP_LAYERS = ("mat", "furring")


@dataclass(frozen=True)
class Blocker:
    """What cuts the gap: `id` of the thing, its shape on the face, and whether it is straight-edged."""

    id: str
    polygon: Polygon
    straight: bool = True


@dataclass(frozen=True)
class Bay:
    """A stretch of gap: what bounds it below and above (thing, or base | top | old | closed), and along which lines.

    `feet`, `tops`: left to right, metres on the face.
    """

    face: str
    foot: str
    top: str
    feet: tuple[Line, ...]
    tops: tuple[Line, ...]
    height_m: float

    @property
    def x(self) -> tuple[float, float]:
        """Left and right end."""
        return self.feet[0][0][0], self.feet[-1][1][0]


class Outlined(Protocol):
    """What has an outline: a face, or a surface somebody wrote down."""

    @property
    def outline(self) -> Polygon: ...


def attachment_shape(item: Attachment, face: Outlined) -> BaseGeometry:
    """Return where an attachment cuts the gap: a roof with the room above it, a ledger or band, a chimney."""
    if item.polygon is not None:
        return item.polygon
    depth = max(item.depth_m, THIN_M)
    if item.kind in ("roof", "porch_roof", "roof_return"):
        depth = item.depth_m or ROOF_M
        shape: BaseGeometry = quad(item.start, item.end, -depth, ROOF_CLEAR_M)
        if item.below == "inside":
            (x0, y0), (x1, y1) = item.start, item.end
            low = float(face.outline.bounds[1]) - 1
            shape = merged([shape, Polygon([(x0, low), (x1, low), (x1, y1), (x0, y0)])])
        return shape
    return quad(item.start, item.end, -depth, 0.0)


def blockers(face: Face, narrow_m: float = NARROW_M) -> list[Blocker]:
    """Return what cuts the gap of a face, openings first; things narrower than `narrow_m` are left out."""
    found = [Blocker(o.id, o.polygon, o.shape in ("rectangle", "polygon")) for o in face.openings]
    for item in face.attachments:
        if item.decision == "keep":
            shape = attachment_shape(item, face).intersection(face.outline)
            found += [Blocker(item.id, part) for part in polygons(shape)]
    found += [Blocker(p.id, p.polygon, False) for p in face.penetrations]
    return [b for b in found if b.polygon.bounds[2] - b.polygon.bounds[0] > narrow_m + 1e-9]


def gap_zones(face: Face, ctx: Context, layers: tuple[str, ...] = GAP_LAYERS) -> list[Zone]:
    """Return the zones of a face that get a gap (or one of `layers`)."""
    out = []
    for zone in face.zones:
        assembly = ctx.scope.assemblies.get(zone.assembly or "") if is_new(zone) else None
        if assembly is not None and any(assembly.product(layer) for layer in layers):
            out.append(zone)
    return out


def gap_area(
    face: Face, ctx: Context, narrow_m: float = NARROW_M, layers: tuple[str, ...] = GAP_LAYERS,
    extra: Sequence[Blocker] = (),
) -> BaseGeometry:  # fmt: skip
    """Return the area of the face that has a free gap (or one of `layers`). extra: what cuts it besides `blockers`."""
    area = merged([snap(z.polygon) for z in gap_zones(face, ctx, layers)])
    area = area.difference(merged([snap(b.polygon) for b in (*blockers(face, narrow_m), *extra)]))
    return shapely.set_precision(area, 0.0)


@dataclass(frozen=True)
class _Column:
    """One slab of gap between two uprights without a corner in between."""

    foot: Line
    top: Line
    below: str
    above: str


def bays(
    face: Face, ctx: Context, narrow_m: float = NARROW_M, layers: tuple[str, ...] = GAP_LAYERS,
    extra: Sequence[Blocker] = (),
) -> list[Bay]:  # fmt: skip
    """Return the bays of a face, left to right and bottom to top.

    layers: what the stretches are made of; extra: what cuts them besides `blockers`.
    """
    cuts = [*blockers(face, narrow_m), *extra]
    columns = _columns(gap_area(face, ctx, narrow_m, layers, extra), _Looker(face, cuts, ctx, layers))
    groups: list[list[_Column]] = []
    for column in columns:
        for group in groups:
            last = group[-1]
            if (last.below, last.above) == (column.below, column.above) and _touch(last, column):
                group.append(column)
                break
        else:
            groups.append([column])
    out = [_bay(face.id, g) for g in groups]
    return sorted(out, key=lambda b: (round(b.x[0], 4), round(b.feet[0][0][1], 4)))


def _columns(area: BaseGeometry, look: _Looker) -> list[_Column]:
    marks = np.unique(np.round(shapely.get_coordinates(area)[:, 0], 6))
    out = []
    for x0, x1 in itertools.pairwise(marks.tolist()):
        if x1 - x0 < 1e-5:
            continue
        slab = area.intersection(box(x0, area.bounds[1] - 1, x1, area.bounds[3] + 1))
        for part in sorted(polygons(slab), key=lambda p: p.bounds[1]):
            foot, top = _ends(part, x0, x1)
            middle = (x0 + x1) / 2
            low, high = (foot[0][1] + foot[1][1]) / 2, (top[0][1] + top[1][1]) / 2
            if high - low < TINY_M:
                continue
            out.append(_Column(foot, top, look.at(middle, low - 2e-3, "base"), look.at(middle, high + 2e-3, "top")))
    return out


def _ends(part: Polygon, x0: float, x1: float) -> tuple[Line, Line]:
    """Return the lower and the upper edge of a slab, left to right."""
    points = list(part.exterior.coords)
    left = [p[1] for p in points if abs(p[0] - x0) < 2e-5]
    right = [p[1] for p in points if abs(p[0] - x1) < 2e-5]
    if not left or not right:  # a tip: the slab closes before its end
        bounds = part.bounds
        left, right = left or [bounds[1], bounds[3]], right or [bounds[1], bounds[3]]
    return ((x0, min(left)), (x1, min(right))), ((x0, max(left)), (x1, max(right)))


class _Looker:
    """Says what lies at a point just outside a bay."""

    def __init__(self, face: Face, cuts: Sequence[Blocker], ctx: Context, layers: tuple[str, ...]) -> None:
        shapes = [(b.id, b.polygon.buffer(1e-4)) for b in cuts]
        with_gap = {z.id for z in gap_zones(face, ctx, layers)}
        shapes += [("old" if not is_new(z) else "closed", z.polygon) for z in face.zones if z.id not in with_gap]
        for _, shape in shapes:
            shapely.prepare(shape)
        self.shapes = [(name, shape, shape.bounds) for name, shape in shapes]

    def at(self, x: float, y: float, outside: str) -> str:
        for name, shape, (x0, y0, x1, y1) in self.shapes:
            if x0 <= x <= x1 and y0 <= y <= y1 and shapely.intersects_xy(shape, x, y):
                return name
        return outside


def _touch(a: _Column, b: _Column) -> bool:
    """Return whether two columns side by side share some of their upright edge."""
    if abs(a.foot[1][0] - b.foot[0][0]) > 1e-4:
        return False
    return min(a.top[1][1], b.top[0][1]) - max(a.foot[1][1], b.foot[0][1]) > 1e-4


def _bay(face: str, group: Sequence[_Column]) -> Bay:
    heights = [(c.top[0][1] + c.top[1][1] - c.foot[0][1] - c.foot[1][1]) / 2 for c in group]
    return Bay(
        face, group[0].below, group[0].above, tuple(joined(c.foot for c in group)), tuple(joined(c.top for c in group)),
        max(heights),
    )  # fmt: skip


def joined(lines: Iterable[Line]) -> list[Line]:
    """Return lines with neighbors on one straight line joined, left to right.

    >>> joined([((0, 0), (1, 0)), ((1, 0), (2, 0)), ((2, 1), (3, 1))])
    [((0, 0), (2, 0)), ((2, 1), (3, 1))]
    """
    out: list[Line] = []
    for line in sorted(lines, key=lambda s: (round(s[0][0], 4), round(s[0][1], 4))):
        for n, (p, q) in enumerate(out):
            (r, s) = line
            gap = max(abs(q[0] - r[0]), abs(q[1] - r[1]))
            bend = abs((q[0] - p[0]) * (s[1] - p[1]) - (q[1] - p[1]) * (s[0] - p[0]))
            if gap < 1e-4 and bend < 1e-4 * max(q[0] - p[0], s[0] - r[0]):
                out[n] = (p, s)
                break
        else:
            out.append(line)
    return out
