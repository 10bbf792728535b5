"""Results kept from one plan to the next, each keyed by exactly the inputs it was made from.

A key holds everything that a result depends on (geometry as bytes), so a kept result is the same as one made
anew: nothing is ever told to expire. The oldest go first when there are too many.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

from shapely.geometry.base import BaseGeometry

T = TypeVar("T")
MOST = 20_000  # results; a big house has some hundreds


def mark(geom: BaseGeometry | None) -> bytes:
    """Return a geometry as bytes for a key: equal bytes mean equal coordinates."""
    return b"" if geom is None else bytes(geom.wkb)


class Memo:
    """A bounded store of results by (name, key)."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[str, Hashable], Any] = OrderedDict()
        self.hits = 0
        self.misses = 0

    def get(self, name: str, key: Hashable, make: Callable[[], T]) -> T:
        """Return the kept result of that name and key, or make it and keep it."""
        full = (name, key)
        if full in self._kept:
            self.hits += 1
            self._kept.move_to_end(full)
            return self._kept[full]  # type: ignore[no-any-return]
        self.misses += 1
        value = make()
        self._kept[full] = value
        if len(self._kept) > MOST:
            self._kept.popitem(last=False)
        return value
