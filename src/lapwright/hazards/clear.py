"""What must stay clear of a wall, counted from its new face: walks, stairs, meters, coolers, overhangs; openings near the lot line.

Figures of the code are its least for that kind of thing; where it has none the sheet or the official gives one, and
until then the finding says what is left and asks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from lapwright.catalog.model import Catalog
from lapwright.details.depths import depths_of
from lapwright.details.places import is_new
from lapwright.findings import Finding
from lapwright.lengths import show_length
from lapwright.scope.model import Scope
from lapwright.survey.model import Face, Nearby, Survey

IN = 0.0254
FT = 12 * IN
MOVED_M = 2 * IN  # a skin that moves out more than this asks for the things before the wall; own choice
DEFERS = "Local code and licensed people decide."


@dataclass(frozen=True)
class Least:
    """The least that must remain before a wall for one kind of thing. least_m: None where no code figure is known here."""

    words: str
    least_m: float | None
    source: str
    fix: str


LEAST: dict[str, Least] = {
    "walk": Least("the walk is {left} wide", 3 * FT, "common practice; IRC R311.3.2 asks 36 in of landings", "Widen the paving, or thin the skin there."),
    "landing": Least("the landing is {left} deep", 3 * FT, "IRC R311.3.2 (2021): 36 in in the way of travel", "Widen the landing before the skin goes on."),
    "stair": Least("the stairs are {left} wide", 3 * FT, "IRC R311.7.1 (2021): 36 in clear above the handrail", "Move the stringer or the rail; stairs are not thinned."),
    "deck": Least("{left} of deck remain before it", 3 * FT, "common practice; IRC R311.3 where it is the landing of a door", "Check rail and door swing with the skin on."),
    "drive": Least("the drive is {left} wide", None, "the town's rules; common practice asks 9 ft", "Ask the town."),
    "meter": Least("{left} remain before the meter", 3 * FT, "NEC 110.26(A)(1) (2020): 3 ft of working space, clause from memory", "The utility says what the meter needs; it moves the meter."),
    "regulator": Least("{left} remain to the regulator's vent", 3 * FT, "NFPA 54, clause from memory: 3 ft to openings; the utility decides", "Call the gas utility before the skin is bought; never wrap a vent."),
    "equipment": Least("{left} remain to the cooler", None, "its maker's sheet; common practice asks 12 in", "Write what the sheet asks under least, or move it out by a licensed person."),
    "fixture": Least("{left} remain before the fixture", None, "NEC 314.20 (2020): boxes come out flush with the face", "Set its box out to the new face, breaker off."),
    "overhang": Least("the roof hangs {left} past the new face", 2 * IN, "common practice: 2 in and a drip, else the wall's top gets all of the run-off", "Extend the overhang, or flash the top of the skin under the roof."),
    "roof": Least("{left} remain to the roof's edge", 1 * IN, "common practice: siding 1-2 in off a roof", "Cut the roof's edge back before the foam goes on."),
}  # fmt: skip


def out_m(face: Face, scope: Scope, catalog: Catalog) -> float:
    """Return how far a face moves out at most, metres; 0 where it gets no new skin."""
    found = [depths_of(scope.assemblies[z.assembly or ""], catalog).out_m for z in face.zones if is_new(z)]
    return max(found, default=0.0)


def clearances(survey: Survey, scope: Scope, catalog: Catalog) -> list[Finding]:
    """Return what comes too close to a new face, and what the survey does not say of faces that move out far."""
    return [f for face in survey.faces if face.adjoins == "outside" for f in _of_face(face, survey, scope, catalog)]


def _of_face(face: Face, survey: Survey, scope: Scope, catalog: Catalog) -> Iterator[Finding]:
    moved = out_m(face, scope, catalog)
    if moved <= 0:
        return
    for thing in face.nearby:
        yield from _near(thing, moved, survey)
    if not face.nearby and moved > MOVED_M:
        yield Finding(
            "clearance.not_given", "note",
            f"{face.id} moves out {show_length(moved, survey.units)}; the survey does not say what stands before it.",
            f"Walks, stairs, landings, meters, regulators, coolers, lights and the roof's overhang lose that much. {DEFERS}",
            "Measure from the old face: `nearby: [{id: walk, kind: walk, away: 3' 2\"}]` on the face.",
            replace(face.where, surface=face.id), "common practice",
        )  # fmt: skip


def _near(thing: Nearby, moved_m: float, survey: Survey) -> Iterator[Finding]:
    rule = LEAST[thing.kind]
    left = thing.away_m - moved_m
    least = thing.least_m if thing.least_m is not None else rule.least_m
    units = survey.units
    now, then = show_length(thing.away_m, units), show_length(max(left, 0.0), units)
    where = replace(thing.where, surface=thing.face, thing=thing.id)
    said = f"{thing.id} on {thing.face}, counted from the new face: {rule.words.format(left=then)} ({now} before)"
    source = rule.source if thing.least_m is None else "house.yaml"
    if least is None:
        yield Finding("clearance.ask", "note", f"{said}.", f"What must remain is not given. {DEFERS}", rule.fix, where, source)
    elif left < least - 1e-9:
        why = "The new skin is what brings it under." if thing.away_m >= least - 1e-9 else "It was too little before."
        yield Finding(
            "clearance.small", "warn", f"{said}; {show_length(least, units)} are asked.", f"{why} {DEFERS}", rule.fix, where, source,
        )  # fmt: skip


def opening_share(face: Face) -> float:
    """Return openings as a share of a face's area."""
    return float(sum(o.polygon.area for o in face.openings) / face.outline.area) if face.outline.area else 0.0


def openings_near_line(face: Face, left_m: float) -> str:
    """Return what IRC Table R302.1(1) says of a face's openings at a distance from the lot line, "" when nothing does.

    None allowed under 3 ft, a quarter of the wall at most from 3 ft to under 5 ft (houses without sprinklers).

    """
    share = opening_share(face)
    if not face.openings or left_m >= 5 * FT - 1e-9:
        return ""
    if left_m < 3 * FT - 1e-9:
        return f" {len(face.openings)} opening{'s' if len(face.openings) > 1 else ''} stand{'' if len(face.openings) > 1 else 's'} in it; none are allowed there."
    return f" Openings take {share:.0%} of it, more than the quarter allowed." if share > 0.25 + 1e-9 else ""
