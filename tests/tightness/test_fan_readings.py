"""The readings file: what it may hold, and that whatever is wrong with it is a finding with its line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from fan_jobs import TEXTBOOK, house, law, many
from hypothesis import given
from hypothesis import strategies as st

from lapwright import tightness
from lapwright.findings import BadJob
from lapwright.tightness import parse_readings, read_readings, report

SURVEY = house()


def refused(text: str) -> list[tuple[str, int | None]]:
    """Return (code, line) of what a text is refused for."""
    with pytest.raises(BadJob) as bad:
        parse_readings(text, "fan.csv")
    for finding in bad.value.findings:
        assert finding.level == "stop" and finding.what and finding.fix and finding.where.file == "fan.csv"
    return [(f.code, f.where.line) for f in bad.value.findings]


@pytest.mark.parametrize(
    "text, found",
    [
        # columns
        ("flow_m3_h,pressure\n1,2\n", [("air.columns", 1)]),
        ("dp_Pa\n1\n", [("air.columns", 1)]),
        ("dp_Pa,flow_m3_h,flow_cfm\n1,2,3\n", [("air.columns", 1)]),
        ("dp_Pa,dp_Pa,flow_cfm\n1,2,3\n", [("air.column_twice", 1)]),
        ("dp_Pa,flow_cfn\n10,2\n", [("air.columns", 1)]),
        ("dp_Pa,flow_cfm,zero_dp\n10,2,1\n", [("air.columns", 1)]),
        ("dp_Pa;flow_m3_h\n10;237\n", [("air.columns", 1)]),
        ("10,237\n20,364\n", [("air.columns", 1)]),
        # cells
        (TEXTBOOK + "70\n", [("air.cells", 8)]),
        (TEXTBOOK + "70,1,234\n", [("air.cells", 8)]),
        (TEXTBOOK + '70,"7\n', [("air.cells", 8)]),
        (TEXTBOOK + "70,much\n", [("air.number", 8)]),
        (TEXTBOOK + ",700\n", [("air.number", 8)]),
        (TEXTBOOK + "nan,700\n80,inf\n", [("air.number", 8), ("air.number", 9)]),
        (TEXTBOOK + "70,1e999\n", [("air.number", 8)]),
        # figures
        (TEXTBOOK + "70,0\n", [("air.flow", 8)]),
        (TEXTBOOK + "70,-700\n", [("air.flow", 8)]),
        (TEXTBOOK + "70,1e30\n", [("air.flow", 8)]),
        (TEXTBOOK + "70,1e-30\n", [("air.flow", 8)]),
        (TEXTBOOK + "1e-20,70\n", [("air.pressure", 8)]),
        (TEXTBOOK + "0,30\n", [("air.pressure", 8)]),
        (TEXTBOOK + "-70,800\n", [("air.pressure_sign", 8)]),
        (TEXTBOOK + "7000,800\n", [("air.pressure", 8)]),
        ("dp_Pa,flow_m3_h,zero_dp_Pa\n10,237,12\n20,364,12\n30,444,12\n", [("air.pressure", 2)]),
        # modes
        ("dp_Pa,flow_cfm,mode\n10,9,up\n20,12,pressurize\n30,15,pressurize\n", [("air.mode", 2)]),
        ("dp_Pa,flow_cfm,mode\n10,9,\n20,12,pressurize\n30,15,pressurize\n", [("air.mixed_modes", 2)]),
        ("dp_Pa,flow_cfm,mode\n-10,9,pressurize\n-20,13,pressurize\n-30,17,pressurize\n", [("air.pressure_sign", 2)]),
        # the whole test
        ("dp_Pa,flow_m3_h\n", [("air.too_few", None)]),
        ("dp_Pa,flow_m3_h\n10,237\n20,364\n", [("air.too_few", 2)]),
        ("dp_Pa,flow_m3_h\n50,690\n50,700\n50,688\n", [("air.one_pressure", 2)]),
        ("dp_Pa,flow_m3_h\n237,10\n364,20\n444,30\n625,40\n688,50\n704,60\n", [("air.swapped", 2)]),
        ("dp_Pa,flow_l_s\n25,10\n39,20\n52,30\n63,40\n72,50\n81,60\n", [("air.swapped", 2)]),
        ("dp_Pa,flow_m3_h\n10,600\n20,500\n30,400\n40,300\n", [("air.no_law", 2)]),
        ("dp_Pa,flow_m3_h\n100,1\n110,1000\n120,1000000\n", [("air.no_law", 2)]),
        # what stands above
        ("# volume_m3: big\n" + TEXTBOOK, [("air.number", 1)]),
        ("# volume_m3: 0\n" + TEXTBOOK, [("air.key_value", 1)]),
        ("# t_in_C: 68.5\n" + TEXTBOOK, [("air.key_value", 1)]),
        ("# bedrooms: 2.5\n" + TEXTBOOK, [("air.key_value", 1)]),
        ("# fit: best\n" + TEXTBOOK, [("air.key_value", 1)]),
        ("# volume_m3: 400\n# volume_m3: 410\n" + TEXTBOOK, [("air.key_twice", 2)]),
        # all at once
        (
            "# area_m2: x\ndp_Pa,flow_m3_h\n10,0\n20,two\n-30,5\n",
            [("air.flow", 3), ("air.number", 1), ("air.number", 4)],
        ),
        ("", [("file.empty", None)]),
        ("# only a remark\n\n", [("file.empty", None)]),
    ],
)
def test_what_is_wrong_is_told_with_its_line(text: str, found: list[tuple[str, int | None]]) -> None:
    assert refused(text) == found


@pytest.mark.parametrize(
    "content, code",
    [(b"dp_Pa,flow\xff\n", "file.not_utf8"), (b"# x\n" * 600_000, "file.too_big"), (None, "file.missing")],
    ids=["latin", "huge", "none"],
)
def test_files_that_are_none(tmp_path: Path, content: bytes | None, code: str) -> None:
    path = tmp_path / "fan.csv"
    if content is not None:
        path.write_bytes(content)
    for call in (read_readings, report):
        with pytest.raises(BadJob) as bad:
            call(path)  # type: ignore[operator]
        assert [f.code for f in bad.value.findings] == [code]
    with pytest.raises(BadJob):
        read_readings(tmp_path)
    with pytest.raises(BadJob):
        read_readings(Path("a\0b"))


def test_a_wrong_file_is_not_told_row_by_row() -> None:
    assert len(refused("dp_Pa,flow_m3_h\n" + "x,y\n" * 500)) <= 30


def test_what_may_stand_in_a_file() -> None:
    text = (
        "\ufeff# Tested on a calm day. Who: nobody\r\n# Volume_M3: 400\r\n\r\n# t_in_C: −2.5\r\n"
        "Mode, test , flow_CFM,dp_pa,zero_dp_Pa,remark\r\n"
        "pressurize,A,100,10,,windy\r\n# a remark between\r\nPressurize,A,150,20,1.0,\r\npressurize,A,190,30,2.0,\r\n"
        "depressurize,A,100,-11,-1,\r\ndepressurize,A,150,-21,-1,\r\ndepressurize,A,190,-31,-1,\r\n"
        "depressurize,B,100,10,,\r\ndepressurize,B,150,20,,\r\ndepressurize,B,190,30,,\r\n"
    )
    read = parse_readings(text.removeprefix("\ufeff"), "fan.csv")
    assert (read.number("volume_m3"), read.number("t_in_C"), read.number("wsf")) == (400.0, -2.5, None)
    assert [(t.name, t.mode, t.line) for t in read.tests] == [
        ("A", "pressurize", 6), ("A", "depressurize", 10), ("B", "depressurize", 13),
    ]  # fmt: skip
    first, second, third = read.tests
    assert first.rows[0].flow_m3_h == pytest.approx(169.901082)
    # Two of three rows have a zero-flow pressure: their mean is taken off all; where all have one, each its own.
    assert [first.induced_Pa(r) for r in first.rows] == [8.5, 18.5, 28.5]
    assert [second.induced_Pa(r) for r in second.rows] == [10.0, 20.0, 30.0]
    assert [third.induced_Pa(r) for r in third.rows] == [10.0, 20.0, 30.0]
    assert [(f.code, f.level, f.where.line) for f in read.findings] == [
        ("air.column", "note", 5), ("air.pressure_sign", "note", 10),
    ]  # fmt: skip


def test_a_slip_in_a_key_is_told_and_a_remark_is_not() -> None:
    read = parse_readings("# volum_m3: 400\n# date: some day in May\n#\n" + TEXTBOOK)
    assert [(f.code, f.level, f.where.line) for f in read.findings] == [("air.key", "warn", 1), ("air.mode", "note", 5)]
    assert "volume_m3" in read.findings[0].fix and read.given == {}


def test_without_names_the_file_is_the_test(tmp_path: Path) -> None:
    path = tmp_path / "north wing.csv"
    path.write_text(TEXTBOOK, encoding="utf-8-sig")
    assert [(t.name, t.mode) for t in read_readings(path).tests] == [("north wing", "depressurize")]


@many(200)
@given(st.text(max_size=200) | st.lists(st.tuples(st.floats(), st.floats()), max_size=8).map(
    lambda rows: "dp_Pa,flow_m3_h\n" + "".join(f"{a},{b}\n" for a, b in rows)
))  # fmt: skip
def test_any_text_is_read_or_refused_with_findings(text: str) -> None:
    try:
        read = parse_readings(text)
    except BadJob as bad:
        assert bad.findings and all(f.level == "stop" for f in bad.findings)
    else:
        assert tightness.tests_of(read)


@many(200)
@given(st.data())
def test_a_good_file_with_one_cell_spoiled_never_breaks(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    head = "# volume_m3: 300\n# t_in_C: 21\n# t_out_C: -5\n# altitude_m: 1200\n"
    lines = law(120.0, 0.66, head).splitlines()
    row = data.draw(st.integers(0, len(lines) - 1))
    cells = lines[row].split(",")
    cell = data.draw(st.integers(0, len(cells) - 1))
    cells[cell] = data.draw(
        st.sampled_from(["", "0", "-1", "1e9", "x", "0.0001", "1,5", "#", '"', "Pa", "-50"])
        | st.text(max_size=5)
        | st.floats(0, 1e4).map(str)
    )
    lines[row] = ",".join(cells)
    path = tmp_path_factory.getbasetemp() / "spoiled.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    try:
        doc, _ = report(path, SURVEY)
    except BadJob as bad:
        assert all(f.where.file for f in bad.findings)
    else:
        json.dumps(doc, allow_nan=False)
        assert doc["tests"][0]["flow50_m3_h"] > 0
