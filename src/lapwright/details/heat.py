"""Where insulation goes on past a joint: what a detail says of heat when boards lie outside the barrier.

Only boards that this job puts on outside are traced from joint to joint. What fills the studs, what lies in the attic and
what the foundation has is not drawn piece by piece: there heat stays "not given".
"""

from __future__ import annotations

from lapwright.details.base import Context, Place
from lapwright.details.places import is_new
from lapwright.details.runs import wall_of
from lapwright.scope.model import Assembly

Keys = tuple[str, ...] | None


def boards_outside(assembly: Assembly | None) -> int:
    """Return how many layers of new boards lie outside the barrier (without one: outside the sheathing)."""
    layers = assembly.layers if assembly is not None else ()
    inner = next((n for kind in ("barrier", "sheathing") for n, i in enumerate(layers) if i.layer == kind), len(layers))
    return sum(i.layer == "insulation" and i.product is not None and not i.existing for i in layers[:inner])


def heat_at(place: Place) -> Keys:
    """Return what carries heat at a line of this place: the boards that reach it; None where none are put on."""
    return ("foam",) if boards_outside(place.assembly) else None


def heat_cut(place: Place) -> Keys:
    """Return what carries heat past bare masonry or a ledger, at which the boards stop: nothing (open)."""
    return () if boards_outside(place.assembly) else None


def heat_across(place: Place, ctx: Context) -> Keys:
    """Return what carries heat from this zone on to the next new one: the boards of both; None where one has none, for
    then nothing here says what does."""
    there = place.other_zone
    beyond = ctx.scope.assemblies[there.assembly or ""] if there is not None and is_new(there) else None
    here, other = boards_outside(place.assembly), boards_outside(beyond)
    if not (here and other) or there is None:
        return None
    face = place.other.id if place.other is not None else place.face.id
    mine = (f"{wall_of(place)}/insulation/{n + 1}" for n in range(here))
    return ("foam", *mine, *(f"{face}/{there.id}/insulation/{n + 1}" for n in range(other)))
