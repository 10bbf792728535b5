"""Units and layers on paper: one block per kind of opening in a thick wall, its sections and what goes with them."""

from __future__ import annotations

from typing import Any

from lapwright.packet.elevation import PAPER, SCREEN, SCREEN_FONT, Style
from lapwright.packet.section import said, section_drawing, section_groups
from lapwright.packet.view import Row, View

POSITIONS = {
    "in": "in, on the old boards",
    "mid": "mid, inside the foam",
    "out": "out, with foam and furring",
    "old": "where the old frame stands",
}
SQ_FT_M2 = 0.09290304


def section_name(view: View, row: Row) -> str:
    """Return the file name of an opening's sections, without its ending."""
    return f"{view.files[row['surface']]}-{row['opening']}-section"


def screen_sections(view: View) -> list[tuple[str, str]]:
    """Return (file name, SVG) of the sections of each kind of opening, for the screen."""
    return [
        (f"{section_name(view, row)}.svg", section_drawing(view, row, SCREEN.width * 1.6, SCREEN_FONT, 11.0, False)[0])
        for row, _ in section_groups(view)
    ]


def section_pages(view: View, drawings: dict[str, str], style: Style = PAPER) -> list[dict[str, Any]]:
    """Return what the pages of units and layers say, and put their drawings into `drawings`; empty when no wall is thick."""
    out = []
    for row, rows in section_groups(view):
        name = f"{section_name(view, row)}.svg"
        drawings[name], width, height = section_drawing(view, row, style.width, style.font, style.text, True)
        out.append(
            {
                "title": ", ".join(f"{r['opening']} on {r['surface']}" for r in rows),
                "sits": POSITIONS[row["position"]],
                "why": row["why"],
                "drawing": name,
                "width": width,
                "height": height,
                "rows": _rows(view, row),
                "guessed": row["guessed"],
            }
        )
    return out


def _rows(view: View, row: Row) -> list[list[str]]:
    """Return the table: what, how much, from what."""

    def say(metres: float) -> str:
        return said(view, metres)

    thick = " + ".join(f"{say(v['to_m'] - v['from_m'])} {_word(v)}" for v in row["layers"] if v["to_m"] - v["from_m"] > 1e-6)
    out = [["new face out from the barrier", say(row["face_m"]), thick]]
    if row["buck"]:
        out.append(["unit's face out from the barrier", say(row["plane_m"]), POSITIONS[row["position"]]])
        deep = row["plane_m"] + row["in_m"]
        out.append(["buck, front to back", say(deep), f"{say(row['plane_m'])} out + {say(row['in_m'])} in the wall; {row['buck']['title']}"])
        left = " x ".join(say(v) for v in row["left_m"])
        out.append(["opening that the buck leaves", left, f"of {' x '.join(say(v) for v in row['rough_m'])}; the sill falls {row['slope_deg']:g} degrees"])
    if row["return_m"]:
        out.append(["returns outside of the unit", say(row["return_m"]), "from the unit to the casing's face"])
    for made in row["metal"]:
        legs = " + ".join(say(v) for v in made["legs_m"])
        out.append([made["role"].replace("-", " "), legs, f"up + out + down + hem; its lip {say(row['reach_m'])} out from the barrier"])
    wide, high = row["clear_m"]
    area = f"{wide * high / SQ_FT_M2:.1f} sq ft" if view.imperial else f"{wide * high:.2f} m2"
    out.append(["clear opening", f"{say(wide)} x {say(high)}", f"{area}; {row['clear_from']}"])
    return out


def _word(layer: Row) -> str:
    return str(layer["layer"]).replace("cladding", "siding").replace("insulation", "foam")
