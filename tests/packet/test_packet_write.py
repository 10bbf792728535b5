"""A packet is written whole or not at all, the same bytes every time, and leaves other files alone."""

from __future__ import annotations

import copy
import hashlib
import importlib
import os
import subprocess
import sys
from pathlib import Path

import packet_doc
import pytest
from packet_doc import Written

from lapwright.packet import write
from lapwright.packet import write as _write_function

WRITE = sys.modules["lapwright.packet.write"]


def digest(folder: Path) -> dict[str, str]:
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def test_every_file_of_the_contract_is_there(written: Written) -> None:
    names = {str(p.relative_to(written.out.resolve())) for p in written.files}
    assert {"packet.pdf", "plan.json", "order.csv", "order.xlsx"} <= names
    assert {f"rolls/{s['id'].replace('/', '-')}.svg" for s in written.doc["stock"]} <= names
    for piece in written.doc["pieces"]:
        if piece["layer"] in ("barrier", "mat", "furring"):
            for end in ("svg", "dxf"):
                assert f"surfaces/{piece['surface']}-{piece['layer']}.{end}" in names
    assert all(p.stat().st_size > 0 for p in written.files)


def test_another_process_writes_the_same_bytes(tmp_path: Path) -> None:
    doc = packet_doc.make(stop=True, faces=2)
    write(doc, tmp_path / "one")
    code = (
        "import sys, pathlib; sys.path.insert(0, sys.argv[1]); import packet_doc; "
        "from lapwright.packet import write; "
        "write(packet_doc.make(stop=True, faces=2), pathlib.Path(sys.argv[2]))"
    )
    env = {**os.environ, "PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo", "LC_ALL": "C"}
    here = str(Path(__file__).parent)
    subprocess.run([sys.executable, "-c", code, here, str(tmp_path / "two")], check=True, env=env)
    assert digest(tmp_path / "one") == digest(tmp_path / "two")


def test_the_document_is_not_changed(tmp_path: Path) -> None:
    doc = packet_doc.make(faces=1)
    before = copy.deepcopy(doc)
    write(doc, tmp_path / "packet")
    assert doc == before


def test_files_of_an_older_packet_vanish_and_other_files_stay(tmp_path: Path) -> None:
    out = tmp_path / "packet"
    write(packet_doc.make(faces=2), out)
    (out / "my notes.txt").write_text("call the inspector")
    assert (out / "surfaces" / "right-furring.svg").exists()
    write(packet_doc.make(faces=1), out)
    assert not (out / "surfaces" / "right-furring.svg").exists()
    assert (out / "my notes.txt").read_text() == "call the inspector"
    assert [p.name for p in tmp_path.iterdir()] == ["packet"]


@pytest.mark.parametrize(
    ("module", "broken"),
    [("write", "set_pages"), ("write", "contents"), ("xlsx", "order_xlsx"), ("write", "roll_drawing"), ("dxf", "dxf")],
)
def test_an_old_packet_survives_a_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, module: str, broken: str
) -> None:
    out = tmp_path / "packet"
    write(packet_doc.make(faces=1), out)
    before = digest(out)

    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("no room on the disk")

    monkeypatch.setattr(importlib.import_module(f"lapwright.packet.{module}"), broken, fail)
    with pytest.raises(RuntimeError, match="no room"):
        write(packet_doc.make(faces=2), out)
    assert digest(out) == before
    assert [p.name for p in tmp_path.iterdir()] == ["packet"]


def test_an_old_packet_survives_a_swap_that_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a system that cannot exchange two folders in one step."""
    monkeypatch.setattr(WRITE, "exchange", lambda one, two: False)
    out = tmp_path / "packet"
    write(packet_doc.make(faces=1), out)
    (out / "notes.txt").write_text("mine")
    before = digest(out)
    real = Path.rename

    def rename(self: Path, target: Path) -> Path:
        if Path(target) == out and self.name.startswith(".packet-new-"):
            raise OSError("busy")
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(OSError, match="busy"):
        write(packet_doc.make(faces=2), out)
    assert digest(out) == before
    assert [p.name for p in tmp_path.iterdir()] == ["packet"]


def test_a_file_in_the_way_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "packet").write_text("a file")
    with pytest.raises(NotADirectoryError, match="needs a folder"):
        write(packet_doc.make(faces=1), tmp_path / "packet")
    assert (tmp_path / "packet").read_text() == "a file"


def test_progress_speaks(tmp_path: Path) -> None:
    said: list[str] = []
    _write_function(packet_doc.make(faces=1), tmp_path / "packet", said.append)
    assert said[-1] == "packet.pdf"


def test_a_job_without_faces_still_makes_a_packet(tmp_path: Path) -> None:
    doc = packet_doc.make(faces=1)
    for key in ("surfaces", "pieces", "cuts", "stock", "laps", "steps", "checks", "order", "bounds", "lines"):
        doc[key] = []
    for key in ("products", "bid", "figures", "assemblies", "layers", "scope_text"):
        del doc[key]
    assert len(write(doc, tmp_path / "packet")) == 4
