"""The code's own table of furring through foam, as data, and which of its rows holds for a fastener."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import yaml

from lapwright.catalog.model import Product
from lapwright.loads.rows import IN, PSF

MOST_M = 4 * IN  # the table ends at 4 in of foam
SOURCE = "IBC 2018 Table 2603.13.2"


@dataclass(frozen=True)
class Answer:
    """What the table says: thickest foam in metres (0: design required), or None where it has no row; and the row in words."""

    thickest_m: float | None
    words: str


@cache
def _rows() -> dict[str, Any]:
    text = resources.files("lapwright.fasteners").joinpath("table.yaml").read_text(encoding="utf-8")
    data: dict[str, Any] = yaml.safe_load(text)
    return data


def row_of(product: Product) -> str | None:
    """Return the table's fastener whose row holds: the thickest one that is no thicker than the product; None when there is none."""
    kind, shank = product.word("holds_as"), (product.number("shank_m") or 0.0) / IN + 1e-6
    if kind == "nail":
        return "nail-0.162" if shank >= 0.162 else "nail-0.131" if shank >= 0.131 else None
    if kind == "lag":
        return "lag-14" if shank >= 0.25 else None
    if kind == "screw":
        # makers' structural screws have reports of their own and no row here
        return "screw-10" if shank >= 0.19 and not product.id.startswith("structural") else None
    return None


def answer(product: Product, spacing_m: float, stud_m: float, weight_pa: float) -> Answer:
    """Return what the table says for a fastener every `spacing_m` on furring `stud_m` apart under cladding of `weight_pa`.

    Spacings take the next larger column, weights the next heavier. metres, Pa.
    """
    name = row_of(product)
    if name is None:
        return Answer(None, f"no row for {product.title}")
    data = _rows()
    weights = data["weights_psf"]
    heavy = next((n for n, w in enumerate(weights) if weight_pa / PSF <= w + 1e-6), None)
    column = next((n for n, w in enumerate((16, 24)) if stud_m / IN <= w + 0.25), None)
    own = [r for r in data["rows"] if r[0] == name and r[1] >= spacing_m / IN - 1e-6]
    if heavy is None:
        return Answer(None, f"no column for cladding over {weights[-1]} psf")
    if column is None:
        return Answer(None, "no column for furring more than 24 in apart")
    if not own:
        return Answer(None, "no row for that spacing")
    row = min(own, key=lambda r: r[1])
    words = f"{name} every {row[1]} in, furring {(16, 24)[column]} in apart, cladding up to {weights[heavy]} psf"
    return Answer(row[2 + column][heavy] * IN, words)
