"""From a sheeting to pieces, cuts, seam tape, and what could not be done."""

from __future__ import annotations

from itertools import pairwise

import shapely
from shapely import LineString, Polygon

from lapwright.catalog.model import Product
from lapwright.details.base import Cut, Piece, RunClaim
from lapwright.findings import Finding, Where
from lapwright.layout.sheets import Sheeting, off_supports


def sheet_pieces(laid: Sheeting, unit_m: float) -> tuple[list[Piece], list[Cut]]:
    """Return the pieces and cuts of a sheeting; ids by row and left end in whole inches or centimetres."""
    claim = laid.claim
    pieces: list[Piece] = []
    cuts: list[Cut] = []
    taken: set[str] = set()
    edge = claim.region.exterior.buffer(1e-4) if isinstance(claim.region, Polygon) else claim.region.boundary.buffer(1e-4)
    for board in laid.boards:
        x0, y0, x1, y1 = board.polygon.bounds
        name = f"{claim.key}/r{board.row + 1}-{round((x0 if laid.lying else y0) / unit_m)}"
        while name in taken:
            name += "b"
        taken.add(name)
        holes = [
            {"thing": i, "from_left_m": cx - x0, "from_bottom_m": cy - y0, "width_m": w, "height_m": h}
            for i, cx, cy, w, h in claim.snug
            if x0 < cx + w / 2 and cx - w / 2 < x1 and y0 < cy + h / 2 and cy - h / 2 < y1
        ]
        facts = {
            **claim.facts,
            "row": board.row + 1,
            "label": f"{claim.facts['layer_no']}-{board.row + 1}" if claim.facts.get("layer_no", 1) > 1 else str(board.row + 1),
            "at_edge": bool(board.polygon.intersects(edge)),
            **({"holes": holes} if holes else {}),
        }
        pieces.append(
            Piece(
                id=name,
                surface=claim.surface,
                plane="face",
                polygon=board.polygon,
                product=claim.product,
                role=claim.role,
                layer=claim.layer,
                cut=name,
                installed=0,
                step=claim.step,
                claim=claim.key,
                place=claim.place,
                held=claim.held,  # type: ignore[arg-type]
                facts=facts,
            )
        )
        cuts.append(Cut(name, claim.product, shapely.affinity.translate(board.polygon, -x0, -y0), (), (name,)))
    return pieces, cuts


def seam_runs(laid: Sheeting, width_m: float, phase: int) -> list[RunClaim]:
    """Return the seam tape: a run along every joint, centered on it, collinear joints joined."""
    claim = laid.claim
    if claim.tape is None:
        return []
    out = []
    merged = shapely.line_merge(shapely.union_all(list(laid.joints))) if laid.joints else LineString()
    lines = [p for p in getattr(merged, "geoms", [merged]) if isinstance(p, LineString) and p.length > 1e-3]
    straight = [s for line in lines for s in _straight(line)]
    for n, ((ax, ay), (bx, by)) in enumerate(sorted(straight)):
        out.append(
            RunClaim(
                key=f"{claim.key}/seam-{round(ax * 1000)}-{round(ay * 1000)}-{'h' if abs(by - ay) < 1e-6 else 'v'}",
                place=claim.place,
                role="seam-tape",
                layer="tape",
                product=claim.tape,
                surface=claim.surface,
                start=(ax, ay),
                end=(bx, by),
                low=-width_m / 2,
                high=width_m / 2,
                phase=phase,
                step=claim.tape_step or claim.step,
                rank=n,
                lap_m=0.05,
                facts={"on": claim.layer},
            )
        )
    return out


def _straight(line: LineString) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Split a line at its bends, each part from the left or lower end."""
    points = [(round(x, 6), round(y, 6)) for x, y in shapely.simplify(line, 1e-6).coords]
    return [tuple(sorted(pair)) for pair in pairwise(points) if pair[0] != pair[1]]  # type: ignore[misc]


def sheeting_findings(laid: Sheeting, product: Product) -> list[Finding]:
    """Say what the sheets cannot do here: no area, joints that had to fall where none should be."""
    claim = laid.claim
    if not laid.boards:
        return [
            Finding(
                "sheet.no_area",
                "stop",
                f"{claim.place}: there is no area to put {product.title} on.",
                "The outline has no interior once openings and things are cut out.",
                "Look at the outline and at what stands in it.",
                Where(surface=claim.surface, thing=claim.place),
            )
        ]
    out = []
    off = off_supports(laid)
    if off:
        out.append(
            Finding(
                "sheet.off_stud",
                "warn",
                f"{claim.place}: {off} upright joints of {product.title} fall between studs.",
                "The studs stand further apart than a sheet reaches; an edge off the stud holds no nail.",
                "Put studs or blocking behind these joints, or take longer sheets.",
                Where(surface=claim.surface, thing=claim.place),
                "common practice",
            )
        )
    if laid.broken:
        out.append(
            Finding(
                "sheet.joint",
                "note",
                f"{claim.place}: {laid.broken} joints of {product.title} fall in line with a corner of an opening or with a joint "
                "beside or beneath them.",
                "There is no room to move them without slivers; cracks and drafts start there.",
                "Tape these joints first, or change the height of the first row.",
                Where(surface=claim.surface, thing=claim.place),
                "common practice",
            )
        )
    return out
