"""Top of the wall: under an eave and along a rake.

The last course ends at the top of the wall. A strip over its upper edge, turned onto what the wall runs
into, closes the air layer there; no water comes to this edge from above, so nothing has to drain.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import ClassVar

from shapely import LineString
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import (
    Check,
    Claim,
    ClearClaim,
    Context,
    Detail,
    Part,
    Piece,
    PieceClaim,
    Place,
    Plane,
    RunClaim,
    Step,
    TieClaim,
)
from lapwright.details.opening_case import at_origin
from lapwright.details.runs import (
    Line,
    along,
    free_runs,
    inside_of,
    left_over,
    opening_shapes,
    span_on,
    strip_product,
    wall_of,
)
from lapwright.details.shapes import IN, limits_of
from lapwright.details.tops_patches import PHASE_PATCH, PHASE_TOP, corner_patch, patch_steps, peak_patch
from lapwright.details.work import check, face_length, many, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import box, merged, polygons, quad

RETRY_M = 6 * IN  # a gap shorter than this is left to the patch at the peak or to film


class Top(Detail):
    """What eaves and rakes share: a strip over the upper edge of the last course, turned off the face."""

    settings = {"strip_down": 4 * IN, "strip_turn": 2 * IN, "clear": 6 * IN, "lap": 4 * IN}
    sources = {
        "strip_down": "common practice, more than the 2 in of IRC R703.2",
        "strip_turn": "common practice: enough to roll",
        "clear": "common practice",
        "lap": "common practice",
    }
    turn_plane: ClassVar[Plane] = "head"
    onto: ClassVar[str] = ""
    closes_air: ClassVar[bool] = True

    def _runs(self, place: Place, down: float) -> list[tuple[Line, float]]:
        """Return where the strip can run and how far down, each right to left, so that its low edge is the top.

        Where the full width does not fit (a head or kept wall close below) a half and then a quarter is tried.
        """
        assert place.line is not None
        out: list[tuple[Line, float]] = []
        rest: list[Line] = [(place.line[1], place.line[0])]
        for wide in (down, down / 2, down / 4):
            still: list[Line] = []
            for line in rest:
                runs = free_runs(line, 0.0, wide, inside_of(place), opening_shapes(place))
                out += [(run, wide) for run in runs]
                gaps = left_over((0.0, math.dist(*line)), (span_on(line, run) for run in runs), RETRY_M)
                still += [(along(line, a), along(line, b)) for a, b in gaps]
            rest = still
        return out

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        assert place.line is not None
        if place.assembly is None or place.assembly.product("barrier") is None:
            return
        s = {k: ctx.setting(self, k) for k in self.settings}
        product = strip_product(place, ctx, s["strip_down"] + s["strip_turn"])
        runs = self._runs(place, s["strip_down"])
        shaped: list[RunClaim | PieceClaim] = []
        for line, down in runs:
            shaped.append(
                RunClaim(
                    key=f"{place.id}/strip" + (f"-{round(line[1][0] / IN)}" if shaped else ""),
                    place=place.id,
                    role="top-strip",
                    layer="strip",
                    product=product.id,
                    surface=place.face.id,
                    start=line[0],
                    end=line[1],
                    low=0.0,
                    high=down,
                    phase=PHASE_TOP,
                    step=f"{place.id}/strip",
                    rank=1,
                    legs=((self.turn_plane, s["strip_turn"], 90.0),),
                    max_m=product.number("hold_length_m"),
                    lap_m=s["lap"],
                )
            )
        patches = list(self._patches(place, ctx, s))
        shaped += patches
        covered = [quad(*line, 0.0, down) for line, down in runs] + [p.parts[0].polygon for p in patches]
        shaped += self._film(place, ctx, s["strip_down"], covered)
        yield from shaped
        keys = [c.key for c in shaped if c.role != "corner-patch"]
        yield self._clear(place, s["clear"])
        yield TieClaim(
            place.id,
            (wall_of(place), "roof"),
            place.face.id,
            place.line,
            None,
            ("field", *keys) if self.closes_air and keys else (),
            None,
            None,
        )

    def _patches(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[PieceClaim]:
        yield from corner_patch(place, ctx, s["strip_down"])

    def _film(self, place: Place, ctx: Context, down: float, covered: Sequence[BaseGeometry]) -> Iterator[PieceClaim]:
        """Yield liquid film where the wall under the line is too narrow for any strip: tips of wedges, over heads."""
        assert place.line is not None
        bare = quad(place.line[1], place.line[0], 0.0, down).intersection(inside_of(place))
        bare = bare.difference(merged([*covered, *opening_shapes(place)]).buffer(1e-4, join_style="mitre"))
        edge = LineString(place.line).buffer(1e-3)
        spots = [p for p in polygons(bare) if p.intersection(edge).area > 1e-5]
        if not spots:
            return
        product = ctx.catalog["liquid-flashing"]
        area = math.fsum(p.area for p in spots)
        yield PieceClaim(
            key=f"{place.id}/film",
            place=place.id,
            role="top-film",
            layer="film",
            product=product.id,
            parts=tuple(Part(place.face.id, "face", p) for p in spots),
            phase=PHASE_PATCH,
            step=f"{place.id}/film",
            rank=4,
            quantity=(area * (product.number("film_m") or 0.0) * 1000, "L"),
            facts={"lap_m": 0.0, "film_area_m2": area},
        )

    def _clear(self, place: Place, clear: float) -> Claim:
        """Keep course laps off the upper end of the line; a rake crosses them all lower down."""
        assert place.line is not None
        top = max(p[1] for p in place.line)
        low, high = sorted(p[0] for p in place.line)
        return ClearClaim(
            place.id,
            place.face.id,
            "barrier",
            box(low, top - clear, high, top),
            "course",
            2.0,
            "no course lap at the top",
        )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        if of_step(pieces, place, "strip"):
            yield check(
                place,
                "strip",
                "air",
                f"top strip of {place.face.id} stuck over its whole width, turned {self.onto}; no gap, no fishmouth",
                "yes/no",
                1.0,
                1.0,
                "Slit, patch and roll; liquid film where the strip will not lie.",
                "common practice",
                count=2,
            )

    def _strip_steps(
        self, place: Place, ctx: Context, pieces: list[Piece], how: str, needs: tuple[str, ...]
    ) -> Iterator[Step]:
        mine = of_step(pieces, place, "strip")
        product = ctx.catalog[mine[0].product or ""] if mine else strip_product(place, ctx, 0.1)
        yield step(
            ctx,
            place,
            self.name,
            "strip",
            f"Top strip along {place.face.id}, {say(ctx, face_length(mine))}, {many(len({p.cut for p in mine}), 'piece')}: over the "
            f"upper edge of the last course, turned {self.onto}{how}; roll.",
            [("strip", max(face_length(mine), 0.1))],
            pieces,
            needs=needs,
            limits=limits_of(product),
            reason="" if mine else "no strip fits here; film closes it",
        )
        yield from patch_steps(place, ctx, self.name, pieces)
        film = of_step(pieces, place, "film")
        if film:
            wet = ctx.catalog["liquid-flashing"]
            yield step(
                ctx,
                place,
                self.name,
                "film",
                f"Liquid film at the top of {place.face.id} where the wall is too narrow for the strip, {len(film)} "
                f"spot{'s' if len(film) > 1 else ''}: onto the course and onto what the wall runs into, to the gauge.",
                [("film", max(math.fsum(p.polygon.area for p in film), 0.02))],
                pieces,
                needs=("strip",),
                limits=limits_of(wet),
                wait_h=wet.number("skin_h") or 0.0,
            )


class EaveOpen(Top):
    """Eave without a closed soffit: the strip turns in onto the top plate, between the rafters."""

    name = "eave-open"
    title = "Top of wall, open eave"
    places: ClassVar[tuple[tuple[str, str], ...]] = (("eave", "open"), ("eave", ""))
    onto = "in onto the top plate"

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        how = ", slit at each rafter and film in the slits"
        yield from self._strip_steps(place, ctx, pieces, how, (f"{wall_of(place)}/barrier/done",))


class EaveOpened(EaveOpen):
    """Closed soffit that is taken down along the wall first, so that the strip reaches the top plate."""

    name = "eave-opened"
    title = "Top of wall, soffit taken down along the wall"
    places: ClassVar[tuple[tuple[str, str], ...]] = ()

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        yield step(
            ctx,
            place,
            self.name,
            "open",
            f"Take down the soffit boards next to the wall along {place.face.id}, {say(ctx, _length(place))}; keep them to go back. "
            "Write down what comes to light.",
            [("trim", _length(place))],
            [],
            reason="takes boards down; puts none on",
        )
        how = ", slit at each rafter and film in the slits"
        yield from self._strip_steps(place, ctx, pieces, how, ("open", f"{wall_of(place)}/barrier/done"))
        yield step(
            ctx,
            place,
            self.name,
            "close",
            f"Put the soffit boards back along {place.face.id}, held off the new wall by the gap.",
            [("trim", _length(place))],
            [],
            needs=("strip",),
            reason="the old boards go back; nothing new",
        )


class EaveClosed(Top):
    """Closed soffit that stays: the strip can only turn onto its underside, and what is above it is not seen."""

    name = "eave-closed"
    title = "Top of wall, closed soffit stays"
    places = (("eave", "closed"),)
    turn_plane = "under"
    onto = "out onto the soffit"
    closes_air = False

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        assert place.line is not None
        yield from super().claims(place, ctx)
        (x, y), _ = place.line
        yield Finding(
            "top.closed_soffit",
            "warn",
            f"The new skin of {place.face.id} ends under a closed soffit; the wall above it is not seen.",
            "Boards of a soffit stop no air: the wall leaks into the attic above the strip.",
            f"Take the soffit down along the wall: details: {{{place.id}: eave-opened}}; or probe it, seal to it and accept this.",
            Where(ctx.survey.file, place.where.line, place.face.id, place.id, x, y),
            "common practice",
        )

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        yield step(
            ctx,
            place,
            self.name,
            "probe",
            f"Look above the soffit of {place.face.id} through one hole at each end: where the boards of the wall end, and "
            "whether the soffit feeds the attic; photograph.",
            [("check", 2.0)],
            [],
            reason="looks and photographs; no material",
        )
        yield from self._strip_steps(place, ctx, pieces, "", ("probe", f"{wall_of(place)}/barrier/done"))

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        yield from super().checks(place, ctx, pieces)
        yield check(
            place,
            "probe",
            "above",
            f"boards above the soffit of {place.face.id} seen, sound and closed to the top plate",
            "yes/no",
            1.0,
            1.0,
            "Open the soffit and turn the strip onto the top plate.",
            "common practice",
            count=2,
        )


class EaveVented(EaveOpened):
    """Vented soffit: opened along the wall, the strip turned onto the plate below the attic's air."""

    name = "eave-vented"
    title = "Top of wall, vented soffit"
    places = (("eave", "vented"),)

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        yield from super().checks(place, ctx, pieces)
        yield check(
            place,
            "close",
            "intake",
            f"attic intake along {place.face.id}: vents clear, daylight or smoke seen going in over the plate",
            "yes/no",
            1.0,
            1.0,
            "Cut the strip back or set a baffle; the attic must breathe as before.",
            "common practice",
            count=2,
        )


class Rake(Top):
    """Sloping top of a gable: the strip turns out under the rake trim; a patch closes the peak."""

    name = "rake"
    title = "Rake"
    places = (("rake", ""),)
    turn_plane = "under"
    onto = "out under the rake trim"

    def _patches(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[PieceClaim]:
        yield from super()._patches(place, ctx, s)
        wide = min(2 * s["strip_down"], 9 * IN)
        peak = peak_patch(place, wide)
        if peak is not None:
            yield PieceClaim(
                key=f"{place.id}/peak",
                place=place.id,
                role="peak-patch",
                layer="strip",
                product=strip_product(place, ctx, wide).id,
                parts=(Part(place.face.id, "face", peak),),
                phase=PHASE_PATCH,
                step=f"{place.id}/patch",
                rank=2,
                flat=at_origin(peak),
                facts={"lap_m": 0.0},
            )

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        assert place.line is not None
        (x0, y0), (x1, y1) = place.line
        slope = abs(y1 - y0) / abs(x1 - x0) * 12
        how = f" (slope {slope:.1f} in 12)"
        yield from self._strip_steps(place, ctx, pieces, how, (f"{wall_of(place)}/barrier/done",))


def _length(place: Place) -> float:
    assert place.line is not None
    return math.dist(*place.line)
