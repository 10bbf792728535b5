"""Everything that a readings file tells of a house, as one document and its findings."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import Any

from lapwright.findings import Finding, in_order
from lapwright.survey.model import Survey
from lapwright.tightness.cautions import combustion, ventilation
from lapwright.tightness.change import Summary, change, summaries
from lapwright.tightness.house import House, Known, house_of
from lapwright.tightness.predict import Tie, predict
from lapwright.tightness.readings import Readings, read_readings
from lapwright.tightness.reconcile import reconcile
from lapwright.tightness.results import Result, results_of
from lapwright.tightness.words import Say, figure


def report(
    path: Path,
    survey: Survey | None = None,
    before: Path | None = None,
    ties: Iterable[Tie] | None = None,
) -> tuple[dict[str, Any], list[Finding]]:
    """Return the document of a readings file and its findings, in order.

    path: the readings; before: readings of an earlier test, to be compared with; ties: rows of the contract's
    `ties[]` (needs a survey), to be reconciled. Keys: `tests` (contract; those of `before` first), `averages` per test
    name, `changes` (each test against the one before it), `house` figures with their source, `ventilation` and
    `combustion` after the last test, `predicted` and `reconciled` when ties are given. Raises BadJob for readings
    that cannot be used.
    """
    say = Say(survey)
    document: dict[str, Any] = {"tests": [], "averages": [], "changes": []}
    findings: list[Finding] = []
    found: list[Summary] = []
    for source in (before, path):
        if source is not None:
            readings = read_readings(source)
            house = house_of(readings, survey)
            results = results_of(readings, house)
            document["tests"] += [r.to_json(house) for r in results]
            found += summaries(readings.file, results, house)
            findings += _said(readings, results)
    document["averages"] = [s.to_json() for s in found]
    for first, second in pairwise(found):
        row, said = change(first, second, (readings.number("u_calibration_pct") or 0.0) / 100.0, say)
        document["changes"].append(row)
        findings += said
    last = found[-1]
    document["house"] = _house(last.house)
    findings += _lacking(last)
    document["ventilation"], said = ventilation(last, readings, say)
    findings += said
    document["combustion"], said = combustion(last, survey, say)
    findings += said
    if ties is not None and survey is not None:
        rows = list(ties)
        as_found = [True] * (len(found) - 1) + [False]
        volume = last.house.volume_m3.value
        document["predicted"] = [predict(rows, survey, volume, old) for old in as_found]
        document["reconciled"] = []
        for prediction, summary in zip(document["predicted"], found, strict=True):
            row, said = reconcile(prediction, summary, say)
            document["reconciled"].append(row)
            # How a house leaked before the work is known by the test; where its open ties are is the work itself.
            findings += said if summary is last else []
    return document, in_order(findings)


def _said(readings: Readings, results: Iterable[Result]) -> list[Finding]:
    return [*readings.findings, *(f for r in results for f in r.findings(readings.file))]


def _house(house: House) -> dict[str, Any]:
    def known(item: Known) -> dict[str, Any]:
        return {"value": None if item.value is None else figure(item.value), "source": item.source}

    return {
        "volume_m3": known(house.volume_m3),
        "area_m2": known(house.envelope_m2),
        "floor_area_m2": known(house.floor_m2),
        "height_m": known(house.height_m),
        "altitude_m": known(house.altitude_m),
        "bedrooms": known(house.bedrooms),
    }


def _lacking(summary: Summary) -> list[Finding]:
    """Say which results are missing because the house's figures are."""
    out = []
    for known, key, lost in (
        (summary.house.volume_m3, "volume_m3", "air changes an hour"),
        (summary.house.envelope_m2, "area_m2", "permeability"),
    ):
        if known.value is None:
            out.append(
                Finding(
                    f"air.no_{key.split('_')[0]}", "note", f"There is no figure for {lost}: {key} is {known.source}.", "",
                    f"Write `# {key}: ...` above the readings.",
                )
            )  # fmt: skip
    return out
