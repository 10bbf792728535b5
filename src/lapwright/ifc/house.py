"""A job file from the walks of a model: metres, faces in walking order, openings kept as they stand."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lapwright.ifc.model import Model
from lapwright.ifc.rings import Side, Walk
from lapwright.yamlfile import resolve

LOWEST_STORY_M = 1.5  # less between two levels is a foundation or a roof line, no story: own choice


def house_yaml(model: Model, found: Sequence[Walk], name: str) -> str:
    """Return the text of house.yaml. Heights count from the model's zero; every opening is `kept` until you say otherwise."""
    lines = [
        f"# From the building model {model.file}: outer walls, stories and openings as drawn, not as taped.",
        "# Tape the house and correct what differs; say what is wanted (decision, assembly, state of each opening).",
        f"job: {name if resolve(name) == name and name[0] != '-' else repr(name)}",
        "units: metric",
        "reference_line: zero height of the building model",
    ]
    first = found[0].sides[0] if found else None
    if model.north_deg is not None and first is not None:
        lines.append(f"first_face_azimuth: {_azimuth(first, model.north_deg):.2f}")
    loops = [f"l{n}" for n in range(1, len(found) + 1)]
    lines += ["", "loops:"]
    for loop, walk in zip(loops, found, strict=True):
        lines.append(f"  {loop}: {{{', '.join(_loop(model, walk, first))}}}")
    lines += ["", "faces:"]
    for loop, walk in zip(loops, found, strict=True):
        for n, side in enumerate(walk.sides):
            lines += _face(loop, n, side, walk)
    levels = [s for loop, walk in zip(loops, found, strict=True) for s in stories(loop, walk)]
    if levels:
        lines += ["", "storeys:", *levels]
    return "\n".join(lines) + "\n"


def _m(value: float) -> str:
    return f"{round(value, 4) + 0.0:.4f} m"


def _azimuth(side: Side, north_deg: float) -> float:
    """Return where the face looks, clockwise from true north. Outside lies to the right of the walk."""
    outward = side.heading - 90.0
    return (90.0 - outward - north_deg) % 360.0


def _loop(model: Model, walk: Walk, first: Side | None) -> list[str]:
    start = walk.sides[0]
    out = [f"base: {_m(min(s.low for s in walk.sides))}", f"closed: {'yes' if walk.closed else 'no'}"]
    if first is not None and start is not first:
        # in the plan the job draws, the first face of all runs along +x from (0, 0)
        turn = math.radians(-first.heading)
        dx, dy = start.start[0] - first.start[0], start.start[1] - first.start[1]
        x, y = dx * math.cos(turn) - dy * math.sin(turn), dx * math.sin(turn) + dy * math.cos(turn)
        out.append(f"origin: [{_m(x)}, {_m(y)}]")
        if model.north_deg is not None:
            out.append(f"first_face_azimuth: {_azimuth(start, model.north_deg):.2f}")
    return out


def _face(loop: str, n: int, side: Side, walk: Walk) -> list[str]:
    out = [f"  - id: {loop}-f{n + 1}", f"    loop: {loop}", f"    width: {_m(side.width)}"]
    if walk.closed:
        turn = (walk.sides[(n + 1) % len(walk.sides)].heading - side.heading + 180.0) % 360.0 - 180.0
        out.append(f"    turn: {turn:.4f}")
    base = min(s.low for s in walk.sides)
    out.append(f"    height: {_m(side.high)}")
    if side.low > base + 1e-4:
        out.append(f"    base: {_m(side.low)}")
    if side.cuts:
        out.append("    openings:")
        out += [
            f"      - {{id: o{c.id}, kind: {c.kind}, left: {_m(c.left)}, sill: {_m(c.sill)}, width: {_m(c.right - c.left)}, "
            f"height: {_m(c.head - c.sill)}, state: kept}}" + ("" if c.filled else "  # nothing fills it in the model")
            for c in side.cuts
        ]
    return out


def stories(loop: str, walk: Walk) -> list[str]:
    """Return the lines of a walk's stories; levels that are a foundation or a roof line are left out."""
    mine = sorted(walk.levels, key=lambda level: level.elevation)
    ends = [*(level.elevation for level in mine[1:]), max(s.high for s in walk.sides)]
    return [
        f"  - {{id: {loop}-s{n}, loop: {loop}, floor: {_m(level.elevation)}, ceiling: {_m(end)}}}"
        for n, (level, end) in enumerate(zip(mine, ends, strict=True), 1)
        if end > level.elevation + LOWEST_STORY_M
    ]
