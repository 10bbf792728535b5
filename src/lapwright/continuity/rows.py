"""An arrangement of sheets somebody wrote down: `surfaces`, `pieces`, `laps` as in plan.json, whatever is missing taken by default.

Defaults: a surface that is not described is the box round its pieces; a piece without `installed` comes in the
order written, without `layer` it is barrier, without `held` loose, without `checked` it is looked at before it is
covered; a strip, film or tape that reaches into an opening turns in there; two overlapping pieces without a lap lie as
they were installed, later over earlier.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shapely import Polygon
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from lapwright.catalog.load import load
from lapwright.compatible import Bonds
from lapwright.continuity.build import ROOFS, WATER_LAYERS, pour_of
from lapwright.continuity.model import Over, Sheet
from lapwright.continuity.turned import folds_of
from lapwright.continuity.wall import Wall
from lapwright.details.bays import attachment_shape
from lapwright.findings import BadJob, Finding, Where
from lapwright.geometry import SLIVER_M2, box, from_rings, merged
from lapwright.survey.model import Attachment

Row = Mapping[str, Any]
TOUCH_M = 1e-3  # pieces nearer than this touch
LAYERS = WATER_LAYERS | {
    "primer",
    "sealant",
    "insulation",
    "sheathing",
    "mat",
    "furring",
    "fastener",
    "vapor",
    "slab",
    "cladding",
}


def read_rows(path: Path) -> list[Wall]:
    """Return the walls of a pieces file. Raises BadJob with every fault found: what it is, where, how to mend it."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as exc:
        raise BadJob(
            [_bad(path, "pieces.unreadable", f"{path.name} cannot be read: {exc}.", "It is a JSON file in UTF-8.")]
        ) from exc
    if not isinstance(data, dict) or not isinstance(data.get("pieces"), list):
        raise BadJob(
            [
                _bad(
                    path,
                    "pieces.missing",
                    f"{path.name} holds no list of pieces.",
                    'Write {"pieces": [...], "laps": [...]}.',
                )
            ]
        )
    faults: list[Finding] = []
    sheets, parts = _sheets(data["pieces"], path, faults)
    laps = _laps(data.get("laps") or [], sheets, {p.id for p in parts}, path, faults)
    walls = _walls(data.get("surfaces") or [], sheets, parts, laps, path, faults)
    faults += _rings(laps, path)
    if faults:
        raise BadJob(faults)
    return walls


def said(walls: Sequence[Wall], file: str) -> list[Finding]:
    """Return what is odd about an arrangement that can be tested all the same: pieces that touch no other."""
    out = []
    for wall in walls:
        if len(wall.sheets) < 2:
            continue
        pairs = wall.tree.query(wall.shapes, predicate="dwithin", distance=TOUCH_M)
        met = {int(a) for a, b in zip(*pairs, strict=True) if a != b}
        out += [
            Finding(
                "pieces.alone", "warn", f"{s.id} touches no other piece of {wall.surface}.",
                "Nothing covers it and it covers nothing: is it on the right surface, and in meters?",
                "Check its polygon, or take it out.", Where(file=file, surface=wall.surface, thing=s.id),
            )
            for n, s in enumerate(wall.sheets)
            if n not in met
        ]  # fmt: skip
    return out


def _rings(laps: Sequence[Over], path: Path) -> list[Finding]:
    """Return the laps that go round in a ring at one spot: a over b, b over c, c over a."""
    under: dict[str, list[Over]] = defaultdict(list)
    for lap in laps:
        under[lap.over].append(lap)
    out = []
    for one in laps:
        for two in under[one.under]:
            for three in under[two.under]:
                names = (one.over, two.over, three.over)
                if three.under != one.over or names[0] != min(names):
                    continue
                if one.polygon.intersection(two.polygon).intersection(three.polygon).area > SLIVER_M2:
                    what = f"{names[0]} lies over {names[1]}, {names[1]} over {names[2]}, {names[2]} over {names[0]}, at one spot."
                    out.append(_bad(path, "laps.ring", what, "Turn one of the three laps.", names[0]))
    return out


def _bad(path: Path, code: str, what: str, fix: str, thing: str | None = None) -> Finding:
    return Finding(code, "stop", what, "The drop test works on surfaces, pieces and laps as in plan.json.", fix,
                   Where(file=path.name, thing=thing))  # fmt: skip


def _polygon(value: Any) -> Polygon | None:
    """Return a polygon of GeoJSON rings, or of one ring; None when it is none."""
    try:
        rings = value["coordinates"] if isinstance(value, dict) else value
        if rings and isinstance(rings[0][0], int | float):
            rings = [rings]
        poly = from_rings([[(float(x), float(y)) for x, y in ring] for ring in rings])
    except (TypeError, ValueError, KeyError, IndexError, ShapelyError):
        return None
    return poly if poly.is_valid and poly.area > SLIVER_M2 else None


@dataclass(frozen=True)
class _Part:
    """Any piece of the file, whatever its plane and layer: what it turns into is asked of these."""

    id: str
    surface: str
    plane: str
    polygon: Polygon
    layer: str
    role: str
    cut: str | None
    place: str
    facts: Mapping[str, Any]


@dataclass(frozen=True)
class _Surface:
    outline: Polygon


def _sheets(rows: Sequence[Any], path: Path, faults: list[Finding]) -> tuple[list[Sheet], list[_Part]]:
    """Return the sheets that shed water on a face, and all pieces."""
    every: list[_Part] = []
    out: list[Sheet] = []
    seen: set[str] = set()
    for n, row in enumerate(rows):
        name = str(row.get("id", f"piece-{n + 1}")) if isinstance(row, dict) else f"piece {n + 1}"
        if not isinstance(row, dict):
            faults.append(
                _bad(
                    path, "pieces.row", f"{name} is no object.", "Write each piece in braces with id and polygon.", name
                )
            )
            continue
        poly = _polygon(row.get("polygon"))
        if poly is None:
            faults.append(_bad(path, "pieces.polygon", f"The polygon of {name} is none, crosses itself or has no area.",
                               "Give its corners in order, first = last.", name))  # fmt: skip
            continue
        if name in seen:
            faults.append(
                _bad(path, "pieces.twice", f"There are two pieces called {name}.", "Give each its own id.", name)
            )
            continue
        seen.add(name)
        layer = str(row.get("layer", "barrier"))
        if layer not in LAYERS:
            faults.append(
                _bad(
                    path,
                    "pieces.layer",
                    f"{name} has the layer {layer}, which there is not.",
                    f"One of: {', '.join(sorted(LAYERS))}.",
                    name,
                )
            )
            continue
        facts, cut = _facts(row), row.get("cut")
        every.append(
            _Part(name, str(row.get("surface", "wall")), str(row.get("plane", "face")), poly, layer, str(row.get("role", "")),
                  cut if isinstance(cut, str) else None, str(row.get("place", "")), facts)
        )  # fmt: skip
        # tape on the outside of foam, a flange on a buck: not in the plane that water drains along
        if every[-1].plane != "face" or layer not in WATER_LAYERS or facts.get("on"):
            continue
        order = row.get("installed", n + 1)
        out.append(
            Sheet(
                name, str(row.get("surface", "wall")), poly, layer, str(row.get("role", "")),
                int(order) if isinstance(order, int | float) else n + 1, str(row.get("held", "loose")),
                row.get("product"), bool(row.get("hides", False)), facts, str(row.get("place", "")), str(row.get("step", "")),
                row.get("checked") is not False,
            )
        )  # fmt: skip
    return out, every


def _facts(row: Row) -> dict[str, object]:
    facts = row.get("facts")
    return dict(facts) if isinstance(facts, dict) else {}


def _laps(
    rows: Sequence[Any], sheets: Sequence[Sheet], known: Set[str], path: Path, faults: list[Finding]
) -> list[Over]:
    by_id = {s.id: s for s in sheets}
    out: list[Over] = []
    told: dict[tuple[str, str], list[BaseGeometry]] = defaultdict(list)
    for n, row in enumerate(rows):
        over, under = (row.get("over"), row.get("under")) if isinstance(row, dict) else (None, None)
        name = f"lap {n + 1} ({over} over {under})"
        if {over, under} <= known and not {over, under} <= by_id.keys():
            continue  # a lap of mats, say: no water runs along it
        if over not in by_id or under not in by_id:
            faults.append(
                _bad(
                    path,
                    "laps.unknown",
                    f"{name} names a piece that there is not.",
                    "Name two pieces of the list.",
                    name,
                )
            )
            continue
        a, b = by_id[str(over)], by_id[str(under)]
        both = a.polygon.intersection(b.polygon)
        area = _polygon(row["polygon"]) if row.get("polygon") is not None else both
        if a.surface != b.surface or both.area <= SLIVER_M2 or area is None:
            faults.append(
                _bad(
                    path,
                    "laps.apart",
                    f"{name}: the two do not overlap.",
                    "Take the lap out, or move the pieces together.",
                    name,
                )
            )
            continue
        if any(g.intersection(area).area > SLIVER_M2 for g in told[b.id, a.id]):
            faults.append(
                _bad(
                    path,
                    "laps.both",
                    f"{name}: another lap says the opposite at the same spot.",
                    "Keep one of the two.",
                    name,
                )
            )
            continue
        told[a.id, b.id].append(area)
        out.append(Over(a.id, b.id, a.surface, area, str(row.get("held", a.held))))
    return out


def _walls(
    rows: Sequence[Any], sheets: Sequence[Sheet], parts: Sequence[_Part], laps: Sequence[Over], path: Path, faults: list[Finding]
) -> list[Wall]:
    described = {str(r["id"]): r for r in rows if isinstance(r, dict) and "id" in r}
    mine: dict[str, list[Sheet]] = defaultdict(list)
    for sheet in sheets:
        mine[sheet.surface].append(sheet)
    by_cut: dict[str, list[_Part]] = defaultdict(list)
    for part in parts:
        if part.cut is not None:
            by_cut[part.cut].append(part)
    out: list[Wall] = []
    bonds = Bonds(load(path.parent)[0])  # products are known by name, those of a catalog.yaml beside the file too
    for surface, found in mine.items():
        row = described.get(surface, {})
        around = merged(s.polygon for s in found).bounds
        outline = _polygon(row["outline"]) if "outline" in row else box(*around)
        if outline is None:
            faults.append(_bad(path, "surfaces.outline", f"The outline of {surface} is none, crosses itself or has no area.",
                               "Give its corners in order, first = last.", surface))  # fmt: skip
            continue
        openings = _things(row.get("openings"))
        fixed = _attached(row.get("attachments"), surface)
        face = _Surface(outline)
        here = {s.id for s in found}
        bodies = merged(
            [_things(row.get("penetrations")).buffer(TOUCH_M)]
            + [attachment_shape(a, face) for a in fixed if a.kind in ("chimney", "deck_ledger")]
        )
        folds = _turned_in([s for s in found if not any(p.id == s.id and p.cut for p in parts)], openings)
        folds |= folds_of([p for p in parts if p.id in here], by_cut, openings, outline.bounds[2], bodies)
        out.append(
            Wall(
                surface, outline, found, [x for x in laps if x.surface == surface], bonds=bonds, folds=folds,
                pans=_panned(surface, parts, row.get("openings")), holes=openings, bodies=bodies,
                kept=_things([z for z in row.get("zones") or [] if z.get("decision") == "keep"]),
                roofs=merged(attachment_shape(a, face) for a in fixed if a.kind in ROOFS),
                pours=[p for a in fixed if (p := pour_of(a, face)) is not None],
            )
        )  # fmt: skip
    return out


def _attached(rows: Any, surface: str) -> list[Attachment]:
    """Return the attachments of a surface as plan.json holds them; a row that does not read is left out."""
    out = []
    for row in rows or []:
        try:
            (a, b), (c, d) = row["line"]
            out.append(
                Attachment(
                    str(row["id"]), surface, row["kind"], (float(a), float(b)), (float(c), float(d)), float(row.get("depth_m") or 0.0),
                    polygon=_polygon(row["polygon"]) if row.get("polygon") else None, below=row.get("below", "outside"),
                    ends=tuple(row.get("ends") or ("open", "open")),
                )
            )  # fmt: skip
        except (TypeError, ValueError, KeyError):
            continue
    return out


def _turned_in(sheets: Sequence[Sheet], openings: BaseGeometry) -> dict[str, BaseGeometry]:
    """Return the rims along which strips, film and tape reach into an opening: they turn in there."""
    inside = openings.buffer(TOUCH_M)
    rims = {s.id: s.polygon.boundary.intersection(inside) for s in sheets if s.layer in ("strip", "film", "tape")}
    return {name: rim for name, rim in rims.items() if not rim.is_empty}


def _panned(surface: str, parts: Sequence[_Part], rows: Any) -> BaseGeometry:
    """Return the openings whose sill a strip, pan or film turns onto: what gets in there runs out over it."""
    told = {p.place for p in parts if p.plane == "sill" and p.role in ("sill-strip", "sill-pan")}
    told |= {p.place for p in parts if str(p.facts.get("claim", "")).endswith("/reveal-film")}
    drawn = [p for p in parts if p.surface == surface and p.layer in ("strip", "film") and not p.cut]
    found = []
    for row in (r for r in rows or [] if isinstance(r, dict)):
        poly = _polygon(row.get("polygon"))
        if poly is None:
            continue
        x0, y0, x1, _ = poly.bounds
        sill = box(x0, y0 - TOUCH_M, x1, y0 + TOUCH_M)
        if f"{surface}/{row.get('id')}" in told or any(p.polygon.intersection(sill).area > 0.5 * sill.area for p in drawn):
            found.append(poly)
    return merged(found)


def _things(rows: Any) -> BaseGeometry:
    found = [_polygon(r.get("polygon")) for r in rows or [] if isinstance(r, dict)]
    return merged(p for p in found if p is not None)
