"""Read the built-in catalog and the job's own sheet over it.

One product is a block of lines: `title`, `form`, `layer`, then values as they stand on its sheet. A value is
plain (`width: 5 ft`, sourced by the block's `source:` line, else common practice) or carries its own source
(`moisture max: [19 %, "PS 20"]`); empty means not given, never zero. `like: other-product` starts from
another product. In the job's catalog.yaml a block for a built-in id changes only the lines it has.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import cast

from lapwright.catalog import names, quantities
from lapwright.catalog.model import FORMS, LAYERS, Catalog, Form, Product, Value
from lapwright.catalog.notebook import List, Map, Node, Text, read
from lapwright.findings import BadJob, Finding, Where, in_order
from lapwright.yamlfile import read_text

DATA = Path(__file__).parent / "data"
JOB_FILE = "catalog.yaml"
JOB_SOURCE = "the job's catalog.yaml"
PRACTICE = "common practice"
RULES = "compatibility"  # no product: the job's own rules of what may not touch what (lapwright.compatible)
_HEAD = ("title", "form", "layer", "like", "source")


def load(job_dir: Path | None = None) -> tuple[Catalog, list[Finding]]:
    """Return all products, built-in ones overridden and extended by `job_dir`/catalog.yaml, and what to say.

    job_dir: folder of the job, or None for the built-in catalog alone. Findings warn of value names that
    nothing reads. BadJob, with file and line, when an entry is malformed or contradicts itself.

    >>> load()[0]["self-adhered-sheet"].number("course_lap_m")
    0.1016
    """
    products = dict(builtin().products)
    path = None if job_dir is None else job_dir / JOB_FILE
    if path is None or not path.exists():
        return Catalog(products), []
    findings, rules = _read_into(products, read_text(path), JOB_FILE, JOB_SOURCE)
    return Catalog(products, rules), findings


@cache
def builtin() -> Catalog:
    """Return the catalog that comes with the program (read once per run)."""
    products: dict[str, Product] = {}
    for entry in sorted(DATA.glob("*.yaml")):
        findings, _ = _read_into(products, entry.read_text(encoding="utf-8"), entry.name, PRACTICE)
        if findings:
            raise BadJob(findings)
    return Catalog(products)


def _stop(file: str, line: int, what: str, fix: str, thing: str | None = None) -> Finding:
    return Finding("catalog.bad_entry", "stop", what, fix=fix, where=Where(file=file, line=line, thing=thing))


def _read_into(
    products: dict[str, Product], text: str, file: str, source: str
) -> tuple[list[Finding], Node | None]:
    """Add the file's products to `products`; return warnings and what stands under `compatibility:`, as written.

    BadJob with every stop of the file.
    """
    root = read(text, file)
    if root is None or (isinstance(root, Text) and not root.text):
        return [], None
    if not isinstance(root, Map):
        raise BadJob(
            [
                _stop(
                    file,
                    root.line,
                    "the file should be a list of product names with their lines below",
                    "Write 'product-id:' and its values under it, two spaces in.",
                )
            ]
        )
    reader = _Reader(products, file, source)
    rules = root.items.get(RULES, (0, None))[1]
    for product_id, (line, node) in root.items.items():
        if product_id != RULES:
            reader.product(product_id, line, node)
    stops = [f for f in reader.findings if f.level == "stop"]
    if stops:
        raise BadJob(in_order(stops))
    return in_order(reader.findings), rules


class _Reader:
    """One catalog file being read; gathers every finding before it gives up."""

    def __init__(self, products: dict[str, Product], file: str, source: str) -> None:
        self.products = products
        self.file = file
        self.job = source != PRACTICE
        self.default_source = source
        self.findings: list[Finding] = []

    def stop(self, line: int, what: str, fix: str, thing: str) -> None:
        self.findings.append(_stop(self.file, line, what, fix, thing))

    def product(self, product_id: str, line: int, node: Node) -> None:
        """Read one block and put the product into the catalog."""
        if not product_id or product_id != product_id.strip() or any(c.isspace() for c in product_id):
            self.stop(line, f"'{product_id}' is no product id", "Use words joined by '-': my-sheet.", product_id)
            return
        if not isinstance(node, Map):
            self.stop(
                line,
                f"{product_id} has no lines below it",
                "Write its values under it, two spaces in.",
                product_id,
            )
            return
        head = self._head(product_id, node)
        base = self.products.get(product_id)
        if "like" in head:
            base = self.products.get(head["like"])
            if base is None:
                at = node.items["like"][0]
                self.stop(
                    at,
                    f"{product_id} is like '{head['like']}', which is not in the catalog",
                    _near(head["like"], self.products),
                    product_id,
                )
                return
        form = head.get("form") or (base.form if base else "")
        layer = head.get("layer") or (base.layer if base else "")
        for name, word, allowed in (("form", form, FORMS), ("layer", layer, LAYERS)):
            at = node.items[name][0] if name in node.items else line
            if not word:
                fix = f"Add '{name}:' with one of: {', '.join(allowed)}; or 'like:' and a product it resembles."
                self.stop(at, f"{product_id} is new and has no {name}", fix, product_id)
            elif word not in allowed:
                self.stop(
                    at,
                    f"{product_id}: '{word}' is no {name}",
                    f"Write one of: {', '.join(allowed)}.",
                    product_id,
                )
        values = dict(base.values) if base else {}
        values.update(self._values(product_id, node, head.get("source") or self.default_source))
        title = head.get("title") or (base.title if base and "like" not in head else product_id.replace("-", " "))
        where = Where(file=self.file, line=line, thing=product_id) if self.job else Where()
        self.products[product_id] = Product(product_id, title, cast(Form, form), layer, values, where)

    def _head(self, product_id: str, node: Map) -> dict[str, str]:
        head: dict[str, str] = {}
        for name in _HEAD:
            if name in node.items:
                at, item = node.items[name]
                if isinstance(item, Text):
                    head[name] = "" if item.text in ("~", "null") else item.text
                else:
                    self.stop(
                        at,
                        f"{product_id}: {name} should be plain words",
                        f"Write '{name}: words'.",
                        product_id,
                    )
        return {name: text for name, text in head.items() if text}

    def _values(self, product_id: str, node: Map, source: str) -> dict[str, Value]:
        values: dict[str, Value] = {}
        for written, (at, item) in node.items.items():
            if written in _HEAD:
                continue
            text, own = self._text_and_source(product_id, written, at, item)
            if text is None:
                continue
            name = names.find(written)
            if name is None:
                self.findings.append(self._unknown(product_id, written, at))
                where = Where(file=self.file, line=at, thing=product_id) if self.job else Where()
                values[written.replace(" ", "_")] = Value(text or None, "", own or source, where=where)
                continue
            if name.si in values:
                self.stop(at, f"{product_id}: {name.written} stands twice", "Keep one of the two lines.", product_id)
                continue
            value = self._value(product_id, name, text, own or source, at)
            if value is not None:
                values[name.si] = value
        return values

    def _text_and_source(self, product_id: str, written: str, at: int, item: Node) -> tuple[str | None, str]:
        """Return (text as written, its own source or ""); (None, "") when it is neither form of a value."""
        parts = item.items if isinstance(item, List) else (item,)
        texts = [part.text for part in parts if isinstance(part, Text)]
        if isinstance(item, Map) or len(texts) != len(parts) or not 1 <= len(texts) <= 2:
            self.stop(
                at,
                f"{product_id}: {written} should be one value",
                f"Write '{written}: 5 ft', or with its source '{written}: [5 ft, \"data sheet of ...\"]'.",
                product_id,
            )
            return None, ""
        text = "" if texts[0] in ("~", "null") else texts[0]
        return text, texts[1] if len(texts) == 2 else ""

    def _value(self, product_id: str, name: names.Name, text: str, source: str, at: int) -> Value | None:
        where = Where(file=self.file, line=at, thing=product_id) if self.job else Where()
        if not text:
            unit = "" if name.kind == "pack" else quantities.SI_UNIT[name.kind]
            return Value(None, unit, "not given", where=where)
        try:
            amount = quantities.parse(text, name.kind)
        except ValueError as error:
            self.stop(
                at,
                f"{product_id}: {name.written}: {error}",
                "Write the figure with its unit, as on the sheet; leave it empty when it is not given.",
                product_id,
            )
            return None
        for figure in (amount.value, amount.low, amount.high):
            if isinstance(figure, float) and name.low is not None:
                low_bad = figure < name.low or (name.above and figure == name.low)
                if low_bad or (name.high is not None and figure > name.high):
                    unit = f" {amount.unit}" if amount.unit else ""
                    self.stop(
                        at,
                        f"{product_id}: {name.written} of '{text}' cannot be: it must be {name.range_text()}{unit}",
                        "Read it from the sheet again.",
                        product_id,
                    )
                    return None
        return Value(amount.value, amount.unit, source, amount.low, amount.high, where)

    def _unknown(self, product_id: str, written: str, at: int) -> Finding:
        return Finding(
            "catalog.unknown_value",
            "warn",
            f"{product_id}: nothing reads a value named '{written}'",
            why="A misspelled name changes nothing: the built-in figure stays in force.",
            fix=_near(written, names.NAMES),
            where=Where(file=self.file, line=at, thing=product_id),
        )


def _near(word: str, known: Mapping[str, object]) -> str:
    """Return a fix that names the closest known word, when one is close."""
    import difflib  # 6 ms, needed only for a slip

    close = difflib.get_close_matches(word.replace("_", " "), list(known), n=1) or difflib.get_close_matches(
        word, list(known), n=1
    )
    return f"Did you mean '{close[0]}'?" if close else "See the list of names in docs/catalog.md."
