"""Products and materials: generic kinds only, every value with its source, or empty.

A `Product`'s `values` are in SI. Whatever a product's sheet would state (lap, temperature limit,
exposure, film, cure) is a value here that the user's `catalog.yaml` overrides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

from lapwright.catalog.notebook import Node
from lapwright.findings import Where

Form = Literal["roll", "sheet", "length", "pail", "tube", "each", "area"]
FORMS: tuple[str, ...] = get_args(Form)

# The layers of the contract that can be bought ("existing" is what stands already).
LAYERS: tuple[str, ...] = (
    *("barrier", "strip", "film", "tape", "flashing", "primer", "sealant", "insulation", "sheathing"),
    *("mat", "furring", "fastener", "vapor", "slab", "cladding", "unit"),
)


@dataclass(frozen=True)
class Value:
    """One figure of a product: number or word, its unit (SI, "" for words and ratios) and its source.

    `low`, `high`: the range found on sheets of this kind of product, when there is one; `value` is then the
    cautious figure to plan with. `where`: the line of the job's own catalog.yaml, if the value is from there.
    """

    value: float | str | None
    unit: str = ""
    source: str = "common practice"
    low: float | None = None
    high: float | None = None
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Product:
    """One generic product.

    form: how it is bought (roll, sheet, length, pail, tube, each, area).
    Value names (SI) and what they mean are listed, with their units, in `lapwright.catalog.names`.
    Common ones: width_m, length_m, thickness_m, course_lap_m, end_lap_m, pack_size,
    price (in the job's currency, per pack), kgCO2e (per pack), t_min_C, t_max_C, exposure_days,
    moisture_max_pct, film_m (wet thickness), solids_ratio, cover_m2, hold_length_m, spare_ratio.
    """

    id: str
    title: str
    form: Form
    layer: str
    values: Mapping[str, Value] = field(default_factory=dict)
    where: Where = field(default_factory=Where)

    def number(self, name: str, default: float | None = None) -> float | None:
        """Return the value as a float, or `default` when it is not given."""
        value = self.values.get(name)
        if value is None or value.value is None or isinstance(value.value, str):
            return default
        return float(value.value)

    def needed(self, name: str) -> float:
        """Return the value as a float; KeyError naming product and value when it is not given."""
        number = self.number(name)
        if number is None:
            raise KeyError(f"{self.id}: {name} is not given")
        return number

    def word(self, name: str, default: str = "") -> str:
        """Return the value as text, or `default` when it is not given."""
        value = self.values.get(name)
        return default if value is None or value.value is None else str(value.value)

    def source(self, name: str) -> str:
        """Return where the value comes from, "not given" when there is none."""
        value = self.values.get(name)
        return "not given" if value is None or value.value is None else value.source


@dataclass(frozen=True)
class Catalog:
    """All products by id. Labor rates live in `lapwright.catalog.rates`."""

    products: Mapping[str, Product]
    compatibility: Node | None = None  # the job's own rules as written, read by lapwright.compatible

    def __getitem__(self, product_id: str) -> Product:
        return self.products[product_id]

    def __contains__(self, product_id: object) -> bool:
        return product_id in self.products
