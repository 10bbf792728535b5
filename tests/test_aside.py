"""A call in a copy of the process gives what the call gives here."""

from __future__ import annotations

import os

import pytest

from lapwright.aside import Aside, can_copy


def test_the_result_is_that_of_the_call() -> None:
    assert Aside(lambda: {"a": [1.5, "x"]}).result() == {"a": [1.5, "x"]}


def test_what_the_call_raises_is_raised_here() -> None:
    def broken() -> None:
        raise ValueError("no such wall")

    with pytest.raises(ValueError, match="no such wall"):
        Aside(broken).result()


def test_with_one_process_nothing_is_copied(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LAPWRIGHT_ONE_PROCESS", "1")
    assert not can_copy()
    here = os.getpid()
    assert Aside(os.getpid).result() == here


def test_where_no_copy_can_be_made_the_call_is_made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> int:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr("lapwright.aside.can_copy", lambda: True)
    monkeypatch.setattr(os, "fork", none)
    assert Aside(os.getpid).result() == os.getpid()
