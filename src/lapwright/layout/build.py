"""`lay`: all claims of a job -> pieces, laps, cuts, lines, ties."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from shapely import LineString, STRtree

from lapwright.catalog.model import Catalog
from lapwright.details.base import (
    ChalkLine,
    Claim,
    ClearClaim,
    Cut,
    FieldClaim,
    HoleClaim,
    Lap,
    LineClaim,
    Piece,
    PieceClaim,
    RunClaim,
    SlitClaim,
    TieClaim,
)
from lapwright.details.sheet_claim import SheetClaim
from lapwright.findings import Finding
from lapwright.geometry import TOL_M, merged
from lapwright.layout import laps as laps_mod
from lapwright.layout.bounds import LayoutBounds
from lapwright.layout.built import built_courses, built_pieces, check_built, snapped_tops
from lapwright.layout.courses import Courses, lay_courses
from lapwright.layout.develop import Chain, chain_key, chains
from lapwright.layout.sheet_pieces import seam_runs, sheet_pieces, sheeting_findings
from lapwright.layout.sheets import Sheeting, lay_sheets, sheet_key
from lapwright.layout.strips import lay_piece, lay_run
from lapwright.memo import Memo, mark
from lapwright.scope.model import Built
from lapwright.survey.model import Survey

FOAM_M = 2 * 0.0254  # boards this near to a line reach it: a buck or the gap round a pipe lies between; own choice
FOAM_SHARE = 0.9  # boards that reach so much of a line close it: corners are cut short; own choice
IMPERIAL_GRID_M = 0.0127  # chalk lines on half inches
METRIC_GRID_M = 0.01
MANY_CLAIMS = 400  # what fewer come to is laid before another process has started


@dataclass(frozen=True)
class Tie:
    """Where two sides' control layers meet: per layer `tied`, `open`, or `none` (not asked for)."""

    id: str
    sides: tuple[str, str]
    surface: str
    line: tuple[tuple[float, float], ...]
    length_m: float
    water: str
    air: str
    vapor: str
    heat: str
    by: tuple[str, ...]


@dataclass(frozen=True)
class Layout:
    """Everything that the claims came to. Orders are fixed: pieces by `installed`, the rest by id or place."""

    pieces: tuple[Piece, ...]
    laps: tuple[Lap, ...]
    cuts: tuple[Cut, ...]
    lines: tuple[ChalkLine, ...]
    ties: tuple[Tie, ...]
    bounds_m: Mapping[str, float]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Shaped:
    """A layout before its laps are found: what `finish` makes the rest from. shaped, course_lap, end_lap: see `laps`."""

    claims: tuple[Claim, ...]
    pieces: tuple[Piece, ...]
    cuts: tuple[Cut, ...]
    lines: tuple[ChalkLine, ...]
    bounds_m: Mapping[str, float]
    findings: tuple[Finding, ...]
    built: tuple[Piece, ...]
    shaped: Mapping[str, PieceClaim | RunClaim]
    course_lap: Mapping[str, float]
    end_lap: Mapping[str, float]


def lay(
    claims: Iterable[Claim], survey: Survey, catalog: Catalog, built: Built | None = None, memo: Memo | None = None
) -> Layout:
    """Shape all material of a job and find where it overlaps: `shape`, then `finish`."""
    memo = memo if memo is not None else Memo()
    return finish(shape(claims, survey, catalog, built, memo), memo)


def shape(
    claims: Iterable[Claim], survey: Survey, catalog: Catalog, built: Built | None = None, memo: Memo | None = None
) -> Shaped:
    """Shape all material of a job.

    claims: those of every place; built: pieces that hang already, taken as they are; memo: results of an earlier
    call, kept (one for one catalog). Raises nothing for a valid job; what cannot be is a finding.
    """
    memo = memo if memo is not None else Memo()
    everything = list(claims)
    imperial = survey.units == "imperial"
    unit = 0.0254 if imperial else 0.01
    grid = IMPERIAL_GRID_M if imperial else METRIC_GRID_M
    fields = [c for c in everything if isinstance(c, FieldClaim)]
    shaped = {c.key: c for c in everything if isinstance(c, PieceClaim | RunClaim)}
    findings = [c for c in everything if isinstance(c, Finding)]
    fixed_pieces, fixed_cuts = built_pieces(built)
    hung = {p.id for p in fixed_pieces}
    hung_claims = {p.claim for p in fixed_pieces if p.role != "course"}

    pieces: list[Piece] = []
    cuts: list[Cut] = []
    lines: list[ChalkLine] = []
    bounds = LayoutBounds()
    course_lap: dict[str, float] = {}
    end_lap: dict[str, float] = {}
    sort_key: dict[str, tuple[int, int, int, str, int, str]] = {}
    face_no = {f.id: i for i, f in enumerate(survey.faces)}

    loop_no = {loop.id: i for i, loop in enumerate(survey.loops)}
    found = chains(
        survey,
        fields,
        (c for c in everything if isinstance(c, HoleClaim)),
        (c for c in everything if isinstance(c, SlitClaim)),
        (c for c in everything if isinstance(c, ClearClaim)),
    )
    hanging = {c.key: (tuple(built_courses(c, fixed_pieces)), tuple(snapped_tops(c, built))) for c in found}
    keys = {c.key: (chain_key(c), grid, unit, *hanging[c.key]) for c in found}

    def courses(chain: Chain) -> Courses:
        product = catalog[chain.product]
        return memo.get("courses", keys[chain.key], lambda: lay_courses(chain, product, grid, unit, *hanging[chain.key], memo))

    # the biggest chain here, the rest and the sheets on a second core; sheets of one face build on one another
    sheets = sorted((c for c in everything if isinstance(c, SheetClaim)), key=lambda c: c.rank)
    to_lay = [c for c in found if not memo.has("courses", keys[c.key])]
    first = max(to_lay, key=lambda c: len(c.obstructions), default=None)
    rest = [c for c in to_lay if c is not first]
    ahead = None
    if first is not None and len(everything) >= MANY_CLAIMS and (rest or sheets):
        ahead = memo.ahead(lambda: (_sheetings(sheets, catalog, unit, memo), [courses(c) for c in rest]))
        courses(first)
        ahead.join()
    for chain in found:
        course_lap[chain.key], end_lap[chain.key] = chain.rule.course_lap_m, chain.rule.end_lap_m
        made = courses(chain)
        for n, piece in enumerate(made.pieces):
            sort_key[piece.id] = (chain.rule.phase, int(piece.facts["course"]), loop_no[chain.loop], "", n, piece.id)
        pieces += [p for p in made.pieces if p.id not in hung]
        cuts += made.cuts
        lines += made.lines
        findings += made.findings
        bounds.add(chain.product, made.bound_m)
    for key, claim in shaped.items():
        if key in hung_claims:
            continue
        if isinstance(claim, PieceClaim):
            new, new_cuts = lay_piece(claim)
        else:
            new, new_cuts = lay_run(claim, catalog[claim.product], unit)
        for n, piece in enumerate(new):
            sort_key[piece.id] = (
                claim.phase,
                0,
                face_no.get(piece.surface, 0),
                claim.place,
                claim.rank,
                f"{key}/{n:06d}",
            )
        pieces += new
        cuts += new_cuts
    for sheet, one in zip(sheets, _sheetings(sheets, catalog, unit, memo), strict=True):
        product = catalog[sheet.product]
        bounds.add_later(sheet.product, one)
        new, new_cuts = sheet_pieces(one, unit)
        tape = catalog[sheet.tape] if sheet.tape else None
        for run in seam_runs(one, tape.needed("width_m"), sheet.phase + 1) if tape else ():
            more, more_cuts = lay_run(run, catalog[run.product], unit)
            new, new_cuts = [*new, *more], [*new_cuts, *more_cuts]
        for n, piece in enumerate(new):
            sort_key[piece.id] = (
                sheet.phase + (piece.role == "seam-tape"),
                sheet.rank,
                face_no.get(piece.surface, 0),
                sheet.place,
                n,
                piece.id,
            )
        pieces += [p for p in new if p.id not in hung]
        cuts += [c for c in new_cuts if c.pieces[0] not in hung]
        findings += sheeting_findings(one, product)
    for cut in cuts:
        if cut.product in bounds and cut.id in shaped:
            bounds.add(cut.product, cut.flat.area / catalog[cut.product].needed("width_m"))
    lines += [
        ChalkLine(c.surface, c.layer, c.y, c.x_from, c.x_to, c.why) for c in everything if isinstance(c, LineClaim)
    ]

    pieces.sort(key=lambda p: sort_key[p.id])
    last = max((p.installed for p in fixed_pieces), default=0)  # what hangs keeps its number in time
    pieces = fixed_pieces + [replace(p, installed=last + n) for n, p in enumerate(pieces, 1)]
    when = {p.id: p.installed for p in pieces}
    cuts = fixed_cuts + [replace(c, installed=min(when[p] for p in c.pieces)) for c in cuts if c.pieces[0] in when]
    lines.sort(key=lambda c: (face_no.get(c.surface, 0), c.layer, c.y_m, c.x_from_m))
    return Shaped(
        tuple(everything),
        tuple(pieces),
        tuple(sorted(cuts, key=lambda c: (c.installed, c.id))),
        tuple(lines),
        bounds,
        tuple(findings),
        tuple(fixed_pieces),
        shaped,
        course_lap,
        end_lap,
    )


def _sheetings(sheets: Sequence[SheetClaim], catalog: Catalog, unit: float, memo: Memo) -> list[Sheeting]:
    """Lay sheets in the order given, each over the joints of those underneath."""
    laid: dict[str, Sheeting] = {}
    for sheet in sheets:
        under = tuple(
            joint
            for key, one in laid.items()
            if sheet.above is not None and (key == sheet.above or key.startswith(f"{sheet.above}-"))
            and one.claim.surface == sheet.surface
            for joint in one.joints
        )
        laid[sheet.key] = memo.get(
            "sheets",
            (sheet_key(sheet), unit, tuple(mark(j) for j in under)),
            lambda c=sheet, u=under: lay_sheets(c, catalog[c.product], unit, u),  # type: ignore[misc]
        )
    return [laid[c.key] for c in sheets]


def finish(made: Shaped, memo: Memo | None = None) -> Layout:
    """Find where the pieces overlap, which lies over which, and what ties to what. memo: as in `shape`."""
    pieces = made.pieces
    found = laps_mod.all_laps(pieces, made.shaped, made.course_lap, made.end_lap, memo)
    found, short = laps_mod.check_laps(found, {p.id: p for p in pieces})
    short += check_built(list(made.built), pieces, made.claims)
    ties = resolve_ties([c for c in made.claims if isinstance(c, TieClaim)], pieces)
    return Layout(pieces, tuple(found), made.cuts, made.lines, tuple(ties), made.bounds_m, (*made.findings, *short))


def resolve_ties(claims: Sequence[TieClaim], pieces: Sequence[Piece]) -> list[Tie]:
    """Return the ties with the pieces that make them. "field" in a claim means: a course touches the line; "foam": boards
    of insulation reach it."""
    by_claim: dict[str, list[Piece]] = {}
    courses: dict[str, list[Piece]] = {}
    boards: dict[str, list[Piece]] = {}
    for piece in pieces:
        by_claim.setdefault(piece.claim, []).append(piece)
        if piece.role == "course" and piece.layer == "barrier":
            courses.setdefault(piece.surface, []).append(piece)
        if piece.layer == "insulation" and piece.plane == "face":
            boards.setdefault(piece.surface, []).append(piece)
    trees = {s: STRtree([p.polygon for p in ps]) for s, ps in courses.items()}
    out = []
    for claim in claims:
        line = LineString(claim.line)
        by: dict[str, None] = {}
        state = {}
        for layer in ("water", "air", "vapor", "heat"):
            keys = getattr(claim, layer)
            if keys is None:
                state[layer] = "none"
                continue
            ok = bool(keys)
            for key in keys:
                if key == "field":
                    near = trees.get(claim.surface)
                    mine = courses.get(claim.surface, [])
                    found = [mine[int(i)] for i in near.query(line.buffer(0.35))] if near is not None else []
                    found = [p for p in found if p.polygon.distance(line) < 0.35]
                elif key == "foam":
                    near = [p for p in boards.get(claim.surface, []) if p.polygon.distance(line) < FOAM_M]
                    reached = merged(p.polygon.buffer(FOAM_M) for p in near).intersection(line).length
                    found = near if reached > FOAM_SHARE * line.length else []
                else:
                    found = by_claim.get(key, [])
                ok = ok and bool(found)
                by.update(dict.fromkeys(sorted(p.id for p in found)))
            state[layer] = "tied" if ok else "open"
        out.append(
            Tie(claim.id, claim.sides, claim.surface, claim.line, max(line.length, TOL_M), **state, by=tuple(by))
        )
    return sorted(out, key=lambda t: t.id)
