"""From the catalog's legs to bent profiles, and what cannot be bent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from lapwright.catalog.model import Catalog, Product
from lapwright.details.base import Piece
from lapwright.findings import Finding, Where
from lapwright.metal.brake import bend_order
from lapwright.metal.profile import Profile

BRAKE_M = 10 * 12 * 0.0254  # a 10 ft brake where the catalog does not say: common practice
COIL = "coil-stock"
DRIP_OPEN_DEG = 10.0  # the drip leg hangs 10 to 15 degrees open: common practice


def profile_of(product: Product) -> Profile | None:
    """Return the bent profile of a flashing from its legs: up the wall, out, down, hem; None when it has no legs.

    The leg out falls by the slope, the leg down is opened by the drip's angle. Raises ValueError when the figures
    make no profile.
    """
    up, out, down = (product.number(f"leg_{n}_m") or 0.0 for n in ("up", "out", "down"))
    hem, thick = product.number("hem_m") or 0.0, product.number("thickness_m")
    if not up or not out or thick is None:
        return None
    slope, opened = product.number("slope_deg") or 0.0, product.number("drip_open_deg") or 0.0
    legs, turns = [up, out], [90.0 - slope]
    if down:
        legs.append(down)
        turns.append(-(90.0 - slope - opened))
        if hem:
            legs.append(hem)
            turns.append(-180.0)
    return Profile(tuple(legs), tuple(turns), thick, thick, product.number("bend_deduction_m"))


@dataclass(frozen=True)
class Made:
    """Metal that a detail bends to its own legs from coil: one profile, and the cuts it is bent from. `id` for files."""

    id: str
    title: str
    profile: Profile
    cuts: frozenset[str]
    dams: bool = True


def made_profile(legs_m: Sequence[float], slope_deg: float, coil: Product) -> Profile:
    """Return the profile of legs up, out, down and hem: out falls by the slope, down hangs open by the drip's angle.

    Raises ValueError when the figures make no profile.
    """
    opened = coil.number("drip_open_deg") or DRIP_OPEN_DEG
    turns = (90.0 - slope_deg, -(90.0 - slope_deg - opened), -180.0)
    thick = coil.needed("thickness_m")
    return Profile(tuple(legs_m), turns[: len(legs_m) - 1], thick, thick, coil.number("bend_deduction_m"))


def made(pieces: Iterable[Piece], catalog: Catalog) -> list[Made]:
    """Return the profiles that details bend to their own legs (fact `legs_m`), alike ones together, in order of id.

    Those whose figures make none are left out.
    """
    rows: dict[tuple[str, str, tuple[float, ...], float, bool], set[str]] = {}
    for p in pieces:
        if "legs_m" in p.facts and p.cut is not None and p.product in catalog:
            legs = tuple(round(float(v), 4) for v in p.facts["legs_m"])
            key = (p.role, p.product or "", legs, float(p.facts.get("slope_deg", 0.0)), bool(p.facts.get("end_dams")))
            rows.setdefault(key, set()).add(p.cut)
    out: list[Made] = []
    for (role, product, legs, slope, dams), cuts in sorted(rows.items()):
        try:
            profile = made_profile(legs, slope, catalog[product])
        except ValueError:
            continue
        name = f"{role}-{round(legs[0] * 1000)}-{round(legs[1] * 1000)}"
        taken = sum(m.id.startswith(name) for m in out)
        title = f"{role.replace('-', ' ').capitalize()}, bent from coil"
        out.append(Made(name if not taken else f"{name}-{taken + 1}", title, profile, frozenset(cuts), dams))
    return out


def bent(products: Iterable[Product]) -> Iterator[tuple[Product, Profile]]:
    """Yield the products that are bent, with their profiles; those whose figures make none are left out."""
    for product in products:
        try:
            profile = profile_of(product)
        except ValueError:
            continue
        if profile is not None:
            yield product, profile


def metal_findings(products: Iterable[Product], pieces: Iterable[Piece] = (), catalog: Catalog | None = None) -> list[Finding]:
    """Return what is wrong with the profiles of the products used, and of what details bend themselves: no profile, one
    through itself, a trapped leg, a piece longer than the brake or wider than the coil.

    pieces: all of the job's; catalog: where the coil stock is, with the brake's length.
    """
    out: list[Finding] = []
    pieces = list(pieces)
    coil = catalog.products.get(COIL) if catalog is not None else None
    longest = _longest(pieces)
    for product in products:
        where = Where(product.where.file, product.where.line, thing=product.id)
        try:
            profile = profile_of(product)
        except ValueError as why:
            out.append(
                Finding(
                    "metal.profile", "stop", f"The legs of {product.title} make no profile: {why}.",
                    "Nobody can bend it.", "Check its legs, slope and hem in catalog.yaml.", where,
                )
            )  # fmt: skip
            continue
        if profile is not None:
            out += _unbendable(profile, product.title, where)
            out += _too_big(profile, product.title, longest.get(product.id, 0.0), coil, where)
    for row in made(pieces, catalog) if catalog is not None else ():
        out += _unbendable(row.profile, row.title, Where(thing=min(row.cuts)))
        long = max((_length(p) for p in pieces if p.cut in row.cuts), default=0.0)
        out += _too_big(row.profile, row.title, long, coil, Where(thing=min(row.cuts)))
    return out


def brake_length(coil: Product | None) -> float:
    """Return the longest piece that the brake bends, metres: the coil stock's own figure, else 10 ft."""
    return (coil.number("brake_length_m") if coil is not None else None) or BRAKE_M


def _length(piece: Piece) -> float:
    x0, y0, x1, y1 = piece.polygon.bounds
    return float(max(x1 - x0, y1 - y0))


def _longest(pieces: Iterable[Piece]) -> dict[str, float]:
    out: dict[str, float] = {}
    for p in pieces:
        if p.product and p.layer == "flashing":
            out[p.product] = max(out.get(p.product, 0.0), _length(p))
    return out


def _too_big(profile: Profile, title: str, long: float, coil: Product | None, where: Where) -> list[Finding]:
    out = []
    brake = brake_length(coil)
    if long > brake + 1e-3:
        out.append(
            Finding(
                "metal.brake", "warn", f"{title}: its longest piece is {long:.2f} m; the brake bends {brake:.2f} m.",
                "It cannot be bent on site in one piece.",
                "Order it bent, or cut it in two with a lap in sealant. Another brake: `brake length` of coil-stock in catalog.yaml.",
                where,
            )
        )  # fmt: skip
    wide = coil.number("width_m") if coil is not None else None
    if wide is not None and profile.developed() > wide + 1e-6:
        out.append(
            Finding(
                "metal.coil", "warn", f"{title} is {profile.developed():.3f} m wide before it is bent; the coil is {wide:.3f} m.",
                "The coil does not give it.", "Take flat sheet or a wider coil, or make it of two pieces.", where,
            )
        )  # fmt: skip
    return out


def _unbendable(profile: Profile, title: str, where: Where) -> list[Finding]:
    if profile.crosses_itself():
        return [
            Finding(
                "metal.crosses", "stop", f"{title} would run through itself.", "Metal cannot.",
                "Make a leg shorter, or open a bend.", where,
            )
        ]  # fmt: skip
    if bend_order(profile) is None:
        return [
            Finding(
                "metal.trapped", "stop", f"There is no order of bends for {title} on a simple brake.",
                "Each order traps a leg in the jaw.", "Make it of two pieces, or have it bent by a shop.", where,
                "geometry of a leaf brake with a 45-degree jaw; own model",
            )
        ]  # fmt: skip
    return []
