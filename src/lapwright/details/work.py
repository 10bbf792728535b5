"""Hours, people and lengths in words: what the details' steps have in common."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from lapwright.catalog import rates
from lapwright.details.base import Check, Context, Limits, Piece, Place, Step, with_pieces
from lapwright.lengths import show_length
from lapwright.units import show_quantity


def many(count: float, one: str) -> str:
    """Return a count with its word.

    >>> many(1, "piece"), many(3, "piece"), many(0, "strip")
    ('1 piece', '3 pieces', 'no strips')
    """
    return f"{count:.0f} {one}" if count == 1 else f"{f'{count:.0f}' if count else 'no'} {one}s"


def say(ctx: Context, length_m: float) -> str:
    """Return a length in the job's units, as it stands on a tape."""
    return show_length(length_m, ctx.survey.units)


def say_area(ctx: Context, area_m2: float) -> str:
    """Return an area in the job's units, three figures."""
    return show_quantity(area_m2, "area", "sq ft" if ctx.survey.units == "imperial" else "m2")


def labor(ctx: Context, *tasks: tuple[str, float]) -> tuple[int, float, str]:
    """Return (people, hours, source) for one or more (task, amount) done together.

    People: the crew's hands up to two; the hours are the middle of the trade's range or the crew's own record.
    """
    people = min(2, max(1, ctx.scope.crew.people), max(rates.rate(t).people for t, _ in tasks))
    total, sources = 0.0, []
    for task, amount in tasks:
        _, middle, _, source = rates.hours(task, amount, people, ctx.scope.crew.rates)
        total += middle
        sources.append(source)
    return people, round(total, 4), " + ".join(dict.fromkeys(sources))


def step(
    ctx: Context,
    place: Place,
    detail: str,
    name: str,
    action: str,
    tasks: Sequence[tuple[str, float]],
    pieces: Iterable[Piece],
    needs: tuple[str, ...] = (),
    limits: Limits | None = None,
    wait_h: float = 0.0,
    exposes: tuple[str, ...] = (),
    covers: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    reason: str = "",
) -> Step:
    """Return one step of a place with its pieces filled in and `needs` given as names within the place."""
    people, hours, source = labor(ctx, *tasks)
    full = tuple(n if "/" in n else f"{place.id}/{n}" for n in needs)
    made = Step(
        id=f"{place.id}/{name}",
        detail=detail,
        place=place.id,
        action=action,
        people=people,
        hours=hours,
        hours_source=source,
        needs=full,
        limits=limits or Limits(),
        wait_after_h=wait_h,
        exposes=exposes,
        covers=covers,
        cautions=cautions,
        reason=reason,
    )
    return with_pieces(made, pieces)


def check(
    place: Place,
    step_name: str,
    name: str,
    measure: str,
    measured_in: str,
    lower: float | None,
    upper: float | None,
    if_fails: str,
    source: str,
    count: int = 1,
    hold: bool = True,
) -> Check:
    """Return one check of a place's step."""
    return Check(
        id=f"{place.id}/{step_name}/{name}",
        step=f"{place.id}/{step_name}",
        place=place.id,
        measure=measure,
        measured_in=measured_in,
        lower=lower,
        upper=upper,
        count=count,
        hold=hold,
        if_fails=if_fails,
        source=source,
    )


def of_step(pieces: Iterable[Piece], place: Place, name: str) -> list[Piece]:
    """Return the pieces put on in one step of a place."""
    return [p for p in pieces if p.step == f"{place.id}/{name}"]


def face_length(pieces: Iterable[Piece]) -> float:
    """Return the summed longer side of the pieces' boxes on the face, in metres; of all pieces when none lies there."""
    total = 0.0
    mine = list(pieces)
    for piece in [p for p in mine if p.plane == "face"] or mine:
        x0, y0, x1, y1 = piece.polygon.bounds
        total += max(x1 - x0, y1 - y0)
    return total
