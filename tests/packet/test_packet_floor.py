"""A slab, and things fixed to a wall: what the plain house of the other tests does not have."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import packet_doc
import pypdf
from packet_doc import IN, rect, rings

from lapwright.packet import write


def test_a_slab_has_near_and_far_edges_and_its_own_sheets(tmp_path: Path) -> None:
    doc = packet_doc.make(faces=1)
    floor = {**doc["surfaces"][0], "id": "basement", "kind": "floor", "openings": [], "penetrations": []}
    floor |= {"left": None, "right": None, "azimuth_deg": None, "outline": rings(rect(0, 0, 6, 5)), "zones": []}
    doc["surfaces"].append(floor)
    sheet = {**doc["pieces"][0], "surface": "basement", "layer": "insulation", "role": "sheet", "cut": None}
    sheet |= {"product": None, "facts": {"course": 1}, "place": "basement/foam"}
    for i in range(4):
        poly = rings(rect(1.22 * i, 0, 1.22 * (i + 1), 2.44))
        doc["pieces"].append({**sheet, "id": f"basement/foam/{i}", "polygon": poly})
    write(doc, tmp_path / "packet")
    assert (tmp_path / "packet" / "surfaces" / "basement-insulation.dxf").exists()
    pages = [p.extract_text() for p in pypdf.PdfReader(tmp_path / "packet" / "packet.pdf").pages]
    (page,) = [p for p in pages if "basement: Insulation" in p and "size, flat" in p]
    assert "near edge" in page and "far edge" in page
    assert all(f"I1.{n}" in page for n in (1, 2, 3, 4))


def test_a_roof_line_and_a_chimney_are_drawn_and_named(tmp_path: Path) -> None:
    doc = packet_doc.make(faces=1)
    doc["surfaces"][0]["attachments"] = [
        {"id": "porch", "kind": "roof", "line": [[1.0, 3.0], [4.0, 2.5]], "polygon": None},
        {"id": "stack", "kind": "chimney", "line": [[6.0, 0.0], [7.0, 0.0]], "polygon": rings(rect(6, 0, 7, 8))},
    ]
    write(doc, tmp_path / "packet")
    svg = (tmp_path / "packet" / "surfaces" / "front-barrier.svg").read_text("utf-8")
    assert "<title>porch: roof</title>" in svg and "<title>stack: chimney</title>" in svg
    assert ">porch</text>" in svg and ">stack</text>" in svg
    space = ezdxf.readfile(tmp_path / "packet" / "surfaces" / "front-barrier.dxf").modelspace()
    lines = space.query('LWPOLYLINE[layer=="attachments"]')
    ends = [(round(x * IN, 4), round(y * IN, 4)) for x, y, *_ in lines[0]]
    assert ends == [(1.0, 3.0), (4.0, 2.5)]
    assert any(line.closed for line in lines)
