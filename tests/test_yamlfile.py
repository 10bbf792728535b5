"""The YAML reader: plain data and lines out, and a finding with its line for everything that is wrong."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

import lapwright.yamlfile as yamlfile
from lapwright.findings import BadJob
from lapwright.yamlfile import parse_yaml, read_yaml

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
many = settings(max_examples=200 * SOAK, deadline=None, derandomize=SOAK == 1)

BOMB = "\n".join(
    ["a0: &a0 [x,x,x,x,x,x,x,x,x]"] + [f"a{i}: &a{i} [{','.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 40)]
)
BAD = {  # text -> (code, line, a part of what is said)
    "": ("file.empty", 1, "empty"),
    "# only a remark\n": ("file.empty", 1, "empty"),
    "- a\n- b": ("file.not_a_job", 1, "name: value"),
    "just words": ("file.not_a_job", 1, "name: value"),
    "a: 1\nb: 2\na: 3": ("file.repeated", 3, "lines 1 and 3"),
    "a:\n\t- b": ("file.tab", 2, "tab"),
    "a: [1, 2\nb: 3": ("file.yaml", 2, "bracket"),
    'a: 1\nb: "x': ("file.yaml", 2, "quote"),
    "a: 1\nb: c: d": ("file.yaml", 2, "colon"),
    "a:\n  - x\n y: 2": ("file.yaml", 3, "does not fit"),
    "a: 1\nb: @x": ("file.yaml", 2, "cannot stand"),
    "? [a]\n: b": ("file.yaml", 1, "as a name"),
    "a: 1\nb: *c": ("file.yaml", 2, "alias"),
    "a: &x [*x]": ("file.yaml", 1, "alias"),
    "a: !!python/object/apply:os.system [x]": ("file.yaml", 1, "tag"),
    "a: !!int 5": ("file.yaml", 1, "tag"),
    "a: 1\n---\nb: 2": ("file.not_a_job", 2, "second document"),
    "a: 1\nb: \x07": ("file.yaml", 2, "no text"),
    "a: " + "[" * 100_000: ("file.too_big", 1, "deep"),
    "{a: " * 5_000: ("file.too_big", 1, "deep"),
    "- " * 5_000: ("file.too_big", 1, "deep"),
    "a: [" + "1," * 300_000 + "]": ("file.too_big", 1, "too many"),
    BOMB: ("file.too_big", 6, "too many"),
}


# The pure loader is slow: it gets the short ones only.
CASES = [(t, "fast") for t in BAD] + [(t, "pure") for t in BAD if len(t) < 20_000]


@pytest.mark.parametrize(("text", "loader"), CASES, ids=lambda value: repr(value[:24]))
def test_what_is_wrong_is_a_finding_with_its_line(text: str, loader: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if loader == "pure":
        monkeypatch.setattr(yamlfile, "_LOADER", yaml.SafeLoader)
    code, line, says = BAD[text]
    with pytest.raises(BadJob) as caught:
        parse_yaml(text)
    (finding,) = caught.value.findings
    assert (finding.code, finding.level, finding.where.file) == (code, "stop", "house.yaml")
    assert loader == "pure" or finding.where.line == line
    assert says in finding.what
    assert finding.fix


def test_every_repeated_name_is_told_at_once() -> None:
    with pytest.raises(BadJob) as caught:
        parse_yaml("a: 1\na: 2\nb:\n  c: 1\n  c: 2\n")
    assert [f.where.line for f in caught.value.findings] == [2, 5]


def test_scalars_are_what_a_builder_means() -> None:
    text = (
        'yes_no: yes\nclock: 12:30\nday: 2024-01-01\nlength: 31\' 6-1/2"\nnegative: -8"\nturn: -90\n'
        "half: .5\nwage: 45.50\nbig: 1e999\nunder: 1_000\nquoted: '12'\nnone:\ntilde: ~\nflag: true\n"
        "12: twelve\n<<: x\n"
    )
    assert parse_yaml(text).data == {
        "yes_no": "yes", "clock": "12:30", "day": "2024-01-01", "length": "31' 6-1/2\"", "negative": '-8"',
        "turn": -90, "half": 0.5, "wage": 45.5, "big": "1e999", "under": "1_000", "quoted": "12",
        "none": None, "tilde": None, "flag": True, "12": "twelve", "<<": "x",
    }  # fmt: skip


def test_lines_are_known_for_every_key_and_item() -> None:
    written = parse_yaml("faces:\n  - id: front\n    width: 3 m\n  - id: east\n    openings:\n      - {id: w1}\n")
    at = written.lines.at
    assert at(("faces", 0, "width")) == 3
    assert at(("faces", 1)) == 4
    assert at(("faces", 1, "openings", 0, "id")) == 6
    assert at(("faces", 1, "height")) == 4, "a missing thing is told at what should hold it"
    assert at(("nowhere",)) == 1


def test_an_alias_is_written_out_with_its_own_lines() -> None:
    written = parse_yaml("a: &w {b: 1}\nc: *w\n")
    assert written.data == {"a": {"b": 1}, "c": {"b": 1}}
    assert written.lines.at(("c",)) == 2


def test_a_file_of_the_wrong_kind_is_refused(tmp_path: Path) -> None:
    big = tmp_path / "big.yaml"
    with big.open("wb") as stream:
        stream.truncate(50_000_000)
    latin = tmp_path / "latin.yaml"
    latin.write_bytes("a: 1\nb: 2\nname: caf\xe9\n".encode("latin-1"))
    wide = tmp_path / "wide.yaml"
    wide.write_bytes("a: 1".encode("utf-16"))
    cases = {
        big: ("file.too_big", None),
        latin: ("file.not_utf8", 3),
        wide: ("file.not_utf8", 1),
        tmp_path: ("file.missing", None),
        tmp_path / "none.yaml": ("file.missing", None),
        tmp_path / "nul\0.yaml": ("file.missing", None),
        tmp_path / ("x" * 5000): ("file.missing", None),
    }
    for path, (code, line) in cases.items():
        with pytest.raises(BadJob) as caught:
            read_yaml(path)
        (finding,) = caught.value.findings
        assert (finding.code, finding.where.line) == (code, line), path


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_bytes(b"\xef\xbb\xbfjob: x\r\nwidth: 3 m\r\n")
    assert read_yaml(path).data == {"job": "x", "width": "3 m"}


# JSON is YAML as long as the text holds no surrogates and no control characters.
_text = st.text(st.characters(exclude_categories=("C", "Zl", "Zp")), max_size=8)
_plain = st.none() | st.booleans() | st.integers(-(10**9), 10**9) | _text
_names = _text.filter(bool)
_lists = _plain
for _ in range(3):
    _lists = _plain | st.lists(_lists, max_size=4) | st.dictionaries(_names, _lists, max_size=4)


@many
@given(st.dictionaries(_names, _lists, min_size=1, max_size=5), st.sampled_from([None, 2]))
def test_what_another_writer_dumps_is_read_back(tree: dict[str, object], indent: int | None) -> None:
    assert parse_yaml(json.dumps(tree, ensure_ascii=False, indent=indent)).data == tree


@many
@given(st.text(alphabet="ab:-[]{}'\"#&*!|>%@`,? \n\t0", max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        assert isinstance(parse_yaml(text).data, dict)
    except BadJob as bad:
        assert all(f.what and f.fix and f.where.line for f in bad.findings)


@many
@given(st.binary(max_size=60))
def test_any_bytes_are_read_or_refused(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any.yaml"
    path.write_bytes(raw)
    try:
        assert isinstance(read_yaml(path).data, dict)
    except BadJob as bad:
        assert all(f.what and f.fix for f in bad.findings)
