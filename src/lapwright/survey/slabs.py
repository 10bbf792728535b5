"""Floors on the ground in the job file: the block, and how it becomes a `Slab` and a surface."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from pydantic import PlainValidator, model_validator
from shapely import Polygon
from shapely.geometry import polygon

from lapwright.lengths import Length
from lapwright.survey.book import Book
from lapwright.survey.fields import (
    Depth,
    FaceWidth,
    Flag,
    Id,
    OpeningSize,
    Part,
    Percent,
    SmallSize,
    Spot,
    must,
    quantity,
    refuse,
    say,
)
from lapwright.survey.model import Face, Loop, Survey, Zone
from lapwright.survey.schema import Size
from lapwright.survey.slab_model import FootOfWall, Slab, SlabThing

Pressure = Annotated[float, PlainValidator(quantity("pressure", 0, 2e6, "psf", "kPa"))]
Load = Annotated[float, PlainValidator(quantity("mass", 0, 1e5, "lb", "kg"))]
R = Annotated[float, PlainValidator(quantity("resistance", 0.01, 20, "R", "m2 K/W"))]


class SlabThingBlock(Part):
    """A post or pipe that comes through the floor."""

    id: Id = must("Its name on this floor.", "post-1")
    kind: Literal["post", "pipe", "drain", "sump"] = must("post, pipe, drain or sump.", "post")
    at: Spot = must("Its center, from the outline's origin, seen from above.", "[8', 6']")
    size: Size = must("Diameter, or [width, depth].", '4"')


class HeadroomBlock(Part):
    """Height from the old floor to the lowest thing overhead, and what is wanted."""

    now: OpeningSize | None = say("From the old floor up.", "6' 7\"")
    wanted: OpeningSize | None = say("When all is done; left out: worked out from the dig.", "6' 8\"")


class FootBlock(Part):
    """The wall beside the dig, and the soil."""

    kind: Literal["concrete", "block", "stone", "brick"] | None = say("What it is made of.", "concrete")
    foot: Depth | None = say("How deep its inner bottom lies below the old floor, as a test pit showed.", '14"')
    footing: Flag | None = say("Whether it stands on a footing.", "yes")
    bowed: Flag | None = say("Whether it bows in.", "no")
    wet: Flag | None = say("Whether wet soil stands behind it.", "no")
    soil: Literal["clay", "silt", "sand", "gravel"] | None = say("The soil under the floor.", "clay")


class SlabBlock(Part):
    """A floor on the ground that gets a new slab."""

    id: Id = must("Its name.", "basement")
    width: FaceWidth | None = say("Width of a plain rectangle, wall to wall.", "22'")
    depth: FaceWidth | None = say("Depth of a plain rectangle.", "16'")
    points: tuple[Spot, ...] | None = say("Its corners in order seen from above, instead.", "[[0, 0], [22', 0], ...]")
    assembly: Id | None = say("The assembly of the new floor, layers from the top down.", "basement-floor")
    old_slab: SmallSize | None = say("Thickness of the old slab that comes out; left out: a dirt floor.", '2-1/2"')
    headroom: HeadroomBlock | None = say("Height overhead.", "{now: 6' 7\", wanted: 6' 8\"}")
    dig: Depth | None = say("How deep below the top of the old floor; left out: worked out.", '11"')
    finish: SmallSize | None = say("Thickness of the flooring on top.", '1/2"')
    finish_weight: Pressure | None = say("What the flooring weighs; a plain number is psf or kPa.", "3 psf")
    wall: FootBlock | None = say("The wall beside the dig, and the soil.", '{kind: concrete, foot: 14", soil: clay}')
    live_load: Pressure | None = say("Load on the floor; a plain number is psf (imperial) or kPa (metric).", "40 psf")
    point_load: Load | None = say("Heaviest single load on a small foot.", "2000 lb")
    wanted_r: R | None = say("Thermal resistance wanted of the foam.", "R-10")
    water_limit: Percent | None = say("Most water the foam may take up, percent by volume.", "0.5")
    water_seen: Flag | None = say("Whether water was ever seen on this floor.", "no")
    tubes: SmallSize | None = say("Spacing of heating tube in the slab; left out: none.", '9"')
    things: tuple[SlabThingBlock, ...] = say("Posts and pipes that come through it.", default=())

    @model_validator(mode="after")
    def _has_an_outline(self) -> SlabBlock:
        rectangle = self.width is not None and self.depth is not None
        if rectangle == (self.points is not None):
            raise refuse("missing", "A floor needs `width` and `depth`, or `points`.", "Give one of the two ways.")
        return self


def read_slabs(blocks: tuple[SlabBlock, ...], book: Book, taken: set[str]) -> tuple[Slab, ...]:
    """Return the floors of a job. taken: ids of faces, which share their surfaces' names. Faults go into `book`."""
    out = []
    for index, block in enumerate(blocks):
        path = ("slabs", index)
        if block.id in taken:
            book.bad("job.repeated", path, f"{block.id} is the name of two surfaces.", fix="Give the floor a name of its own.")
        taken = {*taken, block.id}
        outline = _outline(block, path, book)
        wall = block.wall or FootBlock()
        things = []
        for i, t in enumerate(block.things):
            size = (t.size.width.m, (t.size.height or t.size.width).m)
            thing = SlabThing(t.id, t.kind, (t.at[0].m, t.at[1].m), size, book.where((*path, "things", i)))
            if outline is not None and not outline.intersects(thing_shape(thing)):
                book.bad("job.outside", (*path, "things", i), f"{t.id} stands outside {block.id}.", fix="Check `at`.")
            things.append(thing)
        if len({t.id for t in things}) < len(things):
            book.bad("job.repeated", (*path, "things"), f"Two things of {block.id} have one name.", fix="Rename one.")
        room = block.headroom or HeadroomBlock()
        corners = () if outline is None else tuple((float(x), float(y)) for x, y in list(outline.exterior.coords)[:-1])
        out.append(
            Slab(
                block.id,
                corners,
                block.assembly,
                _m(room.now),
                _m(room.wanted),
                _m(block.dig),
                _m(block.old_slab) or 0.0,
                _m(block.finish) or 0.0,
                FootOfWall(
                    wall.kind or "", _m(wall.foot), wall.footing, wall.bowed, wall.wet, wall.soil or ""
                ),
                block.live_load,
                block.point_load,
                block.wanted_r,
                block.water_limit,
                block.water_seen,
                tuple(things),
                _m(block.tubes),
                book.where(path),
                block.finish_weight,
            )
        )  # fmt: skip
    return tuple(out)


def _m(value: Length | None) -> float | None:
    return None if value is None else value.m


def _outline(block: SlabBlock, path: tuple[str | int, ...], book: Book) -> Polygon | None:
    if block.points is None:
        assert block.width is not None and block.depth is not None
        w, d = block.width.m, block.depth.m
        return Polygon([(0, 0), (w, 0), (w, d), (0, d)])
    if len(block.points) < 3:
        book.bad("job.size", (*path, "points"), f"{block.id}: an outline needs three corners.", fix="Give them all.")
        return None
    outline = Polygon([(x.m, y.m) for x, y in block.points])
    if not outline.is_valid or outline.area < 0.1:
        book.bad(
            "job.shape", (*path, "points"), f"The outline of {block.id} crosses itself or holds no floor.",
            fix="List the corners in order, once round.",
        )  # fmt: skip
        return None
    return polygon.orient(outline)


def with_floors(survey: Survey) -> Survey:
    """Return the survey with its floors among the surfaces, each a loop of its own after the walls."""
    if not survey.slabs:
        return survey
    floors = tuple(surface_of(s) for s in survey.slabs if s.outline)
    loops = tuple(loop_of(s) for s in survey.slabs if s.outline)
    return replace(survey, faces=(*survey.faces, *floors), loops=(*survey.loops, *loops))


def thing_shape(thing: SlabThing) -> Polygon:
    """Return the outline of a post or pipe seen from above (a box; a round one by its box)."""
    (x, y), (w, d) = thing.at, thing.size
    return Polygon([(x - w / 2, y - d / 2), (x + w / 2, y - d / 2), (x + w / 2, y + d / 2), (x - w / 2, y + d / 2)])


def loop_of(slab: Slab) -> Loop:
    """Return the loop that holds the floor alone."""
    return Loop(f"floor-{slab.id}", (slab.id,), False)


def surface_of(slab: Slab) -> Face:
    """Return the floor as a surface: seen from above, x to the right and y up on paper."""
    outline = Polygon(slab.outline)
    x0, _, x1, _ = outline.bounds
    return Face(
        id=slab.id,
        loop=f"floor-{slab.id}",
        index=0,
        width_m=float(x1 - x0),
        turn_deg=0.0,
        outline=outline,
        left=None,
        right=None,
        origin=(0.0, 0.0, 0.0),
        azimuth_deg=None,
        zones=(Zone("floor", slab.id, outline, "cover", slab.assembly, slab.where),),
        where=slab.where,
        kind="floor",
    )
