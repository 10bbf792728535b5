"""Say what the program is doing as soon as a command takes more than a second."""

from __future__ import annotations

import sys
import threading
from types import TracebackType
from typing import Self

WORDS = {
    "places": "finding the places that want a detail",
    "claims": "asking each detail what it needs",
    "layout": "laying courses and strips",
    "packing": "cutting them from rolls and lengths",
    "steps": "writing the steps",
    "checks": "writing the checks",
    "order": "adding up the order",
    "findings": "checking",
}
QUIET_S = 1.0  # nothing is said before a second has gone by


class Stages:
    """Context manager and callback: call it with a stage's name; it speaks on standard error after a second."""

    def __init__(self) -> None:
        self._stage = "reading the job"
        self._loud = False
        self._lock = threading.Lock()
        self._timer = threading.Timer(QUIET_S, self._wake)
        self._timer.daemon = True

    def __enter__(self) -> Self:
        self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._timer.cancel()

    def __call__(self, stage: str) -> None:
        with self._lock:
            self._stage = WORDS.get(stage, stage)
            if self._loud:
                self._say()

    def _wake(self) -> None:
        with self._lock:
            self._loud = True
            self._say()

    def _say(self) -> None:
        print(f"... {self._stage}", file=sys.stderr, flush=True)
