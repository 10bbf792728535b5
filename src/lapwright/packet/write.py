"""Writes the whole packet into a folder, all or nothing."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

from lapwright.aside import Aside
from lapwright.packet.book import order_csv
from lapwright.packet.closure_pages import closure_drawings
from lapwright.packet.edge_pages import edge_drawing, weak_edges
from lapwright.packet.elevation import SCREEN, screen_drawing
from lapwright.packet.exchange import exchange
from lapwright.packet.metal import profile_drawing
from lapwright.packet.pages import contents, set_pages
from lapwright.packet.rolls import roll_drawing
from lapwright.packet.section_pages import screen_sections
from lapwright.packet.sheets import sheets
from lapwright.packet.view import View

Progress = Callable[[str], None]
OWN = ("packet.pdf", "plan.json", "order.csv", "order.xlsx", "surfaces", "rolls", "metal")


def write(
    doc: Mapping[str, Any], out: Path, progress: Progress | None = None, air: Mapping[str, Any] | None = None
) -> list[Path]:
    """Write packet.pdf, plan.json, order.csv, order.xlsx, surfaces/ and rolls/ into the folder `out`.

    doc: the plan document (the shape of plan.json, see `lapwright/plan/schema.json`); it is not changed. air: the
    document of `lapwright air`, when there were fan tests.
    The files are made in a folder beside `out` and swapped in when all are there: on any failure an old
    packet stays as it was, even when the program is killed (on Linux; elsewhere there is one moment without
    a packet), and files of an older packet that the new one lacks are gone.
    Returns the paths written, sorted. Same document, same bytes. Raises OSError when the place cannot be
    written, KeyError when the document lacks a key of the contract.
    """
    out = Path(out).resolve()
    if out.exists() and not out.is_dir():
        raise NotADirectoryError(f"{out} is a file; the packet needs a folder")
    out.parent.mkdir(parents=True, exist_ok=True)
    build = Path(tempfile.mkdtemp(prefix=f".{out.name}-new-", dir=out.parent))
    try:
        _fill(doc, air, build, progress or (lambda words: None))
        build.chmod(0o755)  # mkdtemp makes folders private; a packet is to be shared
        _swap(build, out)
    finally:
        shutil.rmtree(build, ignore_errors=True)
    return sorted(p for name in OWN for p in [out / name, *(out / name).glob("*")] if p.is_file())


def _fill(doc: Mapping[str, Any], air: Mapping[str, Any] | None, build: Path, progress: Progress) -> None:
    """Write all files: half of the pages' drawings, then those for the screen, in a copy where there is a second core."""
    view = View(doc)
    for folder in ("surfaces", "rolls", *(("metal",) if (doc.get("metal") or {}).get("profiles") else ())):
        (build / folder).mkdir()
    progress("pages")
    pages = contents(view, air)
    drawn = Aside(lambda: _draw(view, build))
    progress("packet.pdf")
    try:
        (build / "packet.pdf").write_bytes(set_pages(*pages))
    except BaseException:
        with suppress(Exception):
            drawn.result()  # what still writes into the folder must be done before the folder is taken away
        raise
    drawn.result()


def _draw(view: View, build: Path) -> None:
    """Write the data, the order and the drawings for the screen and the shop."""
    # here, not at the top: the libraries behind these take a quarter of a second to load
    from lapwright.packet.dxf import dxf, profile_dxf
    from lapwright.packet.xlsx import order_xlsx

    (build / "plan.json").write_text(plan_json(view.doc), encoding="utf-8")
    (build / "order.csv").write_text(order_csv(view), encoding="utf-8", newline="")
    (build / "order.xlsx").write_bytes(order_xlsx(view))
    for sheet in sheets(view):
        base = build / "surfaces" / sheet.name
        base.with_name(f"{sheet.name}.svg").write_text(screen_drawing(view, sheet), encoding="utf-8")
        base.with_name(f"{sheet.name}.dxf").write_text(dxf(view, sheet), encoding="utf-8", newline="")
    for surface in filter(partial(weak_edges, view), view.surfaces):
        drawing = edge_drawing(view, surface, SCREEN)
        (build / "surfaces" / f"{view.files[surface]}-edges.svg").write_text(drawing, encoding="utf-8")
    for layer, drawing in closure_drawings(view):
        (build / "surfaces" / f"closure-{layer}.svg").write_text(drawing, encoding="utf-8")
    for name, drawing in screen_sections(view):
        (build / "surfaces" / name).write_text(drawing, encoding="utf-8")
    for row in (view.doc.get("metal") or {}).get("profiles") or ():
        base = build / "metal" / str(row["product"])
        base.with_name(f"{base.name}.svg").write_text(profile_drawing(view, row), encoding="utf-8")
        base.with_name(f"{base.name}.dxf").write_text(profile_dxf(view, row), encoding="utf-8", newline="")
    for stock_id in view.stock:
        drawing = roll_drawing(view, stock_id)
        (build / "rolls" / f"{view.files[stock_id]}.svg").write_text(drawing, encoding="utf-8")


def _swap(build: Path, out: Path) -> None:
    """Put the built folder in the place of the old one.

    What is in the folder but is not the packet's (a user's own notes, say) comes along into the new one. Where the
    system can, the two folders change names in one step, so that a killed program leaves the old packet or the new.
    """
    if not out.exists():
        build.rename(out)
        return
    for entry in sorted(out.iterdir()):
        if entry.name not in OWN:
            _bring(entry, build / entry.name)
    if not exchange(build, out):
        _swap_in_steps(build, out)


def _bring(entry: Path, target: Path) -> None:
    """Make a file or folder appear at `target` too: by a second name for the same data where that goes, else a copy."""
    if entry.is_dir() and not entry.is_symlink():
        shutil.copytree(entry, target, symlinks=True)
        return
    try:
        target.hardlink_to(entry)
    except OSError:
        shutil.copy2(entry, target, follow_symlinks=False)


def _swap_in_steps(build: Path, out: Path) -> None:
    """Move the old folder away and the built one in; put the old one back if that fails."""
    hold = Path(tempfile.mkdtemp(prefix=f".{out.name}-old-", dir=out.parent))
    try:
        out.rename(hold / "packet")
    except OSError:
        hold.rmdir()
        raise
    try:
        build.rename(out)
    except OSError:
        (hold / "packet").rename(out)
        hold.rmdir()
        raise
    shutil.rmtree(hold, ignore_errors=True)


def plan_json(doc: Mapping[str, Any]) -> str:
    """Return plan.json: one line per row of each list, so that two plans can be compared line by line."""
    lines = []
    for key, value in doc.items():
        if isinstance(value, list) and value:
            rows = ",\n".join("  " + _compact(row) for row in value)
            lines.append(f" {json.dumps(key)}: [\n{rows}\n ]")
        else:
            lines.append(f" {json.dumps(key)}: {_compact(value)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


_compact = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
