"""All claims of a job, face by face: taken over from an earlier plan, or made, half of them on a second core."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from lapwright.details.base import Claim, Context, Detail, Place
from lapwright.memo import Memo
from lapwright.survey.slabs import with_floors

MANY_PLACES = 40  # the claims of fewer are made before another process has started


def claims_of(places: Sequence[tuple[Place, Detail]], ctx: Context, memo: Memo) -> list[Claim]:
    """Return the claims of all places, in their order. memo: what an earlier plan of the same catalog and details kept."""
    by_face: dict[str, list[tuple[Place, Detail]]] = {}
    for place, detail in places:
        by_face.setdefault(place.face.id, []).append((place, detail))
    job = _job_key(ctx)
    keys = {face: _face_key(face, ctx, job) for face in by_face}

    def of(face: str) -> list[Claim]:
        return memo.get("claims", keys[face], lambda: [c for p, d in by_face[face] for c in ctx.claims(p, d)])

    there = _half({f: len(mine) for f, mine in by_face.items() if not memo.has("claims", keys[f])})
    ahead = memo.ahead(lambda: [of(f) for f in there]) if there else None
    made = {f: of(f) for f in by_face if f not in there}
    if ahead is not None:
        ahead.join()
    return [c for f in by_face for c in made.get(f) or of(f)]


def _half(size: Mapping[str, int]) -> set[str]:
    """Return about half of some faces by their size, biggest first; none when all together are too few for two processes.

    >>> sorted(_half({"a": 30, "b": 20, "c": 25})), _half({"a": 5, "b": 6})
    (['b', 'c'], set())
    """
    if sum(size.values()) < MANY_PLACES:
        return set()
    here, there = 0, 0
    out: set[str] = set()
    for face in sorted(size, key=lambda f: (-size[f], f)):
        if there < here:
            out.add(face)
            there += size[face]
        else:
            here += size[face]
    return out


def _face_key(face_id: str, ctx: Context, job: str) -> tuple[object, ...]:
    """Return what the claims of a face may depend on: itself, its neighbors, and what holds for the whole job."""
    survey = with_floors(ctx.survey)
    face = survey.face(face_id)
    near = [survey.face(n) for n in (face.left, face.right) if n is not None]
    # a neighbor's shape, zones and openings count (what laps round a corner keeps clear of them); what else hangs in it
    # is its own details' affair
    bare = [replace(f, penetrations=(), found=(), where=face.where) for f in near]
    return (face, *bare, job)


def _job_key(ctx: Context) -> str:
    """Return what holds for the whole job in one text: the scope without what is built, and the survey without its faces."""
    scope, survey = ctx.scope, ctx.survey
    return repr(
        (
            scope.assemblies,
            scope.details,
            scope.settings,
            scope.positions,
            scope.crew,
            survey.units,
            survey.storeys,
            survey.file,
            survey.lowest_floor,
            survey.year_built,
            survey.fuel_burning,
            survey.services,
            survey.place,
            survey.wind_speed_m_s,
            survey.wind_exposure,
            survey.loops,
            survey.slabs,
            ctx.registry.names() if ctx.registry else (),
        )
    )
