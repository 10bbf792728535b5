"""Close-ups: legs that fold in are drawn inside the opening, distances are those of the document."""

from __future__ import annotations

from xml.etree import ElementTree

import packet_doc
import pytest
from shapely import Polygon

from lapwright.packet.closeup import closeups
from lapwright.packet.elevation import closeup_drawings
from lapwright.packet.sheets import sheets
from lapwright.packet.view import View

NS = "{http://www.w3.org/2000/svg}"
DOC = packet_doc.make(faces=1)
VIEW = View(DOC)
SHEET = next(s for s in sheets(VIEW) if s.key == "strip")


def paths(svg: str) -> list[tuple[ElementTree.Element, Polygon]]:
    out = []
    for el in ElementTree.fromstring(svg).iter(f"{NS}path"):
        rings = (el.get("d") or "").replace("Z", "").split("M")[1:]
        points = [tuple(map(float, p.split())) for p in rings[0].split("L")] if rings else []
        if len(points) > 3:
            out.append((el, Polygon(points)))
    return out


def test_windows_that_are_alike_share_one_close_up_and_others_do_not() -> None:
    groups = closeups(VIEW, SHEET)
    assert [[t["id"] for t in g.things] for g in groups] == [["w1", "w3"]]
    doc = packet_doc.make(faces=1)
    head = next(p for p in doc["pieces"] if p["id"] == "front/w3/head")
    head["polygon"] = [[[x, y + 0.01] for x, y in ring] for ring in head["polygon"]]
    view = View(doc)
    sheet = next(s for s in sheets(view) if s.key == "strip")
    assert [[t["id"] for t in g.things] for g in closeups(view, sheet)] == [["w1"], ["w3"]]


def test_the_sill_leg_lies_unfolded_on_the_sill_inside_the_opening() -> None:
    ((_, svg),) = closeup_drawings(VIEW, SHEET, 173)
    opening = DOC["surfaces"][0]["openings"][0]
    drawn = paths(svg)
    hole = next(s for el, s in drawn if el.get("stroke-width") == "1.3")
    scale = (hole.area / (opening["width_m"] * opening["height_m"])) ** 0.5
    leg = next(p for p in DOC["pieces"] if p["id"] == "front/w1/sill/sill")
    depth = Polygon(leg["polygon"][0]).bounds[3]
    inside = [s for el, s in drawn if el.get("fill") == "#f7f4ee" and hole.buffer(0.1).contains(s)]
    assert len(inside) == 1
    assert inside[0].bounds[3] == pytest.approx(hole.bounds[3], abs=0.05)  # y runs down: it stands on the sill
    assert inside[0].bounds[3] - inside[0].bounds[1] == pytest.approx(depth * scale, abs=0.05)


def test_distances_past_the_edge_are_those_of_the_pieces() -> None:
    ((_, svg),) = closeup_drawings(VIEW, SHEET, 173)
    words = {el.text for el in ElementTree.fromstring(svg).iter(f"{NS}text")}
    # the test house has strips 6, 9 and 10 in past the sides, 3 and 4 below, 4 and 9 above
    assert {'6"', '9"', '10"', '3"', '4"'} <= words
    assert {".1", ".2", ".3", ".4"} <= words
