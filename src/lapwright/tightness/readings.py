"""Reads the file of a fan test: rows of pressure and flow, with what stands above them as `# key: value`.

Nothing is guessed in silence: what cannot be read is a finding with its line, and all such findings come at once.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from lapwright.air.corrections import Mode
from lapwright.air.fit import fit_power_law
from lapwright.air.limits import look_swapped
from lapwright.air.ventilation import CFM_M3_H
from lapwright.findings import BadJob, Finding, Level, Where, in_order

MAX_BYTES = 2_000_000
MAX_ROWS = 10_000
MOST_FINDINGS = 30  # a file that is no reading file at all need not be told row by row
FLOW_UNITS: Mapping[str, float] = {"flow_m3_h": 1.0, "flow_cfm": CFM_M3_H, "flow_l_s": 3.6}  # m3/h of one, exact
COLUMNS = ("dp_Pa", *FLOW_UNITS, "test", "mode", "zero_dp_Pa")
MODES: tuple[Mode, ...] = ("pressurize", "depressurize")
WORDS: Mapping[str, tuple[str, ...]] = {"flow_reads": ("actual", "indicated"), "fit": ("plain", "weighted")}
# Keys of the lines above the table: what may stand there, lowest and highest.
NUMBERS: Mapping[str, tuple[float, float]] = {
    "volume_m3": (1.0, 1e6), "area_m2": (1.0, 1e6), "floor_area_m2": (1.0, 1e6), "height_m": (1.0, 200.0),
    "t_in_C": (-40.0, 60.0), "t_out_C": (-60.0, 60.0), "rh_in_pct": (0.0, 100.0), "rh_out_pct": (0.0, 100.0),
    "altitude_m": (-450.0, 6000.0), "wind_m_s": (0.0, 60.0), "wsf": (0.1, 2.0), "bedrooms": (0.0, 30.0),
    "exhaust_cfm": (0.0, 20000.0), "exhaust_m3_h": (0.0, 34000.0),
    "u_dp_Pa": (0.0, 20.0), "u_flow_pct": (0.0, 50.0), "u_calibration_pct": (0.0, 50.0),
}  # fmt: skip
FLOWS = (0.1, 1e7)  # m3/h; far beyond any fan of a house, to catch slips
LOWEST_PA = 0.1  # less is below what a gauge shows (common practice)
HIGHEST_PA = 200.0  # fan tests end at 100 Pa (ISO 9972, from memory); twice that is another unit or a slip
EXPONENTS = (0.1, 3.0)  # outside, the figures are no fan test; 0.5 to 1.0 is what leaks can do (common practice)
_NUMBER = re.compile(r"[-+]?(?:[0-9]{1,12}(?:\.[0-9]{0,12})?|\.[0-9]{1,12})(?:[eE][-+]?[0-9]{1,2})?")
_KEY = re.compile(r"#\s*([A-Za-z][A-Za-z0-9_]*)\s*:\s*(.*)")


@dataclass(frozen=True)
class Row:
    """One reading: line of the file, pressure as written (signed), flow in m3/h, zero-flow pressure or None."""

    line: int
    dp_Pa: float
    flow_m3_h: float
    zero_Pa: float | None = None


@dataclass(frozen=True)
class FanTest:
    """The readings of one test in one mode. `sign`: -1 when the pressures were written negative."""

    name: str
    mode: Mode
    rows: tuple[Row, ...]
    sign: int = 1

    @property
    def line(self) -> int:
        """The line of its first reading."""
        return self.rows[0].line

    @property
    def zeros_Pa(self) -> tuple[float, ...]:
        """The zero-flow pressures that were written down."""
        return tuple(r.zero_Pa for r in self.rows if r.zero_Pa is not None)

    def zero_of(self, row: Row) -> float:
        """Return what stood on the gauge with the fan off: the row's own if every row has one, else the mean."""
        zeros = self.zeros_Pa
        if row.zero_Pa is not None and len(zeros) == len(self.rows):
            return row.zero_Pa
        return sum(zeros) / len(zeros) if zeros else 0.0

    def induced_Pa(self, row: Row) -> float:
        """Return the pressure that the fan alone made, without its sign."""
        return self.sign * (row.dp_Pa - self.zero_of(row))


@dataclass(frozen=True)
class Given:
    """A figure or word above the table, with its line."""

    value: float | str
    line: int


@dataclass(frozen=True)
class Readings:
    """A file of fan tests: in file order, first by test, then by mode."""

    file: str
    tests: tuple[FanTest, ...]
    given: Mapping[str, Given] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()

    def number(self, key: str) -> float | None:
        """Return a figure that stands above the table, or None."""
        got = self.given.get(key)
        return got.value if got is not None and not isinstance(got.value, str) else None

    def word(self, key: str) -> str | None:
        """Return a word that stands above the table, or None."""
        got = self.given.get(key)
        return got.value if got is not None and isinstance(got.value, str) else None


def read_readings(path: Path) -> Readings:
    """Read a CSV file of at most 2 MB, UTF-8. Raises BadJob with file and line of everything that is wrong."""
    name = path.name or str(path)
    where = Where(file=name)
    try:
        if not path.is_file():
            raise _fatal("file.missing", f"There is no file {path}.", "Check the name.", where)
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "the name cannot be used"
        raise _fatal("file.missing", f"The file cannot be opened: {why}.", "Check the name.", where) from None
    if len(raw) > MAX_BYTES:
        what = "The file is larger than 2 MB."
        raise _fatal("file.too_big", what, "A fan test is some tens of lines; is this the right file?", where)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        where = Where(file=name, line=raw[: error.start].count(b"\n") + 1)
        what = "The file is not plain UTF-8 text."
        raise _fatal("file.not_utf8", what, "Save it again as CSV, UTF-8 (not as a spreadsheet).", where) from None
    return parse_readings(text, name)


def parse_readings(text: str, file: str = "readings.csv") -> Readings:
    """Read the text of a readings file; `file` is its name in findings. Raises BadJob.

    >>> read = parse_readings("# volume_m3: 400\\ndp_Pa,flow_cfm\\n20,900\\n40,1400\\n60,1810\\n", "fan.csv")
    >>> read.tests[0].name, read.tests[0].mode, read.number("volume_m3")
    ('fan', 'depressurize', 400.0)
    """
    return _Reader(file).read(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"))


def _fatal(code: str, what: str, fix: str, where: Where) -> BadJob:
    return BadJob([Finding(code, "stop", what, "", fix, where)])


class _Reader:
    """Reads one file, noting everything that is wrong before it gives up."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.given: dict[str, Given] = {}
        self.fatal: list[Finding] = []
        self.said: list[Finding] = []
        self.header: list[str] | None = None
        self.rows: list[tuple[str, str, Row]] = []  # test, mode as written ("" when not), row
        self.modes_known = False

    def read(self, lines: list[str]) -> Readings:
        for number, line in enumerate(lines, 1):
            text = line.strip()
            if not text:
                continue
            if text.startswith("#"):
                self._key(number, text)
            elif self.header is None:
                self._header(number, line)
            elif len(self.rows) >= MAX_ROWS:
                self._bad(
                    "air.too_many", number, f"There are more than {MAX_ROWS} readings.", "Is this the right file?"
                )
                break
            elif "dp_Pa" in self.header:
                self._row(number, line)
        if self.header is None:
            self._bad("file.empty", None, "There are no readings.", "Start with a line `dp_Pa,flow_m3_h`.")
        tests = [] if self.fatal else self._tests()
        if self.fatal:
            raise BadJob(in_order(self.fatal)[:MOST_FINDINGS])
        return Readings(self.file, tuple(tests), self.given, tuple(in_order(self.said)))

    # ------------------------------------------------------------ lines

    def _key(self, line: int, text: str) -> None:
        match = _KEY.fullmatch(text)
        if not match:
            return  # a remark
        key, value = match.group(1), match.group(2).strip()
        known = {k.casefold(): k for k in (*NUMBERS, *WORDS)}
        name = known.get(key.casefold())
        if name is None:
            near = difflib.get_close_matches(key.casefold(), known, 1, 0.8)
            if near:
                what = f"{key} is not known, so it is not used."
                self._say("warn", "air.key", line, what, f"Write {known[near[0]]}, if you meant that.")
            return
        if name in self.given:
            first = self.given[name].line
            self._bad("air.key_twice", line, f"{name} stands here again.", f"It is given in line {first}; strike one.")
        elif name in WORDS:
            if value not in WORDS[name]:
                self._bad(
                    "air.key_value", line, f"{name}: {value[:30]} is not known.", f"Write {' or '.join(WORDS[name])}."
                )
            else:
                self.given[name] = Given(value, line)
        else:
            low, high = NUMBERS[name]
            number = self._number(line, name, value, "Write the figure alone; the unit is in the name.")
            if number is None:
                return
            if not low <= number <= high or (name == "bedrooms" and number != int(number)):
                fix = f"Check the figure and its unit; {low:g} to {high:g} can be right."
                self._bad("air.key_value", line, f"{name}: {value[:30]} cannot be right.", fix)
            else:
                self.given[name] = Given(number, line)

    def _header(self, line: int, text: str) -> None:
        cells = self._cells(line, text) or []
        self.header = []
        if len(cells) == 1 and re.search(r"[;\t]", text):
            fix = "Save it with commas between the columns and points in the figures."
            self._bad("air.columns", line, "The columns are not separated by commas.", fix)
            return
        known = {c.casefold(): c for c in COLUMNS}
        for cell in cells:
            name = known.get(cell.casefold())
            near = difflib.get_close_matches(cell.casefold(), known, 1, 0.75)
            if name is not None:
                if name in self.header:
                    self._bad("air.column_twice", line, f"There are two columns {name}.", "Strike one.")
            elif near:
                fix = f"Write {known[near[0]]}."
                self._bad("air.columns", line, f"The column {cell[:30]} is not known.", fix)
            elif cell:
                self._say("note", "air.column", line, f"The column {cell[:30]} is not used.", "Nothing to do.")
            self.header.append(name or cell)
        flows = [c for c in self.header if c in FLOW_UNITS]
        fix = f"Start the table with `dp_Pa` and one of {', '.join(FLOW_UNITS)}."
        if "dp_Pa" not in self.header and not self.fatal:
            self._bad("air.columns", line, "There is no column dp_Pa.", fix)
        if len(flows) != 1 and not self.fatal:
            what = "There is no column for the flow." if not flows else f"The flow stands twice: {' and '.join(flows)}."
            self._bad("air.columns", line, what, fix)
        if self.fatal and any(f.where.line == line for f in self.fatal):
            self.header = []  # the rows below cannot be read by a wrong header

    def _row(self, line: int, text: str) -> None:
        assert self.header is not None
        cells = self._cells(line, text)
        if cells is None:
            return
        if len(cells) != len(self.header):
            fix = "One cell for each column; a figure has a point, not a comma: 10.5."
            self._bad("air.cells", line, f"There are {len(cells)} cells for {len(self.header)} columns.", fix)
            return
        row = dict(zip(self.header, cells, strict=True))
        column = next(c for c in self.header if c in FLOW_UNITS)
        dp = self._number(line, "dp_Pa", row["dp_Pa"])
        flow = self._number(line, column, row[column])
        zero = None
        if row.get("zero_dp_Pa"):
            zero = self._number(line, "zero_dp_Pa", row["zero_dp_Pa"])
        if flow is not None and flow <= 0.0:
            fix = "Strike the row; a reading with the fan off goes into zero_dp_Pa."
            what = "The flow is 0." if flow == 0.0 else "The flow is less than 0."
            self._bad("air.flow", line, what, fix)
        elif flow is not None and not FLOWS[0] <= flow * FLOW_UNITS[column] <= FLOWS[1]:
            self._bad("air.flow", line, f"{column} {row[column][:30]} is no flow of a fan.", "Check the figure.")
        if dp == 0.0:
            fix = "Strike the row; a reading with the fan off goes into zero_dp_Pa."
            self._bad("air.pressure", line, "The pressure is 0.", fix)
        mode = row.get("mode", "").casefold()
        if mode and mode not in MODES:
            self._bad("air.mode", line, f"The mode {mode[:30]} is not known.", "Write pressurize or depressurize.")
        name = row.get("test") or Path(self.file).stem or "test"
        if dp is not None and flow is not None:
            self.rows.append((name[:60], mode, Row(line, dp, flow * FLOW_UNITS[column], zero)))

    def _cells(self, line: int, text: str) -> list[str] | None:
        try:
            return [cell.strip() for cell in next(csv.reader([text], strict=True))]
        except (csv.Error, StopIteration):
            self._bad("air.cells", line, "The line cannot be parted into cells.", "Look for a quotation mark too many.")
            return None

    def _number(self, line: int, name: str, text: str, fix: str = "Write a figure with a point: 10.5.") -> float | None:
        plain = text.replace("−", "-")
        if _NUMBER.fullmatch(plain):
            return float(plain)
        what = f"{name} is missing." if not text else f"{name}: {text[:30]} is not a figure."
        self._bad("air.number", line, what, fix)
        return None

    # ------------------------------------------------------------ tests

    def _tests(self) -> list[FanTest]:
        """Part the rows into tests and modes, and look at each as a whole."""
        names = list(dict.fromkeys(name for name, _, _ in self.rows))
        if not names:
            self._bad("air.too_few", None, "There are no readings below the header.", "Write one row for each reading.")
        out: list[FanTest] = []
        for name in names:
            rows = [(mode, row) for n, mode, row in self.rows if n == name]
            modes = {mode for mode, _ in rows}
            if "" in modes and len(modes) > 1:
                line = next(row.line for mode, row in rows if not mode)
                fix = "Write pressurize or depressurize in every row of this test."
                self._bad("air.mixed_modes", line, f"Test {name}: some rows have a mode and some have none.", fix)
                continue
            for mode in sorted(modes, key=lambda m: next(r.line for w, r in rows if w == m)):
                test = self._test(name, mode, tuple(row for m, row in rows if m == mode))
                if test is not None:
                    out.append(test)
        return out

    def _test(self, name: str, written: str, rows: tuple[Row, ...]) -> FanTest | None:
        line = rows[0].line
        negative = [r for r in rows if r.dp_Pa < 0.0]
        if negative and (len(negative) < len(rows) or written == "pressurize"):
            odd = negative[0].line if written == "pressurize" or 2 * len(negative) <= len(rows) else next(
                r.line for r in rows if r.dp_Pa > 0.0
            )  # fmt: skip
            fix = "Write the size of the pressure without a sign, and pressurize or depressurize in the column mode."
            what = f"Test {name}: pressures above and below 0 are mixed."
            if len(negative) == len(rows):
                what = f"Test {name}: pressurizing, yet the pressure is below 0."
            self._bad("air.pressure_sign", odd, what, fix)
            return None
        if negative:
            self._say(
                "note", "air.pressure_sign", line, f"Test {name}: the pressures are below 0 and read as depressurizing.",
                "Nothing to do; zero_dp_Pa is read with the same sign.",
            )  # fmt: skip
        elif not written:
            self._say(
                "note", "air.mode", line, f"Test {name}: no mode is given; it is read as depressurizing.",
                "Write pressurize or depressurize in a column mode, if you know.",
            )  # fmt: skip
        mode: Mode = "pressurize" if written == "pressurize" else "depressurize"
        test = FanTest(name, mode, rows, -1 if negative else 1)
        return test if self._sound(test) else None

    def _sound(self, test: FanTest) -> bool:
        """Note what makes the readings of a test useless together; return whether nothing does."""
        before = len(self.fatal)
        if len(test.rows) < 3:
            fix = "Take at least five readings, evenly spread from 10 to 60 Pa."
            what = f"Test {test.name}, {test.mode}: {len(test.rows)} readings are too few for a line and its scatter."
            self._bad("air.too_few", test.line, what, fix)
            return False
        for row in test.rows:
            if not test.induced_Pa(row) >= LOWEST_PA:
                fix = "Check the sign of zero_dp_Pa: it is what the same gauge shows with the fan off."
                what = "The fan makes no pressure here once the zero-flow pressure is taken off."
                self._bad("air.pressure", row.line, what, fix)
        if len(self.fatal) == before:
            pressures = [test.induced_Pa(r) for r in test.rows]
            if max(pressures) < 1.05 * min(pressures):
                fix = "Take readings from about 10 to 60 Pa."
                self._bad("air.one_pressure", test.line, f"Test {test.name}: all readings are at one pressure.", fix)
            else:
                self._check_law(test, pressures)
        return len(self.fatal) == before

    def _check_law(self, test: FanTest, pressures: list[float]) -> None:
        """Tell swapped columns, wrong units, and readings that no leak gives."""
        flows = [r.flow_m3_h for r in test.rows]
        if look_swapped(pressures, flows):
            fix = "Swap the names in the header line."
            what = f"Test {test.name}: pressure and flow seem to have changed columns."
            self._bad("air.swapped", test.line, what, fix)
            return
        if max(pressures) > HIGHEST_PA:
            row = max(test.rows, key=test.induced_Pa)
            fix = "Check the unit (Pa) and the columns; a house is tested at 10 to 100 Pa."
            self._bad("air.pressure", row.line, f"{row.dp_Pa:g} Pa is no pressure of a fan test.", fix)
            return
        try:
            n = fit_power_law(pressures, flows).n
        except ValueError:  # the flows leap where the pressures hardly differ
            n = float("inf")
        if not EXPONENTS[0] < n < EXPONENTS[1]:
            fix = "Check the figures of this test: more pressure passes more flow, with an exponent near 0.65."
            what = f"Test {test.name}, {test.mode}: no leaks give such readings (exponent {n:.2f})."
            self._bad("air.no_law", test.line, what, fix)

    def _bad(self, code: str, line: int | None, what: str, fix: str) -> None:
        self.fatal.append(Finding(code, "stop", what, "", fix, Where(file=self.file, line=line)))

    def _say(self, level: Level, code: str, line: int, what: str, fix: str) -> None:
        self.said.append(Finding(code, level, what, "", fix, Where(file=self.file, line=line)))
