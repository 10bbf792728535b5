"""From the catalog's legs to bent profiles, and what cannot be bent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lapwright.catalog.model import Product
from lapwright.findings import Finding, Where
from lapwright.metal.brake import bend_order
from lapwright.metal.profile import Profile

BRAKE_M = 10 * 12 * 0.0254  # a 10 ft brake where the catalog does not say: common practice
COIL = "coil-stock"


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


def bent(products: Iterable[Product]) -> Iterator[tuple[Product, Profile]]:
    """Yield the products that are bent, with their profiles; those whose figures make none are left out."""
    for product in products:
        try:
            profile = profile_of(product)
        except ValueError:
            continue
        if profile is not None:
            yield product, profile


def metal_findings(products: Iterable[Product]) -> list[Finding]:
    """Return what is wrong with the profiles of the products used: no profile, one through itself, a trapped leg."""
    out = []
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
        if profile is None:
            continue
        if profile.crosses_itself():
            out.append(
                Finding(
                    "metal.crosses", "stop", f"{product.title} would run through itself.", "Metal cannot.",
                    "Make a leg shorter, or open a bend.", where,
                )
            )  # fmt: skip
        elif bend_order(profile) is None:
            out.append(
                Finding(
                    "metal.trapped", "stop", f"There is no order of bends for {product.title} on a simple brake.",
                    "Each order traps a leg in the jaw.", "Make it of two pieces, or have it bent by a shop.", where,
                    "geometry of a leaf brake with a 45-degree jaw; own model",
                )
            )  # fmt: skip
    return out
