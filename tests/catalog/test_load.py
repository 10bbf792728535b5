"""The built-in products, and the job's own sheet over them."""

import csv
import dataclasses
import os
from pathlib import Path

import pytest
import scipy.constants as c
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lapwright.catalog import Catalog, load, names, rates
from lapwright.catalog.load import JOB_SOURCE
from lapwright.catalog.model import FORMS, LAYERS
from lapwright.findings import BadJob

OUTSIDE = Path(__file__).parents[1] / "outside" / "data" / "catalog_figures.csv"
BUILTIN, SAID = load()
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))


def figures(kind: str) -> list[dict[str, str]]:
    lines = [line for line in OUTSIDE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return [row for row in csv.DictReader(lines) if row["kind"] == kind]


def job(tmp_path: Path, text: str) -> tuple[Catalog, list]:
    (tmp_path / "catalog.yaml").write_text(text, encoding="utf-8")
    return load(tmp_path)


# ---------------------------------------------------------------- what comes with the program


@pytest.mark.parametrize("product", BUILTIN.products.values(), ids=lambda p: p.id)
def test_every_value_has_a_source_and_empty_is_not_given(product):
    assert product.title and product.form in FORMS and product.layer in LAYERS
    for name, value in product.values.items():
        assert name in names.BY_SI, f"{name} is no known value name"
        if value.value is None:
            assert value.source == "not given"
        else:
            assert value.source and value.source != "not given", name


@pytest.mark.parametrize("product", BUILTIN.products.values(), ids=lambda p: p.id)
def test_what_a_product_points_at_exists(product):
    for name in ("fastener", "primer", "starter", "closure"):
        assert not product.word(name) or product.word(name) in BUILTIN
    if product.word("rate"):
        assert rates.rate(product.word("rate")).people >= 1
    assert "price" in product.values and product.number("price") is None
    assert product.number("spare_ratio") is not None and product.word("spare_reason")


def test_the_products_that_the_barrier_work_needs_are_there():
    needed = (
        "self-adhered-sheet self-adhered-butyl fastened-sheet building-felt flashing-tape-4 "
        "flashing-tape-6 flashing-tape-9 seam-tape-3 liquid-flashing liquid-flashing-sausage primer "
        "sealant backer-rod cap-staples head-flashing-metal z-flashing step-flashing sidewall-flashing "
        "kick-out drip-edge sill-flashing coil-stock grommet box-flange mounting-block mesh-mat "
        "insect-screen furring-1x3 furring-2x3 board-siding shingle-siding panel-siding lap-siding "
        "starter-strip trim-1x4 trim-1x6 belly-band-board window-unit door-unit xps-iv xps-vi xps-x "
        "eps-viii eps-ii eps-ix polyiso mineral-wool-board poly-retarder-10 gravel concrete "
        "plywood-panel "
    )
    assert [product for product in needed.split() if product not in BUILTIN] == []
    assert SAID == []


@pytest.mark.parametrize(
    ("product", "value", "figure"),
    [  # the trade's figures, in the units of the trade, converted by another library's constants
        ("self-adhered-sheet", "width_m", 5 * c.foot),
        ("self-adhered-sheet", "length_m", 75 * c.foot),
        ("self-adhered-sheet", "course_lap_m", 4 * c.inch),
        ("self-adhered-sheet", "end_lap_m", 6 * c.inch),
        ("self-adhered-sheet", "moisture_max_pct", 19),
        ("self-adhered-sheet", "exposure_days", 60),
        ("self-adhered-sheet", "t_min_C", c.convert_temperature(40, "F", "C")),
        ("self-adhered-sheet", "wind_max_m_s", 20 * c.mph),
        ("fastened-sheet", "width_m", 9 * c.foot),
        ("fastened-sheet", "fastener_spacing_m", 12 * c.inch),
        ("flashing-tape-9", "width_m", 9 * c.inch),
        ("flashing-tape-9", "length_m", 75 * c.foot),
        ("mesh-mat", "width_m", 39 * c.inch),
        ("mesh-mat", "length_m", 61 * c.foot),
        ("mesh-mat", "thickness_m", 3 / 8 * c.inch),
        ("coil-stock", "width_m", 24 * c.inch),
        ("coil-stock", "length_m", 50 * c.foot),
        ("poly-retarder-10", "thickness_m", 10 * c.mil),
        ("poly-retarder-10", "course_lap_m", 6 * c.inch),
        ("liquid-flashing", "pack_size", c.gallon_US),
    ],
)
def test_the_trades_figures_arrive_in_si(product, value, figure):
    assert BUILTIN[product].needed(value) == pytest.approx(figure, rel=1e-12)


def test_a_range_of_sheets_is_kept_beside_the_cautious_figure():
    film = BUILTIN["liquid-flashing"].values["film_m"]
    assert (film.low, film.high) == (pytest.approx(12 * c.mil), pytest.approx(25 * c.mil))
    exposure = BUILTIN["self-adhered-sheet"].values["exposure_days"]
    assert (exposure.value, exposure.high) == (60, 180)


@pytest.mark.parametrize("row", figures("foam"), ids=lambda r: f"{r['name']} {r['figure']}")
def test_foam_loads_and_stiffness_are_the_published_ones(row):
    name = {"live": "strength_live_Pa", "dead": "strength_dead_Pa", "stiffness": "stiffness_Pa_m"}[row["figure"]]
    unit = c.psi / c.inch if row["unit"] == "pci" else c.psi
    assert BUILTIN[row["name"]].needed(name) == pytest.approx(float(row["value"]) * unit, rel=1e-9)


@pytest.mark.parametrize("row", figures("c578"), ids=lambda r: r["name"])
def test_foam_strength_is_that_of_its_type(row):
    assert BUILTIN[row["name"]].needed("strength_Pa") == pytest.approx(float(row["value"]) * c.psi, rel=1e-9)


BENT = [p for p in BUILTIN.products.values() if p.number("leg_up_m") and p.number("width_m")]


@pytest.mark.parametrize("product", BENT, ids=lambda p: p.id)
def test_a_flashing_is_as_wide_as_its_legs_and_hem_together(product):
    legs = [product.number(name) or 0.0 for name in ("leg_up_m", "leg_out_m", "leg_down_m", "hem_m")]
    assert product.needed("width_m") == pytest.approx(sum(legs))


@pytest.mark.parametrize(
    ("product", "per_100_sq_ft"),
    [
        ("fastened-sheet", 100 / (1 * 16 / 12)),  # 12 in along studs 16 in on center
        ("board-siding", 100 / (16 / 12 * 6.25 / 12)),  # one nail a stud and course
        ("lap-siding", 100 / (16 / 12 * 7 / 12)),
        ("shingle-siding", 2 * 100 / (0.5 * 5 / 12)),  # two nails a shingle of 6 in at 5 in
        # 4 x 8 ft: two long edges of 17 nails, two short of 7 more, two studs of 7 in the field
        ("plywood-panel", (2 * 17 + 2 * 7 + 2 * 7) / 32 * 100),
    ],
)
def test_fasteners_an_area_follow_from_their_spacing(product, per_100_sq_ft):
    got = BUILTIN[product].needed("fasteners_per_m2") * 100 * c.foot**2
    assert got == pytest.approx(per_100_sq_ft, abs=0.5)


# ---------------------------------------------------------------- the job's own sheet


def test_a_job_without_a_sheet_has_the_built_in_catalog(tmp_path):
    assert load(tmp_path) == (BUILTIN, [])
    assert job(tmp_path, "# nothing yet\n") == (BUILTIN, [])


def test_the_jobs_sheet_changes_only_the_lines_it_has(tmp_path):
    catalog, said = job(
        tmp_path,
        "self-adhered-sheet:\n"
        "  course lap: 6 in\n"
        '  t min: [20 F, "data sheet in hand"]\n'
        "  price: 189.50\n"
        "  exposure:\n",
    )
    old, new = BUILTIN["self-adhered-sheet"], catalog["self-adhered-sheet"]
    assert said == []
    assert new.needed("course_lap_m") == pytest.approx(6 * c.inch)
    assert new.source("course_lap_m") == JOB_SOURCE
    assert new.values["course_lap_m"].where.line == 2
    assert new.needed("t_min_C") == pytest.approx(-20 / 3) and new.source("t_min_C") == "data sheet in hand"
    assert new.needed("price") == 189.5
    assert new.number("exposure_days") is None and new.source("exposure_days") == "not given"
    changed = {"course_lap_m", "t_min_C", "price", "exposure_days"}
    assert {n: v for n, v in new.values.items() if n not in changed} == {
        n: v for n, v in old.values.items() if n not in changed
    }
    assert (new.title, new.form, new.layer) == (old.title, old.form, old.layer)
    assert {i: p for i, p in catalog.products.items() if i != old.id} == {
        i: p for i, p in BUILTIN.products.items() if i != old.id
    }


def test_a_new_product_may_be_like_another(tmp_path):
    catalog, said = job(tmp_path, "kitchen-window:\n  like: window-unit\n  title: Kitchen window\n  weight: 88 lb\n")
    new, base = catalog["kitchen-window"], BUILTIN["window-unit"]
    assert said == []
    assert (new.title, new.form, new.layer) == ("Kitchen window", "each", "unit")
    assert new.needed("weight_kg") == pytest.approx(88 * c.pound)
    assert new.needed("frame_m") == base.needed("frame_m")
    assert "kitchen-window" not in BUILTIN


def test_needed_names_product_and_value_when_it_is_not_given():
    with pytest.raises(KeyError, match="mesh-mat: price is not given"):
        BUILTIN["mesh-mat"].needed("price")


SCALAR = [n for n in names.BY_SI.values() if n.kind in ("length", "temperature", "hours", "percent", "ratio")]
WRITTEN = {"length": ("mm", 1e-3, 0.0), "temperature": ("C", 1.0, 0.0), "hours": ("h", 1.0, 0.0),
           "percent": ("%", 1.0, 0.0), "ratio": ("%", 0.01, 0.0)}  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30)
@given(picks=st.dictionaries(st.sampled_from([n.si for n in SCALAR]), st.integers(1, 19), max_size=8))
def test_what_is_written_over_a_product_is_what_is_read(tmp_path, picks):
    lines = [
        f"  {names.BY_SI[si].written}: {figure} {WRITTEN[names.BY_SI[si].kind][0]}" for si, figure in picks.items()
    ]
    catalog, said = job(tmp_path, "mesh-mat:\n  source: my sheet\n" + "\n".join(lines) + "\n")
    new = catalog["mesh-mat"]
    assert said == []
    for si, figure in picks.items():
        assert new.needed(si) == pytest.approx(figure * WRITTEN[names.BY_SI[si].kind][1])
        assert new.source(si) == "my sheet"
    rest = {n: v for n, v in new.values.items() if n not in picks}
    assert rest == {n: v for n, v in BUILTIN["mesh-mat"].values.items() if n not in picks}
    assert dataclasses.replace(new, values={}, where=BUILTIN["mesh-mat"].where) == dataclasses.replace(
        BUILTIN["mesh-mat"], values={}
    )


def test_a_value_name_that_nothing_reads_is_warned_about_and_the_close_one_named(tmp_path):
    catalog, said = job(tmp_path, "mesh-mat:\n  widht: 48 in\n")
    (finding,) = said
    assert (finding.level, finding.code) == ("warn", "catalog.unknown_value")
    assert (finding.where.file, finding.where.line) == ("catalog.yaml", 2)
    assert "'widht'" in finding.what and finding.fix == "Did you mean 'width'?"
    assert catalog["mesh-mat"].needed("width_m") == BUILTIN["mesh-mat"].needed("width_m")


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("mesh-mat:\n  width: 48\n", 2, "48 has no unit"),
        ("mesh-mat:\n  width: wide\n", 2, "mesh-mat: width"),
        ("mesh-mat:\n  width: -3 in\n", 2, "must be more than 0"),
        ("mesh-mat:\n  width: 0 in\n", 2, "must be more than 0"),
        ("mesh-mat:\n  open: 140 %\n", 2, "at most 1"),
        ("mesh-mat:\n  price: cheap\n", 2, "price"),
        ("mesh-mat:\n  price: -3\n", 2, "at least 0"),
        ("mesh-mat:\n  t min: 40 ft\n", 2, "40 ft: ft is no unit of temperature"),
        ("mesh-mat:\n  width: [48 in, a, b]\n", 2, "should be one value"),
        ("mesh-mat:\n  width: {a: 48 in}\n", 2, "should be one value"),
        ("mesh-mat:\n\n  open: 90 %\n  open: 80 %\n", 4, "stands twice"),
        ("mesh-mat:\n  end lap: 1 in\n  end_lap: 2 in\n", 3, "stands twice"),
        ("mesh-mat: 3\n", 1, "has no lines below it"),
        ("- mesh-mat\n", 1, "list of product names"),
        ("my mat:\n  like: mesh-mat\n", 1, "no product id"),
        ("my-mat:\n  width: 3 ft\n", 1, "is new and has no form"),
        ("my-mat:\n  form: roll\n  layer: mats\n", 3, "'mats' is no layer"),
        ("my-mat:\n  title: [a]\n  like: mesh-mat\n", 2, "title should be plain words"),
        ("my-mat:\n  width: 3 ft\n  like: mash-mat\n", 3, "like 'mash-mat', which is not in the catalog"),
        ("mesh-mat:\n  width: [3 ft\n", 3, "cannot be read"),
        ("mesh-mat:\n\twidth: 3 ft\n", 2, "tab"),
        ("mesh-mat: &x\n  width: 3 ft\nother: *x\n", 3, "is new and has no form"),
    ],
)
def test_a_bad_entry_stops_with_file_and_line(tmp_path, text, line, says):
    with pytest.raises(BadJob) as caught:
        job(tmp_path, text)
    finding = caught.value.findings[0]
    assert (finding.level, finding.where.file, finding.where.line) == ("stop", "catalog.yaml", line)
    assert says in finding.what, finding.what
    assert finding.fix


def test_all_bad_entries_of_a_file_are_told_at_once(tmp_path):
    with pytest.raises(BadJob) as caught:
        job(tmp_path, "mesh-mat:\n  width: 48\n  t min: warm\nsealant:\n  bead: -1 in\n")
    assert [f.where.line for f in caught.value.findings] == [2, 3, 5]


def test_a_file_of_the_wrong_kind_is_refused_as_a_house_file_is(tmp_path):
    """One reader serves house.yaml and catalog.yaml: each limit is tried through this door too."""
    bomb = "a0: &a0 [x,x,x,x,x,x,x,x,x]\n" + "".join(
        f"a{i}: &a{i} [{','.join([f'*a{i - 1}'] * 9)}]\n" for i in range(1, 40)
    )
    cases = {
        b"mesh-mat:\n  title: caf\xe9\n": ("file.not_utf8", 2),
        "mesh-mat:\n".encode("utf-16"): ("file.not_utf8", 1),
        b"# " + b"x" * 50_000_000: ("file.too_big", None),
        bomb.encode(): ("file.too_big", 6),
        b"mesh-mat: " + b"[" * 100_000: ("file.too_big", 1),
        b"mesh-mat: {}\nsealant: {}\nmesh-mat: {}\n": ("file.repeated", 3),
        b"a: &x [*x]\n": ("file.yaml", 1),
        b"a: !!python/object/apply:os.system [x]\n": ("file.yaml", 1),
        b"mesh-mat:\n  title: x\n---\nsealant:\n": ("file.not_a_job", 3),
    }
    for raw, (code, line) in cases.items():
        (tmp_path / "catalog.yaml").write_bytes(raw)
        with pytest.raises(BadJob) as caught:
            load(tmp_path)
        (finding,) = caught.value.findings
        assert (finding.code, finding.where.file, finding.where.line) == (code, "catalog.yaml", line), raw[:40]
        assert finding.fix
    (tmp_path / "catalog.yaml").unlink()
    (tmp_path / "catalog.yaml").mkdir()
    with pytest.raises(BadJob):
        load(tmp_path)


def test_a_byte_order_mark_does_no_harm(tmp_path):
    (tmp_path / "catalog.yaml").write_bytes(b"\xef\xbb\xbfmesh-mat:\r\n  price: 7\r\n")
    assert load(tmp_path)[0]["mesh-mat"].needed("price") == 7


def test_a_file_that_is_no_text_is_a_finding(tmp_path):
    (tmp_path / "catalog.yaml").write_bytes(b"mesh-mat:\n  width: 3\xff ft\n")
    with pytest.raises(BadJob, match=r"catalog\.yaml"):
        load(tmp_path)


PART = st.sampled_from(
    ["mesh-mat", "x", ":", " ", "\n", "\n  ", "width", "5 ft", "[", "]", "{", "}", "- ", "&a", "*a", "like",
     "'", '"', "|", "%", "~", "null", "\t", "é", "!!set", "? ", "#"]
)  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=200 * SOAK)
@given(text=st.lists(PART, max_size=14).map("".join))
def test_no_text_breaks_the_reader(tmp_path, text):
    try:
        catalog, _ = job(tmp_path, text)
    except BadJob as error:
        assert all(f.level == "stop" and f.where.file == "catalog.yaml" and f.where.line for f in error.findings)
    else:
        assert set(BUILTIN.products) <= set(catalog.products)
