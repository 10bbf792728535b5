"""Close-ups: one opening or penetration at a scale at which its strips can be told apart.

What folds into the opening is drawn inside it, unfolded, with dashed edges. The figures along the bottom and
at the right say how far an edge lies from the edge of the opening.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shapely.affinity import affine_transform, translate
from shapely.geometry.base import BaseGeometry

from lapwright.geometry import from_rings
from lapwright.packet.canvas import SHEET, SOFT, Box, Canvas, spread, text_width
from lapwright.packet.labels import Labels
from lapwright.packet.linework import Frame, dash, draw_pieces, lines_of, name_pieces, rings_of
from lapwright.packet.sheets import FINISH, Sheet
from lapwright.packet.view import STATE_WORDS, Row, View

GAP = 10.0
FEWEST = 3  # pieces at one place below which the elevation itself has room for their marks
TALLEST = 1.0  # of its width


@dataclass(frozen=True)
class Group:
    """Openings or penetrations of one sheet whose pieces are alike; `pieces` are those of the first."""

    things: tuple[Row, ...]
    pieces: tuple[Row, ...]
    named: frozenset[str]  # ids of the pieces of all of them

    @property
    def title(self) -> str:
        """The ids of the things, one after the other."""
        return ", ".join(t["id"] for t in self.things)


def closeups(view: View, sheet: Sheet) -> list[Group]:
    """Return the places of a sheet that need a close-up, in the order of the survey; like ones together."""
    return view.once(("closeups", sheet.name), lambda: _closeups(view, sheet))


def _closeups(view: View, sheet: Sheet) -> list[Group]:
    surface = view.surfaces[sheet.surface]
    out: dict[tuple[object, ...], Group] = {}
    if sheet.key == FINISH:  # its table says what is round a thing
        return []
    for thing in (*surface["openings"], *surface["penetrations"]):
        place = f"{sheet.surface}/{thing['id']}"
        mine = tuple(p for p in sheet.pieces if p["place"] == place and p["layer"] != "unit")
        if len({view.marks[p["id"]] for p in mine if p["plane"] == "face"}) < FEWEST:
            continue
        key, ids = _likeness(view, thing, mine), frozenset(p["id"] for p in mine)
        if key in out:
            one = out[key]
            out[key] = Group((*one.things, thing), one.pieces, one.named | ids)
        else:
            out[key] = Group((thing,), mine, ids)
    return list(out.values())


def _likeness(view: View, thing: Row, pieces: Iterable[Row]) -> tuple[object, ...]:
    """Return what two places must have in common to be drawn once: shapes to 1 mm, order, state."""
    hole = from_rings(thing["polygon"])
    x0, y0, *_ = hole.bounds
    dx = {"face": x0, "sill": x0, "head": x0, "under": x0, "jamb": 0.0}
    dy = {"face": y0, "jamb": y0, "sill": 0.0, "head": 0.0, "under": 0.0}

    def outline(shape: BaseGeometry, x: float, y: float) -> tuple[object, ...]:
        return tuple(sorted((round(a - x, 3) + 0.0, round(b - y, 3) + 0.0) for a, b in shape.exterior.coords))

    return (
        thing.get("state"),
        outline(hole, x0, y0),
        *((_number(view, p), p["plane"], outline(view.shape(p["id"]), dx[p["plane"]], dy[p["plane"]])) for p in pieces),
    )


def _number(view: View, piece: Row) -> str:
    """The end of a piece's mark, which is the same at places that are alike: `.3`."""
    return "." + view.marks[piece["id"]].rpartition(".")[2]


class CloseUp:
    """One close-up under way. `at` is (left, top, width) on the canvas; `text` and `least` the sizes of its words."""

    def __init__(
        self, view: View, group: Group, canvas: Canvas, at: tuple[float, float, float], text: float, least: float = 0.0
    ) -> None:
        self.view, self.group, self.canvas, self.text = view, group, canvas, text
        self.hole = from_rings(group.things[0]["polygon"])
        self.on_face = [p for p in group.pieces if p["plane"] == "face"]
        self.shapes = [view.shape(p["id"]) for p in self.on_face]
        boxes = [s.bounds for s in (*self.shapes, self.hole)]
        x0, y0 = min(b[0] for b in boxes), min(b[1] for b in boxes)
        x1, y1 = max(b[2] for b in boxes), max(b[3] for b in boxes)
        left, top, width = at
        side = text * 1.6  # figures stand at the right only
        room = width - text * 5.2 - side
        scale = min(room / (x1 - x0), width * TALLEST / (y1 - y0))
        head = top + text * 2.4
        self.frame = Frame(scale, left + side + (room - scale * (x1 - x0)) / 2 - scale * x0, head + scale * y1)
        self.box: Box = (left, top, left + width, head + scale * (y1 - y0))
        self.right = self.frame.xy(x1, 0)[0]
        self.left = self.frame.xy(x0, 0)[0]
        self.labels = Labels(canvas, text, least)
        self.small = max(least, text * 0.9)

    def draw(self) -> float:
        """Draw the close-up and return where it ends below."""
        left, top, right, bottom = self.box
        thing = self.group.things[0]
        x0, y0, x1, y1 = self.hole.bounds
        size = self.view.size(x1 - x0, y1 - y0)
        middle, big = (left + right) / 2, self.text * 1.15
        title = f"{self.group.title} · {size}"
        if text_width(title, big, True) > right - left:
            title = f"{thing['id']} and {len(self.group.things) - 1} like it · {size}"
        self.canvas.text((middle, top + self.text), title, big, bold=True, halo=False)
        self.canvas.take((left, top, right, top + self.text * 1.7))
        draw_pieces(self.canvas, self.view, self.frame, self.on_face)
        hole = self.frame.shape(self.hole)
        self.canvas.path(rings_of(hole), fill="#fff", width=1.3)
        for shape in self._unfolded():
            self.canvas.path(rings_of(self.frame.shape(shape)), fill=SHEET, stroke="none")
            dash(self.canvas, lines_of(self.frame.shape(shape.boundary)))
        self._sides()
        end = self._along(bottom)
        state = str(thing.get("state") or "")
        if state:
            self.labels.stacked(hole, [(STATE_WORDS.get(state, state), self.small, False)])
        self.labels.keep_clear(self.frame.shapes(self.shapes), [])
        within = (left, top + self.text * 1.7, right, bottom + self.text)
        names = {p["id"]: _number(self.view, p) for p in self.on_face}
        name_pieces(self.labels, self.view, self.frame, self.on_face, within, names)
        return end

    def _unfolded(self) -> Iterable[BaseGeometry]:
        """Yield the legs that fold into the opening, laid flat inside it."""
        x0, y0, x1, y1 = self.hole.bounds
        for piece in self.group.pieces:
            if piece["facts"].get("on"):  # buck, returns and their metal do not fold off the face: sections show them
                continue
            leg = self.view.shape(piece["id"])
            if piece["plane"] == "sill":
                yield translate(leg, 0, y0).intersection(self.hole)
            elif piece["plane"] == "head":
                yield affine_transform(leg, [1, 0, 0, -1, 0, y1]).intersection(self.hole)
            elif piece["plane"] == "jamb":
                if self._on_left(piece):
                    yield translate(leg, x0, 0).intersection(self.hole)
                else:
                    yield affine_transform(leg, [-1, 0, 0, 1, x1, 0]).intersection(self.hole)

    def _on_left(self, leg: Row) -> bool:
        """Whether a jamb leg belongs to the left jamb: read from the face piece of the same cut."""
        same = [s for p, s in zip(self.on_face, self.shapes, strict=True) if p["cut"] == leg["cut"]]
        middle = (self.hole.bounds[0] + self.hole.bounds[2]) / 2
        return bool(same) and sum(s.centroid.x for s in same) / len(same) < middle

    def _past(self, low: float, high: float, axis: int) -> list[tuple[float, float]]:
        """Return (edge, how far outside the opening) of the pieces' edges along one axis, in order."""
        out = {}
        for shape in self.shapes:
            for edge in (shape.bounds[axis], shape.bounds[axis + 2]):
                past = max(low - edge, edge - high)
                if past > 1e-3:
                    out[round(edge, 4)] = past
        return sorted(out.items())

    def _along(self, bottom: float) -> float:
        x0, _, x1, _ = self.hole.bounds
        rows = self._past(x0, x1, 0)
        size = self.small
        left, _, right, _ = self.box
        wanted = [self.frame.xy(x, 0)[0] for x, _ in rows]
        placed = spread(wanted, size * 1.12, left + size, right - size)
        words = [self.view.length(past) for _, past in rows]
        for want, at, word in zip(wanted, placed, words, strict=True):
            y = bottom + size * 0.4
            self.canvas.path([[(want, bottom), (want, y), (at, y + size * 0.6)]], width=0.5, stroke=SOFT, closed=False)
            self.canvas.text((at, y + size * 0.9), word, size, anchor="end", up=True, halo=False)
            self.canvas.take((at - size / 2, bottom, at + size / 2, y + size + text_width(word, size)))
        return bottom + size * 1.6 + max((text_width(w, size) for w in words), default=0.0)

    def _sides(self) -> None:
        _, y0, _, y1 = self.hole.bounds
        rows = self._past(y0, y1, 1)[::-1]
        size = self.small
        wanted = [self.frame.xy(0, y)[1] for y, _ in rows]
        placed = spread(wanted, size * 1.12, self.box[1] + self.text * 2.4, self.box[3] + size)
        for want, at, (_, past) in zip(wanted, placed, rows, strict=True):
            x = self.right + size * 0.4
            self.canvas.path(
                [[(self.right, want), (x, want), (x + size * 0.5, at)]], width=0.5, stroke=SOFT, closed=False
            )
            word = self.view.length(past)
            self.canvas.text((x + size * 0.7, at), word, size, anchor="start", halo=False)
            wide = text_width(word, size)
            self.canvas.take((x, at - size / 2, x + size * 0.7 + wide, at + size / 2))
