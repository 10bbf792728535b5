"""Where a sheet turns off the face: into an opening, round a corner, out as a lip. No edge is free there."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from shapely import LineString, Polygon
from shapely.geometry import polygon
from shapely.geometry.base import BaseGeometry

from lapwright.geometry import merged


class Bent(Protocol):
    """What is asked of a piece: which cut it is part of, and on which plane."""

    @property
    def id(self) -> str: ...
    @property
    def surface(self) -> str: ...
    @property
    def plane(self) -> str: ...
    @property
    def polygon(self) -> Polygon: ...
    @property
    def layer(self) -> str: ...
    @property
    def cut(self) -> str | None: ...
    @property
    def facts(self) -> Mapping[str, Any]: ...


def _foot(piece: Bent) -> BaseGeometry:
    """Return the lower rim of a piece, where a leg turns out: the sides of its ring that face down."""
    pts = list(polygon.orient(piece.polygon).exterior.coords)
    return merged(LineString([p, q]) for p, q in itertools.pairwise(pts) if q[0] - p[0] > abs(q[1] - p[1]) * 0.2 + 1e-6)


def folds_of(
    mine: Sequence[Bent],
    by_cut: Mapping[str, Sequence[Bent]],
    openings: BaseGeometry,
    width_m: float,
    bodies: BaseGeometry,
) -> dict[str, BaseGeometry]:
    """Return for each piece the lines along which its sheet turns off the face: into an opening, round a corner."""
    rim = openings.boundary.buffer(1e-4) if not openings.is_empty else None
    near_bodies = bodies.buffer(1e-4)
    ends = [LineString([(x, -1e3), (x, 1e3)]).buffer(1e-4) for x in (0.0, width_m)]
    out: dict[str, BaseGeometry] = {}
    for piece in mine:
        if piece.layer == "film" and rim is not None:  # liquid runs on into the reveal
            out[piece.id] = piece.polygon.boundary.intersection(rim)
        if piece.cut is None:
            continue
        lines: list[BaseGeometry] = []
        for other in by_cut[piece.cut]:
            if other.id == piece.id:
                continue
            if other.plane != "face" and rim is not None:
                lines.append(piece.polygon.boundary.intersection(rim))
            if other.plane == "under" and piece.layer in ("strip", "flashing"):
                lines.append(
                    _foot(piece)
                    if "drain" not in piece.facts
                    else piece.polygon.boundary.intersection(near_bodies)
                )
            if other.surface != piece.surface:
                lines += [piece.polygon.boundary.intersection(end) for end in ends]
        if lines:
            out[piece.id] = merged(lines)
    return out
