"""Open a job from disk: catalog, house file, own details; the one place that knows the order of reading."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from lapwright import catalog as catalog_pkg
from lapwright.details.registry import load_own
from lapwright.findings import BadJob
from lapwright.memo import Memo
from lapwright.plan.graph import Plan
from lapwright.scope.read import read_job


def open_plan(
    path: Path, own_details: bool = False, progress: Callable[[str], None] | None = None, memo: Memo | None = None
) -> Plan:
    """Return the plan of a job folder or house.yaml; nothing is computed yet.

    memo: kept results of an earlier plan of this job (see `lapwright.memo`). own_details: whether the job's own detail files (program code) may run. Raises BadJob with every
    finding of a malformed job.
    """
    folder = path if path.is_dir() else path.parent
    catalog, said = catalog_pkg.load(folder)
    job = read_job(path, catalog)
    stops = [f for f in said if f.level == "stop"]
    if stops:
        raise BadJob(stops)
    job = type(job)(**{**job.__dict__, "findings": (*said, *job.findings)})
    own = load_own(folder, job.scope.own_details, own_details)
    return Plan(job, catalog, own, progress, memo, said)
