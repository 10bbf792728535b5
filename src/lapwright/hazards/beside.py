"""The cautions beside the steps where they bite."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cache, lru_cache

from lapwright.catalog.load import builtin
from lapwright.catalog.model import Catalog
from lapwright.details.base import Piece, Place, Step
from lapwright.details.penetration_case import carries
from lapwright.hazards.facts import CONDITIONS
from lapwright.hazards.rows import Row, table
from lapwright.hazards.spots import Spot, fits, spots
from lapwright.scope.model import Scope
from lapwright.survey.model import Survey


def holds(row: Row, spot: Spot) -> bool:
    """Return whether every condition of the row holds at the spot. KeyError for a condition nobody wrote."""
    if row.runs and (spot.penetration is None or carries(spot.penetration.through) not in row.runs):
        return False
    return all(any(CONDITIONS[name][0](spot) for name in group) for group in row.when)


def bites(row: Row, spot: Spot) -> bool:
    """Return whether the row's hazard belongs beside the step at the spot."""
    if spot.step is None:
        return False
    return row in _rows_for(spot.called, spot.layers) and holds(row, spot)


@lru_cache(maxsize=10_000)
def _rows_for(called: tuple[str, str, str] | None, layers: frozenset[str]) -> tuple[Row, ...]:
    """Return the rows that name a step by what it is called, or by a layer that it puts on."""
    at = _rows_at(*called) if called else _everywhere()
    return tuple(row for row in table() if row.id in at or not layers.isdisjoint(row.layers))


@lru_cache(maxsize=10_000)
def _rows_at(kind: str, sort: str, name: str) -> frozenset[str]:
    """Return the ids of the rows that name a step by its place's kind and sort and its own name."""
    return frozenset(row.id for row in table() if any(fits(p, kind, sort, name) for p in row.at))


@cache
def _everywhere() -> frozenset[str]:
    """Return the ids of the rows that stand at any step, also at those of places that only the job knows."""
    return frozenset(row.id for row in table() if "*" in row.at)


def beside(
    steps: Sequence[Step],
    survey: Survey,
    scope: Scope,
    *,
    catalog: Catalog | None = None,
    places: Iterable[Place] | None = None,
    pieces: Iterable[Piece] = (),
) -> list[Step]:
    """Return the steps, in order, each with the cautions that the survey's facts call for; none stands twice.

    A step's own cautions come first. catalog: the job's (the built-in one else). places, pieces: as the plan has
    them; without pieces the height of a step is that of its place, and what depends on a piece's layer is not said.
    """
    where = spots(steps, survey, scope, catalog or builtin(), places, pieces)
    out = []
    told: set[tuple[str, str]] = set()
    for spot in where:
        assert spot.step is not None
        said = dict.fromkeys(spot.step.cautions)
        for row in _rows_for(spot.called, spot.layers):
            key = (row.id, spot.step.place)
            if (row.once and key in told) or not holds(row, spot):
                continue
            told.add(key)
            said[row.text] = None
        out.append(replace(spot.step, cautions=tuple(said)))
    return out
