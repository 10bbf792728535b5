"""Start a job folder from a model: written whole or not at all."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from lapwright.findings import BadJob, Finding, Where, in_order
from lapwright.ifc.house import house_yaml, stories
from lapwright.ifc.model import read_model
from lapwright.ifc.rings import walks


@dataclass(frozen=True)
class Started:
    """The new job file, what is in it, and what was left out."""

    file: Path
    counts: Mapping[str, int]
    findings: tuple[Finding, ...]


def start_job(model_file: Path, out: Path, replace: bool = False) -> Started:
    """Write `out`/house.yaml from an IFC file, whole or not at all.

    Raises BadJob (nothing written) when the file is no model, holds no outer wall, or a house.yaml is there and
    `replace` is not set; NeedsExtra without ifcopenshell.
    """
    target = out / "house.yaml"
    if target.exists() and not replace:
        raise BadJob(
            [
                Finding(
                    "ifc.there", "stop", f"{target} is there already.", "Your own work stands in it.",
                    "Choose another folder, or say --replace.", Where(str(target)),
                )
            ]
        )  # fmt: skip
    model = read_model(model_file)
    found, said = walks(model)
    if not found:
        raise BadJob(
            [
                *model.findings,
                Finding(
                    "ifc.no_walls", "stop", f"{model.file} holds no outer wall that can be read.", "There is nothing to plan.",
                    "Look whether its walls have bodies, and say IsExternal.", Where(model.file),
                ),
            ]
        )  # fmt: skip
    text = house_yaml(model, found, re.sub(r"[^\w -]+", " ", model_file.stem).strip() or "House")
    out.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=".house-", dir=out)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    counts = {
        "loops": len(found),
        "faces": sum(len(w.sides) for w in found),
        "openings": sum(len(s.cuts) for w in found for s in w.sides),
        "stories": sum(len(stories("", w)) for w in found),
    }
    return Started(target, counts, tuple(in_order([*model.findings, *said])))
