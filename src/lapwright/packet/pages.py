"""Gathers what the printed packet says, page by page, and hands it to the page setter."""

from __future__ import annotations

import importlib.util
import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import lru_cache, partial
from importlib import resources
from pathlib import Path
from typing import Any

from lapwright.aside import Aside
from lapwright.order.words import plain, say_amount
from lapwright.packet.air_page import air_page
from lapwright.packet.book import opening_table
from lapwright.packet.cautions import Cautions
from lapwright.packet.closeup import closeups
from lapwright.packet.closure_pages import closure_pages
from lapwright.packet.columns import height, widths
from lapwright.packet.cover import first, where
from lapwright.packet.cutting import stock
from lapwright.packet.edge_pages import edge_pages
from lapwright.packet.elevation import PAPER, Style, closeup_drawings, elevation
from lapwright.packet.fastener_pages import fastener_pages
from lapwright.packet.floors import floor_pages
from lapwright.packet.metal import metal_page
from lapwright.packet.section_pages import section_pages
from lapwright.packet.sheets import FINISH, Sheet, course_note, lap_words, paper_sheets
from lapwright.packet.steps import WHOLE, named_limits, steps_by_surface
from lapwright.packet.tables import table
from lapwright.packet.view import NOT_GIVEN, Row, View
from lapwright.packet.words import (
    figure,
    findings,
    missing,
    money,
    money_range,
    quantity,
)

# 1 January 2000, 00:00 UTC: the PDF's own clock, the same for every packet.
CREATED = 946684800
FONT_PACKAGE = "font_source_sans_pro"
EDGES = (("near edge", "far edge"), ("bottom edge", "top edge"))  # of a floor; of a wall
HEADS = {  # of the tables by kind
    "courses": ("mark", "what", "size, flat", "cut from", "{0}", "{1}", "from left"),
    "places": ("place", "mark", "what", "size, flat", "{0}", "{1}", "from left", "cut from"),
    "groups": ("", "size, flat", "what", "{0}", "marks", "cut from"),
}
METRIC = {"size, flat": ", mm"} | dict.fromkeys(("{0}", "{1}", "from left"), ", mm")  # said once, not in each cell
A4_WIDTH = 523.0  # points: 210 mm less half an inch at either side
PAGE_ROOM = 582.0  # points of a page's height that a drawing and its table share, title and figures off
SHORTEST = 220.0
SHORTEST_WITH_CLOSE_UPS = 150.0
MOST = (430.0, 260.0)  # the tallest drawing; the tallest when close-ups go on over the page
MOST_WITH_LONG_TABLE = 215.0  # the tallest when the table goes on over the page
TALLEST_PER_M = 92.0  # points of a drawing per metre of wall at most (1:31): a small wall shares a page
CLOSE_UPS = 3, 4  # beside each other, as few and as many
OWN_SHARE = 0.3  # of the time of all other drawings, for stock and steps
CLOSE_UP_GAP = 10.0


def set_pages(data: dict[str, Any], drawings: dict[str, str]) -> bytes:
    """Return the PDF that says `data`, with the drawings by file name. While it runs, other Python threads go on."""
    import typst  # here, not at the top: other views of the packet do without the page setter

    files: Any = {name: text.encode() for name, text in drawings.items()}
    files["packet.json"] = json.dumps(data, ensure_ascii=False).encode()
    files["main.typ"] = resources.files("lapwright.packet").joinpath("packet.typ").read_bytes()
    pdf = typst.compile(files, font_paths=font_paths(), ignore_system_fonts=True, timestamp=CREATED, pdf_tags=False)
    assert isinstance(pdf, bytes)
    return pdf


@lru_cache(maxsize=1)
def font_paths() -> list[str]:
    """Return the folder of the sans-serif that the packet is set in; none when it is not installed.

    Without it the fonts that the page setter carries take its place.
    """
    found = importlib.util.find_spec(FONT_PACKAGE)
    if found is None or found.origin is None:
        return []
    return [str(Path(found.origin).parent / "files")]


def contents(view: View, air: Mapping[str, Any] | None = None) -> tuple[dict[str, Any], dict[str, str]]:
    """Return everything the packet says as plain data, and its drawings as SVG texts by file name.

    air: the document of `lapwright air`, when there were fan tests.
    """
    job = view.doc["job"]
    mine, theirs = _halves(_parts(view))
    other = Aside(lambda: _made(view, theirs))
    steps = steps_by_surface(view)
    cautions = Cautions(view)
    made, drawings = _made(view, mine)
    more, drawn = other.result()
    made |= more
    drawings |= drawn
    faces = _faces(view, made, steps, cautions)
    data = {
        "job": {k: job.get(k) or "" for k in ("name", "place", "reference_line")},
        "paper": "us-letter" if view.imperial else "a4",
        "version": view.doc["version"],
        "stops": len(view.stops),
        "findings": findings(view.rows("findings")),
        "first": first(view, steps, faces),
        "where": where(faces),
        "kept": [s["id"] for s in view.surfaces.values() if _all_kept(s)],
        "scope": view.rows("scope_text"),
        "cautions": cautions.topics,
        "figures": [figure(view, k, v) for k, v in (view.doc.get("figures") or {}).items()],
        "assemblies": _assemblies(view),
        "openings": _opening_rows(view),
        "faces": faces,
        "closure": made["closure"],
        "stock": made["stock"],
        "floors": floor_pages(view),
        "metal": made["metal"],
        "fasteners": fastener_pages(view),
        "sections": section_pages(view, drawings, style(view)),
        "air": air_page(view, air, drawings),
        "order": _order(view),
        "bid": _bid(view),
    }
    return data, drawings


def style(view: View) -> Style:
    """Return how drawings are set: as wide as the paper between its margins."""
    return PAPER if view.imperial else replace(PAPER, width=A4_WIDTH)


def _assemblies(view: View) -> list[dict[str, Any]]:
    return [
        {
            "id": name,
            "layers": [
                {
                    "title": layer["title"],
                    "thickness": view.length(layer["thickness_m"]) if layer.get("thickness_m") else "",
                    "existing": bool(layer.get("existing")),
                }
                for layer in layers
            ],
        }
        for name, layers in (view.doc.get("assemblies") or {}).items()
    ]


def _opening_rows(view: View) -> list[dict[str, str]]:
    rows = opening_table(view)[2]
    names = [
        "opening",
        "face",
        "kind",
        "state",
        "size",
        "",
        "",
        "left",
        "sill",
        "unit",
        "bedroom",
        "location",
    ]
    to_m = 0.0254 if view.imperial else 0.001
    out = []
    for row in rows:
        said = {n: str(v) for n, v in zip(names, row, strict=False) if n}
        said["left"] = view.length(float(row[7] or 0) * to_m)
        said["sill"] = view.length(float(row[8] or 0) * to_m)
        out.append(said)
    return out


def _parts(view: View) -> dict[str, float]:
    """Return the parts of the book that have drawings, with about how long each takes: a surface by its pieces."""
    count = len(view.pieces)
    others = {"edges": 0.15 * count, "closure": 0.05 * count, "metal": 0.0}
    return others | {f"surface {s}": float(len(view.pieces_on[s])) for s in view.surfaces}


def _halves(parts: dict[str, float]) -> tuple[list[str], list[str]]:
    """Deal the parts out in two, long ones first, each to the lighter side. The first has the stock and the steps too."""
    sides: tuple[list[str], list[str]] = (["stock"], [])
    loads = [OWN_SHARE * sum(parts.values()), 0.0]
    for name, weight in sorted(parts.items(), key=lambda item: -item[1]):
        lighter = 0 if loads[0] <= loads[1] else 1
        sides[lighter].append(name)
        loads[lighter] += weight
    return sides


def _made(view: View, parts: list[str]) -> tuple[dict[str, Any], dict[str, str]]:
    """Return what some parts say, by name, and their drawings by file name."""
    drawings: dict[str, str] = {}
    make: dict[str, Callable[[], Any]] = {
        "stock": lambda: stock(view, drawings, style(view).width),
        "edges": lambda: edge_pages(view, drawings, style(view)),
        "closure": lambda: closure_pages(view, drawings),
        "metal": lambda: metal_page(view, drawings),
    }
    make |= {f"surface {s}": partial(_sheets, view, s, drawings) for s in view.surfaces}
    return {name: make[name]() for name in parts}, drawings


def _sheets(view: View, surface: str, drawings: dict[str, str]) -> list[dict[str, Any]]:
    """Return what the sheets of one surface say."""
    out = []
    for sheet in view.once(("paper sheets",), lambda: paper_sheets(view)):
        if sheet.surface != surface:
            continue
        rows, laps = table(view, sheet), lap_words(view, sheet)
        name = f"{sheet.name}.svg"
        close, high = _closeups(view, sheet, drawings)
        edges = EDGES[view.surfaces[surface]["kind"] == "wall"]
        heads = [h.format(*edges) + ("" if view.imperial else METRIC.get(h, "")) for h in HEADS[rows["kind"]]]
        columns = widths(rows["kind"], rows["rows"], heads, style(view).width)
        tall = height(rows["kind"], rows["rows"], columns, style(view).width)
        set_as, fits = _style(view, sheet, rows, laps, high, tall)
        drawings[name] = elevation(view, sheet, set_as)
        out.append(
            {
                "title": sheet.title,
                "key": sheet.key,
                "note": course_note(view, sheet),
                "fits": fits,
                "drawing": name,
                "closeups": close,
                "laps": laps,
                "lines": [{"y": view.length(r["y_m"]), "for": r["for"]} for r in sheet.lines],
                **rows,
                "heads": heads,
                "widths": columns,
            }
        )
    return out


def _faces(
    view: View, made: Mapping[str, Any], steps: dict[str, list[dict[str, Any]]], cautions: Cautions
) -> list[dict[str, Any]]:
    """Return what the book says surface by surface; what is done on no single one comes last."""
    number = {s: n for n, s in enumerate([*view.surfaces, WHOLE])}
    edges = {p["surface"]: {**p, "anchor": f"{number[p['surface']]}-edges"} for p in made["edges"]}
    rest = [step for surface, group in steps.items() if surface not in view.surfaces for step in group]
    groups = [*((s, made[f"surface {s}"], steps.get(s, [])) for s in view.surfaces), (WHOLE, [], rest)]
    return [
        {
            "id": name,
            "anchor": f"{number[name]}-steps",
            "sheets": [{**sheet, "anchor": f"{number[name]}-{n}"} for n, sheet in enumerate(drawn)],
            "edges": edges.get(name),
            "steps": own,
            "weather": named_limits(own),
            "cautions": cautions.said(n for step in own for n in step["all_care"]),
        }
        for name, drawn, own in groups
        if drawn or own or name in edges
    ]


def _closeups(view: View, sheet: Sheet, drawings: dict[str, str]) -> tuple[list[list[dict[str, Any]]], float]:
    """Draw the sheet's close-ups; return them in rows, and how high the rows are together."""
    abreast = min(max(CLOSE_UPS[0], len(closeups(view, sheet))), CLOSE_UPS[1])
    width = (style(view).width - (abreast - 1) * CLOSE_UP_GAP) / abreast
    drawn = closeup_drawings(view, sheet, width)
    for number, (_, drawing) in enumerate(drawn):
        drawings[f"{sheet.name}-{number}.svg"] = drawing
    rows = [list(range(i, min(i + abreast, len(drawn)))) for i in range(0, len(drawn), abreast)]
    high = sum(max(drawn[n][0] for n in row) + CLOSE_UP_GAP for row in rows)
    return [[{"file": f"{sheet.name}-{n}.svg", "width": width} for n in row] for row in rows], high


def _style(
    view: View, sheet: Sheet, rows: dict[str, Any], laps: list[str], close_ups: float, tall: float
) -> tuple[Style, bool]:
    """Set the drawing as tall as leaves room on the same page for its table, and for its close-ups if they fit too.

    close_ups, tall: how tall the close-ups and the table are. Also say whether drawing and table fit on one page.
    """
    across = 6.0 * style(view).width / PAPER.width  # letters of a course's line, times its share
    lines = 0.0
    for course in rows["courses"]:
        said = sum(len(p["mark"] + p["size"] + p["more"]) + 8 for p in course["pieces"])
        lines += 0.6 + 0.85 * int(1 + said / (20 * across))
    below = 11.6 * lines + tall + 14 * bool(laps) + 4 * len(sheet.lines) + 34
    _, y0, _, y1 = _bounds(view, sheet.surface)
    room = PAGE_ROOM - below
    all_on_one = room - close_ups - 24 if close_ups else 0.0
    if all_on_one >= SHORTEST_WITH_CLOSE_UPS:
        room, most = all_on_one, MOST[0]
    else:
        most = MOST[close_ups > 0]
    most = min(most, TALLEST_PER_M * (y1 - y0))
    fits = room >= min(most, SHORTEST_WITH_CLOSE_UPS if close_ups else SHORTEST)
    if not fits and (close_ups or sheet.key == FINISH):
        most = min(most, MOST_WITH_LONG_TABLE)
    return replace(style(view), tallest=min(most, room) if fits else most), fits


def _bounds(view: View, surface: str) -> tuple[float, float, float, float]:
    xs, ys = zip(*view.surfaces[surface]["outline"][0], strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _all_kept(surface: Row) -> bool:
    return bool(surface["zones"]) and all(z["decision"] == "keep" for z in surface["zones"])


def _order(view: View) -> dict[str, Any]:
    currency = view.doc["job"].get("currency") or ""
    rows = []
    for r in view.rows("order"):
        unit = r["measured_in"]
        packs = NOT_GIVEN if r["packs"] is None else plain(r["packs"])
        rows.append(
            {
                "title": view.product(r["product"]),
                "product": r["product"],
                "need": say_amount(r["need"], unit, view.units),
                "on_hand": say_amount(r["on_hand"], unit, view.units) if r.get("on_hand") else "",
                "source": r.get("source") or "",
                "spare": say_amount(r["spare"], unit, view.units) if r["spare"] else "none",
                "reason": r["spare_reason"],
                "packs": f"{packs} of {quantity(view, r['pack_size'], unit)}" if r["pack_size"] else packs,
                "price": money(r["price"], currency),
                "kgCO2e": NOT_GIVEN if r["kgCO2e"] is None else f"{plain(r['kgCO2e'])} kg",
                "sources": _sources(view, r["product"]),
            }
        )
    return {"rows": rows}


PLAIN_NAMES = {"wind_max_m_s": "most wind", "moisture_max_pct": "most moisture", "spare_ratio": "spare share", "t_min_C": "coldest", "t_max_C": "warmest"}


def _sources(view: View, product: str) -> list[dict[str, str]]:
    """Return the product's figures by source: `common practice: course lap 4", end lap 6"`."""
    values = ((view.doc.get("products") or {}).get(product) or {}).get("values") or {}
    by_source: dict[str, list[str]] = {}
    for name, value in values.items():
        raw, unit = value["value"], value.get("unit") or ""
        title = PLAIN_NAMES.get(name) or (name.removesuffix(f"_{unit}") if unit else name).replace("_", " ")
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            said = quantity(view, float(raw), unit)
        else:
            said = NOT_GIVEN if raw is None else str(raw)
        by_source.setdefault(value.get("source") or NOT_GIVEN, []).append(f"{title} {said}")
    return [{"source": s, "values": ", ".join(v)} for s, v in sorted(by_source.items())]


def _bid(view: View) -> dict[str, Any] | None:
    bid = view.doc.get("bid")
    if not bid:
        return None
    currency = bid.get("currency") or view.doc["job"].get("currency") or ""
    wage = bid.get("wage_per_h")
    return {
        "rows": [
            [name, money_range(bid.get(key), currency)]
            for name, key in (
                ("Material", "material"),
                ("Labor", "labor"),
                ("Allowance for what comes to light", "allowance"),
                ("Total", "total"),
                ("So far, without what is not given", "so_far"),
            )
            if key != "so_far" or (bid.get("so_far") and not bid.get("total"))
        ],
        "hours": _hours(bid.get("hours")),
        "wage": NOT_GIVEN if wage is None else f"{money(wage, currency)} an hour",
        "missing": [missing(view, name) for name in bid.get("missing") or []],
    }


def _hours(hours: Any) -> str:
    """Return the hours of work, a number or a range, in words."""
    low, high = hours if isinstance(hours, list) else (hours, hours)
    if low is None or high is None:
        return NOT_GIVEN
    return f"{plain(low)} h of work" if low == high else f"{plain(low)} to {plain(high)} h of work"
