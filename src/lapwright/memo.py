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

from lapwright.aside import Aside

T = TypeVar("T")
Entries = list[tuple[Hashable, Any]]
MOST = 20_000  # results of a name; a big house has some hundreds
# what kept results are made of besides plain values, geometries and the program's own records
PLAIN = {
    ("builtins", "frozenset"),
    ("builtins", "set"),
    ("builtins", "slice"),
    ("collections", "Counter"),
    ("collections", "OrderedDict"),
    ("collections", "defaultdict"),
    ("fractions", "Fraction"),
    ("numpy", "dtype"),
    ("numpy", "ndarray"),
    ("numpy._core.multiarray", "_reconstruct"),
    ("numpy._core.multiarray", "scalar"),
    ("numpy._core.numeric", "_frombuffer"),
}


def mark(geom: BaseGeometry | None) -> bytes:
    """Return a geometry as bytes for a key: equal bytes mean equal coordinates."""
    return b"" if geom is None else bytes(geom.wkb)


class Memo:
    """A bounded store of results by (name, key).

    start: gives what an earlier process kept of a name (see `plan.kept`); asked once, when a result of it is.
    """

    def __init__(self, start: Callable[[str], Entries] | None = None) -> None:
        self._kept: dict[str, OrderedDict[Hashable, Any]] = {}
        self._start = start
        self._new: list[tuple[str, Hashable]] = []  # made since the last `brought`
        self._used: set[tuple[str, Hashable]] = set()
        self._given: str | None = None
        self.changed: set[str] = set()  # names with results that were made here
        self.hits = 0
        self.misses = 0

    def given(self, what: str) -> None:
        """Say what all keys take for granted (catalog, details); when it is not the same as before, everything is forgotten."""
        if self._given not in (None, what):
            self._kept.clear()
            self._start = None
        self._given = what

    def get(self, name: str, key: Hashable, make: Callable[[], T]) -> T:
        """Return the kept result of that name and key, or make it and keep it."""
        known = self._of(name)
        if key in known:
            self.hits += 1
            known.move_to_end(key)
            self._used.add((name, key))
            return known[key]  # type: ignore[no-any-return]
        self.misses += 1
        value = make()
        self._keep(name, key, value)
        self._new.append((name, key))
        return value

    def last(self, name: str, key: Hashable, make: Callable[[], T]) -> T:
        """As `get`, for results of a whole job, which are big: only the last one of the name is kept."""
        if not self.has(name, key):
            self._of(name).clear()
        return self.get(name, key, make)

    def has(self, name: str, key: Hashable) -> bool:
        """Return whether the result of that name and key is kept."""
        return key in self._of(name)

    def kept(self, name: str) -> Entries:
        """Return what of a name is worth keeping for another process: what was used here, and as much again of the rest."""
        known = self._of(name)
        rest = [key for key in known if (name, key) not in self._used]
        old = set(rest[: max(0, 2 * len(rest) - len(known))])
        return [(key, value) for key, value in known.items() if key not in old]

    def _of(self, name: str) -> OrderedDict[Hashable, Any]:
        if name not in self._kept:
            self._kept[name] = OrderedDict(self._start(name) if self._start is not None else ())
        return self._kept[name]

    def _keep(self, name: str, key: Hashable, value: Any) -> None:
        known = self._of(name)
        known[key] = value
        self._used.add((name, key))
        self.changed.add(name)
        if len(known) > MOST:
            known.popitem(last=False)

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
        return frozen([(name, key, self._kept[name][key]) for name, key in self._new if key in self._kept[name]])

    def take(self, data: bytes) -> None:
        """Keep the results that `brought` returned in another process."""
        for name, key, value in thawed(data):
            self._keep(name, key, value)


class Ahead:
    """Results under way from a copy of this process (see `Memo.ahead`)."""

    def __init__(self, memo: Memo, call: Callable[[], object]) -> None:
        self._memo = memo
        aside = Aside(lambda: memo.brought(call))
        self._aside = aside if aside.under_way else None

    def join(self) -> None:
        """Wait for the results and keep them."""
        if self._aside is not None:
            with suppress(pickle.PickleError, AttributeError, TypeError):  # a job's own record that cannot be sent
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
    """Reads what `_Pickler` wrote: plain values, geometries, and the program's own records; nothing that acts."""

    def __init__(self, data: bytes, shapes: list[BaseGeometry]) -> None:
        super().__init__(io.BytesIO(data))
        self._shapes = shapes

    def find_class(self, module: str, name: str) -> Any:
        found = super().find_class(module, name) if (module, name) in PLAIN or module.split(".")[0] == "lapwright" else None
        if (module, name) in PLAIN or (isinstance(found, type) and found.__module__ == module):
            return found
        raise pickle.UnpicklingError(f"{module}.{name} is no record of this program")

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
    """Return the value that `frozen` was given, equal to the last bit. UnpicklingError for bytes of another make.

    >>> thawed(frozen({"a": [1.5, shapely.Point(1, 2)]}))
    {'a': [1.5, <POINT (1 2)>]}
    """
    wkb, grids, rest = _Unpickler(data, []).load()
    shapes = shapely.from_wkb(np.array([None, *wkb], dtype=object)[1:])
    grid = np.array(grids)
    for size in sorted(set(grids) - {0.0}):  # coordinates lie on their grid already: none moves
        on = grid == size
        shapes[on] = shapely.set_precision(shapes[on], size, mode="pointwise")
    return _Unpickler(rest, list(shapes)).load()
