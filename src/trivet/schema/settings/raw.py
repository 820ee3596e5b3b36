"""The block `raw`: which files belong to which cell, and how each kind is laid out."""

from __future__ import annotations

from typing import Literal

from trivet.schema.settings.block import Block, setting

CyclingQuantity = Literal[
    "elapsed time",
    "absolute time",
    "unix time",
    "current",
    "charge current",
    "discharge current",
    "cell voltage",
    "positive potential",
    "negative potential",
    "temperature",
    "cycle",
    "step",
    "state",
    "charge counter",
    "discharge counter",
    "ignored",
]
ImpedanceQuantity = Literal[
    "frequency",
    "real",
    "imaginary",
    "modulus",
    "phase",
    "pair",
    "cell",
    "capacity",
    "unix time",
    "absolute time",
    "ignored",
]
Quantity = Literal[CyclingQuantity, ImpedanceQuantity]


_CYCLING_COLUMNS = [
    {
        "header": "Date",
        "quantity": "absolute time",
        "unit": "",
        "format": "%d.%m.%Y %H:%M:%S",
    },
    {"header": "Time/h", "quantity": "elapsed time", "unit": "h"},
    {"header": "Current/mA", "quantity": "current", "unit": "mA"},
    {"header": "Voltage/V", "quantity": "cell voltage", "unit": "V"},
    {"header": "Positive/V", "quantity": "positive potential", "unit": "V"},
    {"header": "Negative/V", "quantity": "negative potential", "unit": "V"},
]
_IMPEDANCE_COLUMNS = [
    {"header": "Frequency/Hz", "quantity": "frequency", "unit": "Hz"},
    {"header": "Re/ohm", "quantity": "real", "unit": "ohm"},
    {"header": "Im/ohm", "quantity": "imaginary", "unit": "ohm"},
]
MISSING_WORDS = (
    "",
    "NaN",
    "OL",
    "OVER",
    "---",
    "#N/A",
    "-9999",
    "9.9E37",
    "1.#INF",
    "-1.#INF",
    "1.#QNAN",
)
"""Words of instruments and spreadsheets for no value; common practice, no source."""


class LayoutColumn(Block):
    """One column of a raw file."""

    header: str = setting(
        ...,
        "header of the column as it stands in the file, without its unit "
        "where the unit stands in a row of its own",
        example="Time/h",
    )
    also: list[str] = setting(
        [], "other headers of the same column, in files of another language or version"
    )
    quantity: Quantity = setting(
        ...,
        "what the column holds; where charge and discharge have a column each, these are "
        "'charge current' and 'discharge current', both as magnitudes",
        example="elapsed time",
    )
    unit: str = setting(
        "",
        "unit of the numbers in the file: s, ms, min, h, d, h:m:s, A, mA, uA, V, mV, "
        "degC, Ah, mAh, uAh, Hz, kHz, mHz, ohm, mohm, kohm, deg, rad; empty for counters, text "
        "and times of day",
        example="h",
    )
    required: bool = setting(
        True, "whether a file without the column is set aside; no: it counts as missing there"
    )
    pair: Literal["", "cell", "positive", "negative"] = setting(
        "",
        "for parts of impedance: what the column was measured across, where each pair has columns "
        "of its own",
    )
    format: str = setting(
        "",
        "for absolute time: how it is written, in the codes of C's strptime; "
        "or 'days from 1900' or 'days from 1904' for the day numbers of spreadsheets",
        example="%d.%m.%Y %H:%M:%S",
    )


class PairWords(Block):
    """Words of the laboratory for what a spectrum was measured across."""

    cell: list[str] = setting([], "words for the cell: positive against negative")
    positive: list[str] = setting([], "words for the positive against the reference")
    negative: list[str] = setting([], "words for the negative against the reference")


class Layout(Block):
    """How one kind of raw file is laid out."""

    encoding: str = setting(
        "utf-8",
        "text encoding of files that have no byte order mark and are not UTF-8",
        example="utf-8",
    )
    delimiter: Literal[",", ";", "\t", " ", "|"] = setting(",", "sign between the columns")
    decimal: Literal[".", ","] = setting(".", "decimal sign")
    thousands: Literal["", ".", ",", "'", " "] = setting(
        "",
        "sign between groups of three digits; empty: taken only where it can mean nothing else, "
        "so that 1,234 is refused",
    )
    header_rows: int = setting(
        1,
        "lines that the names stand on; where more than one, what stands above each other is one "
        "name, joined by blanks",
        ge=1,
        le=5,
    )
    unit_row: bool = setting(False, "whether a row of units follows the header")
    start_line: str = setting(
        "",
        "what a line above the header begins with that states when the file was begun, as "
        "'Started:'; elapsed times count from it, and a spectrum without a column of time was "
        "taken then; empty: no such line",
    )
    start_format: str = setting(
        "", "how that time is written, in the codes of C's strptime; empty: ISO 8601"
    )
    time_zone: str = setting(
        "", "time zone of times of day, an IANA name; empty: that of the campaign"
    )
    charging_current: Literal["positive", "negative"] = setting(
        "positive", "sign that the file gives to a charging current"
    )
    capacitive_imaginary: Literal["negative", "positive"] = setting(
        "negative", "sign that the file gives to the imaginary part of a capacitor"
    )
    missing: list[str] = setting(
        list(MISSING_WORDS),
        "words that stand for no value; such a value is missing, never a number",
    )
    charge_words: list[str] = setting(
        ["charge", "charging", "laden", "ladung", "charger", "carga", "cargar", "carregar"],
        "words for charge in a column of states, which then gives the current its sign",
    )
    discharge_words: list[str] = setting(
        ["discharge", "discharging", "entladen", "entladung", "décharge", "descarga", "descargar"],
        "words for discharge in such a column",
    )
    rest_words: list[str] = setting(
        ["rest", "pause", "ruhe", "repos", "reposo", "repouso", "descanso"],
        "words for rest in such a column",
    )
    pair_words: PairWords = setting(
        PairWords(),
        "words in a column of pairs, and where {pair} stands in names of files, beside those that "
        "can mean one thing only: cell, full, whole, WE-CE; positive, pos, cathode; negative, neg, "
        "anode; case does not matter",
    )
    wide_real: str = setting(
        "",
        "in a table with one spectrum a row: header of the real parts with {frequency} in place "
        "of the number; empty: no such table",
    )
    wide_imaginary: str = setting("", "header of the imaginary parts in such a table")
    wide_unit: str = setting("ohm", "unit of both parts in such a table")
    frequencies_file: str = setting(
        "",
        "file below the campaign folder with the exact frequencies [Hz] of such a table, one a "
        "line in the order of its columns; empty: those of the headers",
    )
    columns: list[LayoutColumn] = setting(
        ..., "the columns that are used; others are ignored", min_length=1, example=_CYCLING_COLUMNS
    )


class RawFiles(Block):
    """One pattern of raw files."""

    files: str = setting(
        ...,
        "path below the campaign folder with {cell} (left out where a column names the cell), "
        "and where they occur "
        "{part} (files of one cell in order; letters, digits and hyphens), {any} (what may be "
        "anything, such as a date; it is not used), {pair} (cell, positive, negative, or a word of "
        "pair_words) and {cycle}",
        example="raw/cycling/{cell}.csv",
    )
    layout: str = setting(
        "bdf", "name of a layout below, or bdf for the open Battery Data Format", example="bench"
    )
    pair: Literal["", "cell", "positive", "negative"] = setting(
        "",
        "what the spectra were measured across, where neither the name nor a column of the "
        "file says so",
    )


class Raw(Block):
    """Where the raw files are and how they are read."""

    cycling: list[RawFiles] = setting(
        [], "cycling files", example=[{"files": "raw/cycling/{cell}.csv", "layout": "bench"}]
    )
    impedance: list[RawFiles] = setting(
        [],
        "impedance files",
        example=[{"files": "raw/impedance/{cell}_{cycle}_{pair}.csv", "layout": "spectrum"}],
    )
    plating: list[RawFiles] = setting(
        [],
        "files of the current that plated the reference, where there are any; the bench log "
        "outranks them",
        example=[{"files": "raw/plating/{cell}.csv", "layout": "bench"}],
    )
    longest_pause_d: float = setting(
        366.0,
        "longest time without a row [d]; rows dated later than that after all others of their "
        "cell are set aside, as from a clock that was set wrong (common practice, no source)",
        gt=0,
    )
    layouts: dict[str, Layout] = setting(
        {},
        "layouts by name",
        example={"bench": {}, "spectrum": {"columns": _IMPEDANCE_COLUMNS}},
    )

    @property
    def by_content(self) -> dict[str, list[RawFiles]]:
        """Patterns by what their files hold, in the order in which they are tried."""
        return {"cycling": self.cycling, "impedance": self.impedance, "plating": self.plating}
