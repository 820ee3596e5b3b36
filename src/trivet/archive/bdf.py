"""A series as the open Battery Data Format 1.3, with the columns it lacks declared beside it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa

from trivet.schema.tables.vocabulary import ELECTRODE_POTENTIAL, UCUM
from trivet.store.tables import arrays
from trivet.store.whole_file import write_whole

_BDF = "https://w3id.org/battery-data-alliance/ontology/battery-data-format#"


@dataclass(frozen=True)
class BdfColumn:
    """One column of the format.

    Attributes
    ----------
    label, name : str
        Preferred label, and machine name.
    source : str
        Column of the table `series`; empty for what is counted here.
    unit : str
        UCUM code.
    whole : bool
        Whether it holds whole numbers.
    required : bool
        Whether every row has it.
    term : str
        IRI of its meaning; empty for the format's own.
    meaning : str
        What it is, where the format does not say so.
    """

    label: str
    name: str
    source: str
    unit: str
    whole: bool = False
    required: bool = False
    term: str = ""
    meaning: str = ""


COLUMNS = (
    BdfColumn("Test Time / s", "test_time_second", "time_s", "s", required=True),
    BdfColumn("Voltage / V", "voltage_volt", "cell_V", "V"),
    BdfColumn("Current / A", "current_ampere", "current_mA", "A"),
    BdfColumn("Unix Time / s", "unix_time_second", "time_s", "s"),
    BdfColumn("Cycle Count / 1", "cycle_count", "raw_cycle", "1", whole=True),
    BdfColumn("Record Index / 1", "record_index", "", "1", whole=True, required=True),
    BdfColumn("Temperature T1 / degC", "temperature_t1_celsius", "temperature_degC", "Cel"),
    BdfColumn(
        "Positive Electrode Potential / V",
        "positive_electrode_potential_volt",
        "positive_V",
        "V",
        term=ELECTRODE_POTENTIAL,
        meaning="potential of the positive electrode against the reference electrode",
    ),
    BdfColumn(
        "Negative Electrode Potential / V",
        "negative_electrode_potential_volt",
        "negative_V",
        "V",
        term=ELECTRODE_POTENTIAL,
        meaning="potential of the negative electrode against the reference electrode",
    ),
)
"""Columns in the order of the file: required, recommended, optional, then those of our own."""


def write_bdf(series: pa.Table, path: Path, *, absolute: bool) -> None:
    """Write a series as text in the open format, and its description beside it.

    Two rows at a step change share a test time, so the key is the record index.

    Parameters
    ----------
    series : pyarrow.Table
        The table `series` of a cell.
    path : Path
        File to write; the description is `<path>-metadata.json`.
    absolute : bool
        Whether `time_s` is Unix time.
    """
    given = arrays(series)
    filled = {column.name: _values(column, given, absolute) for column in COLUMNS}
    columns = [
        column
        for column in COLUMNS
        if column.required
        or column.name in ("voltage_volt", "current_ampere")
        or bool(np.any(np.isfinite(filled[column.name])))
    ]
    texts = [_texts(filled[column.name], whole=column.whole) for column in columns]
    lines = [",".join(column.label for column in columns), *map(",".join, zip(*texts, strict=True))]
    write_whole(path, ("\n".join(lines) + "\n").encode())
    description = json.dumps(_described(columns, path.name), indent=1, ensure_ascii=False)
    beside = path.with_name(f"{path.name}-metadata.json")
    write_whole(beside, description.encode() + b"\n")


def _values(column: BdfColumn, given: dict[str, np.ndarray], absolute: bool) -> np.ndarray:
    """Numbers of a column in the unit of the format."""
    count = len(given["time_s"])
    if column.name == "record_index":
        return np.arange(1, count + 1)
    if column.name == "unix_time_second" and not absolute:
        return np.full(count, np.nan)
    values = given[column.source]
    if column.name == "test_time_second":
        return np.asarray(values - values[0]) if count else values
    return values / 1000.0 if column.name == "current_ampere" else values


def _texts(values: np.ndarray, *, whole: bool) -> list[str]:
    """Numbers as decimals without exponent, missing ones empty."""
    if whole:
        return ["" if value != value else f"{int(value)}" for value in values]  # noqa: PLR0124
    return [
        "" if value != value else np.format_float_positional(value, trim="-")  # noqa: PLR0124
        for value in values
    ]


def _described(columns: list[BdfColumn], name: str) -> dict[str, object]:
    """Description of the file.

    References
    ----------
    W3C, Metadata Vocabulary for Tabular Data, 2015, sections 5.5 (schemas) and 5.6 (columns).
    """
    listed = []
    for column in columns:
        entry: dict[str, object] = {
            "name": column.name,
            "titles": column.label,
            "datatype": "integer" if column.whole else "decimal",
            "required": column.required,
            "propertyUrl": column.term or f"{_BDF}{column.name}",
            UCUM: column.unit,
        }
        if column.meaning:
            entry["dc:description"] = column.meaning
        listed.append(entry)
    return {
        "@context": "http://www.w3.org/ns/csvw",
        "url": name,
        "dialect": {
            "delimiter": ",",
            "encoding": "utf-8",
            "header": True,
            "lineTerminators": ["\n"],
        },
        "tableSchema": {"columns": listed, "primaryKey": "record_index"},
    }
