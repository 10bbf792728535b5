"""Lines on a drawing: surface coordinates to points, edges in sight and beneath a lap, hatching."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely import LineString, MultiLineString, Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from lapwright.geometry import from_rings, polygons
from lapwright.packet.canvas import LAP, SHEET, XY, Box, Canvas
from lapwright.packet.labels import Labels
from lapwright.packet.view import Row, View


@dataclass(frozen=True)
class Frame:
    """Places surface coordinates (metres, y up) on the canvas (points, y down)."""

    scale: float
    dx: float
    dy: float

    def xy(self, x: float, y: float) -> XY:
        """Return the canvas point of a surface point."""
        return self.dx + self.scale * x, self.dy - self.scale * y

    def shape(self, geom: BaseGeometry) -> BaseGeometry:
        """Return a geometry in canvas points."""
        return affine_transform(geom, [self.scale, 0, 0, -self.scale, self.dx, self.dy])


def rings_of(geom: BaseGeometry) -> list[list[XY]]:
    """Return the rings of all polygons of a geometry."""
    return [[(x, y) for x, y, *_ in ring.coords] for p in polygons(geom) for ring in (p.exterior, *p.interiors)]


def lines_of(geom: BaseGeometry) -> list[list[XY]]:
    """Return the lines of a geometry as point lists, touching ones joined."""
    if geom.is_empty:
        return []
    flat = [g for g in getattr(geom, "geoms", [geom]) if isinstance(g, LineString)]
    joined = shapely.line_merge(MultiLineString(flat)) if flat else MultiLineString()
    return [[(x, y) for x, y, *_ in g.coords] for g in getattr(joined, "geoms", [joined]) if not g.is_empty]


def hatch_lines(area: BaseGeometry, gap: float) -> list[list[XY]]:
    """Return slanted lines across an area, `gap` apart."""
    if area.is_empty:
        return []
    x0, y0, x1, y1 = area.bounds
    high = y1 - y0
    count = int((x1 - x0 + high) / gap) + 1
    lines = MultiLineString([((x0 - high + i * gap, y1), (x0 + i * gap, y0)) for i in range(1, count)])
    return lines_of(shapely.intersection(lines, area))


def covers(view: View, piece: Row, shown: set[str]) -> list[Polygon]:
    """Return the parts of a piece that lie beneath other pieces of those shown, metres."""
    return [
        from_rings(lap["polygon"])
        for lap in view.laps_under.get(piece["id"], [])
        if lap["over"] in shown and lap["surface"] == piece["surface"]
    ]


def draw_pieces(canvas: Canvas, view: View, frame: Frame, pieces: Sequence[Row]) -> None:
    """Draw pieces of one plane: edges in sight solid, edges beneath another piece dashed, laps shaded.

    Which piece lies over which is read from the laps, never from the order of drawing.
    """
    shown = {p["id"] for p in pieces}
    for piece in pieces:
        name = f"{view.marks[piece['id']]}: {view.role(piece)}, {view.product(piece['product']) or piece['layer']}"
        canvas.path(rings_of(frame.shape(view.shape(piece["id"]))), fill=SHEET, stroke="none", title=name)
    beneath = {p["id"]: covers(view, p, shown) for p in pieces}
    for areas in beneath.values():
        for area in areas:
            canvas.path(rings_of(frame.shape(area)), fill=LAP, stroke="none")
    for piece in pieces:
        edge = view.shape(piece["id"]).boundary
        areas = beneath[piece["id"]]
        if areas:
            hides = shapely.union_all([a.buffer(1e-3) for a in areas])
            dash(canvas, lines_of(frame.shape(edge.intersection(hides))))
            edge = edge.difference(hides)
        canvas.path(lines_of(frame.shape(edge)), width=0.9, closed=False)


def dash(canvas: Canvas, lines: Iterable[Sequence[XY]]) -> None:
    """Draw an edge that is not in sight."""
    canvas.path(lines, width=0.55, dash="2.5 2", closed=False)


def name_pieces(
    labels: Labels, view: View, frame: Frame, pieces: Sequence[Row], within: Box, names: Mapping[str, str]
) -> None:
    """Write each name once, on the biggest piece that bears it: inside it, else at a leader.

    names: {piece id: name}; a piece without one stays bare (another drawing names it).
    """
    shown = {p["id"] for p in pieces}
    by_name: dict[str, list[Row]] = {}
    for piece in pieces:
        if piece["id"] in names:
            by_name.setdefault(names[piece["id"]], []).append(piece)
    waiting = []
    for name, mine in by_name.items():
        biggest = max(mine, key=lambda p: view.shape(p["id"]).area)
        shape, over = view.shape(biggest["id"]), covers(view, biggest, shown)
        seen = shape.difference(shapely.union_all(over)) if over else shape
        area = frame.shape(seen if seen.area > 0.3 * shape.area else shape)
        if not labels.inside(area, name, bold=True):
            waiting.append((name, area))
    # big pieces hold their own name; the thin ones look for room afterwards
    for name, area in waiting:
        labels.leader(area, name, bold=True, within=within)
