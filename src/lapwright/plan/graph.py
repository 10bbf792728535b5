"""The named results of a job and what each is made from.

A view names the results it needs; nothing else is computed. Every result is a pure function of the
job (and of other results), so computing after an edit gives the same bytes as computing from scratch.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from lapwright import compatible, hazards
from lapwright import details as details_pkg  # noqa: F401  (floor 3, named for the import contract)
from lapwright.catalog.model import Catalog
from lapwright.change import Change
from lapwright.details.base import Check, Claim, Context, Detail, Piece, Place, Step
from lapwright.details.metalwork import metal_findings
from lapwright.details.places import all_places
from lapwright.details.registry import Registry, built_in
from lapwright.details.settings import with_settings
from lapwright.findings import BadJob, Finding, Where, in_order
from lapwright.layout import Layout, Shaped, finish, shape
from lapwright.memo import Ahead, Memo
from lapwright.plan.claims import claims_of
from lapwright.plan.needs import with_lap_needs
from lapwright.scope.model import Job
from lapwright.survey.model import Attachment, Opening, Penetration
from lapwright.survey.slabs import with_floors

if TYPE_CHECKING:
    from lapwright.continuity.build import DropTest
    from lapwright.cuts.model import Packing
    from lapwright.order import Order
    from lapwright.pencil import PencilTest

T = TypeVar("T")
Progress = Callable[[str], None]
# results of the whole job that are kept as they are: they cost more to make than to keep
WHOLE = frozenset({"layout", "steps", "checks", "order", "drops", "pencil", "fixes", "findings", "metal"})
MANY_CUTS = 150  # fewer are packed before another process has started


class Plan:
    """All results of one job. Results are computed once, when first asked for.

    memo: results of an earlier plan of the same catalog and details, to take over what did not change.
    whole: everything that the job's results depend on, as a key, or None: then no result of the whole job is kept.
    own: the job's own details (see `lapwright.details.registry.load_own`); they are chosen before the
    built-in ones; said: what the reading of catalog and details had to say (part of the job's findings already).
    Raises BadJob for a detail name nobody knows.
    """

    def __init__(
        self,
        job: Job,
        catalog: Catalog,
        own: Iterable[Detail] = (),
        progress: Progress | None = None,
        memo: Memo | None = None,
        said: Iterable[Finding] = (),
        whole: str | None = None,
    ) -> None:
        self.job = job
        self.catalog = catalog
        self.registry: Registry = built_in()
        self.own = tuple(own)
        self.said = tuple(said)
        for detail in self.own:
            self.registry.add(detail)
        self.memo = memo if memo is not None else Memo()
        self.whole = whole
        self.keep: Callable[[], None] = lambda: None  # write what is kept for the next call (see `kept`)
        self._done: dict[str, Any] = {}
        self._progress = progress or (lambda _: None)
        self._check_names()
        self.job = replace(job, scope=with_settings(job.scope, self.registry))
        self.context = Context(self.job.survey, self.job.scope, self.catalog, self.registry)  # what details may ask
        compatible.rules(catalog)  # the job's own rows are read before anything is planned

    def _check_names(self) -> None:
        known = set(self.registry.names())
        named = [(p, n) for p, n in self.job.scope.details.items()]
        for f in self.job.survey.faces:
            things: list[Opening | Penetration | Attachment] = [*f.openings, *f.penetrations, *f.attachments]
            named += [(f"{f.id}/{t.id}", t.detail) for t in things if t.detail]
        bad = [
            Finding(
                "details.unknown",
                "stop",
                f"{place} asks for the detail '{name}', which there is not.",
                "A detail is chosen by its name.",
                f"Known: {', '.join(sorted(known))}.",
                Where(self.job.file.name, thing=place),
            )
            for place, name in named
            if name not in known
        ]
        if bad:
            raise BadJob(bad)

    def _once(self, name: str, make: Callable[[], Any]) -> Any:
        if name not in self._done:
            self._progress(name)
            kept = self.whole is not None and name in WHOLE
            self._done[name] = self.memo.last(name, self.whole, make) if kept else make()
        return self._done[name]

    @property
    def places(self) -> list[tuple[Place, Detail]]:
        """Every place with the detail that serves it; places that nobody serves are left out (see `findings`)."""
        return self._once(  # type: ignore[no-any-return]
            "places",
            lambda: [(p, d) for p in self._all_places() if (d := self.registry.choose(p, self.context)) is not None],
        )

    def _all_places(self) -> list[Place]:
        return self._once("all places", lambda: all_places(self.context))  # type: ignore[no-any-return]

    @property
    def claims(self) -> list[Claim]:
        """All claims of all places, in place order. Claims of faces that did not change are kept from an earlier plan."""

        return self._once(  # type: ignore[no-any-return]
            "claims", lambda: claims_of(self.places, self.context, self.memo)
        )

    @property
    def _shaped(self) -> Shaped:
        """Pieces and cuts; laps and ties are still to be found."""
        return self._once(  # type: ignore[no-any-return]
            "pieces",
            lambda: shape(self.claims, with_floors(self.job.survey), self.catalog, self.job.scope.built, self.memo),
        )

    @property
    def layout(self) -> Layout:
        """Pieces, laps, cuts, chalk lines, ties."""
        return self._once("layout", lambda: finish(self._shaped, self.memo))  # type: ignore[no-any-return]

    def packing_ahead(self) -> Ahead | None:
        """Start the packing, which takes as long as laps and steps together, in a copy of the process; None where it is too
        small for that, or too late."""
        if {"layout", "packing"} & self._done.keys() or self.kept("layout") or len(self._shaped.cuts) < MANY_CUTS:
            return None
        return self.memo.ahead(self._pack)

    def kept(self, *names: str) -> bool:
        """Return whether these results of the whole job lie ready from an earlier plan."""
        return self.whole is not None and all(self.memo.has(name, self.whole) for name in names)

    def _both(self) -> None:
        """Make layout and steps, and the packing beside them if that pays."""
        ahead = self.packing_ahead()
        if ahead is not None:
            _ = self.layout, self.steps
            ahead.join()

    @property
    def packing(self) -> Packing:
        """Cuts placed on stock, with bounds."""

        return self._once("packing", self._pack)  # type: ignore[no-any-return]

    def _pack(self) -> Packing:
        from lapwright.cuts import pack  # highspy loads only when something is packed

        made = self.layout if "layout" in self._done or self.kept("layout") else self._shaped
        return pack(made.cuts, self.catalog, self.job.scope, made.bounds_m, self.memo)

    @property
    def steps(self) -> list[Step]:
        """What people do, in place order, with only the needs that exist, those that follow from the laps among them."""

        def make() -> list[Step]:
            out: list[Step] = []
            mine = self._by_place()
            for place, detail in self.places:
                out += detail.steps(place, self.context, mine.get(place.id, []))
            there = {s.id for s in out}
            out = [Step(**{**s.__dict__, "needs": tuple(n for n in s.needs if n in there)}) for s in out]
            places, pieces = [p for p, _ in self.places], self.layout.pieces
            out = with_lap_needs(out, pieces, self.layout.laps)
            return hazards.beside(
                out, self.job.survey, self.job.scope, catalog=self.catalog, places=places, pieces=pieces
            )

        return self._once("steps", make)  # type: ignore[no-any-return]

    @property
    def checks(self) -> list[Check]:
        """What is measured before it disappears."""

        def make() -> list[Check]:
            mine = self._by_place()
            return [c for p, d in self.places for c in d.checks(p, self.context, mine.get(p.id, []))]

        return self._once("checks", make)  # type: ignore[no-any-return]

    @property
    def order(self) -> Order:
        """The purchase and the bid."""

        def make() -> Order:
            from lapwright.order import build

            self._both()
            return build(
                self.layout.pieces,
                self.packing.cuts,
                self.packing.stock,
                self.steps,
                self.job.survey,
                self.job.scope,
                self.catalog,
            )

        return self._once("order", make)  # type: ignore[no-any-return]

    @property
    def drops(self) -> DropTest:
        """The drop test: every edge of every sheet with its role and state, and what is wrong with them."""

        def make() -> DropTest:
            from lapwright.compatible import Bonds  # only proofs need these
            from lapwright.continuity.bucks import buck_rules
            from lapwright.continuity.build import drop_test, surroundings, walls
            from lapwright.hazards.clear import out_m

            survey, pieces = self.job.survey, self.layout.pieces
            moved = {f.id: out_m(f, self.job.scope, self.catalog) for f in survey.faces}
            found = walls(survey, pieces, self.layout.laps, Bonds(self.catalog, self.checks), moved)
            made = drop_test(found, around=surroundings(survey, pieces, found))
            return replace(made, findings=(*made.findings, *buck_rules(pieces)))

        return self._once("drops", make)  # type: ignore[no-any-return]

    @property
    def pencil(self) -> PencilTest:
        """The pencil test: where water, air, vapor and heat close round the heated space, and where they do not."""

        def make() -> PencilTest:
            from lapwright.pencil import pencil_test  # only proofs need it

            return pencil_test(self.context, self.layout.ties)

        return self._once("pencil", make)  # type: ignore[no-any-return]

    @property
    def _fixes(self) -> tuple[list[Finding], dict[str, Change]]:
        def make() -> tuple[list[Finding], dict[str, Change]]:
            from lapwright.continuity.fixes import proposed

            places, details = [p for p, _ in self.places], {p.id: d.name for p, d in self.places}
            return proposed(
                self.drops.findings, self.layout.pieces, places, self.job.survey, self.job.scope.typed, details
            )

        return self._once("fixes", make)  # type: ignore[no-any-return]

    @property
    def changes(self) -> dict[str, Change]:
        """The changes that findings propose, by id."""
        return self._fixes[1]

    @property
    def proofs(self) -> list[Finding]:
        """All findings, those of drop test and pencil test among them, with the changes that may mend them."""
        return self._once(  # type: ignore[no-any-return]
            "proofs",
            lambda: in_order([*self.findings, *self._accepted([*self._fixes[0], *self.pencil.findings])]),
        )

    @property
    def findings(self) -> list[Finding]:
        """Everything that is wrong or worth knowing, stops first; accepted warnings become notes that say so."""

        def make() -> list[Finding]:
            self._both()
            found = [*self.job.findings, *self.layout.findings, *self.packing.findings, *self.order.findings]
            found += self._unserved() + self._nothing_new()
            used = sorted({c.product for c in self.packing.cuts})
            found += metal_findings((self.catalog[p] for p in used if p in self.catalog), self.layout.pieces, self.catalog)
            found += hazards.findings(
                self.job.survey, self.job.scope, catalog=self.catalog, steps=self.steps, pieces=self.layout.pieces
            )
            found += compatible.findings(
                self.job.survey, self.job.scope, self.catalog, self.layout.pieces, self.layout.laps, self.steps
            )
            return in_order(self._accepted(found))

        return self._once("findings", make)  # type: ignore[no-any-return]

    def rows(self, name: str, make: Callable[[], T]) -> T:
        """Return rows of the document that cost as much as a result, made once."""
        return self._once(name, make)  # type: ignore[no-any-return]

    def _by_place(self) -> dict[str, list[Piece]]:
        out: dict[str, list[Piece]] = {}
        for piece in self.layout.pieces:
            out.setdefault(piece.place, []).append(piece)
        return out

    def _unserved(self) -> list[Finding]:
        served = {p.id for p, _ in self.places}
        return [
            Finding(
                "details.none",
                "warn",
                f"No detail serves {p.id} ({p.kind} {p.sort}).".replace(" )", ")"),
                "Nothing is planned there.",
                "Choose a detail for it in house.yaml under details, or write one.",
                Where(self.job.file.name, p.where.line, p.face.id, p.id),
            )
            for p in self._all_places()
            if p.id not in served
        ]

    def _nothing_new(self) -> list[Finding]:
        if self.job.survey.faces and not self.places:
            return [
                Finding(
                    "scope.nothing",
                    "note",
                    "No zone of this house gets a new skin.",
                    "Every zone is kept.",
                    "Set decision: remove or cover and an assembly on a face or zone.",
                    Where(self.job.file.name),
                )
            ]
        return []

    def _accepted(self, found: list[Finding]) -> list[Finding]:
        out = []
        for f in found:
            reason = next(
                (
                    r
                    for code, place, r in self.job.scope.accept
                    if code == f.code and place in ("", f.where.thing or "", f.where.surface or "")
                ),
                None,
            )
            if reason is not None and f.level == "warn":
                f = Finding(
                    **{
                        **f.__dict__,
                        "level": "note",
                        "what": f"Accepted: {f.what}",
                        "why": f"{f.why} Reason given: {reason}",
                    }
                )
            out.append(f)
        return out
