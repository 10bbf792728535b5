"""The cutting pages: sheets and rolls drawn with their knife sequence, sticks and narrow rolls as lists."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby
from typing import Any

from lapwright.packet.rolls import EDGE_M, KERF_M, PAPER_ROLL, Placed, groups, knife_sequence, placed, roll_drawing
from lapwright.packet.view import Row, View
from lapwright.packet.words import bound_words

SHORT = 3.0  # a board shorter than this many times its width stands beside another
SHORT_WIDTH = 0.48  # of the paper, for such a board
NARROW_M = 0.2  # stock narrower than this that comes in lengths is never drawn


def stock(view: View, drawings: dict[str, str], width: float) -> list[dict[str, Any]]:
    """Return the stock by product. Drawings, as wide as that on paper, are added to `drawings` by file name.

    `listed`: units that are cut across only, each with its pieces in order from the left end.
    `drawn`: units with a drawing and the knife sequence; `worded`: sticks with the knife sequence alone.
    """
    out: dict[str, dict[str, Any]] = {}
    products = view.doc.get("products") or {}
    for stock_id, unit in view.stock.items():
        if not view.cuts_on[stock_id]:
            continue
        product = unit["product"]
        title = {"title": view.product(product), "tag": view.tags[product], "bound": bound_words(view, product)}
        entry = out.setdefault(product, title | {"folds": "", "listed": [], "worded": [], "drawn": []})
        head = {"id": view.rolls[stock_id], "size": view.size(unit["length_m"], unit["width_m"])}
        items = placed(view, stock_id)
        stick = (products.get(product) or {}).get("form") == "length" and unit["width_m"] < NARROW_M
        if across_only(items):
            entry["listed"].append(head | _list(view, unit, items))
            entry["folds"] = _folds(view, items) if entry["folds"] in ("", _folds(view, items)) else "differ"
            continue
        knife = [{"depth": k.depth, "words": k.words} for k in knife_sequence(view, stock_id)]
        if stick:
            entry["worded"].append(head | {"knife": knife})
            continue
        drawing = f"roll-{view.files[stock_id]}.svg"
        short = unit["length_m"] < SHORT * unit["width_m"]
        set_as = replace(PAPER_ROLL, width=width * (SHORT_WIDTH if short else 1.0))
        drawings[drawing] = roll_drawing(view, stock_id, set_as)
        entry["drawn"].append(head | {"drawing": drawing, "knife": knife, "short": short})
    for entry in out.values():
        sizes = {u["size"] for kind in ("listed", "worded", "drawn") for u in entry[kind]}
        entry["size"] = sizes.pop() if len(sizes) == 1 else ""
    return list(out.values())


def worded(view: View) -> list[dict[str, Any]]:
    """Return the stock by product in words alone: per unit its pieces from the left end, or the knife sequence."""
    out: dict[str, dict[str, Any]] = {}
    for stock_id, unit in view.stock.items():
        if not view.cuts_on[stock_id]:
            continue
        product = unit["product"]
        entry = out.setdefault(product, {"title": view.product(product), "tag": view.tags[product], "units": []})
        items = placed(view, stock_id)
        said: dict[str, Any] = {"id": view.rolls[stock_id], "size": view.size(unit["length_m"], unit["width_m"])}
        if across_only(items):
            own = _list(view, unit, items)
            many = [f"{p['count']} × " if p["count"] > 1 else "" for p in own["pieces"]]
            pieces = [f"{n}{p['size']} {p['for']}" for n, p in zip(many, own["pieces"], strict=True)]
            said |= {"pieces": [*pieces, f"{own['left']} left"] if own["left"] else pieces}
        else:
            said |= {"pieces": [], "knife": [(k.depth, k.words) for k in knife_sequence(view, stock_id)]}
        entry["units"].append(said)
    for entry in out.values():
        sizes = {u["size"] for u in entry["units"]}
        entry["size"] = sizes.pop() if len(sizes) == 1 else ""
    return list(out.values())


def bound_notes(bounds: Iterable[Row]) -> dict[str, list[str]]:
    """Return what the bounds leave out, each said once, with the products that it holds for."""
    out: dict[str, list[str]] = {}
    for row in bounds:
        if row["leaves_out"]:
            out.setdefault(str(row["leaves_out"]), []).append(str(row["product"]))
    return out


def across_only(items: list[Placed]) -> bool:
    """Whether cuts straight across free every piece, without waste but at the end and the far edge."""
    done = 0.0
    for group in groups(items, 0):
        x0, y0, x1, y1 = group[0].box
        whole = len(group) == 1 and group[0].shape.area > (x1 - x0) * (y1 - y0) - 1e-6
        if not whole or x0 - done > KERF_M or y0 > EDGE_M or group[0].slits.length > 0:
            return False
        done = x1
    return True


def _list(view: View, unit: Row, items: list[Placed]) -> dict[str, Any]:
    """Return the pieces of a unit that is cut across only; neighbors of one size stand together."""
    wide = float(unit["width_m"])

    def size(item: Placed) -> str:
        x0, y0, x1, y1 = item.box
        return view.length(x1 - x0) if y1 - y0 > wide - EDGE_M else view.size(x1 - x0, y1 - y0)

    pieces = []
    for said, same in groupby(items, key=size):
        own = list(same)
        pieces.append({"count": len(own), "size": said, "for": labels(view, [i.cut["id"] for i in own])})
    left = float(unit["length_m"]) - max(i.box[2] for i in items)
    return {"pieces": pieces, "left": view.length(left) if left > KERF_M else ""}


def labels(view: View, cuts: list[str]) -> str:
    """Say where cuts go, a surface named once: `front mc.1, mc.2, gable mc.4`."""
    out: list[str] = []
    before = ""
    for cut in cuts:
        said = view.cut_label(cut)
        surface, _, mark = said.partition(" ")
        plain = " + " not in said
        out.append(mark if plain and surface == before else said)
        before = surface if plain else ""
    return ", ".join(out)


def _folds(view: View, items: list[Placed]) -> str:
    """Say where lengthwise folds run, when they run alike through all pieces."""
    rows = {tuple(sorted({round(y, 4) for line in i.folds.geoms for _, y in line.coords})) for i in items}
    if len(rows) != 1 or not (heights := next(iter(rows))):
        return "" if rows == {()} else "differ"
    return ", ".join(view.length(y) for y in heights)
