"""What the details of a wall's things leave out of a layer: openings, pipes with their blocks, roofs, ledgers.

Courses are cut by layout; boards and siding are laid between these holes by their own details, which
ask here what the things on the same face claim.
"""

from __future__ import annotations

from lapwright.details.base import Context, HoleClaim
from lapwright.details.bays import Blocker
from lapwright.details.places import things_on
from lapwright.details.registry import built_in
from lapwright.survey.model import Face


def holes_in(face: Face, ctx: Context, layer: str) -> list[Blocker]:
    """Return the cut-outs of a layer on a face that the things on it claim, in the order of the survey.

    Asks the details of the job, its own among them.
    """
    registry = ctx.registry or built_in()
    out: list[Blocker] = []
    for place in things_on(face, ctx):
        try:
            detail = registry.choose(place, ctx)
        except KeyError:  # a view that knows nothing of the job's own details
            continue
        if detail is not None:
            out += [
                Blocker(place.thing.id, c.polygon) for c in ctx.claims(place, detail)
                if isinstance(c, HoleClaim) and place.thing is not None and c.layer == layer and c.surface == face.id
            ]  # fmt: skip
    return out
