"""Meters, vents and intakes that the new skin would wrap or touch: seen on the pieces themselves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from lapwright.details.base import Piece, Step
from lapwright.details.penetration_case import carries
from lapwright.details.penetrations import HotVent
from lapwright.findings import Finding
from lapwright.hazards.rows import row
from lapwright.lengths import show_length
from lapwright.scope.model import Scope
from lapwright.survey.model import Face, Penetration, Survey

DEFERS = "Local code and licensed people decide."
SKIN = ("barrier", "strip", "film", "tape", "mat", "insulation", "sheathing", "furring", "cladding")
COVERED = 0.25  # a quarter of what passes the wall under new material is wrapped, less is drawing error: own choice
DRAWN_M = 2e-3  # circles are drawn in chords within 1 mm
RELEASED = "penetration-meter-released"


def covered(survey: Survey, scope: Scope | None, steps: Sequence[Step], pieces: Iterable[Piece]) -> Iterator[Finding]:
    """Yield stops for meters, regulators, vents and intakes that lie under new pieces, and hot vents that they touch."""
    by_face: dict[str, list[Piece]] = {}
    for piece in pieces:
        if piece.plane == "face" and piece.layer in SKIN:
            by_face.setdefault(piece.surface, []).append(piece)
    details = {s.place: s.detail for s in steps}
    for face in survey.faces:
        for thing in face.penetrations:
            mine = by_face.get(face.id, [])
            if not mine:
                continue
            kind = _never_wrapped(thing)
            if kind:
                yield from _wrapped(face, thing, kind, mine, details.get(f"{face.id}/{thing.id}", ""))
            if carries(thing.through) == "hot":
                yield from _touched(face, thing, mine, survey, scope)


def _never_wrapped(thing: Penetration) -> str:
    """Return the hazard of a thing that must never be wrapped, or ""."""
    said = thing.through.lower()
    if thing.kind == "meter":
        return "meter"
    if "regulator" in said or "relief" in said:
        return "regulator"
    return {"intake": "intake", "hot": "hot-vent", "plumbing": "plumbing"}.get(carries(thing.through), "")


def _wrapped(face: Face, thing: Penetration, kind: str, pieces: Sequence[Piece], detail: str) -> Iterator[Finding]:
    over = [p for p in pieces if p.polygon.intersection(thing.polygon).area > COVERED * thing.polygon.area]
    if not over:
        return
    released = kind == "meter" and detail == RELEASED
    layers = ", ".join(dict.fromkeys(p.layer for p in over))
    name = f"{thing.id} on {face.id}" + (f" ({thing.through})" if thing.through else "")
    what = f"New {layers} would lie over {name}, which is never wrapped."
    fix = "Choose the detail that keeps it clear (take out its `detail:`), or have the utility or a licensed person move it first."
    if released:
        what = f"New {layers} runs behind {name}: it goes on only while the utility has the meter off."
        fix = "Set the date with the utility before this wall is started."
    yield Finding(
        "hazards.meter_released" if released else "hazards.wrapped", "warn" if released else "stop", what,
        f"A wrapped meter, vent or intake can fill a house with gas or flue gas. {DEFERS}", fix,
        replace(thing.where, surface=face.id, thing=thing.id), row(kind).source,
    )  # fmt: skip


def _touched(
    face: Face, thing: Penetration, pieces: Sequence[Piece], survey: Survey, scope: Scope | None
) -> Iterator[Finding]:
    own = scope.settings.get(HotVent.name, {}) if scope else {}
    clear = float(own.get("hot_clear", HotVent.settings["hot_clear"]))
    near = [(float(p.polygon.distance(thing.polygon)), p.layer) for p in pieces]
    near = [n for n in near if n[0] < clear - DRAWN_M]
    if near:
        closest = min(n[0] for n in near)
        layers = ", ".join(sorted({n[1] for n in near}))
        yield Finding(
            "hazards.hot_vent", "stop",
            f"{layers.capitalize()} comes within {show_length(closest, survey.units)} of the hot vent {thing.id} on {face.id}; "
            f"{show_length(clear, survey.units)} is planned with.",
            f"Sheet, foam and wood burn or melt at a hot vent. {DEFERS}",
            "Take out its `detail:` so that the hot vent's own detail serves it; set hot_clear to what its listing asks.",
            replace(thing.where, surface=face.id, thing=thing.id), row("hot-vent").source,
        )  # fmt: skip
