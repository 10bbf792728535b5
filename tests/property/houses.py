"""Random houses as the text of a house.yaml: seeded, valid, and full of what old houses have.

All lengths are whole ticks while a house is made: sixteenths of an inch, or millimeters in a metric house, so that
loops close exactly and the text says what was meant. Nothing here is taken from the program: a house is valid by
construction (openings apart, everything inside its face).
"""

from __future__ import annotations

import itertools
import math
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from shapely import LineString, Point, Polygon, box

Spot = tuple[int, int]

STATES = ("before", "after", "kept", "insert")
SHAPES = ("rectangle", "arch", "round", "polygon")
PENETRATIONS = ("duct", "pipe", "cable", "bundle", "box", "bracket", "meter")
THROUGH = {
    "duct": ("dryer", "bath fan", "range hood", "combustion air"),
    "pipe": ("water", "gas", "flue", "plumbing vent"),
    "cable": ("", "data"),
    "bundle": ("", "power"),
    "box": ("power", ""),
    "bracket": ("",),
    "meter": ("power", "gas"),
}  # fmt: skip
BARRIERS = {
    "sticky": ("self-adhered-sheet", "self-adhered-sheet", "self-adhered-butyl"),
    "wrapped": ("fastened-sheet", "fastened-sheet", "building-felt"),
}


@dataclass
class House:
    """One house: the text of its house.yaml and how often each feature occurs in it."""

    seed: int
    text: str
    features: Counter[str]


@dataclass
class Wall:
    """One face while it is made, in ticks."""

    name: str
    width: int
    turn: float | None
    outline: Polygon
    lines: list[str] = field(default_factory=list)  # its shape in the file
    solid: list[Polygon] = field(default_factory=list)  # openings, with nothing round them
    zones: list[tuple[str, Polygon]] = field(default_factory=list)  # (decision, where)


def random_house(seed: int, small: bool = False) -> House:
    """Return the house of a seed. small: one or two loops less, fewer faces (for slow checks)."""
    return _Maker(random.Random(seed), small).house(seed)


class _Maker:
    def __init__(self, rng: random.Random, small: bool) -> None:
        self.rng = rng
        self.small = small
        self.metric = rng.random() < 0.35
        self.seen: Counter[str] = Counter()

    # ------------------------------------------------------------ lengths

    def ft(self, feet: float, step_in: float = 0.0) -> int:
        """Return feet as ticks, on a step of inches (about: 25 mm to the inch in a metric house)."""
        if self.metric:
            step = max(1, round(step_in * 25))
            return round(feet * 304.8 / step) * step
        step = max(1, round(step_in * 16))
        return round(feet * 192 / step) * step

    def inch(self, inches: float) -> int:
        return self.ft(inches / 12)

    def feet(self, low: float, high: float) -> int:
        """Return a random length: usually on whole inches, sometimes odd."""
        step = self.rng.choice((0.0, 0.25, 1.0, 1.0, 6.0))
        return max(self.ft(low), min(self.ft(high), self.ft(self.rng.uniform(low, high), step)))

    def say(self, ticks: float) -> str:
        """Return a length as it is written down."""
        value = round(ticks)
        if self.metric:
            return str(value) if self.rng.random() < 0.8 else f"{value / 1000:.3f} m"
        sign, value = ("-" if value < 0 else ""), abs(value)
        inches, part = divmod(value, 16)
        fraction = ""
        if part:
            low = math.gcd(part, 16)
            fraction = f"{part // low}/{16 // low}"
        if self.rng.random() < 0.6 and inches >= 12:
            foot, rest = divmod(inches, 12)
            tail = f"{rest}-{fraction}" if rest and fraction else fraction or str(rest)
            return f"{sign}{foot}' {tail}\"" if tail != "0" else f"{sign}{foot}'"
        return f"{sign}{inches}-{fraction}\"" if inches and fraction else f'{sign}{fraction or inches}"'

    def spot(self, x: float, y: float) -> str:
        return f"[{self.say(x)}, {self.say(y)}]"

    # ------------------------------------------------------------ the ring of walls

    def ring(self) -> tuple[list[tuple[int, float]], bool]:
        """Return (width, turn) of 4 to 10 walls and whether they close. Closed rings close exactly: opposite sides
        are parallel and equal, and a bump or a notch gives back what it takes."""
        rng = self.rng
        if rng.random() < 0.35:
            n = rng.randint(1 if self.small else 4, 3 if self.small else 8)
            turns = [rng.choice((90, 90, 90, -90, 45, -45, 60, 30, 112.5)) for _ in range(n)]
            return [(self.feet(3, 24), t) for t in turns], False
        sides = rng.choice((2, 2, 2, 3) if not self.small else (2,))
        turns = {2: [t := rng.choice((90, 90, 90, 60, 75, 105)), 180 - t], 3: [60, 60, 60]}[sides]
        lengths = [self.feet(10, 30) for _ in range(sides)]
        edges = [(lengths[i % sides], float(turns[i % sides])) for i in range(2 * sides)]
        while len(edges) <= 6 and rng.random() < (0.3 if self.small else 0.65):
            at = rng.randrange(len(edges))
            length, turn = edges[at]
            if rng.random() < 0.5 and length > self.ft(9):  # a bump or a niche in a side
                bend = rng.choice((90, 90, 60))
                out = rng.choice((1, -1))
                deep = self.feet(2, 5) // 2 * 2
                first, last = self.feet(2, 3), self.feet(2, 3)
                middle = length - first - last - (deep if bend == 60 else 0)
                if middle >= self.ft(2):
                    edges[at : at + 1] = [
                        (first, -bend * out), (deep, bend * out), (middle, bend * out), (deep, -bend * out), (last, turn),
                    ]  # fmt: skip
            elif len(edges) == 2 * sides:  # a notch in a corner between this side and the next
                nxt = (at + 1) % len(edges)
                after, its_turn = edges[nxt]
                p, q = self.feet(2, 8), self.feet(2, 8)
                if length - p >= self.ft(2) and after - q >= self.ft(2):
                    edges[nxt] = (after - q, its_turn)
                    edges[at : at + 1] = [(length - p, turn), (q, -turn), (p, turn)]
        return edges, True

    # ------------------------------------------------------------ one wall's shape

    def wall(self, name: str, width: int, turn: float | None, base: int, low: float = 8, high: float = 20) -> Wall:
        rng = self.rng
        height = base + self.feet(low, high)
        kind = rng.random()
        if kind < 0.12:
            return self._free(name, width, turn, base, height)
        lines = []
        right = height
        if rng.random() < 0.15:
            right = height - self.feet(0.2, 2)
            lines.append(f"height: {{left: {self.say(height)}, right: {self.say(right)}}}")
            self.seen["rake of an eave"] += 1
        else:
            lines.append(f"height: {self.say(height)}")
        foot: list[Spot] = [(0, base), (width, base)]
        draw = rng.random()
        if draw < 0.2 and width > self.ft(5):
            foot, steps = [], []
            xs = [0, *sorted(rng.sample(range(self.ft(1), width - self.ft(1), self.inch(3)), rng.randint(1, 2))), width]
            for a, b in itertools.pairwise(xs):
                y = base - self.feet(0, 3) if a else base
                steps.append(self.spot(a, y))
                foot += [(a, y), (b, y)]
            lines.append(f"base: [{', '.join(steps)}]")
            self.seen["stepped base"] += 1
        elif draw < 0.35:
            own = base - self.feet(0, 3)
            foot = [(0, own), (width, own)]
            lines.append(f"base: {self.say(own)}")
            self.seen["own base"] += 1
        top: list[Spot] = [(width, right), (0, height)]
        if rng.random() < 0.25 and width > self.ft(6):
            at = width // 2 if rng.random() < 0.6 else round(width * rng.uniform(0.2, 0.8))
            peak = max(height, right) + self.feet(2, 9)
            top.insert(1, (at, peak))
            lines.append(f"gable: {{peak: {self.say(peak)}, at: {self.say(at)}}}")
            self.seen["gable"] += 1
        return Wall(name, width, turn, Polygon(_distinct([*foot, *top])), lines)

    def _free(self, name: str, width: int, turn: float | None, base: int, height: int) -> Wall:
        """A free outline: a lean-to against a wall, a cheek on a roof, a stair of eaves, a foot that slopes."""
        rng = self.rng
        a, b = round(width * rng.uniform(0.25, 0.5)), round(width * rng.uniform(0.55, 0.85))
        drop = self.feet(1, 4)
        points: list[Spot] = rng.choice(
            (
                [(0, base), (width, base), (width, height - drop), (b, height), (0, height)],
                [(0, base), (width, base), (width, height), (b, height), (b, height - drop), (0, height - drop)],
                [(0, base), (a, base), (a, base - drop), (width, base - drop), (width, height), (0, height)],
                [(0, base + drop), (width, base), (width, height), (0, height)],
                [(0, base), (width, base), (width, height), (b, height + drop), (a, height + drop // 2), (0, height)],
            )
        )
        self.seen["free outline"] += 1
        return Wall(name, width, turn, Polygon(points), [f"outline: [{', '.join(self.spot(*p) for p in points)}]"])

    # ------------------------------------------------------------ zones

    def zoned(self, wall: Wall) -> None:
        """Give the wall its decision and up to two zones (three parts with what they leave over)."""
        rng = self.rng
        first = self._decision(0.12)
        wall.lines += [f"decision: {first}", *self._assembly(first)]
        count = rng.choices((0, 1, 2), (0.62, 0.22, 0.16))[0]
        x0, y0, x1, y1 = (round(v) for v in wall.outline.bounds)
        rows: list[str] = []
        rest = wall.outline
        for n in range(count):
            sides = self._sides(rng.choice(("left", "right", "bottom", "top", "points")), x0, y0, x1, y1)
            if sides is None:
                continue
            text, shape = sides
            shape = wall.outline.intersection(shape)
            if not isinstance(shape, Polygon) or shape.is_empty or any(shape.intersects(z) for _, z in wall.zones):
                continue
            if "points" in text and not wall.outline.contains(shape.buffer(1)):
                continue
            decision = self._decision(0.5)
            rows.append(f"- {{id: z{n + 1}, {text}, {', '.join([f'decision: {decision}', *self._assembly(decision)])}}}")
            wall.zones.append((decision, shape))
            rest = rest.difference(shape)
        if rows:
            wall.lines += ["zones:", *(f"  {r}" for r in rows)]
        parts = [rest] if isinstance(rest, Polygon) else list(rest.geoms)
        wall.zones += [(first, p) for p in parts if not p.is_empty]
        self.seen[f"{len(rows) + 1} zones"] += 1
        for decision in {d for d, _ in wall.zones}:
            self.seen[decision] += 1

    def _sides(self, side: str, x0: int, y0: int, x1: int, y1: int) -> tuple[str, Polygon] | None:
        """Return a zone's text and its shape before the face cuts it."""
        rng = self.rng
        wide, tall = x1 - x0, y1 - y0
        if side in ("left", "right"):
            at = round(x0 + wide * rng.uniform(0.2, 0.45) if side == "left" else x0 + wide * rng.uniform(0.55, 0.8))
            return (
                (f"right: {self.say(at)}", box(x0, y0, at, y1))
                if side == "left"
                else (f"left: {self.say(at)}", box(at, y0, x1, y1))
            )
        if side in ("bottom", "top"):
            at = round(y0 + tall * rng.uniform(0.2, 0.45) if side == "bottom" else y0 + tall * rng.uniform(0.55, 0.8))
            return (
                (f"top: {self.say(at)}", box(x0, y0, x1, at))
                if side == "bottom"
                else (f"bottom: {self.say(at)}", box(x0, at, x1, y1))
            )
        a, b = round(x0 + wide * rng.uniform(0.15, 0.4)), round(x0 + wide * rng.uniform(0.6, 0.85))
        c, d = round(y0 + tall * rng.uniform(0.15, 0.4)), round(y0 + tall * rng.uniform(0.6, 0.85))
        points = [(a, c), (b, c), (b, d), (a, d)] if rng.random() < 0.6 else [(a, c), (b, c), (b, d)]
        self.seen["zone with corners"] += 1
        return f"points: [{', '.join(self.spot(*p) for p in points)}]", Polygon(points)

    def _decision(self, keep: float) -> str:
        return self.rng.choices(("keep", "remove", "cover"), (keep, 0.7 * (1 - keep), 0.3 * (1 - keep)))[0]

    def _assembly(self, decision: str) -> list[str]:
        if decision == "keep":
            return []
        name = self.rng.choices(("sticky", "wrapped"), (0.7, 0.3))[0]
        self.seen[name] += 1
        return [f"assembly: {name}"]

    # ------------------------------------------------------------ openings

    def openings(self, wall: Wall, most: int) -> list[str]:
        rng = self.rng
        rows: list[str] = []
        for n in range(rng.randint(0, most)):
            for _ in range(12):
                made = self._opening(wall, n)
                if made is not None:
                    text, shape, seen = made
                    wall.solid.append(shape)
                    rows.append(f"- {{id: w{n + 1}, {text}}}")
                    for word in seen:
                        self.seen[word] += 1
                    break
        return rows

    def _opening(self, wall: Wall, number: int) -> tuple[str, Polygon, list[str]] | None:
        """Return (text, polygon, features) of one opening that fits, or None when the draw does not."""
        rng = self.rng
        kind = rng.choices(SHAPES, (0.62, 0.14, 0.12, 0.12))[0]
        state = rng.choice(STATES)
        w, h = self.feet(1.5, 5), self.feet(1.5, 6.5)
        x0, y0, x1, y1 = wall.outline.bounds
        where = rng.choices(("anywhere", "base", "edge", "beside"), (0.5, 0.15, 0.15, 0.2))[0]
        if x1 - x0 <= w or y1 - y0 <= h:
            return None
        x, y = round(rng.uniform(x0, x1 - w)), round(rng.uniform(y0, y1 - h))
        seen = [f"{state} opening", f"{kind} opening"]
        gap = self.inch(8)  # to other openings and the wall's edge, unless the draw asks for less
        low = 0
        if where == "base":
            foot = _foot(wall.outline, x, x + w)
            if foot is None:
                return None
            y = round(foot) + (0 if rng.random() < 0.7 else self.inch(rng.choice((0.5, 2, 5))))
            kind = "rectangle" if kind in ("round", "polygon") else kind
            seen = [f"{state} opening", f"{kind} opening", "opening at the base"]
        elif where == "edge":
            gap = self.inch(rng.choice((0.5, 1, 3)))
            x = round(x0 + gap if rng.random() < 0.5 else x1 - w - gap)
            seen.append("opening near an edge")
        elif where == "beside" and wall.solid:
            near = rng.choice(wall.solid).bounds
            gap = self.inch(rng.choice((0.5, 1.5, 4)))
            if rng.random() < 0.7:
                x, y = round(near[2] + gap), round(near[1] + rng.choice((0, 0, self.inch(7))))
            else:
                x, y = round(near[0] + rng.choice((0, self.inch(5)))), round(near[3] + gap)
            low = gap - 1
            seen.append("openings close together")
        made = self._shaped(kind, x, y, w, h)
        if made is None:
            return None
        text, shape = made
        b = shape.bounds
        around = box(b[0] - gap, b[1], b[2] + gap, b[3] + gap)
        if where == "base":
            if not wall.outline.buffer(0.01).covers(shape) or b[3] + gap > y1:
                return None
        elif not wall.outline.covers(around.union(box(b[0], b[1] - gap, b[2], b[1]))):
            return None
        if any(o.distance(shape) < (low if low else gap) for o in wall.solid):
            return None
        inside = [z for d, z in wall.zones if z.buffer(-0.5).contains(shape)]
        if not inside:
            if where != "base" and rng.random() < 0.7:
                return None  # few straddle a zone's edge
            if not any(z.buffer(0.01).covers(shape) for _, z in wall.zones):
                seen.append("opening over a zone's edge")
        if h > self.ft(5):
            seen.append("opening over several courses")
        text += f", state: {state}"
        if rng.random() < 0.2:
            text += ", bedroom: yes"
        if state == "before" or (state == "after" and rng.random() < 0.7):
            text += ", unit: window-unit" if where != "base" else ", unit: door-unit"
        return ("kind: door, " if where == "base" else "") + text, shape, seen

    def _shaped(self, kind: str, x: int, y: int, w: int, h: int) -> tuple[str, Polygon] | None:
        rng = self.rng
        if kind == "round":
            d = min(w, h) // 2 * 2
            center = (x + d // 2, y + d // 2)
            return (
                f"shape: round, center: {self.spot(*center)}, diameter: {self.say(d)}",
                Point(center).buffer(d / 2, quad_segs=32),
            )
        if kind == "polygon":
            points = rng.choice(
                (
                    [(x, y), (x + w, y), (x + w // 2, y + h)],
                    [(x, y), (x + w, y), (x + w, y + h), (x, y + h // 2)],
                    [(x + w // 2, y), (x + w, y + h // 2), (x + w // 2, y + h), (x, y + h // 2)],
                    [(x, y), (x + w, y), (x + w, y + h // 2), (x + w // 2, y + h), (x, y + h // 2)],
                )
            )
            return f"shape: polygon, points: [{', '.join(self.spot(*p) for p in points)}]", Polygon(points)
        size = f"left: {self.say(x)}, sill: {self.say(y)}, width: {self.say(w)}, height: "
        if kind == "rectangle":
            return f"{size}{self.say(h)}", box(x, y, x + w, y + h)
        rise = round(w * rng.uniform(0.1, 0.49))
        if h - rise < self.ft(0.5):
            return None
        shape = box(x, y, x + w, y + h)  # what the arch stays inside
        return f"shape: arch, {size}{self.say(h - rise)}, rise: {self.say(rise)}", shape

    # ------------------------------------------------------------ penetrations and attachments

    def penetrations(self, wall: Wall, most: int) -> list[str]:
        rng = self.rng
        rows: list[str] = []
        taken: list[Polygon] = list(wall.solid)
        x0, y0, x1, y1 = wall.outline.bounds
        for n in range(rng.randint(0, most)):
            kind = rng.choice(PENETRATIONS)
            w = self.inch({"duct": 4, "pipe": rng.choice((1, 2, 4)), "cable": 0.5}.get(kind, rng.choice((3, 5, 12))))
            square = kind in ("bundle", "box", "bracket", "meter")
            h = self.inch(rng.choice((2, 5, 14))) if square else w
            gap = self.inch(rng.choice((1, 6)))
            for _ in range(12):
                x, y = round(rng.uniform(x0, x1)), round(rng.uniform(y0, y1))
                shape = box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)
                if not wall.outline.contains(shape.buffer(gap)) or any(t.distance(shape) < gap for t in taken):
                    continue
                taken.append(shape)
                size = f"[{self.say(w)}, {self.say(h)}]" if square else self.say(w)
                through = rng.choice(THROUGH[kind])
                says = f", through: {through}" if through else ""
                rows.append(f"- {{id: p{n + 1}, kind: {kind}, at: {self.spot(x, y)}, size: {size}{says}}}")
                self.seen[kind] += 1
                break
        return rows

    def attachments(self, wall: Wall) -> list[str]:
        rng = self.rng
        rows: list[str] = []
        x0, y0, x1, y1 = wall.outline.bounds
        makers: dict[str, Callable[[int, int, int], tuple[str, LineString | Polygon]]] = {
            "roof": self._roof,
            "porch_roof": lambda a, b, y: (
                f"from: {self.spot(a, y)}, to: {self.spot(b, y)}, projection: {self.say(self.ft(6))}, below: outside",
                LineString([(a, y), (b, y)]),
            ),
            "deck_ledger": lambda a, b, y: self._band(a, b, y, 9.25),
            "belly_band": lambda a, b, y: self._band(a, b, y, 7.25),
            "chimney": self._chimney,
            "roof_return": lambda a, b, y: (
                f"from: {self.spot(a, y)}, to: {self.spot(a + self.ft(1.5), y)}",
                LineString([(a, y), (a + self.ft(1.5), y)]),
            ),
            "eave": lambda a, b, y: (
                f"left: {self.say(a)}, right: {self.say(b)}, top: {self.say(y)}",
                LineString([(a, y), (b, y)]),
            ),
        }
        for n in range(rng.choices((0, 1, 2), (0.62, 0.28, 0.1))[0]):
            kind = rng.choice(tuple(makers))
            for _ in range(12):
                a = round(rng.uniform(x0, x1 - (x1 - x0) * 0.3))
                b = round(min(x1, a + max(self.ft(2), (x1 - x0) * rng.uniform(0.3, 0.9))))
                y = round(rng.uniform(y0 + (y1 - y0) * 0.1, y1 - (y1 - y0) * 0.1))
                if rng.random() < 0.2:
                    a, b = round(x0), round(x1)
                text, shape = makers[kind](a, b, y)
                if not wall.outline.covers(shape) or any(o.buffer(self.inch(1)).intersects(shape) for o in wall.solid):
                    continue
                wall.solid.append(shape.buffer(self.inch(2)) if not isinstance(shape, Polygon) else shape)
                gone = ", decision: remove" if rng.random() < 0.15 else ""
                rows.append(f"- {{id: a{n + 1}, kind: {kind}, {text}{gone}}}")
                self.seen[kind] += 1
                break
        return rows

    def _roof(self, a: int, b: int, y: int) -> tuple[str, LineString]:
        rng = self.rng
        other = y + round((b - a) * rng.uniform(-0.6, 0.6))
        ends = f"[{rng.choice(('eave', 'wall', 'open'))}, {rng.choice(('eave', 'wall', 'open'))}]"
        below = rng.choice(("outside", "inside"))
        text = f"from: {self.spot(a, y)}, to: {self.spot(b, other)}, projection: {self.say(self.ft(8))}"
        return f"{text}, below: {below}, ends: {ends}", LineString([(a, y), (b, other)])

    def _band(self, a: int, b: int, y: int, deep: float) -> tuple[str, Polygon]:
        d = self.inch(deep)
        text = f"left: {self.say(a)}, right: {self.say(b)}, top: {self.say(y)}, depth: {self.say(d)}"
        return text, box(a, y - d, b, y)

    def _chimney(self, a: int, b: int, y: int) -> tuple[str, Polygon]:
        right, low = min(b, a + self.ft(3)), y - self.ft(6)
        text = f"left: {self.say(a)}, right: {self.say(right)}, bottom: {self.say(low)}, top: {self.say(y)}"
        return text, box(a, low, right, y)

    # ------------------------------------------------------------ the whole house

    def house(self, seed: int) -> House:
        rng = self.rng
        walls, closed = self.ring()
        while closed and not _simple(walls):
            walls, closed = self.ring()
        self.seen["closed loop" if closed else "open chain"] += 1
        self.seen["metric" if self.metric else "imperial"] += 1
        base = rng.choice((0, -self.inch(8), -self.ft(1)))
        lines = [f"job: Random house {seed}", f"units: {'metric' if self.metric else 'imperial'}"]
        if self.metric:
            lines.append("bare_numbers: mm")
        lines += [
            "place: {name: Nowhere, latitude: 45, longitude: -90}",
            f"year_built: {rng.choice((1924, 1965, 1999))}",
            f"crew: {{people: {rng.choice((2, 3, 4))}, wage: 40}}",
            "loops:",
            f"  main: {{base: {self.say(base)}, closed: {'yes' if closed else 'no'}}}",
        ]
        faces: list[str] = []
        for i, (width, turn) in enumerate(walls):
            last = i == len(walls) - 1 and not closed
            self.seen["outside corner" if turn > 0 else "inside corner"] += 0 if last else 1
            self.seen["turn that is not right"] += 0 if last or abs(turn) == 90 else 1
            faces += self.face(self.wall(f"f{i + 1}", width, None if last else turn, base), "main")
        if rng.random() < (0.15 if self.small else 0.4):
            lines += [f"  upper: {{base: {self.say(base + self.ft(18))}, closed: no, origin: [0, 0]}}"]
            faces += self._dormer(base + self.ft(18))
        lines += ["faces:", *faces, *self._assemblies(), *self._stock()]
        return House(seed, "\n".join(lines) + "\n", self.seen)

    def face(self, wall: Wall, loop: str) -> list[str]:
        """Return the lines of one face, things and all."""
        rng = self.rng
        self.zoned(wall)
        out = [f"  - id: {wall.name}", f"    loop: {loop}", f"    width: {self.say(wall.width)}"]
        if wall.turn is not None:
            out.append(f"    turn: {wall.turn:g}")
        if rng.random() < 0.06:
            out.append(f"    adjoins: {rng.choice(('party', 'garage'))}")
            self.seen["party wall or garage"] += 1
        out.append(f"    eaves: {rng.choice(('open', 'closed', 'vented'))}")
        out.append(f"    framing: {rng.choice(('unknown', self._studs()))}")
        rows = {
            "openings": self.openings(wall, 3 if self.small else 4),
            "attachments": self.attachments(wall),
            "penetrations": self.penetrations(wall, 2 if self.small else 4),
        }
        out += [f"    {line}" for line in wall.lines]
        for name, items in rows.items():
            if items:
                out += [f"    {name}:", *(f"      {i}" for i in items)]
        return out

    def _studs(self) -> str:
        return f"{{stud: 2x4, spacing: {self.say(self.inch(16))}, first: {self.say(self.inch(0.75))}}}"

    def _dormer(self, base: int) -> list[str]:
        """A dormer or a setback story: two cheeks that stand on a slope and a front between them."""
        self.seen["dormer"] += 1
        deep, rise = self.feet(4, 8), self.feet(2, 3)
        top = base + rise + self.feet(1, 3)
        out: list[str] = []
        for name, points, turn in (
            ("cheek-a", [(0, base + rise), (deep, base), (deep, top), (0, top)], 90),
            ("front", None, 90),
            ("cheek-b", [(0, base), (deep, base + rise), (deep, top), (0, top)], None),
        ):
            if points is None:
                wall = self.wall(name, self.feet(5, 10), turn, base, 4, 6)
            else:
                text = f"outline: [{', '.join(self.spot(*p) for p in points)}]"
                wall = Wall(name, deep, turn, Polygon(points), [text])
            out += self.face(wall, "upper")
        return out

    def _assemblies(self) -> list[str]:
        rng = self.rng
        out = ["assemblies:"]
        for name, barriers in BARRIERS.items():
            out.append(f"  {name}:")
            if rng.random() < 0.85:
                out.append(f"    - {{layer: cladding, product: {rng.choice(('board-siding', 'lap-siding'))}}}")
                gap = rng.choice(("mat", "furring", ""))
                if gap:
                    out.append(f"    - {{layer: {gap}, product: {'mesh-mat' if gap == 'mat' else 'furring-1x3'}}}")
            out.append(f"    - {{layer: barrier, product: {rng.choice(barriers)}}}")
            out.append("    - {layer: sheathing, material: sheathing-board, thickness: 20 mm, existing: yes}")
        return out

    def _stock(self) -> list[str]:
        rng = self.rng
        out = []
        if rng.random() < 0.5:
            self.seen["stock on hand"] += 1
            out.append("stock:")
            for product in rng.sample(("self-adhered-sheet", "fastened-sheet", "mesh-mat"), rng.randint(1, 2)):
                out.append(f"  - {{product: {product}, length: {self.say(self.feet(6, 60))}, count: {rng.randint(1, 2)}}}")
        if rng.random() < 0.3:
            self.seen["own laps"] += 1
            lap = f'{rng.choice((3, 6, 7.5))}"'
            out += ["settings:", f"  courses-self-adhered: {{course_lap: {lap}}}"]
        return out


def _simple(walls: list[tuple[int, float]]) -> bool:
    """Return whether a closed ring of (width, turn) does not cross itself, seen from above."""
    x = y = heading = 0.0
    points = []
    for width, turn in walls:
        points.append((x, y))
        x += width * math.cos(math.radians(heading))
        y += width * math.sin(math.radians(heading))
        heading += turn
    return math.hypot(x, y) < 1 and Polygon(points).is_valid


def _distinct(points: list[Spot]) -> list[Spot]:
    out: list[Spot] = []
    for p in points:
        if not out or p != out[-1]:
            out.append(p)
    return out


def _foot(outline: Polygon, x0: float, x1: float) -> float | None:
    """Return the height of a level foot of the wall that runs from x0 to x1, or None when it steps or slopes there."""
    heights = []
    for x in (x0 + 1e-3, (x0 + x1) / 2, x1 - 1e-3):
        hit = outline.intersection(LineString([(x, -1e6), (x, 1e6)]))
        if hit.is_empty:
            return None
        heights.append(hit.bounds[1])
    return heights[0] if max(heights) - min(heights) < 1e-6 else None
