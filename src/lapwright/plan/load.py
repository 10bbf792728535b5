"""Open a job from disk: catalog, house file, own details; the one place that knows the order of reading."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from lapwright import catalog as catalog_pkg
from lapwright.catalog.load import JOB_FILE as CATALOG_FILE
from lapwright.details.registry import load_own
from lapwright.findings import BadJob
from lapwright.memo import Memo
from lapwright.plan.graph import Plan
from lapwright.plan.kept import Store, digest, read_or_empty
from lapwright.scope.read import JOB_FILE, read_job


def open_plan(
    path: Path,
    own_details: bool = False,
    progress: Callable[[str], None] | None = None,
    memo: Memo | None = None,
    kept: bool = False,
) -> Plan:
    """Return the plan of a job folder or house.yaml; nothing is computed yet.

    memo: kept results of an earlier plan of this job (see `lapwright.memo`). kept: whether to take them from the user's
    cache folder instead, and to write new ones there when the plan's `keep` is called. own_details: whether the job's
    own detail files (program code) may run. Raises BadJob with every finding of a malformed job.
    """
    folder = path if path.is_dir() else path.parent
    # what the results depend on is noted before any of it is read
    store = Store(path / JOB_FILE if path.is_dir() else path, [folder / CATALOG_FILE]) if kept and memo is None else None
    catalog, said = catalog_pkg.load(folder)
    job = read_job(path, catalog)
    stops = [f for f in said if f.level == "stop"]
    if stops:
        raise BadJob(stops)
    job = type(job)(**{**job.__dict__, "findings": (*said, *job.findings)})
    if store:
        store.depend_on(folder / name for name in job.scope.own_details)
    own = load_own(folder, job.scope.own_details, own_details)
    files = [folder / CATALOG_FILE, *(folder / name for name in job.scope.own_details)]
    # what the file says, where it lies (findings name it), and what hangs already, which another file says
    whole = digest(str(job.file), *(read_or_empty(f) for f in (job.file, *files)), repr(job.scope.built))
    memo = store.memo if store else memo
    if memo is not None:
        memo.given(digest(*(read_or_empty(f) for f in files)))
    plan = Plan(job, catalog, own, progress, memo, said, whole)
    if store:
        plan.keep = store.keep
    return plan
