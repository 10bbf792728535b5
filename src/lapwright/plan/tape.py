"""The survey's part of the plan document: areas, volume, and what the tape says of each loop."""

from __future__ import annotations

from typing import Any

from lapwright.plan.rounding import figure, length
from lapwright.survey.areas import Known, face_areas, floor_area_m2, heated_volume_m3
from lapwright.survey.closure import close_ring
from lapwright.survey.model import Loop, Survey


def survey_facts(survey: Survey) -> dict[str, Any]:
    """Return areas per face, floor area and heated volume (null with what they lack), and the closure of each loop."""
    return {
        "areas": [
            {
                "face": a.face,
                "gross_m2": figure(a.gross_m2),
                "openings_m2": figure(a.openings_m2),
                "net_m2": figure(a.net_m2),
            }
            for a in face_areas(survey)
        ],
        "floor_area_m2": _known(floor_area_m2(survey)),
        "heated_volume_m3": _known(heated_volume_m3(survey)),
        "loops": [_loop(survey, loop) for loop in survey.loops],
    }


def _known(value: Known) -> dict[str, Any]:
    return {"value": figure(value.value), "lacks": list(value.lacks)}


def _loop(survey: Survey, loop: Loop) -> dict[str, Any]:
    faces = [survey.face(f) for f in loop.faces]
    row: dict[str, Any] = {"id": loop.id, "faces": list(loop.faces), "closed": loop.closed}
    if not loop.closed:
        return {
            **row,
            "closes": None,
            "misclosure_m": None,
            "perimeter_m": None,
            "ratio": None,
            "adjusted": None,
            "suspects": [],
        }
    found = close_ring(
        [f.width_m for f in faces], [f.turn_deg for f in faces], survey.tape_error_m, survey.turn_error_deg
    )
    adjusted = None
    if found.widths_m is not None and found.turns_deg is not None:
        adjusted = [
            {"face": f.id, "width_m": length(w), "turn_deg": figure(t, 6)}
            for f, w, t in zip(faces, found.widths_m, found.turns_deg, strict=True)
        ]
    return {
        **row,
        "closes": found.closes,
        "misclosure_m": length(found.length_m),
        "perimeter_m": length(found.perimeter_m),
        "ratio": figure(found.ratio),
        "adjusted": adjusted,
        "suspects": [
            {
                "face": faces[s.index].id,
                "kind": s.kind,
                "taped": figure(s.taped, 6),
                "corrected": figure(s.corrected, 6),
            }
            for s in found.suspects
        ],
    }
