"""What the commands print keeps inside the window, speaks of pieces by the packet's marks, and says nothing twice."""

from __future__ import annotations

import json
import re
import threading
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lapwright.cli import text
from lapwright.cli.app import app
from lapwright.cli.progress import WORDS, Stages
from lapwright.packet.view import View

ONE_FACE = Path(__file__).parents[2] / "examples" / "one-face"


def screen(*args: str) -> str:
    return CliRunner().invoke(app, [*args]).stdout


@pytest.mark.parametrize("columns", [80, 100])
@pytest.mark.parametrize("command", ["survey", "check", "cuts", "order", "continuity"])
def test_no_line_is_longer_than_the_window(monkeypatch: pytest.MonkeyPatch, command: str, columns: int) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert max(map(len, screen(command, str(ONE_FACE)).splitlines())) <= columns


def test_cuts_are_told_by_the_marks_of_the_packet() -> None:
    doc = json.loads(screen("cuts", str(ONE_FACE), "--json"))
    said = " ".join(screen("cuts", str(ONE_FACE)).split())
    view = View(doc)
    cut = [p for p in doc["pieces"] if p["cut"]]
    assert len(cut) > 40
    for piece in cut:
        assert re.search(rf"\b{re.escape(view.marks[piece['id']])}\b", said), piece["id"]
        assert piece["cut"] not in said
    for stock in doc["stock"]:
        assert view.rolls[stock["id"]] in said


def test_notes_are_told_in_full_by_check_and_counted_elsewhere() -> None:
    doc = json.loads(screen("check", str(ONE_FACE), "--json"))
    notes = [f for f in doc["findings"] if f["level"] == "note"]
    whole = " ".join(screen("check", str(ONE_FACE)).split())
    answer = " ".join(screen("order", str(ONE_FACE)).split())
    assert notes
    for row in notes:
        assert " ".join(row["what"].split()) in whole
        assert row["code"] not in answer
    assert "besides: `lapwright check` tells them." in answer


def test_a_table_breaks_long_words_but_no_length(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "72")
    pieces = "; ".join(f'2 × {n}\' 4-1/2" × 3" front w{n}.1' for n in range(1, 9))
    text.table(["roll", "how many", "pieces from left to right"], [["sas1", "1,204", pieces], ["sas2", "7", "-"]])
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 72
    flat = " ".join(" ".join(line.split()) for line in lines)
    assert all(f'2 × {n}\' 4-1/2" × 3"' in flat for n in range(1, 9))
    assert lines[1].endswith("many  pieces from left to right")  # a head that would widen its column is broken too


def test_a_count_agrees_with_its_word() -> None:
    assert [text.count(n, "note") for n in (0, 1, 2, 1736)] == ["0 notes", "1 note", "2 notes", "1,736 notes"]


def test_findings_with_one_mend_are_told_together(capsys: pytest.CaptureFixture[str]) -> None:
    def row(line: int, thing: str, what: str) -> dict[str, object]:
        where = {"file": "house.yaml", "line": line, "surface": "front", "thing": thing}
        return {"level": "warn", "code": "a.b", "what": what, "why": "W.", "fix": "F.", "source": "", "where": where}

    text.findings([row(3, "w1", "One."), row(9, "w2", "Two.")])
    said = capsys.readouterr().out.splitlines()
    assert said == [
        "Warning: One.",
        "         Two.",
        "  Do: F.",
        "  Why: W.",
        "  [a.b, house.yaml line 3, front, w1; line 9, front, w2]",
    ]


def test_progress_needs_no_second_thread_and_says_each_stage_once(capsys: pytest.CaptureFixture[str]) -> None:
    with Stages() as stages:
        assert threading.active_count() == 1 or threading.current_thread() is not threading.main_thread()
        stages("layout")
        assert capsys.readouterr().err == ""
        stages._wake()
        stages("job key")
        stages("packing")
        stages("packing")
    assert capsys.readouterr().err.splitlines() == [f"... {WORDS['layout']}", f"... {WORDS['packing']}"]
