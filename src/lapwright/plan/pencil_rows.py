"""The pencil test as plan.json holds it: layer by layer, patches, joints, and what the survey would have to say."""

from __future__ import annotations

from typing import Any

from lapwright.geometry import point_list
from lapwright.pencil import LAYERS, Joint, State
from lapwright.plan.graph import Plan
from lapwright.plan.rounding import length

STATES: tuple[State, ...] = ("tied", "gap", "not_seen", "not_given", "not_asked")


def pencil(plan: Plan) -> dict[str, Any]:
    """Return {layers[], patches[], joints[], lacks[]}; lengths in metres, `closes` null where something was not seen."""
    found = plan.pencil
    return {
        "layers": [
            {
                "layer": layer,
                "closes": found.closes(layer),
                **{f"{state}_m": length(found.meters(layer, state)) for state in STATES},
            }
            for layer in LAYERS
        ],
        "patches": [
            {"id": p.id, "kind": p.kind, "surface": p.surface, "loop": p.loop, **_states(p.states)}
            for p in found.patches
        ],
        "joints": [_joint(j) for j in found.joints],
        "lacks": list(found.lacks),
    }


def _joint(j: Joint) -> dict[str, Any]:
    return {
        "id": j.id,
        "kind": j.kind,
        "sides": list(j.sides),
        "surface": j.surface,
        "line": point_list(j.line),
        "length_m": length(j.length_m),
        **_states(j.states),
        "ties": list(j.ties),
        "closes_with": j.closes,
    }


def _states(states: Any) -> dict[str, str]:
    return {layer: states[layer] for layer in LAYERS}
