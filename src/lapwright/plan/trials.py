"""Try a Change: apply it to the job's text in memory, plan anew with what is kept, and say what differs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lapwright.change import ABSENT, Change
from lapwright.findings import BadJob, Finding, Where
from lapwright.plan.compare import compare
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.scope.read import job_of
from lapwright.survey.edit import changed_text, read_text, write_text
from lapwright.survey.words import did_you_mean
from lapwright.yamlfile import parse_yaml

KEYS = ("pieces", "edges", "findings")


@dataclass(frozen=True)
class Trial:
    """A change and what it did: `difference` as `compare` returns it, `plan` the plan with the change, `text` the file's."""

    change: Change
    difference: Mapping[str, Any]
    plan: Plan
    text: str


def changes(plan: Plan) -> list[dict[str, Any]]:
    """Return the changes that findings propose."""
    return [change_row(c) for c in plan.changes.values()]


def change_row(change: Change) -> dict[str, Any]:
    """Return a change as data; an entry that is not there (before or after) has no old or new."""
    rows = []
    for e in change.edits:
        said = {k: v for k, v in (("old", e.old), ("new", e.new)) if v is not ABSENT}
        rows.append({"path": list(e.path), **said})
    return {"id": change.id, "what": change.what, "edits": rows}


def named(plan: Plan, fix: str) -> Change:
    """Return the change of that id among those that the plan's findings propose; BadJob with the known ones otherwise."""
    known = plan.changes
    if fix in known:
        return known[fix]
    has = "A fix is called by the id that stands beside its finding." if known else "No finding of this job proposes one."
    near = did_you_mean(fix, known) if known else ""
    raise BadJob(
        [
            Finding(
                "change.unknown", "stop", f"There is no fix called {fix[:80]} for this job.", has,
                near or "Run continuity without --try to see what is wrong.", Where(file=plan.job.file.name),
            )
        ]
    )  # fmt: skip


def planned(plan: Plan, change: Change) -> tuple[Plan, str]:
    """Return the plan of the job with the change in it, and the file's new text; nothing is written. Raises BadJob."""
    file = plan.job.file
    text = changed_text(read_text(file), change, file.name)
    job = job_of(parse_yaml(text.removeprefix("\ufeff"), file.name), file, plan.catalog)
    job = type(job)(**{**job.__dict__, "findings": (*plan.said, *job.findings)})
    return Plan(job, plan.catalog, plan.own, memo=plan.memo, said=plan.said), text


def trial(plan: Plan, change: Change) -> Trial:
    """Plan the job with the change and return what differs in pieces, edges and findings. Raises BadJob."""
    after, text = planned(plan, change)
    return Trial(change, compare(document(plan, KEYS), document(after, KEYS)), after, text)


def accept(tried: Trial) -> None:
    """Write a tried change to the job's house.yaml, whole or not at all. Raises BadJob when it cannot be written."""
    file = tried.plan.job.file
    try:
        write_text(file, tried.text)
    except OSError as error:
        raise BadJob(
            [
                Finding(
                    "change.write", "stop", f"{file.name} could not be written: {error.strerror}.",
                    "The old file is untouched.", "Check that the folder and the file may be written.", Where(file=str(file)),
                )
            ]
        ) from error  # fmt: skip
