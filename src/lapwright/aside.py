"""A call made in a copy of this process, so that a second core works too.

Only pure functions belong here: what comes back is what the call would have returned in this process, so a
plan is the same with one core and with two. Where no copy can be made (one core, a system without `fork`, or a
copy that fails), the call is made here when its result is asked for.
"""

from __future__ import annotations

import gc
import os
import pickle
import sys
import threading
import warnings
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class Aside(Generic[T]):
    """A call under way. The result must be picklable."""

    def __init__(self, call: Callable[[], T]) -> None:
        self._call = call
        self._pipe: int | None = None
        self._child = 0
        if can_copy():
            self._start()

    def _start(self) -> None:
        sys.stdout.flush()
        sys.stderr.flush()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # of forks beside threads: there is none, see can_copy
            try:
                read, write = os.pipe()
            except OSError:  # too many files are open
                return
            try:
                self._child = os.fork()
            except OSError:  # too many processes, or no memory for one more
                os.close(read)
                os.close(write)
                return
        if self._child == 0:
            status = 1
            try:
                gc.freeze()  # looking for rubbish among what came along would copy every page of it
                os.close(read)
                with os.fdopen(write, "wb") as out:
                    pickle.dump(self._call(), out, protocol=pickle.HIGHEST_PROTOCOL)
                status = 0
            finally:
                os._exit(status)  # no clean-up of what belongs to the parent
        os.close(write)
        self._pipe = read

    @property
    def under_way(self) -> bool:
        """Whether a copy works on it; else the call is still to be made, here."""
        return self._pipe is not None

    def result(self) -> T:
        """Return the result; wait for the copy if need be. What the call raises, it raises here."""
        if self._pipe is None:
            return self._call()
        with os.fdopen(self._pipe, "rb") as back:
            data = back.read()
        self._pipe = None
        try:
            _, status = os.waitpid(self._child, 0)
        except ChildProcessError:  # where the signal of ended children is ignored nobody tells how one ended
            status = 0
        if status == 0:
            try:
                return pickle.loads(data)  # type: ignore[no-any-return]
            except (pickle.UnpicklingError, EOFError):  # what a broken copy leaves is cut short
                pass
        return self._call()  # the copy broke down: say what is wrong from here


def can_copy() -> bool:
    """Return whether a copy may be made: two cores, a system that forks, no other thread that could hold a lock.

    LAPWRIGHT_ONE_PROCESS=1 forbids it.
    """
    return (
        sys.platform.startswith("linux")
        and len(os.sched_getaffinity(0)) > 1
        and threading.active_count() == 1
        and not os.environ.get("LAPWRIGHT_ONE_PROCESS")
    )
