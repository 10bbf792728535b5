"""Which sheets there are: one per surface and trade layer, in the order in which the crew works.

On paper what closes the wall (mat and cladding) shares a sheet: there is little to snap and no lap to get wrong.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lapwright.packet.view import Row, View

TITLES = {
    "strip": "Strips and flashings set before the barrier",
    "barrier": "Barrier",
    "flashing": "Flashings and tape",
    "sheathing": "Sheathing",
    "insulation": "Insulation",
    "mat": "Mat",
    "furring": "Furring",
    "cladding": "Cladding",
    "vapor": "Vapor retarder",
    "slab": "Slab",
}
KEYS = tuple(TITLES)
FINISH = "finish"
FINISH_KEYS = ("mat", "cladding")
# These go on before or after the barrier; time tells which sheet shows them.
BY_TIME = ("strip", "film", "tape", "flashing", "primer", "sealant", "unit")
BOARDS = ("insulation", "sheathing")
SEAM_TAPE = "seam-tape"
SET_WITH = {"fastener": "furring"}


@dataclass(frozen=True)
class Sheet:
    """One surface and one trade layer. `pieces` in order of installation, `lines` bottom to top."""

    surface: str
    key: str
    title: str
    pieces: tuple[Row, ...]
    lines: tuple[Row, ...]
    name: str  # file name without its ending: `<surface>-<layer>`


def _key(piece: Row, barrier_from: float | None, boards: Mapping[str, str]) -> str | None:
    """Return the trade layer that shows a piece. boards: layers of boards by their place; tape over their seams goes with them."""
    layer = piece["layer"]
    if piece["role"] == SEAM_TAPE and piece["place"] in boards:
        return boards[piece["place"]]
    if layer in BY_TIME or piece["role"] == "buck":  # a buck goes in with the strips round it
        return "strip" if barrier_from is None or piece["installed"] < barrier_from else "flashing"
    layer = SET_WITH.get(layer, layer)
    return layer if layer in TITLES else None


def sheets(view: View) -> list[Sheet]:
    """Return the sheets of the job, surface by surface, only where there is something to put on."""
    out: list[Sheet] = []
    for surface in view.surfaces:
        groups: dict[str, list[Row]] = {}
        pieces = view.pieces_on[surface]
        times = [p["installed"] for p in pieces if p["layer"] == "barrier"]
        boards = {p["place"]: p["layer"] for p in pieces if p["layer"] in BOARDS}
        for piece in pieces:
            key = _key(piece, min(times) if times else None, boards)
            if key:
                groups.setdefault(key, []).append(piece)
        lines: dict[str, list[Row]] = {}
        for line in view.rows("lines"):
            if line["surface"] == surface:
                lines.setdefault(_line_key(line["layer"], groups), []).append(line)
        for key in KEYS:
            if key in groups:
                own = sorted(lines.get(key, []), key=lambda r: (r["y_m"], r["x_from_m"], r["for"]))
                title = _title(view, key, groups[key], bool(times))
                name = f"{view.files[surface]}-{key}"
                for number, part in _layers(groups[key]).items():
                    more = f"-{number}" if number > 1 else ""
                    said = f"{title}, layer {number} from the wall" if number else title
                    out.append(Sheet(surface, key, said, tuple(part), tuple(own), name + more))
    return out


def _title(view: View, key: str, pieces: list[Row], barrier: bool) -> str:
    if key == "strip" and not barrier:
        return "Strips and flashings"
    if key == "mat" and not any("course" in p["facts"] for p in pieces):
        return "Insect screens"
    return TITLES[key] if key in ("strip", "flashing") else view.layer_title(key)


def _layers(pieces: list[Row]) -> dict[int, list[Row]]:
    """Part the pieces of boards that lie in layers one over the other, {number: pieces}; 0 where there is one layer."""
    numbers = {p["facts"]["layer_no"] for p in pieces if p["facts"].get("layer_no")}
    if len(numbers) < 2:
        return {0: pieces}
    top = max(numbers)  # seams are taped in the outer layer
    return {int(n): [p for p in pieces if p["facts"].get("layer_no", top) == n] for n in sorted(numbers)}


def paper_sheets(view: View) -> list[Sheet]:
    """Return the sheets of the printed book: as `sheets`, mat and cladding of a surface on one."""
    out: list[Sheet] = []
    for sheet in sheets(view):
        if sheet.key not in FINISH_KEYS:
            out.append(sheet)
            continue
        before = next((s for s in out if s.key == FINISH and s.surface == sheet.surface), None)
        title, pieces, lines = sheet.title, sheet.pieces, sheet.lines
        if before:
            out.remove(before)
            title = f"{before.title}, {sheet.title[0].lower()}{sheet.title[1:]}"
            pieces, lines = before.pieces + pieces, before.lines + lines
        out.append(Sheet(sheet.surface, FINISH, title, pieces, lines, f"{view.files[sheet.surface]}-{FINISH}"))
    return out


def _line_key(layer: str, groups: dict[str, list[Row]]) -> str:
    layer = SET_WITH.get(layer, layer)
    if layer in BY_TIME:
        order = ("strip", "flashing") if layer == "strip" else ("flashing", "strip")
        return next((k for k in order if k in groups), layer)
    return layer


def lap_words(view: View, sheet: Sheet) -> list[str]:
    """Return what the laps on the sheet were asked to be and the narrowest one drawn, kind by kind."""
    mine = [r for p in sheet.pieces for r in view.laps_over.get(p["id"], []) if r["asked_m"] > 0]
    out = []
    for kind in ("course", "end", "corner", "tie-in"):
        rows = [r for r in mine if r["kind"] == kind]
        if rows:
            asked = sorted({r["asked_m"] for r in rows})
            words = " to ".join(view.length(a) for a in dict.fromkeys((asked[0], asked[-1])))
            out.append(f"{kind} {words} asked, {view.length(min(r['got_m'] for r in rows))} the narrowest drawn")
    return out


def course_note(view: View, sheet: Sheet) -> str:
    """Say why the courses of a sheet do not begin with the first: it lies lower, on other walls of the ring."""
    mine = {c for p in sheet.pieces if isinstance(c := p["facts"].get("course"), int)}
    layers = {p["layer"] for p in sheet.pieces if "course" in p["facts"]}
    if not mine or min(mine) <= 1:
        return ""
    loop = view.surfaces[sheet.surface]["loop"]
    lower: dict[str, None] = {}
    for surface, row in view.surfaces.items():
        if row["loop"] == loop and surface != sheet.surface:
            there = {p["facts"].get("course") for p in view.pieces_on[surface] if p["layer"] in layers}
            if any(isinstance(c, int) and c < min(mine) for c in there):
                lower[surface] = None
    if not lower:
        return ""
    first = "Course 1 lies" if min(mine) == 2 else f"Courses 1 to {min(mine) - 1} lie"
    return f"Courses are numbered round the house. {first} below this wall, on {', '.join(lower)} only."
