"""What a command says when it breaks down: plainly whose fault it is, and no traceback unless asked for."""

from __future__ import annotations

import os
import sys
import traceback
from types import TracebackType

FAULT = 70  # exit status of a fault in the program (EX_SOFTWARE of the BSD sysexits.h)
ASK = "LAPWRIGHT_TRACEBACK"  # set to 1, the traceback is printed
OWN = "lapwright_own_"  # module names of a job's own details, see details.registry


def told(error: Exception) -> int:
    """Say on standard error what broke and return the exit status: 70, or 2 when a detail of the job's own broke."""
    if os.environ.get(ASK, "") not in ("", "0"):
        traceback.print_exception(error)
    what = " ".join(f"{type(error).__name__}: {error}".split())[:300]
    own = _own_detail(error.__traceback__)
    if own is not None:
        file, line = own
        sys.stderr.write(
            f"STOP  {os.path.basename(file)} line {line}: the job's own detail broke down ({what}).\n"
            f"  Do: Mend the file, or take it out of own_details. {ASK}=1 shows where it happened.\n"
        )
        return 2
    sys.stderr.write(
        f"Lapwright broke down. That is our fault, not your job's ({what}).\n"
        "  Nothing was decided about the job, and an old packet is as it was.\n"
        f"  Run the command again with {ASK}=1 before it to see where; the report of a fault needs that and the house.yaml.\n"
    )
    return FAULT


def _own_detail(trace: TracebackType | None) -> tuple[str, int] | None:
    """Return (file, line) of the innermost step that ran in a job's own detail file."""
    found = None
    while trace is not None:
        if str(trace.tb_frame.f_globals.get("__name__", "")).startswith(OWN):
            found = trace.tb_frame.f_code.co_filename, trace.tb_lineno
        trace = trace.tb_next
    return found
