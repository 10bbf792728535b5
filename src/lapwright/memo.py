"""Results kept from one plan to the next, each keyed by exactly the inputs it was made from.

A key holds everything that a result depends on (geometry as bytes), so a kept result is the same as one made
anew: nothing is ever told to expire. The oldest go first when there are too many.
"""

from __future__ import annotations

import io
import pickle
from collections import OrderedDict
from collections.abc import Callable, Hashable
from contextlib import suppress
from typing import Any, TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lapwright.aside import Aside, can_copy

T = TypeVar("T")
MOST = 20_000  # results; a big house has some hundreds


def mark(geom: BaseGeometry | None) -> bytes:
    """Return a geometry as bytes for a key: equal bytes mean equal coordinates."""
    return b"" if geom is None else bytes(geom.wkb)


class Memo:
    """A bounded store of results by (name, key)."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[str, Hashable], Any] = OrderedDict()
        self._new: list[tuple[str, Hashable]] | None = None  # what a copy of the process has made
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
        self._keep(full, value)
        if self._new is not None:
            self._new.append(full)
        return value

    def has(self, name: str, key: Hashable) -> bool:
        """Return whether the result of that name and key is kept."""
        return (name, key) in self._kept

    def _keep(self, full: tuple[str, Hashable], value: Any) -> None:
        self._kept[full] = value
        if len(self._kept) > MOST:
            self._kept.popitem(last=False)

    def ahead(self, call: Callable[[], object]) -> Ahead:
        """Start a call that asks this memo for results, in a copy of this process, so that they lie here when they are asked for.

        Nothing else than time depends on it: what the copy did not bring (one core, a result that cannot be sent) is
        made when it is asked for.
        """
        return Ahead(self, call)

    def brought(self, call: Callable[[], object]) -> bytes:
        """Make a call and return all results that it had made, as bytes for `take`. What it raises is left to be raised
        when the result is asked for."""
        self._new = []
        with suppress(Exception):
            call()
        made, self._new = self._new, None
        return frozen([(full, self._kept[full]) for full in made if full in self._kept])

    def take(self, data: bytes) -> None:
        """Keep the results that `brought` returned in another process."""
        for full, value in thawed(data):
            self._keep(full, value)


class Ahead:
    """Results under way from a copy of this process (see `Memo.ahead`)."""

    def __init__(self, memo: Memo, call: Callable[[], object]) -> None:
        self._memo = memo
        self._aside = Aside(lambda: memo.brought(call)) if can_copy() else None

    def join(self) -> None:
        """Wait for the results and keep them."""
        if self._aside is not None:
            with suppress(pickle.PicklingError, AttributeError, TypeError):  # a job's own record that cannot be sent
                self._memo.take(self._aside.result())
            self._aside = None


class _Pickler(pickle.Pickler):
    """Pickles geometries apart, all at once: faster, and the grid that each lies on is kept (its own pickle drops it)."""

    def __init__(self, out: io.BytesIO) -> None:
        super().__init__(out, protocol=pickle.HIGHEST_PROTOCOL)
        self.shapes: list[BaseGeometry] = []
        self._number: dict[int, int] = {}

    def persistent_id(self, obj: Any) -> int | None:
        if not isinstance(obj, BaseGeometry):
            return None
        if id(obj) not in self._number:
            self._number[id(obj)] = len(self.shapes)
            self.shapes.append(obj)
        return self._number[id(obj)]


class _Unpickler(pickle.Unpickler):
    def __init__(self, data: bytes, shapes: list[BaseGeometry]) -> None:
        super().__init__(io.BytesIO(data))
        self._shapes = shapes

    def persistent_load(self, pid: Any) -> BaseGeometry:
        return self._shapes[pid]


def frozen(value: object) -> bytes:
    """Return a value as bytes, its geometries with all their bits and the grid they lie on. Errors as of `pickle.dumps`."""
    out = io.BytesIO()
    pickler = _Pickler(out)
    pickler.dump(value)
    shapes = np.array([None, *pickler.shapes], dtype=object)[1:]
    return pickle.dumps(
        (list(shapely.to_wkb(shapes)), shapely.get_precision(shapes).tolist(), out.getvalue()),
        protocol=pickle.HIGHEST_PROTOCOL,
    )


def thawed(data: bytes) -> Any:
    """Return the value that `frozen` was given, equal to the last bit.

    >>> thawed(frozen({"a": [1.5, shapely.Point(1, 2)]}))
    {'a': [1.5, <POINT (1 2)>]}
    """
    wkb, grids, rest = pickle.loads(data)
    shapes = shapely.from_wkb(np.array([None, *wkb], dtype=object)[1:])
    grid = np.array(grids)
    for size in sorted(set(grids) - {0.0}):  # coordinates lie on their grid already: none moves
        on = grid == size
        shapes[on] = shapely.set_precision(shapes[on], size, mode="pointwise")
    return _Unpickler(rest, list(shapes)).load()
