"""What changed between two plans: pieces, order, findings, chalk lines, by id."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

Row = Mapping[str, Any]

# What makes a piece another piece for the crew: its shape, place, stuff and what it lies on, not its number in time.
PIECE_KEYS = ("surface", "plane", "polygon", "product", "role", "layer")


def compare(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, Any]:
    """Return the difference of two plan documents (keys of contract.md): per list `added`, `removed`, `changed`.

    Pieces are compared by shape, place and product; order rows by need, packs and price; findings by code,
    place and text; lines by surface, layer and height; edges by piece, role and place. What one of the two lacks
    is left out.
    """
    out: dict[str, Any] = {}
    for name, key, watched, numbers in LISTS:
        if name in before and name in after:
            out[name] = _diff(before[name], after[name], key, watched, numbers)
    if "bid" in before and "bid" in after:
        out["bid"] = {
            k: [before["bid"].get(k), after["bid"].get(k)]
            for k in ("material", "labor", "allowance", "total", "hours")
            if before["bid"].get(k) != after["bid"].get(k)
        }
    return out


def _finding_key(row: Row) -> str:
    where = row["where"]
    return f"{row['code']} {where.get('surface', '')} {where.get('thing', '')} {row['what']}"


def _diff(
    before: Sequence[Row],
    after: Sequence[Row],
    key: Callable[[Row], str],
    watched: Sequence[str],
    numbers: bool = False,
) -> dict[str, Any]:
    old, new = {key(r): r for r in before}, {key(r): r for r in after}
    changed = []
    for name in (k for k in new if k in old):
        moved = {w: [old[name].get(w), new[name].get(w)] for w in watched if old[name].get(w) != new[name].get(w)}
        if moved:
            changed.append({"id": name, **(moved if numbers else {"what": sorted(moved), "values": moved})})
    return {
        "added": [k for k in new if k not in old],
        "removed": [k for k in old if k not in new],
        "changed": changed,
        "same": len([k for k in new if k in old]) - len(changed),
    }


def _edge_key(row: Row) -> str:
    (x, y), (u, v) = row["segment"]
    return f"{row['piece']} {row['role']} {x:g} {y:g} to {u:g} {v:g}"


# list, what tells its rows apart, what of a row is watched, whether the values are shown as they are
LISTS: tuple[tuple[str, Callable[[Row], str], tuple[str, ...], bool], ...] = (
    ("pieces", lambda r: r["id"], PIECE_KEYS, False),
    ("order", lambda r: r["product"], ("need", "packs", "price"), True),
    ("findings", _finding_key, ("level", "fix"), False),
    ("lines", lambda r: f"{r['surface']}/{r['layer']} {r['for']}", ("y_m", "x_from_m", "x_to_m"), False),
    ("edges", _edge_key, ("state", "by"), False),
)
