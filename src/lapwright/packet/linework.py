"""Lines on a drawing: surface coordinates to points, edges in sight and beneath a lap, hatching."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass

import shapely
from shapely import LineString, MultiLineString, Polygon
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
        if geom.is_empty:
            return geom
        return shapely.transform(geom, lambda points: points * (self.scale, -self.scale) + (self.dx, self.dy))

    def shapes(self, geoms: Sequence[BaseGeometry]) -> list[BaseGeometry]:
        """Return many geometries in canvas points."""
        moved = shapely.transform(list(geoms), lambda p: p * (self.scale, -self.scale) + (self.dx, self.dy))
        return list(moved)

    def lines(self, lines: Iterable[Sequence[Sequence[float]]]) -> list[list[XY]]:
        """Return point lists (rings or open lines) in canvas points."""
        dx, dy, scale = self.dx, self.dy, self.scale
        return [[(dx + scale * x, dy - scale * y) for x, y in line] for line in lines]


def rings_of(geom: BaseGeometry) -> list[list[XY]]:
    """Return the rings of all polygons of a geometry."""
    found = [geom] if isinstance(geom, Polygon) and not geom.is_empty else polygons(geom)
    return [list(ring.coords) for p in found for ring in (p.exterior, *p.interiors)]


def lines_of(geom: BaseGeometry) -> list[list[XY]]:
    """Return the lines of a geometry as point lists, touching ones joined."""
    if geom.is_empty:
        return []
    if isinstance(geom, LineString):
        return [list(geom.coords)]
    flat = [g for g in getattr(geom, "geoms", [geom]) if isinstance(g, LineString)]
    joined = shapely.line_merge(MultiLineString(flat)) if flat else MultiLineString()
    return [list(g.coords) for g in getattr(joined, "geoms", [joined]) if not g.is_empty]


def hatch_lines(area: BaseGeometry, gap: float) -> list[list[XY]]:
    """Return slanted lines across an area, `gap` apart."""
    if area.is_empty:
        return []
    x0, y0, x1, y1 = area.bounds
    high = y1 - y0
    count = int((x1 - x0 + high) / gap) + 1
    lines = MultiLineString([((x0 - high + i * gap, y1), (x0 + i * gap, y0)) for i in range(1, count)])
    return lines_of(shapely.intersection(lines, area))


def covers(view: View, piece: Row, shown: Set[str]) -> list[Polygon]:
    """Return the parts of a piece that lie beneath other pieces of those shown, metres."""
    return [
        from_rings(lap["polygon"])
        for lap in view.laps_under.get(piece["id"], [])
        if lap["over"] in shown and lap["surface"] == piece["surface"]
    ]


@dataclass(frozen=True)
class Edges:
    """How the pieces of one drawing lie over each other, metres: as many of each as there are pieces."""

    beneath: list[list[Polygon]]  # parts that lie beneath other pieces
    hidden: list[list[list[XY]]]  # edges there
    in_sight: list[list[list[XY]]]  # the other edges


def edges(view: View, pieces: Sequence[Row]) -> Edges:
    """Return the edges of pieces of one plane. The same pieces on paper and on the screen are worked out once."""
    return view.once(("edges", *(p["id"] for p in pieces)), lambda: _edges(view, pieces))


def _edges(view: View, pieces: Sequence[Row]) -> Edges:
    shown = {p["id"] for p in pieces}
    beneath = [covers(view, p, shown) for p in pieces]
    whole = shapely.boundary([view.shape(p["id"]) for p in pieces])
    some = [i for i, areas in enumerate(beneath) if areas]
    grown = iter(shapely.buffer([a for i in some for a in beneath[i]], 1e-3, join_style="mitre"))
    own = [[next(grown) for _ in beneath[i]] for i in some]
    hides = [shapely.union_all(areas) if len(areas) > 1 else areas[0] for areas in own]
    hidden: list[list[list[XY]]] = [[] for _ in pieces]
    for i, line in zip(some, shapely.intersection(whole[some], hides), strict=True):
        hidden[i] = lines_of(line)
    whole[some] = shapely.difference(whole[some], hides)
    return Edges(beneath, hidden, [lines_of(line) for line in whole])


def draw_pieces(canvas: Canvas, view: View, frame: Frame, pieces: Sequence[Row]) -> None:
    """Draw pieces of one plane: edges in sight solid, edges beneath another piece dashed, laps shaded.

    Which piece lies over which is read from the laps, never from the order of drawing.
    """
    for piece in pieces:
        name = f"{view.marks[piece['id']]}: {view.role(piece)}, {view.product(piece['product']) or piece['layer']}"
        canvas.path(frame.lines(piece["polygon"]), fill=SHEET, stroke="none", title=name)
    found = edges(view, pieces)
    for areas in found.beneath:
        for area in areas:
            canvas.path(rings_of(frame.shape(area)), fill=LAP, stroke="none")
    for hidden, in_sight in zip(found.hidden, found.in_sight, strict=True):
        dash(canvas, frame.lines(hidden))
        canvas.path(frame.lines(in_sight), width=0.9, closed=False)


def dash(canvas: Canvas, lines: Iterable[Sequence[XY]]) -> None:
    """Draw an edge that is not in sight."""
    canvas.path(lines, width=0.55, dash="2.5 2", closed=False)


def name_pieces(
    labels: Labels, view: View, frame: Frame, pieces: Sequence[Row], within: Box, names: Mapping[str, str]
) -> None:
    """Write each name once, on the biggest piece that bears it: inside it, else at a leader.

    pieces: all that are drawn. names: {piece id: name}; a piece without one stays bare (another drawing names it).
    """
    by_name: dict[str, list[int]] = {}
    for i, piece in enumerate(pieces):
        if piece["id"] in names:
            by_name.setdefault(names[piece["id"]], []).append(i)
    beneath = edges(view, pieces).beneath
    shapes = []
    for mine in by_name.values():
        biggest = max(mine, key=lambda i: view.shape(pieces[i]["id"]).area)
        shape, over = view.shape(pieces[biggest]["id"]), beneath[biggest]
        seen = shape.difference(shapely.union_all(over)) if over else shape
        shapes.append(seen if not over or seen.area > 0.3 * shape.area else shape)
    waiting = []
    for name, area in zip(by_name, frame.shapes(shapes), strict=True):
        if not labels.inside(area, name, bold=True):
            waiting.append((name, area))
    # big pieces hold their own name; the thin ones look for room afterwards
    for name, area in waiting:
        labels.leader(area, name, bold=True, within=within)
