"""Per product, what no layout of this house can beat."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Protocol


class Bounded(Protocol):
    """What knows a length of stock in metres that no layout of it beats."""

    @property
    def bound_m(self) -> float:
        """That length, worked out when asked for."""
        ...


class LayoutBounds(Mapping[str, float]):
    """Product -> least length of stock in metres; parts that take long are worked out only when a product is read."""

    def __init__(self) -> None:
        self._known: dict[str, float] = {}
        self._later: dict[str, list[Bounded]] = {}

    def add(self, product: str, length_m: float) -> None:
        """Add a length to a product's bound."""
        self._known[product] = self._known.get(product, 0.0) + length_m

    def add_later(self, product: str, part: Bounded) -> None:
        """Add what a part of the layout knows, when somebody asks."""
        self._later.setdefault(product, []).append(part)

    def __contains__(self, product: object) -> bool:
        return product in self._known or product in self._later

    def __getitem__(self, product: str) -> float:
        if product not in self:
            raise KeyError(product)
        return math.fsum([self._known.get(product, 0.0), *(p.bound_m for p in self._later.get(product, ()))])

    def __iter__(self) -> Iterator[str]:
        return iter(dict.fromkeys([*self._known, *self._later]))

    def __len__(self) -> int:
        return len({*self._known, *self._later})
