"""Say what the program is doing as soon as a command takes more than a second."""

from __future__ import annotations

import os
import signal
import sys
import threading
from types import FrameType, TracebackType
from typing import Any, Self

# Results that go by too fast, or that another one asks for on its way, have no words: they are not told.
WORDS = {
    "places": "finding the places that want a detail",
    "claims": "asking each detail what it needs",
    "pieces": "laying courses and strips",
    "layout": "finding where they overlap",
    "packing": "cutting them from rolls and lengths",
    "steps": "writing the steps",
    "checks": "writing the checks",
    "order": "adding up the order",
    "drops": "letting drops run down the wall",
    "pencil": "tracing each layer round the house",
    "findings": "gathering what is wrong",
    "pages": "drawing the pages",
    "packet.pdf": "setting the pages in packet.pdf",
    "adding up the layers": "adding up the layers",
    "reading the model": "reading the model",
    "moisture": "drawing years of weather",
}
QUIET_S = 1.0  # nothing is said before a second has gone by


class Stages:
    """Context manager and callback: call it with a stage's name; it speaks on standard error after a second.

    A signal wakes it where the system has one, so that no second thread stands in the way of `lapwright.aside`.
    """

    def __init__(self) -> None:
        self._stage = "reading the job"
        self._said = ""
        self._process = os.getpid()  # what is made in a copy is not told: it would come out of order
        self._loud = False
        self._timer: threading.Timer | None = None
        self._before: Any = None

    def __enter__(self) -> Self:
        if hasattr(signal, "setitimer") and threading.current_thread() is threading.main_thread():
            self._before = signal.signal(signal.SIGALRM, self._wake)
            signal.setitimer(signal.ITIMER_REAL, QUIET_S)
        else:
            self._timer = threading.Timer(QUIET_S, self._wake)
            self._timer.daemon = True
            self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._timer is not None:
            self._timer.cancel()
        else:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            signal.signal(signal.SIGALRM, self._before)

    def __call__(self, stage: str) -> None:
        if stage in WORDS:
            self._stage = WORDS[stage]
            if self._loud:
                self._say()

    def _wake(self, number: int = 0, frame: FrameType | None = None) -> None:
        self._loud = True
        self._say()

    def _say(self) -> None:
        if self._stage != self._said and os.getpid() == self._process:
            self._said = self._stage
            print(f"... {self._stage}", file=sys.stderr, flush=True)
