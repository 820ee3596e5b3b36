"""Tables of what was read: rows, spectrum points, the ledger; and findings."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text, unix_time, yes_or_no
from trivet.schema.tables.shared import CELL

_READ = "trivet.rawfiles.series:read_series"
_POINTS = "trivet.rawfiles.spectra:read_spectra"
_RECORDS = "trivet.rawfiles.capacity_records:capacity_columns"
_LEDGER = "trivet.rawfiles.ledger:ledger_row"
_LEDGER_SUM = "trivet.rawfiles.ledger:ledger_by_cell"
LEDGER_BY_CELL = Table(
    "ledger_by_cell",
    "a cell and a kind of raw file",
    (
        CELL,
        text("content", "cycling, impedance or plating", _LEDGER_SUM, required=True),
        count("files", "files of this kind", _LEDGER_SUM, required=True),
        count("rows_seen", "data rows in them, up to the data cut", _LEDGER_SUM, required=True),
        count("rows_used", "rows that entered the results", _LEDGER_SUM, required=True),
        count("rows_set_aside", "rows not used", _LEDGER_SUM, required=True),
        text("layouts", "layouts they were read with", _LEDGER_SUM, required=True),
        text("assumed", "what was inferred, each once", _LEDGER_SUM),
        text("inferred", "the same without which column was read as what", _LEDGER_SUM),
    ),
    key=("cell", "content"),
)

_PLATINGS = "trivet.rawfiles.plating:read_platings"
_FINDING = "trivet.schema.findings.finding:finding_columns"

SERIES = Table(
    "series",
    "a row of a raw cycling file",
    (
        CELL,
        number(
            "time_s",
            "s",
            "Unix time; seconds since the first row where absolute time is unknown",
            _READ,
            required=True,
        ),
        number(
            "elapsed_s",
            "s",
            "elapsed time as the file states it, before files and restarts were joined",
            _READ,
        ),
        number("current_mA", "mA", "cell current, charge positive", _READ),
        number("cell_V", "V", "voltage, positive against negative", _READ),
        number("positive_V", "V", "potential of the positive against the reference", _READ),
        number("negative_V", "V", "potential of the negative against the reference", _READ),
        number("temperature_degC", "Cel", "temperature as recorded", _READ),
        count("raw_cycle", "cycle counter of the instrument, as evidence only", _READ),
        text("file", "raw file, relative to the campaign folder", _READ, required=True),
        count("line", "line in the raw file", _READ, required=True),
    ),
    key=(),
    unique=False,
    archived=False,
)


PLATING_SERIES = Table(
    "plating_series",
    "a row of a raw file of the plating of a reference",
    (
        CELL,
        number(
            "time_s",
            "s",
            "Unix time; seconds since the file's first row where absolute time is unknown",
            _PLATINGS,
            required=True,
        ),
        number("current_mA", "mA", "current of the plating, signed as recorded", _PLATINGS),
        text("file", "raw file, relative to the campaign folder", _PLATINGS, required=True),
        count("line", "line in the raw file", _PLATINGS, required=True),
    ),
    key=(),
    unique=False,
    archived=False,
)


SPECTRUM_POINTS = Table(
    "spectrum_points",
    "a frequency of a spectrum and a pair",
    (
        CELL,
        count(
            "spectrum",
            "number of the measurement within the cell, in order of time",
            _POINTS,
            required=True,
        ),
        number("time_s", "s", "Unix time of the measurement; missing where unknown", _POINTS),
        count("raw_cycle", "cycle that the file or its name states", _POINTS),
        text("pair", "what was measured: cell, positive or negative", _POINTS, required=True),
        number("frequency_Hz", "Hz", "frequency", _POINTS, required=True),
        number("real_ohm", "Ohm", "real part of the impedance", _POINTS, required=True),
        number(
            "imaginary_ohm",
            "Ohm",
            "imaginary part, negative for capacitive",
            _POINTS,
            required=True,
        ),
        text("file", "raw file, relative to the campaign folder", _POINTS, required=True),
        count("line", "line in the raw file", _POINTS, required=True),
    ),
    key=(),
    unique=False,
    archived=False,
)


CAPACITY_RECORDS = Table(
    "capacity_records",
    "a capacity that a raw impedance file states beside a spectrum",
    (
        CELL,
        count("cycle", "cycle as the file numbers it", _RECORDS, required=True),
        number("capacity_mAh", "mA.h", "capacity as the file states it", _RECORDS, required=True),
        text("file", "raw file, relative to the campaign folder", _RECORDS, required=True),
        count("line", "line in the raw file", _RECORDS, required=True),
    ),
    key=(),
    unique=False,
    archived=False,
)


LEDGER = Table(
    "ledger",
    "a raw file",
    (
        CELL,
        text("file", "raw file, relative to the campaign folder", _LEDGER, required=True),
        text("content", "cycling, impedance or plating", _LEDGER, required=True),
        text("layout", "name of the layout it was read with", _LEDGER, required=True),
        count("bytes", "size of the file", _LEDGER, required=True),
        text("sha256", "checksum of the file", _LEDGER, required=True),
        count("rows_seen", "data rows in the file, up to the data cut", _LEDGER, required=True),
        count("rows_used", "rows that entered the results", _LEDGER, required=True),
        count("rows_set_aside", "rows not used, each with a finding", _LEDGER, required=True),
        text("set_aside_because", "reasons with their counts", _LEDGER),
        text("lines_used", "first and last line of the rows used", _LEDGER),
        text("preamble", "what stands before the header, its first 500 signs", _LEDGER),
        text("assumed", "what was inferred and on which evidence", _LEDGER),
        text("inferred", "the same without which column was read as what", _LEDGER),
        text(
            "derived",
            "the one of cell, positive, negative that was derived from the others",
            _LEDGER,
        ),
        yes_or_no(
            "absolute_time",
            "yes or no: whether rows could be placed on the calendar",
            _LEDGER,
            required=True,
        ),
        unix_time(
            "first_time_s",
            "time of the first row used",
            _LEDGER,
            only_where=("absolute_time", "yes"),
        ),
        unix_time(
            "last_time_s",
            "time of the last row used",
            _LEDGER,
            only_where=("absolute_time", "yes"),
        ),
    ),
    key=("cell", "file"),
)


FINDINGS = Table(
    "findings",
    "a finding",
    (
        text("cell", "cell id; empty for the campaign", _FINDING),
        text("file", "raw file; empty where none is meant", _FINDING),
        count("line", "line in the file", _FINDING),
        text("check", "name of the check", _FINDING, required=True),
        text("severity", "note, caution or fault", _FINDING, required=True),
        number("value", "", "what was found, in the row's unit", _FINDING),
        number("limit", "", "limit it was held against, in the row's unit", _FINDING),
        text("unit", "unit of value and limit", _FINDING),
        text("action", "what was done", _FINDING, required=True),
        text("message", "one sentence", _FINDING, required=True),
    ),
    key=("cell", "check", "file", "line"),
    unique=False,
)
