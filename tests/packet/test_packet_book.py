"""The order and the tables, read back by the csv module and by openpyxl."""

from __future__ import annotations

import csv
from typing import Any

import openpyxl
import packet_doc
from packet_doc import Written

from lapwright.lengths import parse_length
from lapwright.packet.view import View
from lapwright.packet.xlsx import order_xlsx


def rows(written: Written, name: str) -> list[dict[str, Any]]:
    book = openpyxl.load_workbook(written.out / "order.xlsx")
    head, *body = list(book[name].values)
    return [dict(zip(head, row, strict=True)) for row in body]


def test_csv_holds_the_order_and_says_what_is_not_given(written: Written) -> None:
    with open(written.out / "order.csv", encoding="utf-8", newline="") as file:
        got = list(csv.DictReader(file))
    assert [r["product"] for r in got] == [r["product"] for r in written.doc["order"]]
    for row, want in zip(got, written.doc["order"], strict=True):
        assert float(row["need"]) == want["need"]
        assert row["kg_CO2e_per_pack"] == ("not given" if want["kgCO2e"] is None else str(want["kgCO2e"]))
        price = row["price_per_pack_(USD)"]
        assert price == "not given" if want["price"] is None else float(price) == want["price"]


def test_book_order_has_numbers_as_numbers(written: Written) -> None:
    got = rows(written, "Order")
    for row, want in zip(got, written.doc["order"], strict=True):
        assert row["packs"] == want["packs"]
        assert not isinstance(row["packs"], str)
        assert row["spare reason"] in (want["spare_reason"], None if not want["spare_reason"] else "")


def test_cut_list_holds_every_cut_where_it_lies(written: Written) -> None:
    got = {r["cut id"]: r for r in rows(written, "Cut list")}
    assert set(got) == {c["id"] for c in written.doc["cuts"]}
    unit, per_m = ("in", 1 / 0.0254) if written.doc["job"]["units"] == "imperial" else ("mm", 1000)
    for cut in written.doc["cuts"]:
        row = got[cut["id"]]
        assert row["stock"] == cut["stock"]
        assert abs(row[f"from the left ({unit})"] - cut["along_m"] * per_m) < 1e-3
        xs, ys = [p[0] for p in cut["flat"][0]], [p[1] for p in cut["flat"][0]]
        sides = sorted([max(xs) - min(xs), max(ys) - min(ys)])
        assert abs(sorted([row[f"length ({unit})"], row[f"width ({unit})"]])[0] - sides[0] * per_m) < 1e-2
        tape = [parse_length(part.strip().rstrip("+-")).m for part in row["size on the tape"].split("×")]
        assert abs(sum(tape) - sum(sides)) < 0.0254 / 16 + 1e-6


def test_openings_and_steps_are_all_there(written: Written) -> None:
    openings = [(o["id"], s["id"]) for s in written.doc["surfaces"] for o in s["openings"]]
    assert [(r["opening"], r["face"]) for r in rows(written, "Openings")] == openings
    steps = rows(written, "Steps")
    assert sorted(r["step"] for r in steps) == sorted(s["id"] for s in written.doc["steps"])
    assert sum(r["hours"] for r in steps) == sum(s["hours"] for s in written.doc["steps"])


def test_text_that_looks_like_a_formula_stays_text(tmp_path: Any) -> None:
    doc = packet_doc.make(faces=1)
    doc["steps"][0]["action"] = '=HYPERLINK("x")'
    (tmp_path / "o.xlsx").write_bytes(order_xlsx(View(doc)))
    cell = openpyxl.load_workbook(tmp_path / "o.xlsx")["Steps"]["C2"]
    assert (cell.data_type, cell.value) == ("s", '=HYPERLINK("x")')
