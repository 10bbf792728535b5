"""Where a step happens: its place, what is there, how high, what it puts on; and the patterns that pick steps.

A pattern is `kind:sort/step`, each part optional and with * for anything: `opening:kept/prepare`, `field/course-*`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase

from lapwright.catalog.model import Catalog
from lapwright.details.base import Context, Piece, Place, Step
from lapwright.details.places import all_places
from lapwright.scope.model import Assembly, Scope
from lapwright.survey.model import Face, Opening, Penetration, Survey

STOREY_M = 2.4  # about 8 ft: a face whose foot is higher than that stands on a roof: common practice


@dataclass(frozen=True)
class Spot:
    """One step with what is known of its place. `top_m`: height of the work above the ground, metres, None unknown."""

    survey: Survey
    scope: Scope
    catalog: Catalog
    face: Face | None = None
    place: Place | None = None
    step: Step | None = None
    layers: frozenset[str] = frozenset()
    products: frozenset[str] = frozenset()
    top_m: float | None = None

    @property
    def assembly(self) -> Assembly | None:
        """The make-up of the new skin at the place."""
        return self.place.assembly if self.place else None

    @property
    def opening(self) -> Opening | None:
        """The opening that the place is, or None."""
        thing = self.place.thing if self.place else None
        return thing if isinstance(thing, Opening) else None

    @property
    def penetration(self) -> Penetration | None:
        """The thing through the wall that the place is, or None."""
        thing = self.place.thing if self.place else None
        return thing if isinstance(thing, Penetration) else None

    @property
    def called(self) -> tuple[str, str, str] | None:
        """Kind and sort of the place and the step's own name; None where the place is one that only the job knows."""
        if self.step is None or self.place is None:
            return None
        return self.place.kind, self.place.sort, self.step.id.rsplit("/", 1)[-1]


def fits(pattern: str, kind: str, sort: str, name: str) -> bool:
    """Return whether a pattern names a step by the kind and sort of its place and its own name.

    >>> fits("opening:kept/prepare", "opening", "kept", "prepare"), fits("field/course-*", "field", "", "done")
    (True, False)
    """
    where, _, step = pattern.partition("/")
    wanted, _, narrowed = where.partition(":")
    return fnmatchcase(kind, wanted or "*") and fnmatchcase(sort, narrowed or "*") and fnmatchcase(name, step or "*")


def ground_m(face: Face, survey: Survey) -> float:
    """Return the height of the ground at a face: its own foot, or the house's lowest foot where it stands on a roof."""
    lowest = min(float(f.outline.bounds[1]) for f in survey.faces)
    own = float(face.outline.bounds[1])
    return own if own - lowest <= STOREY_M else lowest


def spots(
    steps: Sequence[Step],
    survey: Survey,
    scope: Scope,
    catalog: Catalog,
    places: Iterable[Place] | None = None,
    pieces: Iterable[Piece] = (),
) -> list[Spot]:
    """Return the steps with their places, in order. places, pieces: as the plan has them; found or left out else."""
    known = {p.id: p for p in (all_places(Context(survey, scope, catalog)) if places is None else places)}
    faces = {f.id: f for f in survey.faces}
    ground = {f.id: ground_m(f, survey) for f in survey.faces}
    made: dict[str, list[Piece]] = {}
    for piece in pieces:
        made.setdefault(piece.step, []).append(piece)
    out = []
    for step in steps:
        place, mine = known.get(step.place), made.get(step.id, [])
        face = place.face if place else faces.get(step.place.split("/", 1)[0])
        out.append(
            Spot(
                survey, scope, catalog, face, place, step,
                frozenset(p.layer for p in mine), frozenset(p.product for p in mine if p.product),
                _top(face, place, mine, ground),
            )
        )  # fmt: skip
    return out


def _top(
    face: Face | None, place: Place | None, pieces: Sequence[Piece], ground: Mapping[str, float]
) -> float | None:
    """Return the highest point of the work above the ground: of its pieces on walls, else of the place.

    ground: by face, metres.
    """
    tops = [
        float(p.polygon.bounds[3]) - ground[p.surface]
        for p in pieces
        if p.plane in ("face", "jamb") and p.surface in ground
    ]
    if tops:
        return max(tops)
    if face is None or place is None or face.id not in ground:  # a floor lies on the ground
        return None
    highest = [place.polygon.bounds[3]] if place.polygon is not None else []
    highest += [y for _, y in place.line] if place.line else []
    shape = getattr(place.thing, "polygon", None)
    highest += [shape.bounds[3]] if shape is not None else []
    return float(max(highest)) - ground[face.id] if highest else None
