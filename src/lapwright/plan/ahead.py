"""The results behind a plan document, in working order; what does not wait for the others is made in copies meanwhile.

Every result is pure, so the document is the same as one computed key by key (see `lapwright.plan.document`).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from lapwright.aside import Aside
from lapwright.plan.document import KEYS, document
from lapwright.plan.graph import Plan

PROOFS = ("edges", "pencil")


def document_ahead(plan: Plan, keys: Iterable[str] | None = None) -> dict[str, Any]:
    """Return `document(plan, keys)`: the drop test, the pencil test and the bent metal beside the cuts and the order."""
    wanted = list(KEYS) if keys is None else list(keys)
    for name in ("places", "claims", "layout"):
        getattr(plan, name)
    proofs = Aside(lambda: (plan.drops, plan.pencil)) if any(k in wanted for k in PROOFS) else None
    _ = plan.packing
    metal = Aside(lambda: KEYS["metal"](plan)) if "metal" in wanted else None
    for name in ("steps", "checks", "order"):
        getattr(plan, name)
    if proofs is not None:
        drops, pencil = proofs.result()
        plan.take("drops", drops)
        plan.take("pencil", pencil)
    if "findings" in wanted:
        _ = plan.findings
    return document(plan, wanted, {} if metal is None else {"metal": metal.result})
