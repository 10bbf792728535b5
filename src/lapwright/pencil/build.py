"""Runs the pencil round the heated space: patches, joints, and for each layer where it lifts.

A joint is tied in a layer when a tie of its place says so there (`Layout.ties`); no tie, or an open one, is a gap.
Old work that nobody has looked at is not seen: neither pass nor gap.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from shapely import LineString

from lapwright.catalog.model import Catalog
from lapwright.details.base import Context
from lapwright.details.places import is_new
from lapwright.findings import Finding, Where
from lapwright.hazards.facts import found
from lapwright.layout.build import Tie
from lapwright.pencil.joints import Ought, covered, length_of, old_lines, oughts, spot
from lapwright.pencil.model import LAYERS, Joint, Patch, PencilTest, State
from lapwright.pencil.words import closing
from lapwright.scope.model import Assembly
from lapwright.survey.model import Face, Survey, Zone

NEAR_M = 2 * 0.0254  # a tie of a job's own detail lies on its joint within this: about a tape's width, own choice
BALLOON_BEFORE = 1940  # common practice: platform frames had taken over by then
PRACTICE = "common practice"


def pencil_test(ctx: Context, ties: Sequence[Tie]) -> PencilTest:
    """Return the trace of all four layers.

    ctx: survey, scope, catalog; ties: what layout made of the details' claims, any order. Faces in walking order,
    joints in place order. No errors: what the survey does not say comes back in `lacks`.
    """
    survey = ctx.survey
    if not survey.faces:
        return PencilTest((), (), (), ())
    patches = _patches(ctx)
    lacks = _lacks(survey)
    by_id = {p.id: p for p in patches}
    by_place = _by_place(ties)
    joints = [_joint(o, by_id, by_place.get(o.place.id, []), survey) for o in oughts(ctx)]
    joints += _old(survey, joints)
    return PencilTest(tuple(patches), tuple(joints), tuple(lacks), tuple(_findings(survey, patches, joints, lacks)))


# ------------------------------------------------------------ patches


def _patches(ctx: Context) -> list[Patch]:
    survey, out = ctx.survey, list[Patch]()
    for face in survey.faces:
        if face.adjoins != "outside":
            hidden: dict[str, State] = {"water": "not_asked", **dict.fromkeys(LAYERS[1:], "not_seen")}
            out.append(Patch(face.id, face.adjoins, face.id, face.loop, hidden, face.where))
            continue
        for zone in face.zones:
            states = _carried(ctx, zone)
            kind = "new" if is_new(zone) else "kept"
            out.append(Patch(f"{face.id}/{zone.id}", kind, face.id, face.loop, states, zone.where))
    return [*out, *_floors(ctx), *_tops(survey)]


def _carried(ctx: Context, zone: Zone) -> dict[str, State]:
    """Return which layers a zone of a wall carries: by its assembly; a kept zone is not seen."""
    if not is_new(zone):
        return dict.fromkeys(LAYERS, "not_seen")
    assembly = ctx.scope.assemblies[zone.assembly or ""]
    old = any(y.layer == "barrier" and y.existing for y in assembly.layers)
    skin: State = "tied" if assembly.product("barrier") else "not_seen" if old else "gap"
    return {"water": skin, "air": skin, "vapor": _vapor(assembly, ctx.catalog), "heat": _heat(assembly)}


def _vapor(assembly: Assembly, catalog: Catalog) -> State:
    """Return whether some layer slows vapor by its own name: a vapor layer, or interior paint or paper given as such."""
    return "tied" if any(y.layer == "vapor" for y in assembly.layers) else "not_given"


def _heat(assembly: Assembly) -> State:
    return "tied" if any(y.layer == "insulation" for y in assembly.layers) else "not_given"


def _floors(ctx: Context) -> Iterator[Patch]:
    survey = ctx.survey
    given = survey.lowest_floor is not None
    for slab in survey.slabs:
        assembly = ctx.scope.assemblies.get(slab.assembly or "")
        states: dict[str, State] = {"water": "not_asked", **dict.fromkeys(LAYERS[1:], "not_seen")}
        if assembly is not None:
            states |= {"air": "tied", "vapor": _vapor(assembly, ctx.catalog), "heat": _heat(assembly)}
        yield Patch(f"{slab.id}/floor", "floor", slab.id, "", states, slab.where)
    if not survey.slabs:
        state: State = "not_seen" if given else "not_given"
        yield Patch("lowest floor", "floor", None, "", {"water": "not_asked", **dict.fromkeys(LAYERS[1:], state)})
    ground: State = "not_seen" if given else "not_given"
    yield Patch("foundation", "floor", None, "", {"water": "not_asked", **dict.fromkeys(LAYERS[1:], ground)})


def _tops(survey: Survey) -> Iterator[Patch]:
    told = {s.loop for s in survey.storeys}
    for loop in survey.loops:
        state: State = "not_seen" if loop.id in told else "not_given"
        yield Patch(
            f"{loop.id}/overhead", "top", None, loop.id, {"water": "not_asked", **dict.fromkeys(LAYERS[1:], state)}
        )


def _lacks(survey: Survey) -> list[str]:
    out = []
    if survey.lowest_floor is None and not survey.slabs:
        out.append("the lowest floor: give lowest_floor (slab, crawl or basement, and its depth)")
    told = {s.loop for s in survey.storeys}
    names = [loop.id for loop in survey.loops if loop.id not in told]
    if names:
        out.append(f"what is overhead of {', '.join(names)}: give storeys with floor and ceiling")
    return out


# ------------------------------------------------------------ joints


def _by_place(ties: Sequence[Tie]) -> dict[str, list[Tie]]:
    """Return ties under every place id they may belong to: their own id, and what is left without the last part."""
    out: dict[str, list[Tie]] = {}
    for tie in sorted(ties, key=lambda t: t.id):
        out.setdefault(tie.id, []).append(tie)
        out.setdefault(tie.id.rpartition("/")[0], []).append(tie)
    return out


def _joint(o: Ought, patches: Mapping[str, Patch], near: Sequence[Tie], survey: Survey) -> Joint:
    """Return the joint with what its ties say. A tie that bears the joint's id is its tie; a detail with ids of its
    own is asked by place: its tie must lie along the line."""
    mine = [t for t in near if t.id == o.id] or [t for t in near if t.surface == o.place.face.id and _along(t, o)]
    here = patches.get(o.sides[0])
    states: dict[str, State] = {layer: _state(layer, o, mine, here) for layer in LAYERS}
    lost = [layer for layer in LAYERS if states[layer] == "gap"]
    where = spot(o.place.face, o.line, o.place.id, o.place.where, survey.file)
    sort = "end" if o.place.sort.startswith("end") else o.place.sort
    return Joint(
        o.id, o.place.kind if o.place.kind != "attachment" else o.place.sort, o.place.sort, o.sides, o.place.face.id,
        o.line, length_of(o.line), states, tuple(t.id for t in mine),
        closing(o.place.kind if o.place.kind != "attachment" else o.place.sort, sort, o.suffix, lost) if lost else "", where,
    )  # fmt: skip


def _state(layer: str, o: Ought, ties: Sequence[Tie], here: Patch | None) -> State:
    told = {getattr(t, layer) for t in ties}
    if layer in o.asks:
        if here is not None and here.states[layer] in ("gap", "not_seen"):
            return "not_seen"  # told once, by the patch
        return "tied" if told == {"tied"} else "gap"
    if "open" in told:
        return "gap"
    if "tied" in told:
        return "tied"
    return "not_given" if layer == "heat" else "not_asked"


def _along(tie: Tie, o: Ought) -> bool:
    line = LineString(o.line)
    return bool(LineString(tie.line).buffer(NEAR_M).intersection(line).length > 0.5 * line.length)


def _old(survey: Survey, joints: Sequence[Joint]) -> list[Joint]:
    """Return the joints round what gets no new skin: not seen, one row per stretch."""
    new_ends: dict[tuple[str, str], list[tuple[tuple[float, float], ...]]] = {}
    faces = {f.id: f for f in survey.faces}
    for j in joints:
        if j.kind == "boundary" and j.sort.startswith("end-"):
            face = faces[j.surface]
            beyond, at = (face.left, "right") if j.sort == "end-left" else (face.right, "left")
            if beyond is not None:  # the same corner seen from the other face
                x = faces[beyond].width_m if at == "right" else 0.0
                new_ends.setdefault((beyond, at), []).append(tuple((x, y) for _, y in j.line))
    out = []
    for face in survey.faces:
        zones = [z for z in face.zones if not is_new(z)] if face.adjoins == "outside" else list(face.zones)
        for zone in zones:
            seen: dict[str, int] = {}
            for side, line in old_lines(face, zone):
                if side == "left" and face.left is not None and _old_at(faces[face.left], faces[face.left].width_m):
                    continue  # told by the face on its left
                parts = covered(line, new_ends.get((face.id, side), [])) if side in ("left", "right") else [line]
                for part in parts:
                    out.append(_old_joint(face, zone, side, part, seen, survey.file))
    return out


def _old_at(face: Face, x: float) -> bool:
    """Return whether something without new skin stands at this upright edge of the face, so that it tells the corner."""
    return all(not is_new(z) or face.adjoins != "outside" for z in face.zones if z.polygon.bounds[2] > x - 1e-4)


def _old_joint(
    face: Face, zone: Zone, side: str, line: tuple[tuple[float, float], ...], seen: dict[str, int], file: str
) -> Joint:
    seen[side] = seen.get(side, 0) + 1
    name = f"{face.id}/{zone.id}/old-{side.replace(' ', '-')}" + (f"-{seen[side]}" if seen[side] > 1 else "")
    water: State = "not_asked" if side in ("top", "rake") or face.adjoins != "outside" else "not_seen"
    states: dict[str, State] = {"water": water, "air": "not_seen", "vapor": "not_asked", "heat": "not_seen"}
    beyond = {"base": "foundation", "top": "roof", "rake": "roof"}.get(side)
    beyond = beyond or (face.left if side == "left" else face.right if side == "right" else side) or "beyond"
    own = f"{face.id}/{zone.id}" if face.adjoins == "outside" else face.id
    where = spot(face, line, zone.id, zone.where, file)
    return Joint(name, "old", side, (own, beyond), face.id, line, length_of(line), states, (), "", where)


# ------------------------------------------------------------ findings


def _findings(
    survey: Survey, patches: Sequence[Patch], joints: Sequence[Joint], lacks: Sequence[str]
) -> Iterator[Finding]:
    for j in joints:
        lost = j.in_state("gap")
        if lost:
            yield Finding(
                "layer.gap", "warn", f"{_and(lost).capitalize()} {'does' if len(lost) == 1 else 'do'} not close at {j.id}: {_long(j.length_m, survey)}.",
                f"{j.sides[0]} meets {j.sides[1]} there, and nothing carries {'it' if len(lost) == 1 else 'them'} across.",
                j.closes, j.where, PRACTICE,
            )  # fmt: skip
    for p in patches:
        if p.states["water"] == "gap":
            yield Finding(
                "layer.no_barrier", "warn", f"{p.id} gets new skin without a barrier: water and air go through it.",
                "Its assembly names no sheet.", "Add a layer barrier to its assembly, or say that the old one stays (existing: yes).",
                Where(survey.file, p.where.line, p.surface, p.id), PRACTICE,
            )  # fmt: skip
    yield from _unseen(survey, patches, joints)
    for lack in lacks:
        yield Finding(
            "layer.untraced", "note", f"Air and heat cannot be traced all round without {lack.split(':')[0]}.",
            "The pencil needs both sides of every joint.", f"{lack.split(': ')[1].capitalize()} in house.yaml.", Where(survey.file),
        )  # fmt: skip
    yield from _of_walls(survey, patches)


def _unseen(survey: Survey, patches: Sequence[Patch], joints: Sequence[Joint]) -> Iterator[Finding]:
    for kind, what, fix in (
        ("kept", "kept as it is", "Probe or hose-test it, and on the day of the fan test feel along its edges with smoke; open and block bays at sill and top."),
        ("party", "a party wall", "Find out whether its bays run through to the roof; seal top and ends of the wall from inside."),
        ("garage", "a wall to the garage", "Seal it at sill, top and holes from the house's side: car fumes come through; it is a fire separation too, ask the code official."),
    ):  # fmt: skip
        mine = [p for p in patches if p.kind == kind]
        if not mine:
            continue
        names = {p.id for p in mine}
        length = sum(j.length_m for j in joints if j.kind == "old" and j.sides[0] in names)
        yield Finding(
            "layer.not_seen", "note", f"Not seen, neither pass nor gap: {', '.join(sorted(names))} ({what}; {_long(length, survey)} of joints).",
            "What carries water, air and heat there is behind old work.", fix,
            Where(survey.file, mine[0].where.line, mine[0].surface), PRACTICE,
        )  # fmt: skip
    yield from _bays(survey)


def _bays(survey: Survey) -> Iterator[Finding]:
    """Yield what open bays of a balloon frame do: where one was found the layers break, else an old house may have them."""
    fix = (
        "Block and fill each bay at sill, floors and top before air or heat is counted on; fireblock as the code asks."
    )
    code = "IRC R302.11 (fireblocking); check your local code"
    open_bays = [(f, e) for f in survey.faces for e in found(f, "open bay", "balloon")]
    for face, entry in open_bays:
        yield Finding(
            "layer.open_bay", "warn", f"Air and heat do not close behind {face.id}: open bays were found there ({entry.id}).",
            "A bay open at sill or attic lets house air in behind the new skin.", fix,
            Where(survey.file, entry.where.line, face.id, entry.id), code,
        )  # fmt: skip
    if not open_bays and survey.year_built is not None and survey.year_built < BALLOON_BEFORE:
        yield Finding(
            "layer.balloon", "note", f"Built {survey.year_built}: wall bays may run open from sill to attic (balloon frame).",
            "House air then goes up behind the new skin; air and heat close only when each bay is blocked.",
            f"Look into one bay at the sill and one in the attic. {fix}",
            Where(survey.file), code,
        )  # fmt: skip


def _of_walls(survey: Survey, patches: Sequence[Patch]) -> Iterator[Finding]:
    new = [p for p in patches if p.kind == "new"]
    for layer, code, what, fix in (
        ("vapor", "layer.vapor_not_given", "No vapor retarder is given", "Say what is on the warm side (layer: vapor; old poly, kraft or paint coats count)"),
        ("heat", "layer.heat_not_given", "No insulation is given", "Say what fills the wall (layer: insulation, existing: yes if it stands)"),
    ):  # fmt: skip
        bare = [p for p in new if p.states[layer] == "not_given"]
        if bare:
            yield Finding(
                code, "note", f"{what} for {len(bare)} of {len(new)} walls or parts of walls: {layer} cannot be traced there.",
                "The assembly names none.", f"{fix} in the assembly.", Where(survey.file, bare[0].where.line, bare[0].surface),
            )  # fmt: skip


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _long(meters: float, survey: Survey) -> str:
    return f"{meters / 0.3048:.1f} ft" if survey.units == "imperial" else f"{meters:.2f} m"
