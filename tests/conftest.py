"""What many tests share: the examples' plans, computed once, and the size of the random runs."""

from __future__ import annotations

import os
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from lapwright.details.base import HoleClaim
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.plan.load import open_plan

os.environ["LAPWRIGHT_CACHE"] = "off"  # no test writes to the user's own cache, nor does a command that it runs

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))  # random counts are multiplied by this; `make soak` sets it


@cache
def plan_of(name: str) -> Plan:
    """Return the plan of an example folder; computed once for the whole run."""
    return open_plan(EXAMPLES / name, own_details=True)


@cache
def doc_of(name: str) -> dict[str, Any]:
    """Return the whole plan document of an example."""
    return document(plan_of(name))


def holes_of(plan: Plan, layer: str = "barrier") -> dict[str, list[Any]]:
    """Return per surface what courses of a layer leave out on purpose."""
    out: dict[str, list[Any]] = defaultdict(list)
    for claim in plan.claims:
        if isinstance(claim, HoleClaim) and claim.layer == layer:
            out[claim.surface].append(claim.polygon)
    return out


@pytest.fixture(scope="session")
def demo() -> Plan:
    """The demo house."""
    return plan_of("demo")


@pytest.fixture(scope="session")
def demo_doc() -> dict[str, Any]:
    """The demo's plan document."""
    return doc_of("demo")
