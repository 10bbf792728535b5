"""A brute-force tracer of drops, written from the drop model's text alone.

It shares nothing with the drop test: it takes the pieces and laps as plan.json holds them, draws plumb lines through
the pieces, and lets single drops run. The model, in its own words: water runs straight down; it creeps sideways along
laps; it climbs up behind lower edges; it goes behind any edge that faces up; what is stuck lets nothing between while
the glue holds.

A drop lies between the pieces above it (towards the weather) and the piece that carries it. Each time it gets behind a
piece it did not lie behind before, that is a `Pass`: the piece, the place, and how it got there (`top`: over the edge
that faces up; `side`: round the edge at the side).
"""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely

STICKY = {"adhered", "taped", "sealed"}
COATS = {"film", "sealant"}
CLIMB_M = 0.045
CREEP_M = 4 * 0.0254
EPS = 1e-6


@dataclass(frozen=True)
class Pass:
    """A drop got behind `piece` at (x, y); x0 to x1 is how far it went sideways meanwhile. via: the piece whose lower edge,
    at height via_y, it climbed up behind."""

    piece: str
    how: str
    x: float
    y: float
    x0: float
    x1: float
    via: str = ""
    via_y: float = 0.0


@dataclass
class End:
    """What became of a drop: `out`, or trapped behind a piece; and how it had got behind what since it was last in the
    open; crept: how far it had gone sideways since then.
    """

    out: bool
    behind: str = ""
    passes: list[Pass] = field(default_factory=list)
    crept: float = 0.0


class Wall:
    """One surface with its pieces and laps, and some plumb lines (`columns`) drawn by chance.

    shields: what takes the water off the wall or keeps it away: roofs against it, with the rooms below. turned: per piece
    the lines along which its sheet turns off the face (into an opening, out as a lip with a drip): no edge is free there.
    pans: openings with a pan that is open in front: what gets in there runs out over it.
    """

    def __init__(
        self, pieces: Iterable[Mapping[str, Any]], laps: Iterable[Mapping[str, Any]], seed: int, columns: int = 200,
        shields: Iterable[Any] = (), turned: Mapping[str, Any] | None = None, pans: Iterable[Any] = (),
    ) -> None:  # fmt: skip
        self.pans = list(pans)
        self.shields = list(shields)
        self.turned = dict(turned or {})
        self.rng = random.Random(seed)
        self.pieces = {p["id"]: p for p in pieces}
        self.ids = list(self.pieces)
        self.shapes = np.array([polygon_of(p["polygon"]) for p in self.pieces.values()], dtype=object)
        self.tree = shapely.STRtree(self.shapes)
        # laps of two pieces, by their names in order: (area, the upper one, what holds it)
        self.laps: dict[tuple[str, str], list[tuple[Any, str, str]]] = {}
        for lap in laps:
            a, b = sorted((lap["over"], lap["under"]))
            self.laps.setdefault((a, b), []).append((polygon_of(lap["polygon"]), lap["over"], lap["held"]))
        self.stacks: dict[tuple[int, int], list[str]] = {}
        x0, self.foot, x1, self.top = shapely.total_bounds(self.shapes)
        self.xs = sorted(self.rng.uniform(x0, x1) for _ in range(columns))
        self.columns: dict[int, list[tuple[float, float, str]]] = {}

    def column(self, at: int) -> list[tuple[float, float, str]]:
        """Return (y low, y high, piece) of every stretch that the plumb line number `at` cuts."""
        if at not in self.columns:
            line = shapely.LineString([(self.xs[at], self.foot - 1), (self.xs[at], self.top + 1)])
            found = []
            for i in self.tree.query(line, "intersects"):
                for part in shapely.get_parts(shapely.intersection(self.shapes[i], line)):
                    _, lo, _, hi = part.bounds
                    if hi - lo > EPS:
                        found.append((lo, hi, self.ids[i]))
            self.columns[at] = sorted(found)
        return self.columns[at]

    def lap(self, a: str, b: str, x: float, y: float) -> tuple[str, str] | None:
        """Return (the upper one, what holds it) of two pieces at a spot, by the lap that is nearest; None without one."""
        found = self.laps.get((a, b) if a < b else (b, a))
        if not found:
            return None
        if len(found) == 1:
            return found[0][1:]
        spot = shapely.Point(x, y)
        return min(found, key=lambda row: row[0].distance(spot))[1:]

    def over(self, a: str, b: str, x: float, y: float) -> bool:
        """Say whether a lies over b at a spot where both are: as the laps say, else the later one over the earlier."""
        lap = self.lap(a, b, x, y)
        if lap is not None:
            return lap[0] == a
        return (self.pieces[a].get("installed") or 0, a) > (self.pieces[b].get("installed") or 0, b)

    def stack(self, at: int, y: float) -> list[str]:
        """Return the pieces at a spot, the outermost first."""
        key = (at, round(y * 1e7))
        if key not in self.stacks:
            here = [p for lo, hi, p in self.column(at) if lo < y < hi]
            out: list[str] = []
            while here:
                first = next((p for p in here if all(q == p or not self.over(q, p, self.xs[at], y) for q in here)), here[0])
                out.append(first)
                here.remove(first)
            self.stacks[key] = out
        return self.stacks[key]

    def stuck(self, over: str, under: str | None, glue: bool, at: int, y: float) -> bool:
        """Say whether nothing can get between the two at a spot."""
        if self.pieces[over]["layer"] in COATS:
            return True  # a liquid that bonds as a coat has no edge to get behind
        if not glue:
            return False
        lap = self.lap(over, under, self.xs[at], y) if under is not None else None
        return (lap[1] if lap is not None else self.pieces[over].get("held")) in STICKY

    def carrier(self, at: int, y: float, above: set[str]) -> str | None:
        """Return the piece that carries a drop behind `above` at a spot, or None for the bare wall."""
        last = max((i for i, p in enumerate(self.stack(at, y)) if p in above), default=-1)
        rest = self.stack(at, y)[last + 1 :]
        return rest[0] if rest else None

    def line(self, x: float) -> int:
        """Return the number of a new plumb line at x."""
        at = bisect_left(self.xs, x)
        self.xs.insert(at, x)
        self.columns = {k + (k >= at): v for k, v in self.columns.items()}
        self.stacks = {}
        return at

    def trace(
        self, at: int, y: float, above: Iterable[str] = (), glue: bool = True, straight: bool = False
    ) -> End:
        """Let one drop go at height y of plumb line `at`, behind the pieces `above`; straight: it neither creeps nor
        climbs, and is out when it is in the open again."""
        behind = set(above)
        passes: list[Pass] = []
        crept = 0.0  # how far it has gone sideways since it was last in the open
        for _ in range(400):
            x = self.xs[at]
            cuts = self.column(at)
            ends = [c for lo, hi, _ in cuts for c in (lo, hi) if c < y - EPS]
            if not ends:
                return End(True, "", passes)
            stop = max(ends)
            # on the way down it may creep along a lap, from some height, up to the creep
            crept = crept if behind else 0.0
            moved = None if straight else self._creep(at, self.rng.uniform(stop, y), behind, glue, passes, CREEP_M - crept)
            if moved is not None:
                crept += abs(self.xs[moved[0]] - x)
                at, y = moved
                continue
            carried_by = self.carrier(at, (stop + y) / 2, behind)
            if carried_by is None and any(shapely.intersects_xy(s, x, (stop + y) / 2) for s in self.pans):
                return End(True, "", passes)
            if carried_by is None and behind:
                return End(False, min(behind), passes, crept)  # on the bare wall, behind something
            if any(shapely.intersects_xy(s, x, (stop + y) / 2) for s in self.shields):
                return End(True, "", passes)
            y = stop
            # edges that face down, at this height
            for piece in [p for lo, _, p in cuts if abs(lo - y) <= EPS]:
                if piece in behind:
                    here = self.carrier(at, y + EPS, behind)
                    if self.pieces[piece].get("hides"):
                        return End(False, piece, passes, crept)
                    order = self.stack(at, y + EPS)
                    nearest = order[order.index(here) - 1] if here in order else order[-1] if order else piece
                    if piece == nearest and self.stuck(piece, here, glue, at, y):
                        return End(False, piece, passes, crept)
                    behind.discard(piece)
                    if not behind:
                        if straight:
                            return End(True, piece, passes)
                        passes.clear()
                elif piece == carried_by and not straight and self.rng.random() < 0.5:
                    y = self._climb(at, y, piece, behind, glue, passes)
                    if y != stop:
                        break
            if y != stop:
                continue
            # edges that face up
            for piece in [p for _, hi, p in cuts if abs(hi - y) <= EPS]:
                order = self.stack(at, y - 2 * EPS)
                if piece not in order or piece in behind:
                    continue
                place = order.index(piece)
                last = max((i for i, p in enumerate(order) if p in behind), default=-1)
                if place < last:
                    behind.add(piece)  # it lies farther out than the drop: nothing to meet
                    continue
                between = [p for p in order[last + 1 : place] if hi_of(cuts, p, y) - y > EPS or self._turns(p, x, y)]
                if between:
                    continue  # it lies beneath what carries the drop
                below = [p for p in order[place + 1 :] if (hi_of(cuts, p, y) - y) > EPS]
                if glue and any(self._turns(p, x, y) and self.pieces[p].get("held") in STICKY for p in self.stack(at, y + EPS)):
                    continue  # a sheet that turns off the face here is stuck onto it
                if not self._turns(piece, x, y) and not self.stuck(piece, below[0] if below else None, glue, at, y):
                    behind.add(piece)
                    passes.append(Pass(piece, "top", x, y, x, x))
        raise AssertionError("a drop that never ends")

    def _turns(self, piece: str, x: float, y: float) -> bool:
        """Say whether a piece's sheet turns off the face at a spot of its rim."""
        return piece in self.turned and bool(self.turned[piece].distance(shapely.Point(x, y)) < 3e-3)

    def _climb(self, at: int, y: float, edge: str, behind: set[str], glue: bool, passes: list[Pass]) -> float:
        """Climb behind the lower edge of `edge` by a random part of the climb; return the height it then is at."""
        upto = y + self.rng.uniform(0, CLIMB_M)
        now = behind | {edge}
        face = self.carrier(at, y + EPS, now)
        if face is None or self.stuck(edge, face, glue, at, y):
            return y
        top = min((hi for lo, hi, p in self.column(at) if p == face and lo <= y + EPS < hi), default=upto)
        under = [lo for lo, hi, p in self.column(at) if p == edge and lo - EPS <= y < hi]
        if top >= upto - EPS or not under:
            return y
        if self._turns(face, self.xs[at], top) or self._turns(edge, self.xs[at], y):
            return y
        if edge not in self.stack(at, top - EPS) or edge not in self.stack(at, top + EPS):
            return y
        order = self.stack(at, top - EPS)
        beneath = order[order.index(face) + 1 :]
        if self.stuck(face, beneath[0] if beneath else None, glue, at, top):
            return y  # its upper edge is stuck down: the drop comes back over it
        behind |= {p for p in order if p == edge or self.over(p, edge, self.xs[at], top)} | {face}
        passes.append(Pass(face, "top", self.xs[at], top, self.xs[at], self.xs[at], edge, y))
        return top - 2 * EPS

    def _creep(
        self, at: int, y: float, behind: set[str], glue: bool, passes: list[Pass], most: float
    ) -> tuple[int, float] | None:
        """Perhaps creep sideways from a spot by `most`; return the new spot, having noted what it got behind."""
        if self.rng.random() < 0.7:
            return None
        x = self.xs[at]
        lo, hi = bisect_left(self.xs, x - most), bisect_right(self.xs, x + most)
        to = self.rng.randrange(lo, hi) if hi > lo else at
        face = self.carrier(at, y, behind)
        order = self.stack(to, y)
        if to == at or face is None:
            return None
        # what it lies behind at the new spot: the lap's upper piece must begin on the way or be there already
        steps = range(min(at, to), max(at, to) + 1)
        stacks = [self.stack(i, y) for i in steps]
        if face in order:
            place = order.index(face)
            new = set(order[:place])
            if not new:
                return None if behind else (to, y)  # along an open face water does not creep: it runs down
            direct = order[place - 1]
            if self.stuck(direct, face, glue, to, y):
                return None
            passed = sorted(new - behind)  # it went in round the sides of these
        else:
            # past the side of what carries it, behind a piece that covers both
            cover = [p for p in order if self.over(p, face, self.xs[to], y) and any(p in s and face in s for s in stacks)]
            if not cover:
                return None
            direct = cover[-1]
            rim = shapely.LineString([(x, y), (self.xs[to], y)])
            if face in self.turned and self.turned[face].distance(rim) < 2e-3:
                return None
            if self.stuck(direct, face, glue, to, y):
                return None
            new = set(order[: order.index(direct) + 1])
            # past the sides of what carries it, and of all beneath that ends on the way too
            deep = {p for s in stacks if face in s for p in s[s.index(face) :]}
            passed = [face, *sorted(deep - {face} - set(order))]
        passes.extend(Pass(p, "side", x, y, *sorted((x, self.xs[to]))) for p in passed)
        behind.clear()
        behind |= new
        return to, y


def polygon_of(rings: Any) -> Any:
    """Return the polygon of one ring, or of rings as in GeoJSON."""
    return shapely.Polygon(rings) if isinstance(rings[0][0], int | float) else shapely.Polygon(rings[0], rings[1:])


def hi_of(cuts: list[tuple[float, float, str]], piece: str, y: float) -> float:
    """Return the top of the stretch of a piece that holds y or ends just below it."""
    return max((hi for lo, hi, p in cuts if p == piece and lo - EPS <= y <= hi + 3 * EPS), default=y)
