"""Edges to mind: the edges of the drop test that hold water off by glue alone, stand open or could not be seen.

One page per surface that has any. A drawing shows them without color: a solid bar is open, dashes rely on glue, dots
were not seen; the letter after a number says the same. The table gives, place by place, how much of each there is,
what drains there, where a drop that gets behind comes out, and what to do about it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import shapely
from shapely import MultiLineString

from lapwright.packet.canvas import FAINT, SOFT
from lapwright.packet.elevation import Elevation, Style
from lapwright.packet.linework import Frame
from lapwright.packet.sheets import Sheet
from lapwright.packet.view import Row, View
from lapwright.packet.words import quantity

TALLEST = 250.0  # points: the table goes beneath on the same page
MOST_ROWS = 22  # of the table on paper; plan.json has every stretch
ROUND_M = 0.0127  # half an inch: the sum of many stretches is no measure to cut to
LEAST_M = 0.005  # a shorter stretch is a notch, not an edge that anybody presses down
STATES = ("open", "relies_on_glue", "not_seen")  # worst first
LETTERS = {"open": "o", "relies_on_glue": "g", "not_seen": "n"}
WORDS = {"open": "open", "relies_on_glue": "glue alone", "not_seen": "not seen"}
DASHES = {"open": "", "relies_on_glue": "4 2", "not_seen": "0.9 2.1"}
WIDTHS = {"open": 3.0, "relies_on_glue": 1.7, "not_seen": 2.0}
TO_DO = {
    "open": "Cover it, or change the order, before anything goes over it.",
    "relies_on_glue": "Clean, dry, primed where asked; roll it, look for wrinkles and lifted corners before it is covered.",
    "not_seen": "Probe, or run a hose from below upward, before you trust it.",
}
ROLES = {"entry": "upper", "side": "side", "drain": "lower"}


@dataclass(frozen=True)
class Weak:
    """The edges of one state at one place of a surface; `mark` as on the drawing, `8g`."""

    mark: str
    place: str
    state: str
    edges: tuple[Row, ...]

    @property
    def length_m(self) -> float:
        """How long they are together."""
        return float(sum(e["length_m"] for e in self.edges))

    @property
    def drains_m2(self) -> float:
        """Area that drains to the wettest of them: areas of edges below each other hold each other."""
        return float(max(e["drains_m2"] for e in self.edges))


def weak_edges(view: View, surface: str) -> list[Weak]:
    """Return what is to be minded on a surface, the worst state first, then what most water drains to."""
    return view.once(("weak", surface), lambda: _weak_edges(view, surface))


def _weak_edges(view: View, surface: str) -> list[Weak]:
    found: dict[tuple[str, str], list[Row]] = {}
    for edge in view.rows("edges"):
        if edge["surface"] == surface and edge["state"] in LETTERS and edge["length_m"] >= LEAST_M:
            piece = view.pieces.get(edge["piece"])
            place = str(piece["place"]) if piece else edge["piece"]
            found.setdefault((edge["state"], place), []).append(edge)
    raw = [Weak("", place, state, tuple(rows)) for (state, place), rows in found.items()]
    raw.sort(key=lambda w: (STATES.index(w.state), -w.drains_m2, w.place))
    return [Weak(f"{n}{LETTERS[w.state]}", w.place, w.state, w.edges) for n, w in enumerate(raw, 1)]


def edge_drawing(view: View, surface: str, style: Style) -> str:
    """Return the surface with its weak edges as SVG text."""
    drawing = _EdgeElevation(view, surface, style)
    drawing.draw()
    return drawing.svg()


class _EdgeElevation(Elevation):
    """A surface without measures, its sheets faint, its weak edges heavy."""

    def __init__(self, view: View, surface: str, style: Style) -> None:
        on = [p for p in view.pieces_on[surface] if p["plane"] == "face" and p["layer"] in ("barrier", "strip")]
        super().__init__(view, Sheet(surface, "edges", "Edges to mind", tuple(on), (), f"{surface}-edges"), style)
        self.weak = weak_edges(view, surface)

    def draw(self) -> None:
        """Put everything on the canvas."""
        lines = [MultiLineString([e["segment"] for e in w.edges]) for w in self.weak]
        shown: list[shapely.Geometry] = [self.frame.shape(line).buffer(1.2) for line in lines]
        self.labels.keep_clear(shown, [])
        self._zones()
        for piece in self.on_face:
            self.canvas.path(self.frame.lines(piece["polygon"]), width=0.35, stroke=FAINT)
        self._attachments()
        self._openings()
        self.canvas.path(self.frame.lines(self.surface["outline"]), width=1.3)
        self._penetrations()
        for weak in reversed(self.weak):  # the worst on top
            self._bars(self.frame, weak)
        within = (0.0, 0.0, self.style.width, self.bottom + self.style.text)
        for weak, shape in zip(self.weak, shown, strict=True):
            self.labels.leader(shape, weak.mark, bold=True, within=within)
        self._legend()

    def _bars(self, frame: Frame, weak: Weak) -> None:
        name = f"{weak.mark}: {self.view.place(weak.place)}, {WORDS[weak.state]}"
        joined = shapely.line_merge(MultiLineString([e["segment"] for e in weak.edges]))
        lines = [list(g.coords) for g in getattr(joined, "geoms", [joined])]
        self.canvas.path(
            frame.lines(lines), width=WIDTHS[weak.state], dash=DASHES[weak.state], closed=False, title=name
        )

    def _legend(self) -> None:
        size, y = self.style.text, self.bottom + self.style.text * 1.7
        x = self.style.text
        step = (self.style.width - 2 * x) / 3
        for state in STATES:
            self.canvas.line((x, y), (x + size * 3, y), width=WIDTHS[state], dash=DASHES[state])
            self.canvas.text((x + size * 3.6, y), f"{LETTERS[state]}  {WORDS[state]}", size, anchor="start", halo=False)
            x += step
        self.canvas.line((0, y - size), (self.style.width, y - size), width=0.3, stroke=SOFT)
        self.canvas.height = y + size


def edge_pages(view: View, drawings: dict[str, str], style: Style) -> list[dict[str, Any]]:
    """Return one page for each surface that has a weak edge or an open tie, and put its drawing into `drawings`."""
    pages = []
    for surface in view.surfaces:
        weak, ties = weak_edges(view, surface), _open_ties(view, surface)
        if not weak and not ties:
            continue
        name = f"{view.files[surface]}-edges.svg"
        if weak:
            drawings[name] = edge_drawing(view, surface, replace(style, tallest=TALLEST))
        used = [s for s in STATES if any(w.state == s for w in weak)]
        pages.append(
            {
                "surface": surface,
                "drawing": name if weak else "",
                "todo": [[LETTERS[s], WORDS[s], TO_DO[s]] for s in used],
                "rows": [_row(view, w) for w in weak[:MOST_ROWS]],
                "more": max(0, len(weak) - MOST_ROWS),
                "ties": ties,
            }
        )
    return pages


def _row(view: View, weak: Weak) -> list[str]:
    outs = list(dict.fromkeys(e["out"] for e in weak.edges if e["out"]))
    stuck = list(dict.fromkeys(e["trapped"] for e in weak.edges if e["trapped"]))
    said = f"comes out at {_named(view, outs)}" if outs else ""
    if stuck:
        said += f"{'; ' if said else ''}stays behind {_named(view, stuck)}"
    sides = [word for role, word in ROLES.items() if any(e["role"] == role for e in weak.edges)]
    place = weak.place.partition("/")[2].replace("/", " ") or weak.place
    return [
        weak.mark,
        place,
        ", ".join(sides),
        view.length(round(weak.length_m / ROUND_M) * ROUND_M),
        quantity(view, float(f"{weak.drains_m2:.2g}"), "m2") if weak.drains_m2 else "-",
        said or "runs down the face",
    ]


def _named(view: View, pieces: list[str]) -> str:
    """Name pieces by their marks, three at most."""
    names = list(dict.fromkeys(view.marks.get(p) or p.rpartition("/")[2].replace("-", " ") for p in pieces))
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


def _open_ties(view: View, surface: str) -> list[list[str]]:
    """Return the ties of a surface that are open for something: what, what for, how long."""
    out = []
    for tie in view.rows("ties"):
        kinds = [k for k in ("water", "air", "vapor", "heat") if tie[k] == "open"]
        if kinds and (tie.get("surface") or tie["sides"][0].partition("/")[0]) == surface:
            out.append([" to ".join(tie["sides"]), ", ".join(kinds), view.length(tie["length_m"])])
    return out
