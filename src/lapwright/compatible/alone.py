"""Limits of one thing: too cold or too hot for its season, open too long by the hours of the plan."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from lapwright.catalog.model import Catalog
from lapwright.compatible.rules import Rule
from lapwright.compatible.seasons import air
from lapwright.compatible.things import Thing, Things
from lapwright.details.base import Piece, Step
from lapwright.findings import Finding, Level, Where
from lapwright.scope.model import Scope
from lapwright.survey.model import Survey

HOURS_A_DAY, DAYS_A_WEEK = 8.0, 5.0  # a working week: common practice


def alone(
    rules: Sequence[Rule], survey: Survey, scope: Scope, catalog: Catalog, pieces: Sequence[Piece], steps: Sequence[Step]
) -> Iterator[Finding]:
    """Yield what the season and the hours of the plan do to the products in use."""
    things = Things(catalog)
    used: dict[str, Thing] = {}
    for piece in pieces:
        thing = things.product(piece.product, piece.layer) if piece.product else None
        if thing is not None and piece.layer not in ("unit", "existing"):
            used.setdefault(thing.key, thing)
    for rule in rules:
        mine = [used[k] for k in sorted(used) if used[k].has(rule.a)]
        if rule.between == "season":
            yield from _season(rule, mine, survey, catalog)
        elif rule.between == "exposure":
            yield from _exposure(rule, mine, survey, scope, catalog, pieces, steps)


def _finding(rule: Rule, survey: Survey, what: str, surface: str | None = None, thing: str | None = None) -> Finding:
    level: Level = "note" if rule.verdict == "allow" else rule.verdict  # type: ignore[assignment]
    return Finding(rule.code, level, what, rule.why, rule.fix, Where(survey.file, surface=surface, thing=thing), rule.source)


def _degrees(celsius: float, units: str) -> str:
    return f"{celsius * 9 / 5 + 32:.0f} F" if units == "imperial" else f"{celsius:.0f} C"


def _season(rule: Rule, things: Sequence[Thing], survey: Survey, catalog: Catalog) -> Iterator[Finding]:
    here = air(survey.place.climate_zone, survey.season)
    if here is None:
        return
    for thing in things:
        least, most = catalog[thing.key].number("t_min_C"), catalog[thing.key].number("t_max_C")
        when = f"in {survey.season} (climate zone {survey.place.climate_zone}, as {here.city})"

        if rule.limit == "cold-day" and least is not None and here.high_C < least:
            what = f"{thing.name} goes on from {_degrees(least, survey.units)}; a mean day {when} reaches {_degrees(here.high_C, survey.units)}."
        elif rule.limit == "cold-morning" and least is not None and here.low_C < least <= here.high_C:
            what = f"{thing.name} goes on from {_degrees(least, survey.units)}; mornings {when} start at {_degrees(here.low_C, survey.units)}."
        elif rule.limit == "hot" and most is not None and here.hottest_C > most:
            what = f"{thing.name} goes on up to {_degrees(most, survey.units)}; a mean day {when} reaches {_degrees(here.hottest_C, survey.units)}."
        else:
            continue
        yield _finding(rule, survey, what[:1].upper() + what[1:], thing=thing.key)


# ---------------------------------------------------------------- exposure


def open_days(steps: Sequence[Step], first: set[str], scope: Scope) -> float | None:
    """Return the calendar days from the first of the steps `first` to the last of all, by hours and hands.

    steps: in the order in which they are done, those that leave the skin open counted whole. None without hours.
    """
    at = next((i for i, s in enumerate(steps) if s.id in first), None)
    if at is None:
        return None
    hours = math.fsum(s.hours * s.people for s in steps[at:])
    return hours / (max(scope.crew.people, 1) * HOURS_A_DAY) * 7.0 / DAYS_A_WEEK


def _exposure(
    rule: Rule, things: Sequence[Thing], survey: Survey, scope: Scope, catalog: Catalog,
    pieces: Sequence[Piece], steps: Sequence[Step],
) -> Iterator[Finding]:  # fmt: skip
    work = [s for s in steps if not s.id.endswith("/tear-off")]
    faces: dict[str, list[Step]] = {}
    for step in work:
        faces.setdefault(step.place.split("/", 1)[0], []).append(step)
    for thing in things:
        limit = catalog[thing.key].number("exposure_days")
        mine = {p.step for p in pieces if p.product == thing.key}
        if limit is None:
            continue
        if rule.limit == "house":
            yield from _whole_house(rule, thing, limit, mine, work, faces, survey, scope)
            continue
        for face, its in faces.items():
            days = open_days(its, mine, scope)
            if days is not None and days > limit:
                what = f"{thing.name} may stay open {limit:.0f} days; by this plan's hours {face} alone keeps it open {days:.0f}."
                yield _finding(rule, survey, what[:1].upper() + what[1:], face, thing.key)


def _whole_house(
    rule: Rule, thing: Thing, limit: float, mine: set[str], work: Sequence[Step], faces: Mapping[str, Sequence[Step]],
    survey: Survey, scope: Scope,
) -> Iterator[Finding]:  # fmt: skip
    days = open_days(work, mine, scope)
    if days is None or days <= limit or len(faces) < 2:
        return
    what = f"{thing.name} may stay open {limit:.0f} days; all faces together take {days:.0f} by this plan's hours."
    yield _finding(rule, survey, what[:1].upper() + what[1:], thing=thing.key)
