"""Layouts of raw files: declared ones, and the open Battery Data Format that needs none."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import zip_longest

from trivet.rawfiles.layout.pair_words import own_words
from trivet.rawfiles.layout.units import unmangled
from trivet.schema.settings.raw import MISSING_WORDS, Layout, Raw

BDF = "bdf"

_BDF_TERMS: tuple[tuple[str, str, str, str], ...] = (
    ("unix time", "s", "Unix Time / s", "unix_time_second"),
    ("unix time", "ms", "Unix Time / ms", "unix_time_millisecond"),
    ("elapsed time", "s", "Test Time / s", "test_time_second"),
    ("elapsed time", "ms", "Test Time / ms", "test_time_millisecond"),
    ("current", "A", "Current / A", "current_ampere"),
    ("cell voltage", "V", "Voltage / V", "voltage_volt"),
    (
        "positive potential",
        "V",
        "Positive Electrode Potential / V",
        "positive_electrode_potential_volt",
    ),
    (
        "negative potential",
        "V",
        "Negative Electrode Potential / V",
        "negative_electrode_potential_volt",
    ),
    ("temperature", "degC", "Surface Temperature / degC", "surface_temperature_celsius"),
    ("temperature", "degC", "Temperature T1 / degC", "temperature_t1_celsius"),
    ("temperature", "degC", "Ambient Temperature / degC", "ambient_temperature_celsius"),
    ("cycle", "", "Cycle Count / 1", "cycle_count"),
    ("frequency", "Hz", "Frequency / Hz", "frequency_hertz"),
    ("real", "ohm", "Real Impedance / ohm", "real_impedance_ohm"),
    ("imaginary", "ohm", "Imaginary Impedance / ohm", "imaginary_impedance_ohm"),
    ("modulus", "ohm", "Absolute Impedance / ohm", "absolute_impedance_ohm"),
    ("phase", "deg", "Phase / deg", "phase_degree"),
)
"""Quantity, unit, preferred label and machine name of Battery Data Format 1.3.0, and the two
electrode potentials that it has no term for. Several terms of one quantity: the first that the
file has is taken."""


@dataclass(frozen=True)
class ColumnRule:
    """How a column is recognised and what it holds.

    Attributes
    ----------
    quantity : str
        Quantity as in the settings, with `:` and the pair where the column has one of its own.
    names : tuple of str
        Headers that mean this column, as `normal_header` gives them.
    unit, format : str
        Unit of the numbers, and how times of day are written.
    required : bool
        Whether a file without the column is set aside.
    """

    quantity: str
    names: tuple[str, ...]
    unit: str
    format: str = ""
    required: bool = True


@dataclass(frozen=True)
class WideTable:
    """A table with one spectrum a row.

    Attributes
    ----------
    real, imaginary : str
        Headers with `{frequency}` in place of the number.
    unit : str
        Unit of both parts.
    frequencies : str
        File below the campaign folder with the exact frequencies; empty without.
    """

    real: str
    imaginary: str
    unit: str
    frequencies: str


@dataclass(frozen=True)
class FileLayout:
    """A layout ready for reading; fields as in the settings.

    Attributes
    ----------
    name, encoding, delimiter, decimal, time_zone : str
        As declared; `time_zone` with the campaign's filled in.
    unit_row, charging_negative, capacitive_positive : bool
        Whether a row of units follows the header; whether the file gives a charging current, and
        the imaginary part of a capacitor, the sign opposite to ours.
    missing : tuple of str
        Words for no value.
    columns : tuple of ColumnRule
        In order of preference.
    any_case : bool
        Whether headers match whatever their letter case.
    thousands : str
        Sign between groups of three digits; empty where none is declared.
    states : tuple of str and float
        Words of a column of states with the sign of the current that each means.
    wide : WideTable or None
        Where the parts of impedance stand in a table with one spectrum a row.
    header_rows : int
        Lines that the names stand on.
    pair_words : dict of str to str
        Pair by word of the laboratory, in one spelling.
    start_line, start_format : str
        What the line above the header begins with that states the start; how it is written.
    """

    name: str
    encoding: str
    delimiter: str
    decimal: str
    time_zone: str
    unit_row: bool
    charging_negative: bool
    capacitive_positive: bool
    missing: tuple[str, ...]
    columns: tuple[ColumnRule, ...]
    any_case: bool = False
    thousands: str = ""
    states: tuple[tuple[str, float], ...] = ()
    wide: WideTable | None = None
    header_rows: int = 1
    pair_words: dict[str, str] = field(default_factory=dict)
    start_line: str = ""
    start_format: str = ""


def layout_named(raw: Raw, *, name: str, time_zone: str) -> FileLayout:
    """Layout of a file pattern.

    Parameters
    ----------
    raw : Raw
        Settings with the declared layouts.
    name : str
        Name of a declared layout, or `bdf`.
    time_zone : str
        IANA zone of the campaign, for a layout that states none.

    Raises
    ------
    KeyError
        The name is not declared; the check of the settings refuses that beforehand.
    """
    if name == BDF and name not in raw.layouts:
        return _open_layout(time_zone)
    return _declared_layout(name, raw.layouts[name], time_zone)


def _open_layout(time_zone: str) -> FileLayout:
    """The open Battery Data Format: comma, point, charge positive, capacitive negative."""
    return FileLayout(
        name=BDF,
        encoding="utf-8",
        delimiter=",",
        decimal=".",
        time_zone=time_zone,
        unit_row=False,
        charging_negative=False,
        capacitive_positive=False,
        missing=MISSING_WORDS,
        columns=tuple(
            ColumnRule(
                quantity,
                tuple(normal_header(name, any_case=True) for name in (label, machine_name)),
                unit,
                required=False,
            )
            for quantity, unit, label, machine_name in _BDF_TERMS
        ),
        any_case=True,
    )


def _declared_layout(name: str, layout: Layout, time_zone: str) -> FileLayout:
    """A layout of the settings."""
    return FileLayout(
        name=name,
        encoding=layout.encoding,
        delimiter=layout.delimiter,
        decimal=layout.decimal,
        time_zone=layout.time_zone or time_zone,
        unit_row=layout.unit_row,
        charging_negative=layout.charging_current == "negative",
        capacitive_positive=layout.capacitive_imaginary == "positive",
        missing=tuple(layout.missing),
        columns=tuple(
            ColumnRule(
                f"{column.quantity}:{column.pair}" if column.pair else column.quantity,
                tuple(normal_header(header) for header in (column.header, *column.also)),
                column.unit,
                column.format,
                column.required,
            )
            for column in layout.columns
            if column.quantity != "ignored"
        ),
        thousands=layout.thousands,
        states=_states(layout),
        wide=WideTable(
            layout.wide_real, layout.wide_imaginary, layout.wide_unit, layout.frequencies_file
        )
        if layout.wide_real
        else None,
        header_rows=layout.header_rows,
        pair_words=own_words(layout),
        start_line=layout.start_line,
        start_format=layout.start_format,
    )


def _states(layout: Layout) -> tuple[tuple[str, float], ...]:
    """Words of states with their sign, in small letters."""
    signed = ((layout.charge_words, 1.0), (layout.discharge_words, -1.0), (layout.rest_words, 0.0))
    return tuple((word.strip().casefold(), sign) for words, sign in signed for word in words)


def normal_header(text: str, *, any_case: bool = False) -> str:
    """Header with one spelling of its signs and single spaces; data are never changed so."""
    plain = " ".join(unicodedata.normalize("NFKC", unmangled(text)).replace("\ufeff", "").split())
    return plain.casefold().replace("°c", "degc") if any_case else plain


def joined_names(rows: Sequence[Sequence[str]]) -> list[str]:
    """Names that stand on several lines: those above each other are one, joined by blanks."""
    if len(rows) == 1:
        return list(rows[0])
    columns = zip_longest(*rows, fillvalue="")
    return [" ".join(filter(None, (cell.strip() for cell in column))) for column in columns]


def match_columns(
    layout: FileLayout, cells: Sequence[str]
) -> dict[str, tuple[ColumnRule, list[int]]]:
    """Columns of each quantity in a header.

    Returns
    -------
    dict of str to tuple
        By quantity, its rule and positions. More than one position: the header repeats a name, or
        a declared quantity stands for two columns.
    """
    names = [normal_header(cell, any_case=layout.any_case) for cell in cells]
    found: dict[str, tuple[ColumnRule, list[int]]] = {}
    for rule in layout.columns:
        here = [position for position, name in enumerate(names) if name in rule.names]
        earlier = found.get(rule.quantity)
        if here and earlier is None:
            found[rule.quantity] = (rule, here)
        elif here and earlier is not None and not layout.any_case:
            found[rule.quantity] = (rule, earlier[1] + here)
    return found
