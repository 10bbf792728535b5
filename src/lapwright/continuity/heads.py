"""Round an opening and over it: what turns in, what the metal must look like, what must stay free to move.

A sheet that ends at the rim of an opening without turning in leaves the plane behind it ending inside the wall: water
that got behind the course runs down the boards and into the head. These rules read pieces and their facts; whatever a
piece does not say is not judged.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry import polygon
from shapely.geometry.base import BaseGeometry

from lapwright.continuity.model import STICKS, Sheet
from lapwright.continuity.wall import Wall
from lapwright.findings import Finding, Level, Where
from lapwright.geometry import merged
from lapwright.lengths import show_both

BARE_M = 0.05  # of a rim that nothing turns into: as wide as a lap, 2 in (IRC R703.2)
SLOPE_DEG = 5.0  # head flashings slope out 5 degrees or more; common practice
ABOVE_M = 0.1  # a head flashing's foot lies within 4 in above the head; own choice
RIGID = frozenset({"flashing", "film"})  # layers that tear or let go where a sheet would give
GIVES = frozenset({"collar", "boot", "grommet"})  # rubber stretches
PAST_M = 0.0254  # how far past a line that moves a piece must reach on both sides to count as fixed to both


@dataclass(frozen=True)
class Rim:
    """One opening as the rules see it. set: whether a new unit sits in it; bare: sides (head, sill, jamb) of its rim with
    the part that nothing turns into; room: whether there is wall above to fasten a flashing on."""

    id: str
    polygon: Polygon
    set: bool
    bare: tuple[tuple[str, BaseGeometry], ...] = ()
    room: bool = True
    square: bool = True


@dataclass(frozen=True)
class Around:
    """What else the rules need of a wall: openings, and lines that move (floor lines, old-to-new joints) by name."""

    rims: tuple[Rim, ...] = ()
    moving: tuple[tuple[str, LineString], ...] = field(default_factory=tuple)


def sides(shape: Polygon) -> dict[str, BaseGeometry]:
    """Return the rim of an opening by side: `head` faces up, `sill` down, `jamb` aside (within 15 degrees of plumb)."""
    pts = [(x, y) for x, y, *_ in polygon.orient(shape).exterior.coords]
    found: dict[str, list[BaseGeometry]] = {"head": [], "sill": [], "jamb": []}
    for p, q in itertools.pairwise(pts):
        length = float(np.hypot(q[0] - p[0], q[1] - p[1]))
        up = -(q[0] - p[0]) / length if length else 0.0  # rings run with the opening on their left
        found["head" if up > 0.26 else "sill" if up < -0.26 else "jamb"].append(LineString([p, q]))
    return {k: merged(v) for k, v in found.items() if v}


def rules_of(wall: Wall, around: Around) -> Iterator[Finding]:
    """Yield the findings of a wall's openings, flashings, pans and movement joints."""
    for rim in around.rims:
        yield from _bare(wall, rim)
        if rim.set and rim.square and rim.room and not _flashed(wall, rim):
            yield _finding(
                "head.no_flashing", "warn", wall, rim.id, rim.polygon.bounds[0], rim.polygon.bounds[3],
                f"No flashing covers the head of {rim.id}.",
                "Run-off from the wall lands on the trim and stands there.",
                "Add a head flashing: slope out, end dams, ends past the trim.", "IRC R703.4",
            )  # fmt: skip
    for sheet in wall.sheets:
        yield from _shape(wall, sheet)
        yield from _moving(wall, sheet, around)


def _bare(wall: Wall, rim: Rim) -> Iterator[Finding]:
    words = {
        "head": ("head", "stop", "runs down the boards behind the course and into the head",
                 "Add the head strip: onto the wall above, turned in on the framing, the course over it."),
        "sill": ("sill", "stop", "that gets past the unit soaks the sill and the wall below it",
                 "Add the sill strip: turned in on the framing, its lower edge out over the course."),
        "jamb": ("jamb", "warn", "goes round the edge of the course into the jamb",
                 "Add the jamb strip: onto the wall beside, turned in on the framing."),
    }  # fmt: skip
    for side, part in rim.bare:
        name, level, why, fix = words[side]
        x0, _, _, y1 = part.bounds
        length = show_both(part.length)
        yield _finding(
            f"opening.{name}_bare", "stop" if level == "stop" else "warn", wall, rim.id, x0, y1,
            f"Nothing turns into the opening at the {name} of {rim.id}, over {length}.",
            f"The plane that water drains along ends inside the wall there: water {why}.", fix,
            "IRC R703.1.1, R703.4; ASTM E2112, general practice",
        )  # fmt: skip


def _flashed(wall: Wall, rim: Rim) -> bool:
    x0, _, x1, head = rim.polygon.bounds
    for s in wall.sheets:
        a0, b0, a1, _ = s.polygon.bounds
        if s.layer == "flashing" and a0 <= x0 + 1e-3 and a1 >= x1 - 1e-3 and head - 1e-3 <= b0 <= head + ABOVE_M:
            return True
    return False


def _shape(wall: Wall, sheet: Sheet) -> Iterator[Finding]:
    """Yield what is wrong with the shape of a head flashing or a sill pan, by what its facts say."""
    x0, y0, *_ = sheet.polygon.bounds
    facts = sheet.facts
    if "flashing" in sheet.role and sheet.layer == "flashing":
        slope = facts.get("slope_deg")
        if isinstance(slope, int | float) and slope < SLOPE_DEG:
            yield _finding(
                "flashing.slope", "warn", wall, sheet.id, x0, y0, f"{sheet.id} slopes out {slope:g} degrees.",
                "Water stands on it and finds the nail holes.", "Bend it to slope out 5 degrees or more.", "common practice",
            )  # fmt: skip
        if facts.get("end_dams") is False:
            yield _finding(
                "flashing.end_dams", "warn", wall, sheet.id, x0, y0, f"{sheet.id} has no end dams.",
                "Wind drives water off its ends, behind the cladding.", "Turn both ends up, as tall as the wind head (1.2 in).",
                "common practice",
            )  # fmt: skip
        if facts.get("drip") is False:
            yield _finding(
                "flashing.drip", "warn", wall, sheet.id, x0, y0, f"The lower edge of {sheet.id} has no drip.",
                "Water follows its flat underside back to the wall.", "Turn the edge down and out, 1/4 in off the face below.",
                "common practice",
            )  # fmt: skip
        if sheet.role == "head-flashing":
            yield from _ends(wall, sheet)
    if sheet.role in ("sill-pan", "sill-strip") and (facts.get("end_dams") is False or facts.get("back_dam") is False):
        lacks = " and ".join(n for n in ("back_dam", "end_dams") if facts.get(n) is False).replace("_", " ")
        yield _finding(
            "pan.dams", "stop", wall, sheet.id, x0, y0, f"The pan {sheet.id} has no {lacks}.",
            "Water on it runs off into the wall.", "Turn up back and ends; leave the front open.",
            "ASTM E2112, general practice",
        )  # fmt: skip


def _ends(wall: Wall, sheet: Sheet) -> Iterator[Finding]:
    """Yield a finding when an end of a head flashing does not drop onto a sheet of the barrier."""
    x0, y0, x1, _ = sheet.polygon.bounds
    spots = np.array([(x0 + 2e-3, y0 - 2e-3), (x1 - 2e-3, y0 - 2e-3)])
    for (x, y), found in zip(spots.tolist(), wall.sheets_at(spots), strict=True):
        if not found and wall.outline.contains(LineString([(x, y), (x, y - 1e-3)])) and not wall.kept.buffer(1e-3).intersects(
            LineString([(x, y), (x, y - 1e-3)])
        ):  # fmt: skip
            yield _finding(
                "flashing.ends", "stop", wall, sheet.id, x, y, f"The end of {sheet.id} drops onto bare wall.",
                "What it gathers runs off its end: that must land on the barrier.",
                "Bring the course beneath its end.", "IRC R703.4; common practice",
            )  # fmt: skip


def _moving(wall: Wall, sheet: Sheet, around: Around) -> Iterator[Finding]:
    """Yield a warning when a rigid piece is glued on both sides of a line that moves, or a strip lies there without slack."""
    slack = sheet.facts.get("slack_m")
    tight = bool(sheet.facts.get("movement")) and isinstance(slack, int | float) and slack <= 0
    rigid = sheet.layer in RIGID and sheet.held in STICKS and sheet.role not in GIVES
    if not (tight or rigid):
        return
    for name, line in around.moving:
        (ax, ay), (bx, by) = line.coords[0], line.coords[-1]
        part = sheet.polygon.intersection(line)
        if part.length < BARE_M:
            continue
        x0, y0, x1, y1 = sheet.polygon.bounds
        level_line = abs(bx - ax) >= abs(by - ay)
        past = min(y1 - max(ay, by), min(ay, by) - y0) if level_line else min(x1 - max(ax, bx), min(ax, bx) - x0)
        if past < PAST_M:
            continue
        yield _finding(
            "joint.rigid", "warn", wall, sheet.id, part.bounds[0], part.bounds[1],
            f"{sheet.id} is glued tight across {name}, over {part.length * 1000:.0f} mm.",
            "The wall moves 1/4 to 1/2 in there: a rigid edge tears or lets go.",
            "Leave slack in the sheet, or a joint above a flashing.", "common practice",
        )  # fmt: skip
        return


def _finding(
    code: str, level: Level, wall: Wall, thing: str, x: float, y: float, what: str, why: str, fix: str, source: str
) -> Finding:
    return Finding(code, level, what, why, fix, Where(surface=wall.surface, thing=thing, x_m=x, y_m=y), source)


def bare_parts(shape: Polygon, covered: BaseGeometry, whole: Iterable[str]) -> tuple[tuple[str, BaseGeometry], ...]:
    """Return the sides of an opening with what nothing turns into. covered: where sheets turn in; whole: sides that are
    closed by a piece in the reveal alone."""
    out = []
    x0, y0, x1, y1 = shape.bounds
    near = shapely.clip_by_rect(covered, x0 - 0.05, y0 - 0.05, x1 + 0.05, y1 + 0.05).buffer(3e-3, quad_segs=1)
    for side, rim in sides(shape).items():
        if side in whole:
            continue
        rest = rim.difference(near)
        if rest.length > BARE_M:
            out.append((side, rest))
    return tuple(out)


def all_rules(walls: Sequence[Wall], around: dict[str, Around]) -> list[Finding]:
    """Return the findings of these rules on all walls."""
    return [f for wall in walls for f in rules_of(wall, around.get(wall.surface, Around()))]
