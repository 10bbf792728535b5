"""Short cuts that the details of attached things share: strips and flashings along their lines."""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely import Polygon

from lapwright.details.base import (
    PHASE_BEFORE,
    Claim,
    ClearClaim,
    Context,
    Held,
    Part,
    PieceClaim,
    Place,
    Plane,
    RunClaim,
)
from lapwright.details.shapes import IN
from lapwright.geometry import Point, box
from lapwright.survey.model import Attachment

PROBE = "Probe behind it for rot before anything covers it; measured moisture 19 % or less."


def attached(place: Place) -> Attachment:
    """Return the attachment behind a place."""
    assert isinstance(place.thing, Attachment)
    return place.thing


def zone_id(place: Place) -> str:
    """Return the place id of the wall round the thing."""
    return f"{place.face.id}/{place.zone.id if place.zone else 'main'}"


def strip_product(place: Place, ctx: Context) -> str:
    """Return what strips are cut from: the barrier's own roll when it sticks, else 9 in flashing tape."""
    sheet = ctx.product(place, "barrier", "self-adhered-sheet")
    return sheet.id if sheet.word("adhesive") else "flashing-tape-9"


def run(
    place: Place,
    name: str,
    role: str,
    layer: str,
    product: str,
    line: tuple[Point, Point],
    low: float,
    high: float,
    rank: int,
    step: str,
    legs: tuple[tuple[Plane, float, float], ...] = (),
    held: Held = "adhered",
    phase: int = PHASE_BEFORE,
    lap_m: float = 4 * IN,
    over_field: Polygon | None = Polygon(),  # noqa: B008  (an empty polygon is immutable)
    **facts: object,
) -> RunClaim:
    """Return a run of this place; by default every course lies over it."""
    return RunClaim(
        key=f"{place.id}/{name}",
        place=place.id,
        role=role,
        layer=layer,
        product=product,
        surface=place.face.id,
        start=line[0],
        end=line[1],
        low=low,
        high=high,
        phase=phase,
        step=f"{place.id}/{step}",
        rank=rank,
        held=held,
        legs=legs,
        lap_m=lap_m,
        over_field=over_field,
        facts=facts,
    )


def side_strips(place: Place, ctx: Context, x0: float, x1: float, low: float, tops: tuple[float, float], reach: float,
                leg: float, step: str, rank: int = 12) -> Iterator[Claim]:  # fmt: skip
    """Yield upright strips along both sides of a thing: on the wall under the courses, turned onto the thing's side.

    Sides that stand at the end of the face get none.
    """
    sheet = strip_product(place, ctx)
    left, _, right, _ = place.face.outline.bounds
    if x0 - left > 2 * IN and tops[0] - low > 2 * IN:
        width = min(reach, x0 - left)
        yield run(place, "side-strip-left", "joint-strip", "strip", sheet, ((x0, low), (x0, tops[0])), 0.0, width, rank,
                  step, (("jamb", leg, 90.0),), movement=True)  # fmt: skip
    if right - x1 > 2 * IN and tops[1] - low > 2 * IN:
        width = min(reach, right - x1)
        yield run(place, "side-strip-right", "joint-strip", "strip", sheet, ((x1, tops[1]), (x1, low)), 0.0, width, rank + 1,
                  step, (("jamb", leg, 90.0),), movement=True)  # fmt: skip


def each_piece(place: Place, name: str, role: str, product: str, parts: tuple[Part, ...], rank: int, step: str,
               **facts: object) -> PieceClaim:  # fmt: skip
    """Return a flashing bought by the piece, under every course."""
    return PieceClaim(
        key=f"{place.id}/{name}",
        place=place.id,
        role=role,
        layer="flashing",
        product=product,
        parts=parts,
        phase=PHASE_BEFORE,
        step=f"{place.id}/{step}",
        rank=rank,
        held="fastened",
        over_field=Polygon(),
        quantity=(1.0, "each"),
        facts=facts,
    )


def keep_clear(place: Place, polygon: Polygon, why: str, weight: float = 2.0) -> ClearClaim:
    """Return a band where no course lap may run."""
    return ClearClaim(place.id, place.face.id, "barrier", polygon, "course", weight, why)


def slope_deg(line: tuple[Point, Point]) -> float:
    """Return the slope of a line in degrees, + rising to the right."""
    (x0, y0), (x1, y1) = line
    return math.degrees(math.atan2(y1 - y0, x1 - x0))


def bounds_box(place: Place, x0: float, y0: float, x1: float, y1: float) -> Polygon:
    """Return a box cut off at the sides of the face."""
    left, _, right, _ = place.face.outline.bounds
    return box(max(x0, left), y0, min(x1, right), y1)
