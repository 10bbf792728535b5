"""One silent, serial HiGHS: the same program gives the same answer, and nothing is printed."""

from __future__ import annotations

from typing import Any


def quiet_highs() -> Any:
    """Return a new solver object.

    The usual constructor prints a banner to standard output before it can be told not to (it switches on
    callbacks, which we do not use); going one class further up does not. The number of threads is left alone:
    HiGHS refuses to run when it differs from what another solver of the same process has set, and the
    simplex method works on one thread anyhow.
    """
    # highspy takes 0.1 s to import: only jobs that need a linear program pay for it
    import highspy

    class Quiet(highspy.Highs):
        def __init__(self) -> None:
            super(highspy.Highs, self).__init__()
            self.callbacks: list[Any] = []

    solver = Quiet()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("solver", "simplex")
    solver.setOptionValue("parallel", "off")
    return solver
