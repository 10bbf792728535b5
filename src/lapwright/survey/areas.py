"""Areas and the heated volume, from the taped outside of the walls; what lacks an input says which."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shapely import Polygon

from lapwright.geometry import merged
from lapwright.survey.model import Face, Loop, Storey, Survey


@dataclass(frozen=True)
class Known:
    """A figure, or None with what it lacks (in words). `value` in m2 or m3, as the name of its holder says."""

    value: float | None
    lacks: tuple[str, ...] = ()


@dataclass(frozen=True)
class FaceArea:
    """gross_m2: inside the outline; openings_m2: rough openings in it; net_m2: gross less openings."""

    face: str
    gross_m2: float
    openings_m2: float
    net_m2: float


def face_area(face: Face) -> FaceArea:
    """Return the areas of one face, m2. Openings that touch are counted once."""
    gross = float(face.outline.area)
    openings = float(merged(o.polygon for o in face.openings).intersection(face.outline).area)
    return FaceArea(face.id, gross, openings, gross - openings)


def face_areas(survey: Survey) -> tuple[FaceArea, ...]:
    """Return the areas of all faces in walking order."""
    return tuple(face_area(f) for f in survey.faces)


def plan_ring(survey: Survey, loop: Loop) -> Polygon | None:
    """Return a closed loop seen from above (metres, outside of the walls), or None when there is none.

    None for an open chain, and for a ring that crosses itself.
    """
    if not loop.closed:
        return None
    ring = Polygon([survey.face(f).origin[:2] for f in loop.faces])
    return ring if ring.is_valid and ring.area > 0 else None


def floor_area_m2(survey: Survey) -> Known:
    """Return the sum of the stories' floor areas, m2, to the outside of the walls."""
    return _sum(survey, lambda ring, storey: float(ring.area))


def heated_volume_m3(survey: Survey) -> Known:
    """Return the heated volume, m3: each story's plan times its height, to the outside of the walls.

    From floor to ceiling of each story; a sloped ceiling rises evenly from its low side to its peak, so it
    counts with the mean of both. Floors between stories are not part of it.
    """
    return _sum(survey, lambda ring, storey: float(ring.area) * _height(storey))


def _height(storey: Storey) -> float:
    top = storey.ceiling_m if storey.peak_m is None else (storey.ceiling_m + storey.peak_m) / 2
    return top - storey.floor_m


def _sum(survey: Survey, of: Callable[[Polygon, Storey], float]) -> Known:
    lacks = [] if survey.storeys else ["stories: no floor and ceiling heights are given"]
    loops = {loop.id: loop for loop in survey.loops}
    total = 0.0
    for storey in survey.storeys:
        loop = loops.get(storey.loop)
        ring = plan_ring(survey, loop) if loop is not None else None
        if ring is None:
            why = "is not taped" if loop is None else "crosses itself" if loop.closed else "is an open chain"
            lacks.append(f"story {storey.id}: its loop {storey.loop} {why}")
        else:
            total += of(ring, storey)
    return Known(None if lacks else total, tuple(lacks))
