"""Surfaces as plan.json holds them: outline, openings, penetrations, attachments, zones."""

from __future__ import annotations

from typing import Any

from lapwright.geometry import point_list, rings
from lapwright.plan.rounding import figure, length
from lapwright.survey.model import Face, Opening


def surface_row(face: Face) -> dict[str, Any]:
    """Return one row of plan.json `surfaces[]`."""
    return {
        "id": face.id,
        "kind": face.kind,
        "loop": face.loop,
        "outline": rings(face.outline),
        "width_m": length(face.width_m),
        "turn_deg": figure(face.turn_deg, 6),
        "origin": [length(v) for v in face.origin],
        "azimuth_deg": figure(face.azimuth_deg, 6),
        "left": face.left,
        "right": face.right,
        "adjoins": face.adjoins,
        "openings": [_opening(o) for o in face.openings],
        "penetrations": [
            {"id": p.id, "polygon": rings(p.polygon), "kind": p.kind, "through": p.through} for p in face.penetrations
        ],
        "attachments": [
            {
                "id": a.id,
                "kind": a.kind,
                "line": point_list([a.start, a.end]),
                "below": a.below,
                "ends": list(a.ends),
                "depth_m": length(a.depth_m),
                "polygon": rings(a.polygon) if a.polygon is not None else None,
            }
            for a in face.attachments
        ],
        "zones": [
            {"id": z.id, "polygon": rings(z.polygon), "decision": z.decision, "assembly": z.assembly}
            for z in face.zones
        ],
        "found": [{"id": f.id, "what": f.what, "note": f.note} for f in face.found],
    }


def _opening(o: Opening) -> dict[str, Any]:
    x0, y0, x1, y1 = o.box
    return {
        "id": o.id,
        "polygon": rings(o.polygon),
        "shape": o.shape,
        "state": o.state,
        "kind": o.kind,
        "unit": o.unit,
        "left_m": length(x0),
        "sill_m": length(y0),
        "width_m": length(x1 - x0),
        "height_m": length(y1 - y0),
        "bedroom": o.bedroom,
    }
