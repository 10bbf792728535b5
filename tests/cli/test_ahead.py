"""A document made with copies of the process is the one made key by key in one process."""

from __future__ import annotations

from pathlib import Path

import pytest

from lapwright import aside
from lapwright.plan.ahead import document_ahead
from lapwright.plan.document import KEYS, document
from lapwright.plan.load import open_plan

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize("job, keys", [("foam-wall", None), ("one-face", ("figures", "edges", "findings"))])
@pytest.mark.parametrize("copies", [True, False])
def test_the_document_is_the_same(
    monkeypatch: pytest.MonkeyPatch, job: str, keys: tuple[str, ...] | None, copies: bool
) -> None:
    monkeypatch.setattr("lapwright.aside.can_copy", lambda: copies)
    made: list[int] = []
    start = aside.Aside._start
    monkeypatch.setattr(aside.Aside, "_start", lambda self: (made.append(1), start(self))[1])
    ahead = document_ahead(open_plan(EXAMPLES / job), keys)
    assert bool(made) == copies
    plain = document(open_plan(EXAMPLES / job), keys)
    assert list(ahead) == list(plain) == ["version", *(k for k in KEYS if keys is None or k in keys)]
    assert ahead == plain
