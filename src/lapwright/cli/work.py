"""What commands put together from more than one result of a plan."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from lapwright.findings import BadJob, Finding, Where

# What is compared: `edges` makes the findings those of a packet, the drop test's and the pencil test's among them.
COMPARED = ("job", "pieces", "edges", "lines", "order", "bid", "findings")


def fan_tests(folder: Path, plan: Any) -> dict[str, Any] | None:
    """Return the document of `air` for fan-before.csv and fan-after.csv beside house.yaml; None when there is neither."""
    files = [f for f in (folder / "fan-before.csv", folder / "fan-after.csv") if f.is_file()]
    if not files:
        return None
    from lapwright.plan.document import ties
    from lapwright.tightness import report

    rows = ties(plan) if plan.job.survey.faces else None
    doc, found = report(files[-1], plan.job.survey, files[0] if len(files) > 1 else None, rows)
    return {**doc, "findings": [f.to_json() for f in found]}


def tried(plan: Any, fix: str, write: bool) -> dict[str, Any]:
    """Return what a fix changes, and the findings that are left; write it to house.yaml when asked to."""
    from lapwright.plan import trials
    from lapwright.plan.document import proofs

    done = trials.trial(plan, trials.named(plan, fix))
    if write:
        trials.accept(done)
    change = {**trials.change_row(done.change), "written": write}
    return {"change": change, "compare": done.difference, "findings": proofs(done.plan)}


def read_plan(path: Path) -> dict[str, Any]:
    """Return a plan.json; BadJob when it is none."""
    try:
        doc = json.loads(path.read_text(encoding="utf-8"))
        missing = [k for k in COMPARED if k not in doc]
    except (OSError, ValueError) as exc:
        raise BadJob(
            [
                Finding(
                    "plan.unreadable",
                    "stop",
                    f"{path.name} is not a plan: {exc}.",
                    "compare reads a job or the plan.json of a packet.",
                    "Give the job folder instead.",
                    Where(file=str(path)),
                )
            ]
        ) from exc
    if missing:
        raise BadJob(
            [
                Finding(
                    "plan.unreadable",
                    "stop",
                    f"{path.name} lacks {', '.join(missing)}.",
                    "compare reads the plan.json of a whole packet.",
                    "Run packet first.",
                    Where(file=str(path)),
                )
            ]
        )
    return dict(doc)
