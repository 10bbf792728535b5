"""From edges to findings, and the figures that each edge carries: what drains to it, where a drop comes out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely

from lapwright.continuity.creep import traps
from lapwright.continuity.drops import follow
from lapwright.continuity.edges import HAIR_M
from lapwright.continuity.model import DropRules, Edge
from lapwright.continuity.wall import Wall
from lapwright.findings import Finding, Level, Where
from lapwright.lengths import show_both

WATER_PATHS = frozenset({"unit", "flashing"})  # layers behind which water is meant to run out
JOINED = frozenset({"flashing", "strip", "film"})
SHORT_FINDING_M = 0.01  # weak stretches shorter than 1 cm in all are knife ends, listed but not told


def filled(wall: Wall, edges: Sequence[Edge], rules: DropRules) -> list[Edge]:
    """Return the edges of a wall, the weak ones with where a drop that enters there ends (`out` or `trapped`)."""
    found = traps(wall, edges, rules)
    weak = [
        i for i, e in enumerate(found)
        if e.state not in ("shingled", "not_seen") and e.role != "drain" and e.spot is None
    ]  # fmt: skip
    if not weak:
        return found
    ends = np.array([(*found[i].segment[0], *found[i].segment[1]) for i in weak])
    mid, way = (ends[:, :2] + ends[:, 2:]) / 2, ends[:, 2:] - ends[:, :2]
    way = way / np.hypot(way[:, 0], way[:, 1])[:, None] * HAIR_M
    inside = mid + way[:, ::-1] * np.array([-1.0, 1.0])  # rings run with the sheet on their left
    here = wall.sheets_at(inside)
    for i, (_, y), (ix, iy), stack in zip(weak, mid.tolist(), inside.tolist(), here, strict=True):
        n = wall.index[found[i].piece]  # a drop that got behind it runs on the face of the sheet just beneath
        below = wall.stacked([k for k in stack if k != n and not wall.over(k, n, ix, iy)], ix, iy)
        spot = (ix, y - HAIR_M * 2)  # past the rim of the sheet, not on it
        path = follow(wall, *spot, below[-1] if below else None)
        found[i] = replace(
            found[i],
            spot=spot,
            out=path.piece if path.ends == "out" else "",
            trapped=path.piece or "the bare wall" if path.ends == "trapped" else "",
        )
    return found


def told(walls: Iterable[Wall], edges: Sequence[Edge], rules: DropRules) -> list[Finding]:
    """Return the findings of all edges: reverse laps, sealed drains, open edges; one per pair of pieces and kind.

    Edges that rely on glue without lapping backwards are no finding: they are listed with the drawings.
    """
    by_wall = {w.surface: w for w in walls}
    groups: dict[tuple[str, str, str, str], list[Edge]] = {}
    codes = [_code(by_wall[e.surface], e) for e in edges]
    shut: dict[tuple[str, str], float] = {}
    for e, code in zip(edges, codes, strict=True):
        if code == "drain.sealed":
            shut[e.surface, e.piece] = shut.get((e.surface, e.piece), 0.0) + e.length_m
    sealed = {who for who, length in shut.items() if length >= SHORT_FINDING_M}  # a shorter one is not told
    for edge, code in zip(edges, codes, strict=True):
        wall = by_wall[edge.surface]
        if code == "lap.traps" and (edge.surface, edge.piece) in sealed:
            continue  # what stays behind it stays there by its sealed drain, which is told
        if code:
            sheet = wall.sheets[wall.index[edge.piece]]
            # one mistake is one finding: the lengths of one flashing or strip at one joint belong together
            what = (f"{sheet.place} {sheet.role}", "") if sheet.place and sheet.layer in JOINED else (sheet.id, edge.by)
            groups.setdefault((code, edge.surface, *what), []).append(edge)
    out = []
    for (code, surface, _, _), mine in groups.items():
        length = sum(e.length_m for e in mine)
        if length < SHORT_FINDING_M:
            continue
        worst = max(mine, key=lambda e: e.length_m)
        out.append(_finding(code, surface, worst, length))
    return out


def _code(wall: Wall, edge: Edge) -> str:
    sheet = wall.sheets[wall.index[edge.piece]]
    if edge.sealed_drain and sheet.layer in WATER_PATHS:
        return "drain.sealed"
    if edge.reverse:
        return "lap.reverse" if edge.state == "open" else "lap.reverse_taped"
    if edge.crept:
        return "lap.traps" if edge.state == "open" else ""
    if edge.state == "open":
        if edge.role == "drain":
            return "edge.behind_kept" if _onto_kept(wall, edge) else "edge.no_outlet"
        return "edge.open" if edge.role == "entry" else "edge.side_open"
    return ""


def _onto_kept(wall: Wall, edge: Edge) -> bool:
    """Return whether what drains off an edge lands behind kept cladding."""
    (ax, ay), (bx, by) = edge.segment
    return bool(shapely.intersects_xy(wall.kept, (ax + bx) / 2, min(ay, by) - 2 * HAIR_M))


WORDS: dict[str, tuple[Level, str, str, str, str]] = {
    "lap.reverse": (
        "stop",
        "{piece} laps the wrong way over {by}: its upper edge takes in what runs down, over {length}.",
        "Water that runs down {by} goes behind {piece}{where}; glue is no lap.{lacks}",
        "Bring {by} down over {piece}, or slit {by} above it and tuck the upper edge of {piece} under the flap.",
        "IRC R703.2; common practice",
    ),
    "lap.reverse_taped": (
        "warn",
        "{piece} laps the wrong way over {by}; only tape or film holds the water out, over {length}.",
        "It relies on glue for as long as the wall stands{where}.",
        "Better to bring the sheet above down over it; if not, check the tape 1 in past the edge on both sides and photograph it.",
        "IRC R703.2; common practice",
    ),
    "drain.sealed": (
        "stop",
        "The lower edge of {piece} is sealed by {by}, over {length}.",
        "Water that gets behind {piece} cannot run out and rots what is below.",
        "Take {by} off the lower edge; seal sides and head only.",
        "ASTM E2112, general practice",
    ),
    "edge.open": (
        "stop",
        "Nothing covers the upper edge of {piece}, over {length}.",
        "What runs down the wall goes behind it{where}.",
        "Carry the sheet above down over it by 2 in or more.",
        "IRC R703.2",
    ),
    "edge.side_open": (
        "warn",
        "The side of {piece} laps too little and nothing holds it, over {length}.",
        "Water creeps sideways along a lap; 6 in pass by themselves.",
        "Make the lap 6 in wide, or tape it.",
        "IRC R703.2: joints at least 6 in",
    ),
    "lap.traps": (
        "stop",
        "What creeps in at the side of {piece} cannot get out again, over {length}.",
        "It lands on {by}{where}: a sealed drain, or a plane that ends inside the wall.",
        "Let {by} run on to where it comes out over what is below, or take off what seals the foot of the lap; else tape the side.",
        "IRC R703.1.1; common practice",
    ),
    "edge.behind_kept": (
        "stop",
        "{piece} ends behind kept cladding, over {length}.",
        "A drainage plane ends outside the face of the cladding below it; behind old siding the water stays.",
        "A flashing beneath its lower edge, out over what is kept; or cut the old cladding back.",
        "IRC R703.1.1",
    ),
    "edge.no_outlet": (
        "stop",
        "{piece} drains onto bare wall, over {length}.",
        "A drainage plane ends outside the face of what is below it, or on the next sheet.",
        "Bring a sheet or flashing up behind its lower edge by 2 in or more.",
        "IRC R703.1.1",
    ),
}


def _finding(code: str, surface: str, worst: Edge, length: float) -> Finding:
    level, what, why, fix, source = WORDS[code]
    piece, by = worst.piece, worst.by
    where = (
        f" and stays behind {worst.trapped}"
        if worst.trapped
        else f" and comes out below {worst.out}"
        if worst.out
        else ""
    )
    words = {
        "piece": piece, "by": by or "the sheet above", "where": where, "length": show_both(length),
        "lacks": f" What is stuck over it does not count: {worst.lacks}." if worst.lacks else "",
    }  # fmt: skip
    (x, y), _ = worst.segment
    return Finding(
        code, level, what.format(**words), why.format(**words), fix.format(**words),
        Where(surface=surface, thing=piece, x_m=x, y_m=y), source,
    )  # fmt: skip
