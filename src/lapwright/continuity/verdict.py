"""From edges to findings, and the figures that each edge carries: what drains to it, where a drop comes out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely

from lapwright.continuity.drops import follow
from lapwright.continuity.edges import HAIR_M
from lapwright.continuity.model import DropRules, Edge
from lapwright.continuity.wall import Wall
from lapwright.findings import Finding, Level, Where
from lapwright.lengths import show_both

WATER_PATHS = frozenset({"unit", "flashing"})  # layers behind which water is meant to run out
POUR_M = 0.3  # a pour spreads a foot to each side; common practice
JOINED = frozenset({"flashing", "strip", "film"})
SHORT_FINDING_M = 0.01  # weak stretches shorter than 1 cm in all are knife ends, listed but not told


def filled(wall: Wall, edges: Sequence[Edge], rules: DropRules) -> list[Edge]:
    """Return the edges of a wall with what drains to each (m2) and, for weak ones, where a drop that enters ends."""
    if not edges:
        return []
    mid = np.array([[(e.segment[0][k] + e.segment[1][k]) / 2 for k in (0, 1)] for e in edges])
    width = np.array([max(abs(e.segment[1][0] - e.segment[0][0]), 0.0) for e in edges])
    width = np.where([e.role == "side" for e in edges], rules.creep_m, width)
    area = width * np.maximum(_under_roofs(wall, mid, _top_over(wall, mid[:, 0])) - mid[:, 1], 0.0)
    for x, y, poured in wall.pours:  # all of it, on each edge that it passes
        ends = np.array([[e.segment[0][0], e.segment[1][0]] for e in edges])
        hit = (ends.min(axis=1) <= x + POUR_M) & (ends.max(axis=1) >= x - POUR_M) & (mid[:, 1] < y)
        area = area + np.where(hit, poured, 0.0)
    out = []
    for edge, (x, y), drains in zip(edges, mid.tolist(), area.tolist(), strict=True):
        if edge.state in ("shingled", "not_seen") or edge.role == "drain":
            out.append(replace(edge, drains_m2=drains))
            continue
        (ax, ay), (bx, by) = edge.segment
        behind = x - (by - ay) / math.hypot(bx - ax, by - ay) * HAIR_M  # past the rim of the sheet, not on it
        path = follow(wall, behind, y - HAIR_M * 2, _beneath(wall, edge, x, y))
        out.append(
            replace(
                edge,
                drains_m2=drains,
                out=path.piece if path.ends == "out" else "",
                trapped=path.piece or "the bare wall" if path.ends == "trapped" else "",
            )
        )
    return out


def _under_roofs(
    wall: Wall, mid: np.ndarray[tuple[int, int], np.dtype[np.float64]], tops: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return up to which height the wall drains to each edge: to its top, or to the roof against it that is in the way."""
    if wall.roofs.is_empty:
        return tops
    up = shapely.linestrings(np.stack([mid, np.column_stack([mid[:, 0], np.maximum(tops, mid[:, 1] + 1e-3)])], axis=1))
    low = shapely.bounds(shapely.intersection(up, wall.roofs))[:, 1]
    return np.where(np.isnan(low), tops, np.maximum(low, mid[:, 1]))


def _top_over(
    wall: Wall, xs: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the height of the wall's top over each x (the highest rim of its outline there)."""
    pts = np.array(wall.outline.exterior.coords)
    best = np.full(len(xs), -np.inf)
    for (x0, y0), (x1, y1) in zip(pts[:-1, :2], pts[1:, :2], strict=True):
        low, high = min(x0, x1), max(x0, x1)
        inside = (xs >= low - 1e-9) & (xs <= high + 1e-9)
        if high - low < 1e-9:
            best[inside] = np.maximum(best[inside], max(y0, y1))
        else:
            best[inside] = np.maximum(best[inside], y0 + (y1 - y0) * (xs[inside] - x0) / (x1 - x0))
    return best


def _beneath(wall: Wall, edge: Edge, x: float, y: float) -> int | None:
    """Return the sheet just beneath the edge's own, on whose face a drop runs that got behind it."""
    n = wall.index[edge.piece]
    (ax, ay), (bx, by) = edge.segment
    length = math.hypot(bx - ax, by - ay)
    inside = (x - (by - ay) / length * HAIR_M, y + (bx - ax) / length * HAIR_M)
    here = wall.sheets_at(np.array([inside]))[0]
    below = wall.stacked([k for k in here if k != n and not wall.over(k, n, *inside)], *inside)
    return below[-1] if below else None


def told(walls: Iterable[Wall], edges: Sequence[Edge], rules: DropRules) -> list[Finding]:
    """Return the findings of all edges: reverse laps, sealed drains, open edges; one per pair of pieces and kind.

    Edges that rely on glue without lapping backwards are no finding: they are listed with the drawings.
    """
    by_wall = {w.surface: w for w in walls}
    groups: dict[tuple[str, str, str, str], list[Edge]] = {}
    for edge in edges:
        wall = by_wall[edge.surface]
        code = _code(wall, edge)
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
    if edge.state == "open":
        return {"entry": "edge.open", "side": "edge.side_open", "drain": "edge.no_outlet"}[edge.role]
    return ""


WORDS: dict[str, tuple[Level, str, str, str, str]] = {
    "lap.reverse": (
        "stop",
        "{piece} laps the wrong way over {by}: its upper edge takes in what runs down, over {length}.",
        "Water that runs down {by} goes behind {piece}{where}; glue is no lap.",
        "Bring {by} down over {piece}, or slit {by} above it and tuck the upper edge of {piece} under the flap.",
        "IRC R703.2; common practice",
    ),
    "lap.reverse_taped": (
        "warn",
        "{piece} laps the wrong way over {by_under}; only tape or film holds the water out, over {length}.",
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
        "piece": piece, "by": by or "the sheet above", "by_under": "the sheet that goes on beneath it", "where": where,
        "length": show_both(length),
    }  # fmt: skip
    (x, y), _ = worst.segment
    return Finding(
        code, level, what.format(**words), why.format(**words), fix.format(**words),
        Where(surface=surface, thing=piece, x_m=x, y_m=y), source,
    )  # fmt: skip
