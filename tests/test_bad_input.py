"""Whatever stands in a job file, reading it gives a job or findings with file and line, never another error.

The file `data/everything` holds every name a job file may have; it is taken apart here name by name, and at
random together with the examples. LAPWRIGHT_SOAK multiplies the random counts.
"""

from __future__ import annotations

import copy
import os
import random
import re
import shutil
import string
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from lapwright.catalog.load import load
from lapwright.findings import BadJob, Finding
from lapwright.scope.model import Job
from lapwright.scope.read import job_of, read_job
from lapwright.scope.schema import HouseBlock
from lapwright.survey.words import block_of
from lapwright.yamlfile import parse_yaml, read_yaml

HERE = Path(__file__).parent
ROOT = HERE.parent
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
many = settings(max_examples=150 * SOAK, deadline=None, derandomize=SOAK == 1)
CATALOG = load()[0]
EVERYTHING = HERE / "data" / "everything" / "house.yaml"
FILES = {
    "everything": EVERYTHING,
    "one-face": ROOT / "examples" / "one-face" / "house.yaml",
    "metric": ROOT / "examples" / "metric" / "house.yaml",
}
DATA = {name: read_yaml(path).data for name, path in FILES.items()}
DUMPER: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
Path_ = tuple[str | int, ...]


def read_text(text: str, file: Path = EVERYTHING) -> tuple[Finding, ...]:
    """Return what is found in a job file's text: the findings of the job, or those that refuse it."""
    try:
        job = job_of(parse_yaml(text), file, CATALOG)
    except BadJob as bad:
        check(bad.findings)
        assert any(f.level == "stop" for f in bad.findings)
        return bad.findings
    assert isinstance(job, Job)
    check(job.findings)
    return job.findings


def check(findings: tuple[Finding, ...]) -> None:
    """Every finding has a code, a file, a line and words; what stops the job has a fix."""
    for finding in findings:
        assert re.fullmatch(r"[a-z]+(\.[a-z_]+)+", finding.code), finding
        assert finding.where.file == "house.yaml" and (finding.where.line or 0) >= 1, finding
        assert finding.what and "Traceback" not in finding.what and len(finding.what) < 600, finding
        assert finding.level != "stop" or finding.fix, finding


def dump(data: Any) -> str:
    return yaml.dump(data, Dumper=DUMPER, sort_keys=False, allow_unicode=True)


def paths(value: Any, here: Path_ = ()) -> Iterator[Path_]:
    """Yield the path of every value below the top."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, child in items:
        yield (*here, key)
        yield from paths(child, (*here, key))


def holder(data: Any, path: Path_) -> Any:
    for key in path[:-1]:
        data = data[key]
    return data


def changed(name: str, path: Path_, value: Any) -> str:
    data = copy.deepcopy(DATA[name])
    holder(data, path)[path[-1]] = value
    return dump(data)


# ---------------------------------------------------------------- the file that holds everything


def blocks(schema: type[BaseModel], value: Any) -> Iterator[tuple[type[BaseModel], dict[str, Any]]]:
    """Yield every block of a file with its class."""
    if isinstance(value, list):
        for item in value:
            yield from blocks(schema, item)
    elif isinstance(value, dict):
        names = {f.alias or n: f for n, f in schema.model_fields.items()}
        if not names.keys() & value.keys():  # a mapping of ids to blocks
            for item in value.values():
                yield from blocks(schema, item)
            return
        yield schema, value
        for key, child in value.items():
            inner = block_of(names[key].annotation)
            if inner is not None:
                yield from blocks(inner, child)


def test_the_file_holds_every_name_there_is() -> None:
    seen: dict[str, set[str]] = {}
    for schema, value in blocks(HouseBlock, DATA["everything"]):
        seen.setdefault(schema.__name__, set()).update(value)
    expected = {
        schema.__name__: {f.alias or n for n, f in schema.model_fields.items()} for schema in all_blocks(HouseBlock)
    }
    assert seen == expected


def all_blocks(schema: type[BaseModel]) -> set[type[BaseModel]]:
    found = {schema}
    for field in schema.model_fields.values():
        inner = block_of(field.annotation)
        if inner is not None:
            found |= all_blocks(inner)
    return found


@pytest.mark.parametrize("name", FILES)
def test_the_files_themselves_read_without_a_stop(name: str) -> None:
    job = read_job(FILES[name], CATALOG)
    assert all(f.level == "note" for f in job.findings)


# ---------------------------------------------------------------- name by name

EVERY_PATH = list(paths(DATA["everything"]))


def test_the_wrong_kind_of_value_is_refused_at_its_line() -> None:
    """Put a block of nonsense in the place of every single value: it is refused, on that very line."""
    for path in EVERY_PATH:
        text = changed("everything", path, {"nonsense": [["x"]]})
        line = parse_yaml(text).lines.at(path)
        findings = read_text(text)
        stops = [f for f in findings if f.level == "stop"]
        assert stops, path
        assert any(f.where.line is not None and line <= f.where.line <= line + 2 for f in stops), (path, stops)


def test_every_name_that_must_be_given_is_asked_for() -> None:
    asked = 0
    for path in EVERY_PATH:
        if not isinstance(path[-1], str):
            continue
        data = copy.deepcopy(DATA["everything"])
        above = holder(data, path)
        schema = next((s for s, v in blocks(HouseBlock, data) if v is above), None)
        if schema is None:
            continue
        field = next(f for n, f in schema.model_fields.items() if (f.alias or n) == path[-1])
        if not field.is_required():
            continue
        del above[path[-1]]
        findings = read_text(dump(data))
        assert any("missing" in f.what and f"`{path[-1]}`" in f.what for f in findings), (path, findings)
        asked += 1
    assert asked > 40


def test_a_misspelled_name_is_met_with_the_right_one() -> None:
    for path in EVERY_PATH:
        data = copy.deepcopy(DATA["everything"])
        above = holder(data, path)
        schema = next((s for s, v in blocks(HouseBlock, data) if v is above), None)
        name = path[-1]
        if schema is None or not isinstance(name, str) or len(name) < 5 or name == "studs":
            continue  # "stusd" is as near to stud as to studs
        above[name[:-2] + name[-1] + name[-2]] = above.pop(name)
        if name[:-2] + name[-1] + name[-2] == name:
            continue
        findings = read_text(dump(data))
        assert any(f.code == "job.unknown" and f"Did you mean {name}?" in f.fix for f in findings), (path, findings)


SIZES = ("width", "height", "depth", "rise", "diameter", "thickness", "spacing", "length", "projection", "people",
         "count", "wage", "self-adhered-sheet", "weight", "speed", "r", "permeance", "length_error", "turn_error")  # fmt: skip


@pytest.mark.parametrize("value", ["-50'", -500, "-5 lb"])
def test_a_size_below_zero_is_refused(value: Any) -> None:
    tried = 0
    for path in EVERY_PATH:
        if path[-1] in SIZES and not isinstance(holder(DATA["everything"], path)[path[-1]], dict):
            findings = read_text(changed("everything", path, value))
            assert any(f.level == "stop" for f in findings), path
            tried += 1
    assert tried > 30


@pytest.mark.parametrize("value", ["400'", "99999 m", 10**17, 1e200, "1e999", "9" * 300])
def test_a_house_of_absurd_size_is_refused(value: Any) -> None:
    """A 400 ft window, a face of 400 ft, an eave at 400 ft, a pipe of 400 ft ..."""
    lengths = ("width", "height", "left", "right", "peak", "sill", "top", "bottom", "rise", "diameter", "thickness",
               "depth", "floor", "ceiling", "level", "at", "first", "spacing")  # fmt: skip
    for path in EVERY_PATH:
        if path[-1] in lengths and isinstance(holder(DATA["everything"], path)[path[-1]], str):
            findings = read_text(changed("everything", path, value))
            assert any(f.level == "stop" for f in findings), (path, value)


STRANGE: list[Any] = [
    None, True, False, "", " ", 0, -1, 1.5, 10**18, -1e300, "12.6.5", "12' 14\"", "400'", "-8\"", "yes", "unknown", "all",
    "é́\u202e🏠", "x" * 5000, "../../etc/passwd", "*", "[", "front", [], {}, [[]], [None], [[0, 0], [0, 0], [0, 0]],
    [[0, 0], ["9'", "9'"], [0, "9'"], ["9'", 0]], {"left": 1}, {"id": "x"}, {"a": {"b": {"c": 1}}}, [1, 2, 3, 4],
]  # fmt: skip


@pytest.mark.parametrize("part", range(4))
def test_every_value_may_be_anything(part: int) -> None:
    """Each path gets a fixed share of the strange values; a soak run gives it all of them."""
    rng = random.Random(part)
    for path in EVERY_PATH[part::4]:
        for value in STRANGE if SOAK > 1 else rng.sample(STRANGE, 2):
            read_text(changed("everything", path, value))


# ---------------------------------------------------------------- at random

_names = st.sampled_from(sorted(FILES))
_values = st.one_of(
    st.sampled_from(STRANGE), st.integers(), st.floats(allow_nan=False, allow_infinity=False),
    st.text(string.printable, max_size=12),
    st.builds(lambda a, u: f"{a}{u}", st.floats(-50, 500).map(lambda f: round(f, 2)), st.sampled_from(["'", '"', " mm", " m", " ft", " lb", " F"])),
)  # fmt: skip


@st.composite
def mutated(draw: st.DrawFn) -> tuple[str, Path]:
    """A job file with one to four values replaced, dropped, doubled, renamed or exchanged."""
    name = draw(_names)
    data = copy.deepcopy(DATA[name])
    for _ in range(draw(st.integers(1, 4))):
        every = list(paths(data))
        path = draw(st.sampled_from(every)) if every else None
        if path is None:
            break
        above, key = holder(data, path), path[-1]
        act = draw(st.sampled_from(["set", "set", "drop", "double", "rename", "exchange"]))
        if act == "set":
            above[key] = copy.deepcopy(draw(_values))
        elif act == "drop":
            del above[key]
        elif act == "double" and isinstance(above, list):
            above.insert(int(key), copy.deepcopy(above[int(key)]))
        elif act == "rename" and isinstance(above, dict):
            above[draw(st.text(string.ascii_lowercase + "_-", min_size=1, max_size=8))] = above.pop(key)
        elif act == "exchange":
            other = draw(st.sampled_from(every))
            try:
                above[key] = copy.deepcopy(holder(data, other)[other[-1]])
            except (KeyError, IndexError, TypeError):
                continue
    return dump(data), FILES[name]


@many
@given(mutated())
def test_a_changed_file_is_a_job_or_findings(job: tuple[str, Path]) -> None:
    read_text(*job)


@many
@given(_names, st.data())
def test_a_file_with_slips_of_the_pen_is_a_job_or_findings(name: str, data: st.DataObject) -> None:
    text = FILES[name].read_text()
    for _ in range(data.draw(st.integers(1, 5))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 3))
        text = text[:at] + data.draw(st.text(string.printable + "½′″éß", max_size=3)) + text[at + cut :]
    read_text(text, FILES[name])


# ---------------------------------------------------------------- whole files


def write(folder: Path, text: str) -> Path:
    (folder / "house.yaml").write_text(text)
    return folder


def bad(path: Path) -> tuple[Finding, ...]:
    with pytest.raises(BadJob) as caught:
        read_job(path, CATALOG)
    return caught.value.findings


def test_the_folder_and_the_file_are_the_same_job(tmp_path: Path) -> None:
    shutil.copytree(EVERYTHING.parent, tmp_path / "job")
    assert read_job(tmp_path / "job").survey.name == read_job(tmp_path / "job" / "house.yaml").survey.name


def test_what_is_not_there_is_told(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none", tmp_path / "house.yaml", Path("\0"), tmp_path / ("y" * 400)):
        (finding,) = bad(path)
        assert finding.code == "file.missing"


def test_a_folder_named_house_yaml_is_told(tmp_path: Path) -> None:
    (tmp_path / "house.yaml").mkdir()
    assert bad(tmp_path)[0].code == "file.missing"


def test_a_file_of_50_megabytes_is_refused_unread(tmp_path: Path) -> None:
    with (tmp_path / "house.yaml").open("wb") as stream:
        stream.write(b"job: x\n# ")
        stream.truncate(50_000_000)
    assert bad(tmp_path)[0].code == "file.too_big"


def test_a_list_of_a_hundred_thousand_mistakes_is_cut_short(tmp_path: Path) -> None:
    write(tmp_path, "faces:\n" + "- {x: 1}\n" * 30_000)
    findings = bad(tmp_path)
    assert 100 < len(findings) < 300
    assert any("more things are wrong" in f.what for f in findings)


def test_place_and_assemblies_alone_are_a_job(tmp_path: Path) -> None:
    write(tmp_path, "place: Duluth\nassemblies:\n  wall:\n  - {layer: lining, r: 0.45, permeance: 5}\n")
    job = read_job(tmp_path, CATALOG)
    assert job.survey.faces == () and list(job.scope.assemblies) == ["wall"]
    assert job.survey.place.name == "Duluth" and job.findings == ()


def test_all_complaints_come_at_once(tmp_path: Path) -> None:
    write(
        tmp_path,
        "faces:\n"
        "  - id: a\n    width: 12.6.5\n    heigth: 9'\n"
        "  - id: b\n    width: 10'\n    height: 8'\n    openings:\n      - {id: w, left: 1', sill: 1', width: 400', height: 2'}\n"
        "units: imperal\n",
    )
    found = {(f.code, f.where.line) for f in bad(tmp_path)}
    assert found == {("job.length", 3), ("job.unknown", 4), ("job.size", 9), ("job.choice", 10)}


FACE = "faces:\n  - id: a\n    width: 10'\n    height: 8'\n"
BAD_HOUSES = {  # what is added below a face of 10 by 8 ft -> (code, line, a part of what is said)
    "openings: [{id: w, left: 8', sill: 1', width: 3', height: 3'}]": ("job.outside", 5, "runs 1' 0\" past the right edge"),
    "openings: [{id: w, left: 1', sill: 6', width: 3', height: 3'}]": ("job.outside", 5, "reaches 1' 0\" above the top"),
    "openings: [{id: w, left: 1', sill: -2\", width: 3', height: 3'}]": ("job.outside", 5, "reaches 2\" below the bottom"),
    "openings: [{id: w, left: -1', sill: 1', width: 3', height: 3'}]": ("job.outside", 5, "runs 1' 0\" past the left edge"),
    "openings: [{id: v, left: 1', sill: 1', width: 3', height: 3'}, {id: w, left: 3', sill: 2', width: 3', height: 3'}]":
        ("job.overlap", 5, "a/w and a/v overlap by 1' 0\" by 2' 0\""),
    "openings: [{id: w, left: 1', sill: 1', width: 3', height: 3'}, {id: w, left: 6', sill: 2', width: 3', height: 3'}]":
        ("job.repeated", 5, "stands twice on the face a"),
    "openings: [{id: w, shape: arch, left: 1', sill: 1', width: 3', height: 3', rise: 2'}]":
        ("job.shape", 5, "more than half its width"),
    "openings: [{id: w, shape: round, left: 1', sill: 1', width: 3', height: 3'}]": ("job.missing", 5, "`center`"),
    "openings: [{id: w, shape: polygon, points: [[1', 1'], [3', 3'], [3', 1'], [1', 3']]}]":
        ("job.shape", 5, "crosses or touches itself"),
    "openings: [{id: w, left: 1', sill: 1', width: 3', height: 3', unit: window-unti}]":
        ("job.unknown", 5, "no product window-unti"),
    "penetrations: [{id: p, kind: pipe, at: [10', 4'], size: 2\"}]": ("job.outside", 5, "past the right edge"),
    "openings: [{id: w, left: 1', sill: 1', width: 3', height: 3'}]\n    penetrations: [{id: p, kind: pipe, at: [2', 2'], size: 2\"}]":
        ("job.overlap", 6, "comes through the opening w"),
    "zones: [{id: z, left: 1', right: 5', decision: keep}, {id: y, left: 4', decision: keep}]":
        ("job.overlap", 5, "a/y and a/z overlap"),
    "zones: [{id: z, top: 9', decision: keep}]": ("job.outside", 5, "reaches 1' 0\" above"),
    "zones: [{id: main, top: 4', decision: keep}]": ("job.repeated", 5, "uses itself"),
    "zones: [{id: z, decision: keep}]": ("job.shape", 5, "no sides"),
    "zones: [{id: z, top: 4', decision: cover}]": ("job.missing", 5, "needs an `assembly`"),
    "decision: remove": ("job.missing", 2, "needs an `assembly`"),
    "decision: remove\n    assembly: skin": ("job.unknown", 6, "no assembly skin"),
    "gable: {peak: 7'}": ("job.shape", 5, "no higher than the eave"),
    "gable: {peak: 12', at: 11'}": ("job.shape", 5, "off the face"),
    "base: 9'": ("job.shape", 4, "not above the bottom"),
    "base: [[1', 0]]": ("job.shape", 5, "does not start at the left edge"),
    "base: [[0, 0], [6', -1'], [3', -2']]": ("job.shape", 5, "from left to right"),
    "outline: [[0, 0], [10', 0], [10', 8']]": ("job.unknown", 2, "contradict each other"),
    "framing: {studs: [3', 2']}": ("job.shape", 5, "from left to right"),
    "framing: {spacing: 1/64\", first: 0}": ("job.shape", 5, "studs"),
    "attachments: [{id: r, kind: roof, from: [8', 3'], to: [2', 3']}]": ("job.shape", 5, "from left to right"),
    "attachments: [{id: r, kind: roof, from: [2', 3'], to: [12', 3']}]": ("job.outside", 5, "past the right edge"),
    "attachments: [{id: l, kind: deck_ledger, left: 2', right: 6', top: 3'}]": ("job.missing", 5, "`depth`"),
    "attachments: [{id: c, kind: chimney, left: 20', right: 22', bottom: 0, top: 9'}]": ("job.outside", 5, "not on this face"),
    "found: [{id: f, what: rot, size: 2'}]": ("job.missing", 5, "`at` is missing"),
    "loop: dormer": ("job.unknown", 5, "not listed under `loops`"),
}  # fmt: skip


@pytest.mark.parametrize("line", BAD_HOUSES)
def test_a_contradiction_is_told_in_words_at_its_line(tmp_path: Path, line: str) -> None:
    code, where, says = BAD_HOUSES[line]
    findings = bad(write(tmp_path, f"{FACE}    {line}\n"))
    assert [(f.code, f.where.line) for f in findings] == [(code, where)]
    assert says in findings[0].what and findings[0].fix


TOP = {
    "loops: {main: {closed: yes}}": ("job.loop", "closed but has 1 face"),
    "place: {latitude: 91}": ("job.size", "91 is outside -90 to 90"),
    "first_face_azimuth: 400": ("job.size", "400 is outside 0 to 360"),
    "storeys: [{id: s, floor: 8', ceiling: 1'}]": ("job.size", "not above the floor"),
    "storeys: [{id: s, floor: 0, ceiling: 8', loop: attic}]": ("job.unknown", "no loop attic"),
    "storeys: [{id: s, floor: 0, ceiling: 8', ceiling_kind: sloped}]": ("job.missing", "needs its `peak`"),
    "details: {b/w1: my-sill}": ("job.unknown", "on no face"),
    "prices: {mash-mat: 5}": ("job.unknown", "no product mash-mat"),
    "stock: [{product: mash-mat, length: 5'}]": ("job.unknown", "no product mash-mat"),
    "crew: {rates: {tear-of: 80 sq ft/h}}": ("job.unknown", "no task tear-of"),
    "crew: {rates: {tear-off: 2 h}}": ("job.quantity", "not measured so"),
    "crew: {rates: {tear-off: fast}}": ("job.quantity", "is no pace"),
    "own_details: [../x.py]": ("job.own_detail", "no detail file"),
    "own_details: [gone.py]": ("job.own_detail", "no detail file"),
    "built: {from: ../plan.json}": ("job.built", "outside the job folder"),
    "built: {from: plan.json}": ("job.built", "no file plan.json"),
    "unfound: [15, 5]": ("job.size", "from high to low"),
    "accept: [{code: x.y, reason: ''}]": ("job.missing", "`reason` is empty"),
    "assemblies: {wall: []}": ("job.missing", "has no layers"),
    "assemblies: {wall: [{layer: barier}]}": ("job.unknown", "barier is no layer"),
    "assemblies: {wall: [{layer: mat, product: mash-mat}]}": ("job.unknown", "no product mash-mat"),
    "assemblies: {wall: [{layer: mat, material: mash-mat}]}": ("job.unknown", "no material mash-mat"),
    "settings: {courses: {lap: 12.6.5}}": ("job.length", "understood 12.6"),
}


@pytest.mark.parametrize("line", TOP)
def test_a_contradiction_at_the_top_is_told_too(tmp_path: Path, line: str) -> None:
    code, says = TOP[line]
    findings = bad(write(tmp_path, f"{FACE}{line}\n"))
    assert [(f.code, f.where.line) for f in findings] == [(code, 5)]
    assert says in findings[0].what and findings[0].fix


def test_a_missing_turn_is_told_face_by_face(tmp_path: Path) -> None:
    face = "  - {{id: {0}, width: 10', height: 8'}}\n"
    findings = bad(write(tmp_path, "faces:\n" + "".join(face.format(i) for i in "abcd")))
    assert [(f.code, f.where.line) for f in findings] == [("job.missing", n) for n in (2, 3, 4, 5)]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda p: p["pieces"][0].pop("facts"),
        lambda p: p["pieces"][0].update(polygon=[[[0, 0], [1, 1]]]),
        lambda p: p["pieces"][0].update(polygon="x"),
        lambda p: p["pieces"][0].update(polygon=[[[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]]),
        lambda p: p["pieces"][0].update(surface="barn"),
        lambda p: p["pieces"][0].update(installed="soon"),
        lambda p: p.update(cuts=[]),
        lambda p: p.update(pieces=7),
        lambda p: p["cuts"][0].update(along_m="far"),
        lambda p: p["cuts"][0].pop("flat"),
        lambda p: p["stock"][0].update(length_m=-1),
        lambda p: p["lines"][0].pop("y_m"),
    ],
)
def test_an_earlier_plan_that_was_tampered_with_is_refused(tmp_path: Path, spoil: Any) -> None:
    import json

    shutil.copytree(EVERYTHING.parent, tmp_path / "job")
    file = tmp_path / "job" / "built" / "plan.json"
    plan = json.loads(file.read_text())
    spoil(plan)
    file.write_text(json.dumps(plan))
    findings = bad(tmp_path / "job")
    check(findings)
    assert all(f.code in ("job.built", "job.unknown") for f in findings)
    for text in ("[]", "{", "[" * 100_000, "\xff", '{"pieces": NaN}'):
        file.write_text(text, encoding="latin-1")
        check(bad(tmp_path / "job"))
