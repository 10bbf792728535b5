"""The results behind a plan document, in working order; what does not wait for the others is made in copies meanwhile.

Every result is pure, so the document is the same as one computed key by key (see `lapwright.plan.document`).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from lapwright.plan.document import KEYS, document
from lapwright.plan.graph import Plan

PROOFS = ("edges", "pencil")


def document_ahead(plan: Plan, keys: Iterable[str] | None = None) -> dict[str, Any]:
    """Return `document(plan, keys)`: the packing beside the laps, the two tests and the bent metal beside steps and order.

    What an earlier call kept is not made again, in no process.
    """
    wanted = list(KEYS) if keys is None else list(keys)
    packing, proofs, metal = plan.packing_ahead(), None, None
    if any(k in wanted for k in PROOFS) and not plan.kept("drops", "pencil"):
        _ = plan.layout  # both tests start from it
        proofs = plan.memo.ahead(lambda: (plan.drops, plan.pencil))
    if packing is not None:
        _ = plan.layout, plan.steps
        _ = plan.checks if "checks" in wanted else ()
        packing.join()
    if "metal" in wanted and not plan.kept("metal"):
        _ = plan.packing
        metal = plan.memo.ahead(lambda: KEYS["metal"](plan))
    _ = plan.order
    if proofs is not None:
        proofs.join()
    if "findings" in wanted:
        _ = plan.findings

    def bent() -> Any:
        if metal is not None:
            metal.join()
        return KEYS["metal"](plan)

    return document(plan, wanted, {"metal": bent} if "metal" in wanted else {})
