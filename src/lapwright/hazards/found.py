"""Findings of hazards: what stops the work, what the survey has to say yet, and what no step carries.

A stop is lifted by what was done about it, written down in the survey (`note: braced`), never by accepting it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from lapwright.catalog.load import builtin
from lapwright.catalog.model import Catalog
from lapwright.details.base import Piece, Place, Step
from lapwright.details.penetration_case import carries
from lapwright.details.places import is_new
from lapwright.findings import Finding, Level, Where
from lapwright.hazards import facts
from lapwright.hazards.beside import holds
from lapwright.hazards.clear import clearances, openings_near_line
from lapwright.hazards.covered import covered
from lapwright.hazards.rows import row, table
from lapwright.hazards.spots import Spot
from lapwright.lengths import show_length
from lapwright.scope.model import Scope
from lapwright.survey.model import Face, Found, Survey, Zone

DEFERS = "Local code and licensed people decide."
# Conditions that a wall fulfills by itself, whatever is done to it: a row of these alone must stand at some step.
OF_THE_WALL = {
    "found_no_sheathing", "found_old_wire", "found_asbestos", "found_vermiculite", "found_open_bay", "near_lot_line",
    "foam_inside", "cavity_filled", "masonry_inside", "old_wire_years", "slab", "foam", "termites_very_heavy", "wildfire",
}  # fmt: skip


def findings(
    survey: Survey,
    scope: Scope | None = None,
    *,
    catalog: Catalog | None = None,
    steps: Sequence[Step] = (),
    pieces: Iterable[Piece] = (),
) -> list[Finding]:
    """Return what stops the work, what the survey does not say yet, and triggered hazards that no step carries.

    Without a scope every found thing counts as in the way. steps (with their cautions) and pieces: the plan's;
    without them nothing is said of what the new skin covers. Empty only means that nothing was found to say.
    """
    known = catalog or builtin()
    said = [*_came_to_light(survey, scope, known), *_not_given(survey, scope, known)]
    said += covered(survey, scope, steps, pieces)
    said += _meters_not_listed(survey)
    if scope is not None:
        said += [*_lot_lines(survey, scope, known), *clearances(survey, scope, known), *_no_step(survey, scope, known, steps)]
    return said


def _walls(survey: Survey, scope: Scope, catalog: Catalog) -> Iterator[tuple[Face, Zone, Spot]]:
    """Yield each zone that gets a new skin, as a spot without a step."""
    for face in survey.faces:
        for zone in face.zones:
            assembly = scope.assemblies.get(zone.assembly or "")
            if is_new(zone) and assembly is not None:
                place = Place(f"{face.id}/{zone.id}", "zone", face, zone=zone, assembly=assembly, where=zone.where)
                yield face, zone, Spot(survey, scope, catalog, face, place)


# ---------------------------------------------------------------- what came to light


def _came_to_light(survey: Survey, scope: Scope | None, catalog: Catalog) -> Iterator[Finding]:
    for face in survey.faces:
        spots = [] if scope is None else [(z, s) for f, z, s in _walls(survey, scope, catalog) if f.id == face.id]

        def at(entry: Found, spots: Sequence[tuple[Zone, Spot]] = spots) -> list[Spot]:
            shape = entry.polygon
            return [s for z, s in spots if shape is None or z.polygon.intersects(shape)]

        for entry in facts.found(face, "no sheathing"):
            yield _no_sheathing(face, entry, scope is None or bool(at(entry)))
        for entry in facts.found(face, "old wire", "knob"):
            filled = scope is None or any(facts.cavity_filled(s) for s in at(entry))
            yield _old_wire(face, entry, filled)
        for entry in facts.found(face, "asbestos", "vermiculite"):
            yield _suspect(face, entry, scope is None or bool(at(entry)))


def _said(entry: Found, *words: str) -> bool:
    """Return whether the note says that something was done; `not tested` does not."""
    text = facts.found_words(entry)
    return any(w in text and f"not {w}" not in text and f"un{w}" not in text for w in words)


def _of(face: Face, entry: Found, code: str, level: Level, what: str, why: str, fix: str, row_id: str) -> Finding:
    where = replace(entry.where, surface=face.id, thing=entry.id)
    if entry.polygon is not None:
        middle = entry.polygon.centroid
        where = replace(where, x_m=float(middle.x), y_m=float(middle.y))
    return Finding(code, level, what, why, fix, where, row(row_id).source)


def _no_sheathing(face: Face, entry: Found, in_the_way: bool) -> Finding:
    done = _said(entry, "braced")
    return _of(
        face, entry, "hazards.no_sheathing", "stop" if in_the_way and not done else "warn",
        f"No sheathing at {entry.id} on {face.id}: this wall may have no bracing"
        + (", noted as braced." if done else "."),
        f"Boards that are gone or never were hold no wall square. {DEFERS}",
        "Stop; brace it first, an engineer says how; then sheathe it. Write `note: braced, by whom, when` in house.yaml."
        if not done
        else "Keep the bracing until the new sheathing is nailed off.",
        "no-sheathing",
    )  # fmt: skip


def _old_wire(face: Face, entry: Found, filled: bool) -> Finding:
    dead = _said(entry, "dead", "disconnected", "removed", "replaced")
    level: Level = "stop" if filled and not dead else "warn"
    what = f"Old wire at {entry.id} on {face.id}" + (", noted as dead." if dead else ": taken to be live.")
    bay = " The bay is to be filled: filling that wraps the wire makes it run hot." if filled else ""
    fix = "An electrician tests each end again before the bay is closed."
    if not dead:
        fix = "Stop at this bay; an electrician takes the wire out of use. Write `note: dead, by whom, when` in house.yaml."
    return _of(
        face, entry, "hazards.old_wire", level, what,
        f"Knob-and-tube wire needs open air round it.{bay} {DEFERS}", fix, "old-wire-found",
    )  # fmt: skip


def _suspect(face: Face, entry: Found, in_the_way: bool) -> Finding:
    vermiculite = "vermiculite" in facts.found_words(entry)
    tested = _said(entry, "tested")
    name = "Vermiculite" if vermiculite else "Something that may hold asbestos"
    fix = "Go by the laboratory's report; what holds asbestos is for a licensed contractor."
    if not tested:
        fix = "Leave it alone and have it tested. Write `note: tested, what the report says` in house.yaml."
    return _of(
        face, entry, "hazards.vermiculite" if vermiculite else "hazards.asbestos",
        "stop" if in_the_way and not tested else "warn",
        f"{name} at {entry.id} on {face.id}" + (", noted as tested." if tested else ", not tested."),
        f"Broken or swept, it fills the air of a house that people live in. {DEFERS}", fix,
        "vermiculite-found" if vermiculite else "asbestos-found",
    )  # fmt: skip


# ---------------------------------------------------------------- what the survey does not say


def _not_given(survey: Survey, scope: Scope | None, catalog: Catalog) -> Iterator[Finding]:
    if not any(is_new(z) for f in survey.faces for z in f.zones):
        return
    file = survey.file

    def ask(code: str, level: Level, name: str, what: str, why: str, fix: str, source: str) -> Finding:
        return Finding(f"hazards.{code}", level, what, f"{why} {DEFERS}", fix, Where(file, thing=name), source)

    if survey.year_built is None:
        yield ask(
            "year_not_given", "warn", "year_built", "The survey does not say when the house was built.",
            "It is treated as from before 1978: lead in the paint, and as old enough for asbestos and knob-and-tube wire.",
            "Write `year_built: 1924`.", row("lead-paint").source,
        )  # fmt: skip
    if not survey.fuel_burning and not facts.fuel_seen(survey):
        yield ask(
            "fuel_not_given", "warn", "fuel_burning", "The survey does not say what burns fuel in the house.",
            "It is treated as if something did: a tighter house can pull flue gas indoors.",
            "Write `fuel_burning: [boiler, range]`, or `[none]`.", row("combustion").source,
        )  # fmt: skip
    if not any("power" in k or "electric" in k for k, _ in survey.services):
        yield ask(
            "power_not_given", "note", "services", "The survey does not say how power comes in.",
            "It is treated as overhead: ladders, scaffolds and long metal keep off the lines.",
            "Write `services: {power: overhead}` or underground.", row("power-lines").source,
        )  # fmt: skip
    if all(f.lot_line_m is None for f in survey.faces):
        yield ask(
            "lot_line_not_given", "note", "lot_line", "The survey does not say how far any wall stands from the lot line.",
            "Under 5 ft the wall needs a 1-hour make-up and few openings, and a thicker skin brings it closer.",
            "Measure where it may be near: `lot_line: 4'` on the face.", row("lot-line").source,
        )  # fmt: skip
    if survey.termites is None and scope is not None and any(facts.foam(s) for *_, s in _walls(survey, scope, catalog)):
        yield ask(
            "termites_not_given", "note", "termites", "The survey does not say how likely termites are, and foam goes on.",
            "In very heavy zones foam below grade is banned with exceptions.",
            "Write `termites: moderate`, by the map of the local code.", row("termites-very-heavy").source,
        )  # fmt: skip


# ---------------------------------------------------------------- lot line, meters, what no step carries


def _lot_lines(survey: Survey, scope: Scope, catalog: Catalog) -> Iterator[Finding]:
    for face, zone, spot in _walls(survey, scope, catalog):
        if not facts.near_lot_line(spot) or face.lot_line_m is None:
            continue
        left = face.lot_line_m - facts.outer_depth_m(spot)
        now, then = show_length(face.lot_line_m, survey.units), show_length(max(left, 0.0), survey.units)
        moved = " The new skin is what brings it under." if face.lot_line_m >= facts.LOT_LINE_M else ""
        yield Finding(
            "hazards.lot_line", "warn",
            f"The new face of {face.id}, zone {zone.id}, stands {then} from the lot line ({now} before).{moved}"
            f"{openings_near_line(face, left)}",
            f"Under 5 ft: 1-hour wall, a quarter of the wall in openings at most; under 3 ft: no openings. {DEFERS}",
            "Ask the building official before foam, furring and siding are bought.",
            replace(face.where, surface=face.id, thing=zone.id), row("lot-line").source,
        )  # fmt: skip


def _meters_not_listed(survey: Survey) -> Iterator[Finding]:
    for face in survey.faces:
        named = facts.gas_meter_faces(survey)
        if face.id not in named or len(named) == len(survey.faces) > 1:
            continue
        listed = any(p.kind == "meter" or carries(p.through) == "gas" for p in face.penetrations)
        if not listed and any(is_new(z) for z in face.zones):
            yield Finding(
                "hazards.meter_not_listed", "warn",
                f"The services name a gas meter on {face.id}, but nothing on that face is listed as one.",
                f"What is not listed is not kept clear: the plan would wrap it. {DEFERS}",
                "List it under penetrations: `{id: gas, kind: meter, at: [x, y], size: [w, h], through: gas}`.",
                replace(face.where, surface=face.id), row("meter").source,
            )  # fmt: skip


def _no_step(survey: Survey, scope: Scope, catalog: Catalog, steps: Sequence[Step]) -> Iterator[Finding]:
    told: set[tuple[str, str]] = set()
    by_face: dict[str, set[str]] = {}
    for step in steps:
        by_face.setdefault(step.place.split("/", 1)[0], set()).update(step.cautions)
    for face, _, spot in _walls(survey, scope, catalog):
        for hazard in table():
            of_the_wall = bool(hazard.when) and all(set(group) <= OF_THE_WALL for group in hazard.when)
            if not of_the_wall or (face.id, hazard.id) in told or not holds(hazard, spot):
                continue
            told.add((face.id, hazard.id))
            if steps and hazard.text not in by_face.get(face.id, set()):
                yield Finding(
                    "hazards.no_step", "note", f"{face.id}: {hazard.text}",
                    "No step of this wall carries this caution.", "Say it to whoever works there.",
                    replace(face.where, surface=face.id), hazard.source,
                )  # fmt: skip


