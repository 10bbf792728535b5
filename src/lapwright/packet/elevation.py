"""Draws one sheet: a surface with the pieces of one trade layer, their laps, heights and marks."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import LineString

from lapwright.geometry import from_rings
from lapwright.packet.canvas import FAINT, LAP, SHEET, SOFT, Canvas, spread, text_width
from lapwright.packet.closeup import GAP, CloseUp, closeups
from lapwright.packet.labels import Labels
from lapwright.packet.linework import Frame, draw_pieces, hatch_lines, name_pieces, rings_of
from lapwright.packet.sheets import FINISH, Sheet
from lapwright.packet.tables import groups, inside_runs, is_course
from lapwright.packet.view import DECISIONS, STATE_WORDS, Row, View

PRINT_FONT = "Source Sans Pro, Libertinus Serif"
SCREEN_FONT = "system-ui, -apple-system, sans-serif"
FILLS = 0.2  # a piece that covers more than this part of a surface is not drawn with mat and trim


@dataclass(frozen=True)
class Style:
    """How big a drawing is set: `width` and `tallest` in points, `text` the size of its words, `least` the smallest."""

    width: float
    tallest: float
    text: float
    font: str
    least: float = 0.0

    def size(self, part: float) -> float:
        """Return a size of words as a part of the usual one, never under the smallest."""
        return max(self.least, self.text * part)

    @property
    def side(self) -> float:
        """Room for heights at the left and right edge."""
        return self.text * 6.2


# Nobody reads words under 8 points on a ladder: common practice in print, from memory.
PAPER = Style(width=540, tallest=430, text=8.6, font=PRINT_FONT, least=8)
SCREEN = Style(width=420, tallest=2000, text=12, font=SCREEN_FONT)


def elevation(view: View, sheet: Sheet, style: Style) -> str:
    """Return the sheet's drawing as SVG text. Everything shown is read from the plan document."""
    drawing = Elevation(view, sheet, style)
    drawing.draw()
    return drawing.svg()


def screen_drawing(view: View, sheet: Sheet) -> str:
    """Return the sheet for a phone: the elevation, and below it every close-up, in one picture."""
    drawing = Elevation(view, sheet, SCREEN)
    drawing.draw()
    for group in closeups(view, sheet):
        top = drawing.canvas.height + GAP
        drawing.canvas.height = CloseUp(view, group, drawing.canvas, (0, top, SCREEN.width), SCREEN.text).draw()
    return drawing.svg()


def closeup_drawings(view: View, sheet: Sheet, width: float) -> list[tuple[float, str]]:
    """Return the sheet's close-ups for print as (height, SVG), tall ones first."""
    out = []
    for group in closeups(view, sheet):
        canvas = Canvas(width, PRINT_FONT, paper=True)
        canvas.height = CloseUp(view, group, canvas, (0, 0, width), PAPER.text, PAPER.least).draw()
        out.append((canvas.height, canvas.svg(f"{sheet.surface}: {group.title}", "Close-up, seen from outside.")))
    return sorted(out, key=lambda item: -item[0])


class Elevation:
    """One drawing under way."""

    def __init__(self, view: View, sheet: Sheet, style: Style) -> None:
        self.view, self.sheet, self.style = view, sheet, style
        self.surface = view.surfaces[sheet.surface]
        self.outline = from_rings(self.surface["outline"])
        x0, y0, x1, y1 = self.outline.bounds
        room = style.width - 2 * style.side
        scale = min(room / (x1 - x0), style.tallest / (y1 - y0))
        left = style.side + (room - scale * (x1 - x0)) / 2
        top = style.text * 1.2
        self.frame = Frame(scale, left - scale * x0, top + scale * y1)
        self.left, self.right = left, left + scale * (x1 - x0)
        self.top, self.bottom = top, top + scale * (y1 - y0)
        self.on_face = [p for p in sheet.pieces if p["plane"] == "face"]
        self.canvas = Canvas(style.width, style.font, paper=style.font == PRINT_FONT)
        self.labels = Labels(self.canvas, style.text, style.least)

    def draw(self) -> None:
        """Put everything on the canvas."""
        kept = [z for z in self.surface["zones"] if z["decision"] == "keep"]
        solid = [p for p in self.on_face if self.sheet.key != FINISH or not (is_course(p) or self._fills(p))]
        self.labels.keep_clear(
            self.frame.shapes([self.view.shape(p["id"]) for p in solid]),
            self.frame.shapes([from_rings(t["polygon"]) for t in (*kept, *self.surface["openings"])]),
        )
        self._heights()
        self._along()
        self._zones()
        self._context()
        if self.sheet.key == FINISH:
            self._finish()
        else:
            draw_pieces(self.canvas, self.view, self.frame, self.on_face)
        self._attachments()
        self._chalk()
        self._openings()
        self.canvas.path(rings_of(self.frame.shape(self.outline)), width=1.7)
        self._penetrations()
        self._kept_names()
        self._marks()

    def svg(self) -> str:
        """Return the picture."""
        return self.canvas.svg(
            f"{self.sheet.surface}: {self.sheet.title}",
            f"{self.view.doc['job']['name']}. Seen from outside. Heights are above the reference line.",
        )

    # ------------------------------------------------------------ what stands

    def _zones(self) -> None:
        for zone in self.surface["zones"]:
            if zone["decision"] != "keep":
                continue
            area = self.frame.shape(from_rings(zone["polygon"]))
            self.canvas.hatch(hatch_lines(area, self.style.text * 0.9), width=0.45)
            self.canvas.path(rings_of(area), width=0.9, title=f"{zone['id']}: keep, no new skin")

    def _kept_names(self) -> None:
        for zone in self.surface["zones"]:
            if zone["decision"] == "keep":
                area, word = self.frame.shape(from_rings(zone["polygon"])), DECISIONS["keep"]
                if not self.labels.inside(area, f"{word} {zone['id'].split('/')[-1]}", bold=True):
                    self.labels.inside(area, word, bold=True)

    def _openings(self) -> None:
        size = self.style.text
        for opening in self.surface["openings"]:
            hole = self.frame.shape(from_rings(opening["polygon"]))
            state = opening["state"]
            words = STATE_WORDS.get(state, state)
            self.canvas.path(rings_of(hole), fill="#fff", width=1.1, title=f"{opening['id']}: {words}")
            inner = hole.buffer(-2.2, join_style="mitre")
            if state == "kept":
                self.canvas.hatch(hatch_lines(hole, size * 0.7), width=0.35, stroke=FAINT)
            elif state in ("before", "insert"):
                self.canvas.path(rings_of(inner), width=0.5, dash="3 2" if state == "insert" else "")
            self.labels.stacked(hole, [(opening["id"], size * 1.15, True), (words, self.style.size(0.85), False)])

    def _attachments(self) -> None:
        """Roof lines, ledgers, chimneys: a heavy line or a crossed shape with its name."""
        for thing in self.surface.get("attachments") or []:
            title = f"{thing['id']}: {str(thing['kind']).replace('_', ' ')}"
            if thing.get("polygon"):
                shape = self.frame.shape(from_rings(thing["polygon"]))
                self.canvas.hatch(hatch_lines(shape, self.style.text * 0.6), width=0.35, stroke=FAINT)
                self.canvas.path(rings_of(shape), width=1.3, title=title)
                self.labels.inside(shape, thing["id"], bold=True)
            else:
                line = [self.frame.xy(x, y) for x, y in thing["line"]]
                self.canvas.path([line], width=2.4, title=title, closed=False)
                self.labels.beside(LineString(line).buffer(1.5), thing["id"], bold=True)

    def _penetrations(self) -> None:
        for pen in self.surface["penetrations"]:
            hole = self.frame.shape(from_rings(pen["polygon"]))
            self.canvas.path(rings_of(hole), fill="#fff", width=1.1, title=f"{pen['id']}: {pen['kind']}")
            x0, y0, x1, y1 = hole.bounds
            self.canvas.line((x0, y0), (x1, y1), width=0.5)
            self.canvas.line((x0, y1), (x1, y0), width=0.5)
            self.labels.beside(hole, pen["id"], bold=True)

    # ------------------------------------------------------------ what goes on

    def _context(self) -> None:
        """Show strips faintly on the barrier's sheet: the courses pass over or under them."""
        if self.sheet.key != "barrier":
            return
        own = {p["id"] for p in self.sheet.pieces}
        for piece in self.view.pieces_on[self.sheet.surface]:
            if piece["id"] in own or piece["layer"] != "strip" or piece["plane"] != "face":
                continue
            if piece["installed"] < self.sheet.pieces[0]["installed"]:
                shape = self.frame.shape(self.view.shape(piece["id"]))
                self.canvas.path(rings_of(shape), width=0.5, stroke=FAINT)

    def _finish(self) -> None:
        """Draw what closes the wall: the mat with faint edges, screens and trim over it; siding itself is not drawn."""
        for piece in self.on_face:
            name = f"{self.view.marks[piece['id']]}: {self.view.role(piece)}"
            lines = self.frame.lines(piece["polygon"])
            if is_course(piece):
                self.canvas.path(lines, fill=SHEET, width=0.5, stroke=SOFT, dash="1.5 1.5", title=name)
            elif not self._fills(piece):
                self.canvas.path(lines, fill=LAP if piece["layer"] == "mat" else "#fff", width=0.7, title=name)

    def _fills(self, piece: Row) -> bool:
        """Whether a piece covers so much that drawing it would hide the rest."""
        return bool(self.view.shape(piece["id"]).area > FILLS * self.outline.area)

    def _finish_names(self) -> None:
        """Write the letter of its row in the table on each piece, and the mark on each piece of mat."""
        within = (0.0, self.top, self.style.width, self.bottom)
        waiting = []
        for group in groups(self.view, self.sheet):
            for item in group.items:
                own = [p for p in item.pieces if p["plane"] == "face" and not self._fills(p)]
                if own:
                    biggest = max(own, key=lambda p: self.view.shape(p["id"]).area)
                    waiting.append((group.letter, self.frame.shape(self.view.shape(biggest["id"]))))
        for letter, area in waiting:
            if not self.labels.inside(area, letter, bold=True):
                self.labels.leader(area, letter, bold=True, within=within)
        courses = [p for p in self.on_face if is_course(p)]
        name_pieces(
            self.labels, self.view, self.frame, courses, within, {p["id"]: self.view.marks[p["id"]] for p in courses}
        )

    def _marks(self) -> None:
        """Name the pieces here, except those that a close-up names."""
        if self.sheet.key == FINISH:
            self._finish_names()
            return
        own = [p for p in self.on_face if p["layer"] != "unit"]  # a unit is named by its opening
        if self.sheet.key == "furring":
            self._upright_names([p for p in own if p["layer"] == "furring"])  # screws stand on the strips' own names
            return
        close = {i for group in closeups(self.view, self.sheet) for i in group.named}
        close |= inside_runs(self.view, self.sheet)
        names = {p["id"]: self.view.marks[p["id"]] for p in own if p["id"] not in close}
        within = (0.0, self.top, self.style.width, self.bottom)
        name_pieces(self.labels, self.view, self.frame, self.on_face, within, names)

    def _upright_names(self, pieces: list[Row]) -> None:
        """Name each upright of furring once, over the top of its highest piece; pieces count from below."""
        tops: dict[str, Row] = {}
        for piece in pieces:
            name = self.view.marks[piece["id"]].rpartition(".")[0]
            if name not in tops or self._top(piece) > self._top(tops[name]):
                tops[name] = piece
        size = self.style.size(0.9)
        for name, piece in tops.items():
            shape = self.frame.shape(self.view.shape(piece["id"]))
            x0, y0, x1, _ = shape.bounds
            half = text_width(name, size, True) / 2
            self.labels.at(((x0 + x1) / 2, y0 + half + 3), name, size, up=True)

    def _top(self, piece: Row) -> float:
        return float(self.view.shape(piece["id"]).bounds[3])

    # ------------------------------------------------------------ heights and distances

    def _chalk(self) -> None:
        for line in self.sheet.lines:
            a = self.frame.xy(line["x_from_m"], line["y_m"])
            b = self.frame.xy(line["x_to_m"], line["y_m"])
            self.canvas.line(a, b, width=0.7, stroke=SOFT, dash="9 2 2 2")
        x0, y0, x1, y1 = self.outline.bounds
        if y0 <= 0 <= y1:
            a, b = self.frame.xy(x0, 0), self.frame.xy(x1, 0)
            self.canvas.line((a[0] - 8, a[1]), (b[0] + 8, b[1]), width=1.2, stroke=SOFT)

    def _heights(self) -> None:
        """Heights of the chalk lines at the left; of sills, heads and the top at the right."""
        x0, _, x1, _ = self.outline.bounds
        chalk = sorted({round(line["y_m"], 4) for line in self.sheet.lines})
        self._column([(y, self.view.length(y)) for y in chalk], left=True, bold=True)
        edges: set[float] = {round(self.outline.bounds[1], 4), round(self.outline.bounds[3], 4)}
        for opening in self.surface["openings"]:
            _, low, _, high = from_rings(opening["polygon"]).bounds
            edges |= {round(low, 4), round(high, 4)}
        edges.add(round(max(y for x, y in self.surface["outline"][0] if x in (x0, x1)), 4))
        self._column([(y, self.view.length(y)) for y in sorted(edges)], left=False, bold=False)

    def _column(self, rows: list[tuple[float, str]], *, left: bool, bold: bool) -> None:
        size = self.style.text
        rows = sorted(rows, reverse=True)
        wanted = [self.frame.xy(0, y)[1] for y, _ in rows]
        placed = spread(wanted, size * 1.12, size * 0.6, self.bottom + size)
        edge, out = (self.left, -1.0) if left else (self.right, 1.0)
        for want, at, (_, words) in zip(wanted, placed, rows, strict=True):
            turn, end = edge + out * size * 0.5, edge + out * size * 1.1
            self.canvas.path(
                [[(edge, want), (turn, want), (end, at)]],
                width=0.5,
                stroke=SOFT,
                closed=False,
            )
            x = end + out * 1.5
            self.canvas.text((x, at), words, size, anchor="end" if left else "start", bold=bold, halo=False)
            wide = text_width(words, size, bold)
            self.canvas.take(
                (x - wide, at - size * 0.55, x, at + size * 0.55)
                if left
                else (x, at - size * 0.55, x + wide, at + size * 0.55)
            )

    def _along(self) -> None:
        """Distances from the left corner to the edges of openings, and the width of the whole."""
        size = self.style.text
        x0, _, x1, _ = self.outline.bounds
        edges = set()
        for opening in self.surface["openings"]:
            low, _, high, _ = from_rings(opening["polygon"]).bounds
            edges |= {round(low - x0, 4), round(high - x0, 4)}
        for pen in self.surface["penetrations"]:
            edges.add(round(from_rings(pen["polygon"]).centroid.x - x0, 4))
        rows = sorted(edges)
        wanted = [self.frame.xy(x0 + x, 0)[0] for x in rows]
        # too many for the width of the wall: use the margins, then two rows, then smaller figures
        gap, tiers = size * 1.1, 1
        beyond = max(0.0, (len(rows) - 1) * gap - (self.right - self.left)) / 2
        low, high = max(size, self.left - beyond), min(self.style.width - size, self.right + beyond)
        room = (high - low) / max(1, len(rows) - 1)
        if room < gap:
            tiers = 1 if room > self.style.size(0.8) else 2
            gap = room
        placed = spread(wanted, gap, low, high)
        words = [self.view.length(x) for x in rows]
        small = max(self.style.least, min(size * 0.95, tiers * gap * 0.95))
        deep = max((text_width(w, small) for w in words), default=0.0)
        y = self.bottom + size * 0.6
        for i, (want, at, word) in enumerate(zip(wanted, placed, words, strict=True)):
            lower = (i % tiers) * (deep + size * 0.4)
            line = [(want, self.bottom), (want, y), (at, y + size * 0.6), (at, y + size * 0.6 + lower)]
            self.canvas.path([line if lower else line[:3]], width=0.5, stroke=SOFT, closed=False)
            self.canvas.text((at, y + size * 0.9 + lower), word, small, anchor="end", up=True, halo=False)
        base = self.bottom + size * 2.4 + deep + (tiers - 1) * (deep + size * 0.4)
        self.canvas.line((self.left, base), (self.right, base), width=0.6)
        for x in (self.left, self.right):
            self.canvas.line((x, base - 4), (x, base + 4), width=0.6)
            self.canvas.line((x - 2.5, base + 2.5), (x + 2.5, base - 2.5), width=0.9)
        whole = self.view.length(x1 - x0)
        self.canvas.text(((self.left + self.right) / 2, base), f"  {whole}  ", size * 1.1, bold=True)
        self._neighbours(base)
        self.canvas.height = base + size * 1.2

    def _neighbours(self, y: float) -> None:
        size = self.style.size(0.95)
        for name, x, anchor, arrow in (
            (self.surface["left"], self.left - 6, "end", "‹ {}"),
            (self.surface["right"], self.right + 6, "start", "{} ›"),
        ):
            if name:
                self.canvas.text((x, y), arrow.format(name), size, anchor=anchor, color=SOFT, halo=False)
