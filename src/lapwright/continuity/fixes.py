"""Changes that mend what the drop test found, proposed from what the job file says at that place.

Each finding is led back to the entry of house.yaml that made the piece; where an edit of that entry can mend it, the edit
is proposed under a stable id. Whether it does mend it is not promised here: the program tries it (`lapwright.plan.trials`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from lapwright.change import ABSENT, Change, Edit
from lapwright.details.base import Piece, Place
from lapwright.findings import Finding
from lapwright.survey.model import Face, Opening, Survey, Zone

STRIPS = ("sill-strip", "jamb-strip", "head-strip")
# laps a job may have set narrower than the detail's own, by the findings that a narrow one causes
LAP_SETTINGS: Mapping[str, tuple[str, ...]] = {
    "edge.open": ("course_lap", "head_rise"),
    "edge.side_open": ("end_lap", "corner_lap", "reach", "lap", "tuck"),
    "edge.no_outlet": ("hang",),
    "joint.rigid": ("slack",),
}


def proposed(
    found: Sequence[Finding], pieces: Sequence[Piece], places: Sequence[Place], survey: Survey,
    written: Mapping[str, Mapping[str, object]], detail_of: Mapping[str, str],
) -> tuple[list[Finding], dict[str, Change]]:  # fmt: skip
    """Return the findings with the ids of the changes that may mend them, and the changes by id.

    written: `settings` of the job file as typed; detail_of: name of the detail that serves a place, by the place's id.
    """
    place_of = {p.id: p.place for p in pieces}
    by_id = {p.id: p for p in places}
    changes: dict[str, Change] = {}
    out = []
    for f in found:
        mine = list(_for(f, place_of, by_id, survey, written, detail_of))
        changes |= {c.id: c for c in mine}
        out.append(replace(f, changes=(*f.changes, *(c.id for c in mine))) if mine else f)
    return out, changes


def _for(
    f: Finding, place_of: Mapping[str, str], by_id: Mapping[str, Place], survey: Survey,
    written: Mapping[str, Mapping[str, object]], detail_of: Mapping[str, str],
) -> Iterator[Change]:  # fmt: skip
    face = next((x for x in survey.faces if x.id == f.where.surface), None)
    if face is None or f.where.thing is None:
        return
    opening = next((o for o in face.openings if o.id == f.where.thing), None)
    if opening is not None:
        yield from _opening(f, face, opening)
        return
    place = by_id.get(place_of.get(f.where.thing, ""))
    if place is None:
        return
    if isinstance(place.thing, Opening):
        yield from _opening(f, face, place.thing)
    if place.kind == "boundary" and place.other_zone is not None and f.code.startswith("lap.reverse"):
        yield from _joint(face, place.other_zone, "top" if place.sort == "below" else "bottom")
    detail = detail_of.get(place.id, "")
    for name, value in written.get(detail, {}).items():
        if name.replace("-", "_") in LAP_SETTINGS.get(f.code, ()):
            yield Change(
                f"{detail}:usual-{name.replace('_', '-')}", f"Take the usual {name.replace('_', ' ')} of {detail} again.",
                (Edit(("settings", detail, name), value, ABSENT),),
            )  # fmt: skip


def _opening(f: Finding, face: Face, o: Opening) -> Iterator[Change]:
    """Yield: put in what was left out; set the unit after the barrier, with all its strips."""
    at = ("faces", face.id, "openings", o.id)
    want = {
        "opening.head_bare": ("head-strip",), "opening.sill_bare": ("sill-strip",), "opening.jamb_bare": ("jamb-strip",),
        "head.no_flashing": ("head-flashing",),
    }.get(f.code, o.without)  # fmt: skip
    for role in (r for r in want if r in o.without):
        yield Change(f"{face.id}/{o.id}:add-{role}", f"Put in the {role.replace('-', ' ')} of {o.id} on {face.id}.",
                     (_left_out(at, o, [r for r in o.without if r != role]),))  # fmt: skip
    strips = [r for r in want if r in o.without and r in STRIPS]
    if strips and o.state == "before":
        rest = [r for r in o.without if r not in STRIPS]
        yield Change(
            f"{face.id}/{o.id}:set-after-barrier",
            f"Set {o.id} on {face.id} after the barrier, on all its strips: take it out, run the courses, cut, strip, set.",
            (Edit((*at, "state"), "before", "after"), _left_out(at, o, rest)),
        )


def _left_out(at: tuple[str, ...], o: Opening, rest: list[str]) -> Edit:
    return Edit((*at, "without"), list(o.without), rest or ABSENT)


def _joint(face: Face, zone: Zone, side: str) -> Iterator[Change]:
    if side not in zone.wrong_laps:
        return
    at = ("faces", face.id, "zones", zone.id)
    rest = [s for s in zone.wrong_laps if s != side]
    over = "the course over the flashing's leg" if side == "top" else "the old felt over the strip"
    yield Change(
        f"{face.id}/{zone.id}-{side}:turn-lap", f"Turn the lap at the {side} of {zone.id} on {face.id}: {over}.",
        (Edit((*at, "wrong_laps"), list(zone.wrong_laps), rest or ABSENT),),
    )  # fmt: skip
    if side == "top" and side not in zone.cut_in:
        now = list(zone.cut_in)
        yield Change(
            f"{face.id}/{zone.id}-top:cut-course",
            f"Cut the course at the top of {zone.id} on {face.id}: slit it, tuck a strip into the slit and down over the flashing.",
            (Edit((*at, "cut_in"), now or ABSENT, [*now, "top"]),),
        )
