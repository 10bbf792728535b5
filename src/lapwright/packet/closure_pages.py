"""The pencil test on paper: one page per layer, traced on a section of each loop and on the walls laid out in a row.

A full line is tied, dashes were not seen, dots were not given; a gap is a broken line with a numbered disk, and the
table beneath says what would close it. Nothing is told by color.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from lapwright.packet.canvas import FAINT, INK, SOFT, XY, Canvas, text_width
from lapwright.packet.elevation import PRINT_FONT
from lapwright.packet.view import Row, View

WIDTH = 523.0  # points: fits letter and A4 between the packet's margins
SIZE, SMALL = 8.0, 8.0
SECTION_HEIGHT = 118.0
ABREAST = 3  # sections beside each other
TALLEST = 250.0  # of the walls, all rows
BETWEEN = 12.0  # faces in a row
LABEL = 12.0
DISK = 5.2
MOST_GAPS = 30  # rows of the table on paper; plan.json has them all
TITLES = {"water": "Water", "air": "Air", "vapor": "Vapor", "heat": "Heat"}
SAID = {
    True: "It closes all round.",
    False: "It has gaps: the pencil lifts where the numbers stand.",
    None: "No gap was found, but some of it was not seen or not given, so it is not shown to close.",
}
WORST = ("gap", "not_seen", "not_given", "tied", "not_asked")
WORDS = {"tied": "tied", "gap": "gap", "not_seen": "not seen", "not_given": "not given", "not_asked": "not asked"}
DASHES = {"tied": "", "gap": "2 5", "not_seen": "6 3.5", "not_given": "1.2 3", "not_asked": ""}
WIDTHS = {"tied": 1.9, "gap": 2.4, "not_seen": 1.4, "not_given": 1.5, "not_asked": 0.4}
GROUPS = (  # what a section cannot show as a line, in the order of the list beside it
    ("windows and doors", ("opening",)),
    ("holes", ("penetration",)),
    ("corners", ("corner",)),
    ("old to new, ends", ("boundary",)),
    ("roofs, porches, eaves on walls", ("roof", "porch_roof", "roof_return", "eave-on-wall")),
    ("chimney, ledger, bands", ("chimney", "deck_ledger", "belly_band")),
    ("round what stays", ("old",)),
)


def closure_pages(view: View, drawings: dict[str, str]) -> list[dict[str, Any]]:
    """Return one page per layer as plain data, and put its drawing into `drawings`; none without a pencil test."""
    test = view.doc.get("pencil") or {}
    if not test.get("joints"):
        return []
    pages = []
    for row in test["layers"]:
        layer = row["layer"]
        name = f"closure-{layer}.svg"
        gaps = [j for j in test["joints"] if j[layer] == "gap"]
        drawings[name] = closure_drawing(view, layer)
        lengths = [(WORDS[s], _long(view, row[f"{s}_m"])) for s in ("tied", "gap", "not_seen", "not_given") if row[f"{s}_m"]]
        pages.append(
            {
                "title": TITLES[layer],
                "said": SAID[row["closes"]],
                "lengths": [f"{words} {length}" for words, length in lengths],
                "drawing": name,
                "gaps": [[str(n), j["id"], _long(view, j["length_m"]), j["closes_with"]] for n, j in enumerate(gaps[:MOST_GAPS], 1)],
                "more": max(0, len(gaps) - MOST_GAPS),
                "lacks": list(test["lacks"]) if layer in ("air", "heat") else [],
                "notes": _notes(test, layer),
            }
        )  # fmt: skip
    return pages


def closure_drawings(view: View) -> list[tuple[str, str]]:
    """Return (layer, SVG text) of every layer; none without a pencil test."""
    test = view.doc.get("pencil") or {}
    return [(row["layer"], closure_drawing(view, row["layer"])) for row in test["layers"]] if test.get("joints") else []


def _notes(test: Mapping[str, Any], layer: str) -> list[str]:
    """Return what the patches themselves leave open, in words."""
    out = []
    for state, text in (
        ("gap", "Nothing carries it in: {}."),
        ("not_seen", "Not seen: {}."),
        ("not_given", "Not given: {}."),
    ):
        names = [p["id"] for p in test["patches"] if p[layer] == state]
        if names:
            out.append(text.format(", ".join(names)))
    return out


def closure_drawing(view: View, layer: str) -> str:
    """Return the trace of one layer as an SVG text: sections of the loops, walls in a row, legend."""
    canvas = Canvas(WIDTH, PRINT_FONT, paper=True)
    joints = view.doc["pencil"]["joints"]
    numbers = {j["id"]: n for n, j in enumerate((j for j in joints if j[layer] == "gap"), 1)}
    bottom = _sections(canvas, view, layer, numbers)
    bottom = _walls(canvas, view, layer, numbers, bottom + 8)
    canvas.height = _legend(canvas, bottom + 12)
    return canvas.svg(f"{TITLES[layer]} traced", _description(view, layer))


# ------------------------------------------------------------ sections


def _sections(canvas: Canvas, view: View, layer: str, numbers: Mapping[str, int]) -> float:
    loops = list(dict.fromkeys(s["loop"] for s in view.surfaces.values() if s["kind"] == "wall"))
    wide = WIDTH / min(ABREAST, max(1, len(loops)))
    floors = [j for j in view.doc["pencil"]["joints"] if j["kind"] == "slab"]  # drawn once, under the first loop on the ground
    bottom = 0.0
    for n, loop in enumerate(loops):
        x, y = wide * (n % ABREAST), (SECTION_HEIGHT + 12 + LABEL * len(GROUPS)) * (n // ABREAST)
        faces = {s["id"] for s in view.surfaces.values() if s["loop"] == loop}
        grounded = any(j["sides"][1] == "foundation" and j["surface"] in faces for j in view.doc["pencil"]["joints"])
        mine = floors if grounded else []
        bottom = max(bottom, _section(canvas, view, layer, loop, x, y, wide, mine))
        for n_th, joint in enumerate(j for j in mine if j["id"] in numbers):
            _disk(canvas, (x + 50 + 12 * n_th, y + 116), numbers[joint["id"]])
        floors = [] if grounded else floors
    return bottom


def _section(
    canvas: Canvas, view: View, layer: str, loop: str, x: float, y: float, wide: float, slabs: list[Row]
) -> float:
    """Draw one loop cut through, not to scale: floor, foundation, walls, what is overhead, and the joints between.

    slabs: the edges of new floors that this section shows.
    """
    test = view.doc["pencil"]
    faces = {s["id"] for s in view.surfaces.values() if s["loop"] == loop}
    joints = [j for j in test["joints"] if j["surface"] in faces]
    patches = [p for p in test["patches"] if p["surface"] in faces]
    canvas.text((x, y + 6), f"Section of {loop}", SIZE, anchor="start", bold=True)
    left, right = x + 34, x + min(wide - 34, 150)
    peak, top, base, foot = y + 22, y + 48, y + 92, y + 116
    bases = [j for j in joints if j["sides"][1] == "foundation"]
    new = [p[layer] for p in patches if p["kind"] == "new"]
    old = [p[layer] for p in patches if p["kind"] != "new"]
    over = _worst(p[layer] for p in test["patches"] if p["kind"] == "top" and p["loop"] == loop)
    gabled = any(j["kind"] == "rake" or j["sides"][1] == "roof" for j in joints)
    roof = [(left - 8, top), ((left + right) / 2, peak if gabled else top), (right + 8, top)]
    _line(canvas, roof, over)
    _line(canvas, [(left, top), (left, base)], _worst(new or old))
    _line(canvas, [(right, top), (right, base)], _worst(old or new))  # what stays, where something does
    if bases:
        ground = _worst(p[layer] for p in test["patches"] if p["id"] == "foundation")
        floor = _worst(p[layer] for p in test["patches"] if p["kind"] == "floor" and p["id"] != "foundation")
        canvas.line((x + 4, base + 7), (left - 3, base + 7), width=0.5, stroke=SOFT)
        canvas.line((right + 3, base + 7), (right + 28, base + 7), width=0.5, stroke=SOFT)
        _line(canvas, [(left, base), (left, foot)], ground)
        _line(canvas, [(right, foot), (right, base)], ground)
        _line(canvas, [(left, foot), (right, foot)], floor)
        _word(canvas, ((left + right) / 2, foot - 7), "floor", floor)
        canvas.text((right + 5, foot - 7), "earth", SMALL, anchor="start", color=SOFT, halo=False)
    else:
        canvas.text(((left + right) / 2, base), "stands on a roof", SMALL, color=SOFT)
    tops = [j for j in joints if j["kind"] in ("eave", "rake") and j["sides"][1] == "roof"]
    tops += [j for j in joints if j["kind"] == "old" and j["sides"][1] == "roof"]
    for group, at in ((tops, top), (bases, base), (slabs, foot)):
        state = _worst(j[layer] for j in group)
        if group and state != "not_asked":
            _node(canvas, (left, at), state)
            _node(canvas, (right, at), state)
    _word(canvas, ((left + right) / 2, top - 5), "overhead", over)
    if new:
        _word(canvas, ((left + right) / 2, (top + base) / 2 - 5), "new skin", _worst(new))
    if old:
        _word(canvas, ((left + right) / 2, (top + base) / 2 + (6 if new else 0)), "what stays", _worst(old))
    shown = {j["id"] for j in (*tops, *bases)}
    rows = [("top of the walls", tops), ("foot of the walls", bases), ("edge of the floor", slabs)]
    rows += [(words, [j for j in joints if j["id"] not in shown and _kind(j) in kinds]) for words, kinds in GROUPS]
    return _counts(canvas, layer, rows, x, y + SECTION_HEIGHT + 12)


def _kind(joint: Row) -> str:
    """An eave that is fixed to the wall is a roof against it; the eave at the wall's top ends at the roof."""
    return "eave-on-wall" if joint["kind"] == "eave" and joint["sides"][1] != "roof" else str(joint["kind"])


def _counts(canvas: Canvas, layer: str, rows: Sequence[tuple[str, list[Row]]], x: float, y: float) -> float:
    for words, group in rows:
        counts = {s: sum(1 for j in group if j[layer] == s) for s in WORST[:4]}
        said = ", ".join(f"{n} {WORDS[s]}" for s, n in counts.items() if n)
        if said:
            y += 10.5
            canvas.text((x, y), f"{words}: {said}", SMALL, anchor="start", bold=counts["gap"] > 0, halo=False)
    return y


def _worst(states: Iterable[str]) -> str:
    found = set(states)
    return next((s for s in WORST if s in found), "not_asked")


def _line(canvas: Canvas, points: Sequence[XY], state: str, scale: float = 1.0) -> None:
    ink = FAINT if state == "not_asked" else INK
    canvas.path([points], width=WIDTHS[state] * scale, dash=DASHES[state], stroke=ink, closed=False)


def _word(canvas: Canvas, at: XY, what: str, state: str) -> None:
    canvas.text(at, f"{what}: {WORDS[state]}", SMALL, color=SOFT if state == "not_asked" else INK)


def _node(canvas: Canvas, at: XY, state: str) -> None:
    """Mark a joint of the section: a full dot is tied, an open ring was not seen, a crossed ring has a gap."""
    x, y = at
    if state == "tied":
        canvas.dot(at, 3.0)
        return
    r = 4.0
    ring = [(x - r, y), (x - 0.7 * r, y - 0.7 * r), (x, y - r), (x + 0.7 * r, y - 0.7 * r), (x + r, y),
            (x + 0.7 * r, y + 0.7 * r), (x, y + r), (x - 0.7 * r, y + 0.7 * r)]  # fmt: skip
    canvas.path([ring], fill="#fff", width=1.1)
    if state == "gap":
        canvas.path([[(x - r, y - r), (x + r, y + r)], [(x - r, y + r), (x + r, y - r)]], width=1.3, closed=False)


# ------------------------------------------------------------ walls in a row


def _walls(canvas: Canvas, view: View, layer: str, numbers: Mapping[str, int], top: float) -> float:
    faces = [s for s in view.surfaces.values() if s["kind"] == "wall"]
    scale, rows = _fit(faces)
    marks: list[tuple[XY, int]] = []
    y = top
    for row in rows:
        high = max(_span(f, 1) for f in row) * scale
        x = 1.0
        for face in row:
            ring = face["outline"][0]
            x0, y0 = min(p[0] for p in ring), min(p[1] for p in ring)

            def at(p: Sequence[float], x: float = x, x0: float = x0, y0: float = y0, y: float = y, high: float = high) -> XY:
                return x + (p[0] - x0) * scale, y + LABEL + high - (p[1] - y0) * scale

            canvas.path([[at(p) for p in ring]], width=0.35, stroke=FAINT)
            name = face["id"]
            room = _span(face, 0) * scale + BETWEEN - 3
            while text_width(name, SMALL) > room and len(name) > 2:
                name = name[:-2] + "…"
            canvas.text((x, y + LABEL + high + 8), name, SMALL, anchor="start", halo=False)
            for joint in view.doc["pencil"]["joints"]:
                if joint["surface"] == face["id"]:
                    _line(canvas, [at(p) for p in joint["line"]], joint[layer], 0.75)
                    if joint["id"] in numbers:
                        marks.append((at(_middle(joint["line"])), numbers[joint["id"]]))
            x += _span(face, 0) * scale + BETWEEN
        y += LABEL + high + 14
    for spot, number in marks:
        _disk(canvas, spot, number)
    return y


def _disk(canvas: Canvas, at: XY, number: int) -> None:
    """Draw a numbered disk, moved aside while others stand there."""
    x, y = at
    for dx, dy in ((0, 0), (11, 0), (-11, 0), (0, 11), (0, -11), (11, 11), (-11, -11), (22, 0), (-22, 0), (0, 22), (0, -22)):
        spot = (min(max(x + dx, DISK), WIDTH - DISK), y + dy)
        box = (spot[0] - DISK, spot[1] - DISK, spot[0] + DISK, spot[1] + DISK)
        if canvas.free(box):
            break
    canvas.take(box)
    if spot != at:
        canvas.line(at, spot, width=0.5)
    canvas.dot(spot, DISK)
    canvas.text(spot, str(number), 8.0 if number < 10 else 6.6, bold=True, color="#fff", halo=False)


def _fit(faces: Sequence[Row]) -> tuple[float, list[list[Row]]]:
    """Return the largest scale (points per metre) at which the faces stand in rows within the page, and the rows."""
    for scale in (40.0, 34.0, 30.0, 26.0, 23.0, 20.0, 18.0, 16.0, 14.0, 12.0, 10.5, 9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0):
        rows: list[list[Row]] = [[]]
        x = 0.0
        for face in faces:
            wide = _span(face, 0) * scale
            if rows[-1] and x + wide > WIDTH - 2:
                rows.append([])
                x = 0.0
            rows[-1].append(face)
            x += wide + BETWEEN
        high = sum(max(_span(f, 1) for f in row) * scale + LABEL + 14 for row in rows)
        if high <= TALLEST and all(_span(f, 0) * scale < WIDTH - 2 for f in faces):
            break
    return scale, rows


def _span(face: Row, axis: int) -> float:
    values = [p[axis] for p in face["outline"][0]]
    return float(max(values) - min(values))


def _middle(line: Sequence[Sequence[float]]) -> tuple[float, float]:
    if len(line) == 2:
        return (line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2
    return sum(p[0] for p in line) / len(line), sum(p[1] for p in line) / len(line)


def _legend(canvas: Canvas, y: float) -> float:
    x = 0.0
    for state in ("tied", "not_seen", "not_given", "gap", "not_asked"):
        _line(canvas, [(x, y), (x + 26, y)], state)
        if state == "gap":
            canvas.dot((x + 13, y), DISK)
            canvas.text((x + 13, y), "1", 8.0, bold=True, color="#fff", halo=False)
        canvas.text((x + 31, y), WORDS[state], SMALL, anchor="start", halo=False)
        x += 31 + text_width(WORDS[state], SMALL) + 20
    return y + 8


def _description(view: View, layer: str) -> str:
    test = view.doc["pencil"]
    row = next(r for r in test["layers"] if r["layer"] == layer)
    gaps = [j["id"] for j in test["joints"] if j[layer] == "gap"]
    return f"{SAID[row['closes']]} Gaps: {', '.join(gaps) or 'none'}."


def _long(view: View, meters: float) -> str:
    return f"{meters / 0.3048:.1f} ft" if view.imperial else f"{meters:.2f} m"
