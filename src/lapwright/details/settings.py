"""The job's own figures for details, checked against what each detail asks for.

Only here both are known: what `settings:` says (floor of the scope) and which figures a detail has.
"""

from __future__ import annotations

import math
from dataclasses import replace

from lapwright.details.base import Detail
from lapwright.details.registry import Registry
from lapwright.findings import BadJob, Finding, in_order
from lapwright.lengths import show_length
from lapwright.scope.model import Scope, Setting
from lapwright.survey.words import did_you_mean

LONGEST_M = 10 * 0.3048  # no strip, lap or gap of a detail is longer; own choice, wide
TIMES_DEFAULT = 4  # where a detail's own figure is long, this many times as much may be asked; own choice


def with_settings(scope: Scope, registry: Registry) -> Scope:
    """Return the scope with every setting in SI, or raise BadJob with all that are wrong, each at its line.

    Those that came from no file (no `figures`) stay as they are. A setting is a length unless the detail lists it
    under `plain`; a length without a unit goes by the job's `bare_numbers`, as everywhere in the job file.
    """
    bad: list[Finding] = []
    settings = dict(scope.settings)
    for name, figures in scope.figures.items():
        if name not in registry.names():
            what = f"There is no detail {name}."
            where = next((f.where for f in figures.values()), None)
            if where is not None:
                bad.append(Finding("job.unknown", "stop", what, "", did_you_mean(name, registry.names()), where))
            continue
        settings[name] = {key: _value(registry.get(name), key, figure, bad) for key, figure in figures.items()}
    if bad:
        raise BadJob(in_order(bad))
    return replace(scope, settings=settings)


def _value(detail: Detail, key: str, figure: Setting, bad: list[Finding]) -> float:
    """Return one figure in SI; a finding is added to `bad` when it cannot be."""

    def refuse(code: str, what: str, fix: str) -> float:
        bad.append(Finding(code, "stop", f"{detail.name}: {what}", "", fix, figure.where))
        return 0.0

    if key not in detail.settings:
        fix = did_you_mean(key, detail.settings) if detail.settings else "It has none; take the line out."
        return refuse("job.unknown", f"there is no figure `{key}`.", fix)
    if key in detail.plain:
        if figure.kind == "number" and math.isfinite(float(figure.value)):
            return float(figure.value)
        return refuse("job.number", f"`{key}` is a plain number.", "Write it without a unit.")
    if figure.length_m is None:
        what, fix = figure.refused if figure.refused[0] else (f"{figure.value} is no length.", 'Write it like 4".')
        return refuse("job.length", f"`{key}`: {what}", fix)
    normal = detail.settings[key]
    most = max(LONGEST_M, TIMES_DEFAULT * normal)
    if not min(0.0, TIMES_DEFAULT * normal) <= figure.length_m <= most:
        what = f"`{key}` cannot be {show_length(figure.length_m, 'imperial')}."
        usual = f"Usual is {show_length(normal, 'imperial')}; check the figure and its unit (`bare_numbers`)."
        return refuse("job.size", what, usual)
    return figure.length_m
