"""Random jobs of every kind, looked at by the verifier in `loads` (which knows only the contract)."""

from __future__ import annotations

import os

import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import Polygon

from lapwright.cuts import Packing, pack
from lapwright.details.base import Cut
from lapwright.geometry import rings
from lapwright.scope.model import Built, Scope
from loads import catalog, faults, placed, product, rect

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
TURNS = {"any": (0, 90, 180, 270), "half": (0, 180), "none": (0,)}
random_runs = settings(
    max_examples=60 * SOAK,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def metres(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths on the sixteenth of an inch, so that 0.1 mm does not divide them."""
    unit = 0.0254 / 16
    return st.integers(int(low / unit), int(high / unit)).map(lambda n: n * unit)


@st.composite
def flats(draw: st.DrawFn, longest: float, widest: float) -> Polygon:
    """Rectangles, rectangles with a hole or a notch, L shapes, gable ends."""
    w, h = draw(metres(0.1, longest)), draw(metres(0.1, widest))
    kind = draw(st.sampled_from(["plain", "plain", "hole", "corner", "slope"]))
    if kind == "plain" or w < 0.3 or h < 0.3:
        return rect(w, h)
    if kind == "slope":
        return Polygon([(0, 0), (w, 0), (w * draw(st.floats(0.1, 0.9)), h), (0, h * 0.6)])
    x0, y0 = draw(metres(0.02, w / 2)), draw(metres(0.02, h / 2))
    x1, y1 = (w, h) if kind == "corner" else (x0 + w * 0.3, y0 + h * 0.4)
    return rect(w, h, (x0, y0, x1, y1))


@st.composite
def jobs(draw: st.DrawFn) -> tuple[list[Cut], dict[str, float | str], str, Scope]:
    """Cuts of one product, the product's figures and form, and some stock on hand."""
    form = draw(st.sampled_from(["roll", "roll", "sheet", "length"]))
    width, length = draw(metres(0.3, 1.6)), draw(metres(2.0, 8.0))
    figures: dict[str, float | str] = {"width_m": width, "length_m": length}
    figures["turn"] = draw(st.sampled_from(["any", "any", "half", "none"]))
    if draw(st.booleans()):
        figures["kerf_m"] = draw(st.sampled_from([0.0, 0.0032, 0.003175]))
    if draw(st.booleans()):
        figures["trim_m"] = 0.05
    cuts = [
        Cut(f"c{n:02d}", "stock", draw(flats(length * 0.9, width * 1.05)), pieces=(f"p{n:02d}",), installed=n)
        for n in range(draw(st.integers(1, 25)))
    ]
    hand = draw(
        st.lists(st.tuples(metres(0.5, 9.0), st.none() | metres(0.2, 2.0), st.integers(1, 2)), max_size=2)
    )
    return cuts, figures, form, Scope(on_hand=tuple(("stock", a, b, n) for a, b, n in hand))


def close(packing: Packing, kerf: float) -> list[str]:
    """Pairs that leave less than the width of the saw between them."""
    bad = []
    for unit in packing.stock:
        on = [(c.id, placed(c)) for c in packing.cuts if c.stock == unit.id]
        for i, (a, p) in enumerate(on):
            for b, q in on[:i]:
                if shapely.distance(p, q) < kerf - 2e-4:
                    bad.append(f"{a} {b}")
    return bad


@random_runs
@given(jobs())
def test_a_packing_keeps_the_contract_whatever_the_job(
    job: tuple[list[Cut], dict[str, float | str], str, Scope],
) -> None:
    cuts, figures, form, scope = job
    stock = catalog(product("stock", form, **figures))
    packing = pack(cuts, stock, scope)
    assert faults(packing, cuts, TURNS[str(figures["turn"])]) == []
    kerf = float(figures.get("kerf_m", 0.003175 if form == "length" else 0.0))
    assert close(packing, kerf) == [] or kerf == 0
    trim = float(figures.get("trim_m", 0.0))
    for cut in packing.cuts:
        assert cut.stock is None or cut.along_m >= trim - 1e-4
    assert packing == pack(cuts, stock, scope)


@random_runs
@given(jobs(), st.integers(1, 12))
def test_what_is_built_stays_where_it_is_when_the_job_grows(
    job: tuple[list[Cut], dict[str, float | str], str, Scope], count: int
) -> None:
    cuts, figures, form, scope = job
    stock = catalog(product("stock", form, **figures))
    before = pack(cuts[:count], stock, Scope())
    rows = tuple(
        {
            "id": c.id,
            "product": c.product,
            "flat": rings(c.flat),
            "stock": c.stock,
            "along_m": round(c.along_m, 4),
            "across_m": round(c.across_m, 4),
            "turned_deg": c.turned_deg,
        }
        for c in before.cuts
        if c.stock is not None
    )
    built = Built(cuts=rows, stock=tuple(u.to_json() for u in before.stock))
    after = pack(cuts, stock, Scope(on_hand=scope.on_hand, built=built))
    assert faults(after, cuts, TURNS[str(figures["turn"])]) == []
    for old, new in zip(before.cuts, after.cuts, strict=False):
        if old.stock is not None:
            assert (new.stock, new.turned_deg) == (old.stock, old.turned_deg)
            assert abs(new.along_m - old.along_m) < 1e-4 and abs(new.across_m - old.across_m) < 1e-4
    kept = {u.id: u for u in after.stock}
    assert all(kept[u.id].length_m == round(u.length_m, 4) for u in before.stock)


@random_runs
@given(st.lists(st.tuples(metres(0.2, 1.4), st.sampled_from([0.25, 0.5])), min_size=1, max_size=5))
def test_a_few_strips_are_drawn_no_longer_than_the_best_of_all_arrangements_on_lanes(
    strips: list[tuple[float, float]],
) -> None:
    # Strips that may not be turned, as wide as a half or a quarter of the roll: the best packing uses lanes, and
    # all ways to share them out can be tried.
    cuts = [Cut(f"s{n}", "stock", rect(w, h), installed=n) for n, (w, h) in enumerate(strips)]
    packing = pack(cuts, catalog(product("stock", "roll", width_m=1.0, length_m=10.0, turn="none")), Scope())
    assert faults(packing, cuts, (0,)) == []

    def shortest(k: int, ends: tuple[float, ...]) -> float:
        if k == len(strips):
            return max(ends)
        w, h = strips[k]
        lanes = round(h / 0.25)
        out = float("inf")
        for at in range(5 - lanes):
            start = max(ends[at : at + lanes])
            out = min(out, shortest(k + 1, (*ends[:at], *([start + w] * lanes), *ends[at + lanes :])))
        return out

    best = min(_each_order(strips, shortest))
    drawn = packing.bounds[0].drawn_m
    assert packing.bounds[0].packing_bound_m <= best + 1e-3
    assert best - 1e-3 <= drawn <= best * 1.25 + 1e-3
    if packing.bounds[0].proven:
        assert abs(drawn - best) < 2e-3


def _each_order(strips: list[tuple[float, float]], shortest: object) -> list[float]:
    """The shortest length for every order in which the strips can be laid."""
    from itertools import permutations

    out = []
    original = list(strips)
    for order in set(permutations(original)):
        strips[:] = order
        out.append(shortest(0, (0.0, 0.0, 0.0, 0.0)))  # type: ignore[operator]
    strips[:] = original
    return out
