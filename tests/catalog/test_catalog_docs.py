"""docs/catalog.md is a contract: its tables say what the code reads, and its example loads."""

import re
from pathlib import Path

from lapwright.catalog import load, names, rates
from lapwright.catalog.load import builtin
from lapwright.catalog.model import FORMS, LAYERS

PAGE = (Path(__file__).parents[2] / "docs" / "catalog.md").read_text(encoding="utf-8")


def rows(first: str) -> list[list[str]]:
    table = PAGE.split(f"| {first} |", 1)[1].split("\n\n", 1)[0]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()[2:]]


def test_every_value_name_is_told_and_no_other():
    expected = [[f"`{n.written}`", f"`{n.si}`", n.meaning] for n in names.NAMES.values()]
    assert rows("written") == expected


def test_every_rate_is_told_with_its_source():
    told = {cells[0].strip("`"): cells[1] for cells in rows("task")}
    assert told == {task: rate.source for task, rate in rates.table().items()}


def test_forms_and_layers_are_told():
    for word in (*FORMS, *LAYERS):
        assert f"`{word}`" in PAGE


def test_the_example_loads_without_a_word(tmp_path):
    example = re.search(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
    assert example
    (tmp_path / "catalog.yaml").write_text(example[1], encoding="utf-8")
    catalog, said = load(tmp_path)
    assert said == []
    assert round(catalog["self-adhered-sheet"].needed("width_m") / 0.0254, 9) == 59  # 4 ft 11 in
    assert round(catalog["kitchen-window"].needed("weight_kg"), 3) == 39.916  # 88 lb


def test_every_product_is_listed():
    told = {c[0].strip("`"): c[1:4] for c in rows("product")}
    assert told == {p.id: [p.title, p.layer, p.form] for p in builtin().products.values()}
