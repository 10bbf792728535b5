"""From taped figures to polygons: the outline of a face, of openings, of what comes through or hangs on."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from fractions import Fraction

from shapely import LineString, Polygon

from lapwright.geometry import arc, box
from lapwright.lengths import Length
from lapwright.survey.schema import (
    AttachmentBlock,
    FaceBlock,
    FramingBlock,
    OpeningBlock,
    PenetrationBlock,
    SizeBlock,
)

FIT_M = 1e-3  # an outline's ends may miss the face's width by this: rounding of converted figures, own choice
MOST_STUDS = 2000  # a 300 ft face at 2 in; own choice

Corner = tuple[float, float]


class ShapeError(ValueError):
    """A shape that cannot be: `name` of the field to blame, `what`, `fix`."""

    def __init__(self, name: str, what: str, fix: str) -> None:
        self.name = name
        self.what = what
        self.fix = fix
        super().__init__(what)


def corners(points: Sequence[tuple[Length, Length]]) -> list[Corner]:
    """Return spots of the schema as (x, y) in metres."""
    return [(x.m, y.m) for x, y in points]


def simple(points: list[Corner], name: str) -> Polygon:
    """Return the polygon of these corners; ShapeError when it has no area or crosses itself."""
    if points and points[0] == points[-1]:
        points = points[:-1]
    if len(set(points)) < 3:
        raise ShapeError(name, "Fewer than three corners.", "Give every corner in order.")
    shape = Polygon(points)
    if not shape.exterior.is_simple or not shape.is_valid:
        raise ShapeError(name, "The outline crosses or touches itself.", "Give the corners in order round the shape.")
    if shape.area < 1e-4:  # a square centimeter: nothing that is built is smaller
        raise ShapeError(name, "The outline encloses nothing.", "Check the figures.")
    return shape


def face_outline(face: FaceBlock, base_m: float) -> Polygon:
    """Return a face's outline in face coordinates. base_m: bottom edge where the face gives none.

    Raises ShapeError.
    """
    width = face.width.m
    if face.outline is not None:
        shape = simple(corners(face.outline), "outline")
        left, _, right, _ = shape.bounds
        if abs(left) > FIT_M or abs(right - width) > FIT_M:
            raise ShapeError(
                "outline",
                "The outline does not reach from the left edge to the width.",
                "Its smallest x is 0 and its largest x is the width.",
            )
        return shape
    assert face.height is not None, "the schema asks for height or outline"
    bottom = _bottom(face, width, base_m)
    top = [(0.0, face.height.left.m), (width, (face.height.right or face.height.left).m)]
    if face.gable is not None:
        at = face.gable.at.m if face.gable.at is not None else width / 2
        if not 0 <= at <= width:
            raise ShapeError("gable", "The peak lies off the face.", "Take `at` from the face's left edge.")
        peak = (at, face.gable.peak.m)
        if peak[1] <= min(y for _, y in top):
            raise ShapeError("gable", "The peak is no higher than the eave.", "Check peak and height.")
        top.insert(1, peak)
    line = LineString(top)
    for x, y in bottom:
        if y >= line.intersection(LineString([(x, -1e4), (x, 1e4)])).bounds[1] - 1e-4:
            raise ShapeError("height", "The top edge is not above the bottom edge.", "Check height and base.")
    return simple(_distinct([*bottom, *reversed(top)]), "height")


def _distinct(points: list[Corner]) -> list[Corner]:
    out: list[Corner] = []
    for point in points:
        if not out or point != out[-1]:
            out.append(point)
    return out


def _bottom(face: FaceBlock, width: float, base_m: float) -> list[Corner]:
    """Return the bottom edge from left to right."""
    if face.base is None or (face.base.level is None and face.base.steps is None):
        return [(0.0, base_m), (width, base_m)]
    if face.base.steps is None:
        assert face.base.level is not None
        level = face.base.level.m
        return [(0.0, level), (width, level)]
    steps = corners(face.base.steps)
    if not steps or steps[0][0] != 0 or face.base.level is not None:
        raise ShapeError("base", "The first step does not start at the left edge.", "Start with [0, y].")
    out: list[Corner] = []
    for index, (x, y) in enumerate(steps):
        end = steps[index + 1][0] if index + 1 < len(steps) else width
        if not x < end <= width:
            raise ShapeError("base", "The steps do not run from left to right.", "Each x is more than the one before.")
        out += [(x, y), (end, y)]
    return out


def opening_polygon(opening: OpeningBlock) -> Polygon:
    """Return a rough opening's polygon in face coordinates (chords within 1 mm). Raises ShapeError."""
    if opening.shape == "polygon":
        assert opening.points is not None
        return simple(corners(opening.points), "points")
    if opening.shape == "round":
        assert opening.center is not None and opening.diameter is not None
        return _circle((opening.center[0].m, opening.center[1].m), opening.diameter.m)
    assert opening.left and opening.sill and opening.width and opening.height
    left, sill = opening.left.m, opening.sill.m
    right = float_sum(opening.left.inches, opening.width.inches)
    head = float_sum(opening.sill.inches, opening.height.inches)
    if opening.shape == "rectangle":
        return box(left, sill, right, head)
    assert opening.rise is not None
    half, rise = opening.width.m / 2, opening.rise.m
    if rise > half + 1e-9:
        raise ShapeError("rise", "The arch rises more than half its width.", "Give its corners as shape: polygon.")
    radius = (half**2 + rise**2) / (2 * rise)
    span = math.degrees(math.atan2(half, radius - rise))
    middle, top = (left + right) / 2, float_sum(opening.sill.inches, opening.height.inches, opening.rise.inches)
    center = (middle, top - radius)
    # Two arcs that meet at the crown, so that the opening's head is a corner of it.
    rising, falling = arc(center, radius, 90 - span, 90), arc(center, radius, 90, 90 + span)
    return Polygon(
        [(left, sill), (right, sill), (right, head), *rising[1:-1], (middle, top), *falling[1:-1], (left, head)]
    )


def _circle(center: Corner, diameter: float) -> Polygon:
    """Return a circle within 1 mm, with corners at its four extremes, so that its box is exact."""
    x, y = center
    radius = diameter / 2
    extremes = [(x + radius, y), (x, y + radius), (x - radius, y), (x, y - radius)]
    points: list[Corner] = []
    for quarter, extreme in enumerate(extremes):
        points += [extreme, *arc(center, radius, 90 * quarter, 90 * quarter + 90)[1:-1]]
    return Polygon(points)


def float_sum(*inches: Fraction) -> float:
    """Return the sum of exact inches as the nearest float of metres."""
    return Length(sum(inches, Fraction(0))).m


def sized(at: tuple[Length, Length], size: SizeBlock) -> Polygon:
    """Return the circle (one size) or box (two sizes) about a center."""
    x, y = at
    if size.height is None:
        return _circle((x.m, y.m), size.width.m)
    dx, dy = size.width.inches / 2, size.height.inches / 2
    left, right = float_sum(x.inches, -dx), float_sum(x.inches, dx)
    return box(left, float_sum(y.inches, -dy), right, float_sum(y.inches, dy))


def penetration_polygon(penetration: PenetrationBlock) -> Polygon:
    """Return what passes the wall plane, in face coordinates."""
    return sized(penetration.at, penetration.size)


def attachment_line(block: AttachmentBlock) -> tuple[Corner, Corner, Polygon | None]:
    """Return (start, end, polygon) of an attachment; the polygon of a chimney only. Raises ShapeError."""
    if block.from_ is not None and block.to is not None:
        start, end = corners((block.from_, block.to))
        if start[0] >= end[0]:
            raise ShapeError("to", "The line does not run from left to right.", "Swap `from` and `to`.")
        return start, end, None
    assert block.left is not None and block.right is not None and block.top is not None
    left, right, top = block.left.m, block.right.m, block.top.m
    if left >= right:
        raise ShapeError("right", "Its right side is not right of its left side.", "Check left and right.")
    if block.kind != "chimney":
        return (left, top), (right, top), None
    assert block.bottom is not None
    if block.bottom.m >= top:
        raise ShapeError("top", "Its top is not above its bottom.", "Check bottom and top.")
    return (left, top), (right, top), box(left, block.bottom.m, right, top)


def studs(framing: FramingBlock, width: float) -> tuple[float, ...] | None:
    """Return the stud centers in metres from the left edge, or None when not known. Raises ShapeError."""
    if framing.studs is not None:
        centers = [s.m for s in framing.studs]
        if any(b <= a for a, b in itertools.pairwise(centers)):
            raise ShapeError("framing", "The studs do not run from left to right.", "Sort them.")
        if centers and (centers[0] < -FIT_M or centers[-1] > width + FIT_M):
            raise ShapeError("framing", "A stud lies off the face.", "Take them from the face's left edge.")
        return tuple(centers)
    if framing.spacing is None or framing.first is None:
        return None
    if not 0 <= framing.first.m <= width:
        raise ShapeError("framing", "The first stud lies off the face.", "Take it from the face's left edge.")
    count = int((width - framing.first.m + 1e-9) / framing.spacing.m) + 1
    if count > MOST_STUDS:
        raise ShapeError("framing", f"That would be {count} studs.", "Check the spacing.")
    return tuple(float_sum(framing.first.inches, i * framing.spacing.inches) for i in range(count))
