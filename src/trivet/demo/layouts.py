"""Writers of raw cycling files, one for each layout that the campaign declares.

Four ways in which files come: decimal comma with semicolons, a preamble and trade words in
German; a row of units with hours and milliamperes and no calendar; discharge positive with Unix
time; and the headers of the open Battery Data Format.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from trivet.demo.plan import CellPlan
from trivet.demo.protocol import CellRun

VOLTAGE_NOISE_V = 5e-5
TEMPERATURE_DEGC = 25.0


@dataclass(frozen=True)
class Readings:
    """What the channel reads, all of shape (n_rows,).

    Attributes
    ----------
    elapsed_s, unix_s : ndarray
        Time since the first row, and Unix time [s].
    current_mA : ndarray
        Current, charge positive [mA].
    cell_V, positive_V, negative_V : ndarray
        Voltage, and potentials against the reference [V].
    temperature_degC : ndarray
        Temperature beside the cell [degC].
    cycle : ndarray of int
        Counter of the cycler.
    """

    elapsed_s: np.ndarray
    unix_s: np.ndarray
    current_mA: np.ndarray
    cell_V: np.ndarray
    positive_V: np.ndarray
    negative_V: np.ndarray
    temperature_degC: np.ndarray
    cycle: np.ndarray


def readings(run: CellRun) -> Readings:
    """Readings of one cell: noise added, the reference subtracted, exchanged leads exchanged."""
    random = run.plan.random(1)
    noise = VOLTAGE_NOISE_V * random.standard_normal((3, run.time_s.size))
    positive_V = run.positive_V - run.offset_V + noise[1]
    negative_V = run.negative_V - run.offset_V + noise[2]
    if run.plan.role.swapped:
        positive_V, negative_V = negative_V, positive_V
    daily = np.sin(2.0 * np.pi * run.time_s / 86400.0)
    return Readings(
        elapsed_s=run.time_s - run.time_s[0],
        unix_s=run.plan.crimped_at.timestamp() + run.time_s,
        current_mA=run.current_mA,
        cell_V=run.positive_V - run.negative_V + noise[0],
        positive_V=positive_V,
        negative_V=negative_V,
        temperature_degC=TEMPERATURE_DEGC + 0.2 * daily,
        cycle=run.cycle,
    )


def _table(row_format: str, columns: Sequence[np.ndarray]) -> str:
    """Rows of numbers as text: one format for all rows at once, since there are many."""
    flat = np.column_stack(columns).ravel().tolist()
    return (row_format * columns[0].size) % tuple(flat)


def local_times(plan: CellPlan, *, unix_s: np.ndarray) -> list[str]:
    """Local times of day as `%d.%m.%Y %H:%M:%S`, cut to the second.

    Parameters
    ----------
    plan : CellPlan
        The cell; gives the zone.
    unix_s : ndarray, shape (n_rows,)
        Unix time [s].

    Raises
    ------
    ValueError
        Where clocks change within the data, since one offset is used throughout.
    """
    zone = plan.crimped_at.tzinfo
    ends = [plan.crimped_at.fromtimestamp(float(moment), zone) for moment in unix_s[[0, -1]]]
    first, last = (moment.utcoffset() for moment in ends)
    if first is None or first != last:
        raise ValueError("clocks change within the data; the demo has none of that")
    local = np.floor(unix_s + first.total_seconds()).astype("datetime64[s]")
    iso = np.datetime_as_string(local, unit="s").tolist()
    return [f"{text[8:10]}.{text[5:7]}.{text[:4]} {text[11:]}" for text in iso]


def _semicolon(plan: CellPlan, data: Readings) -> bytes:
    """Decimal comma, semicolons, preamble, trade words, local time; a second rounds the clock."""
    head = (
        f"Prüfling;{plan.cell}\r\nPrüfplan;Alterung C/2, Prüfzyklus wöchentlich\r\n"
        "Laufzeit [s];Zeitpunkt;Zyklus;Schritt;Strom [mA];Zellspannung [V];"
        "Potential Plus [V];Potential Minus [V]\r\n"
    )
    words = np.array(["Entladen", "Ruhe", "Laden"])[np.sign(data.current_mA).astype(int) + 1]
    numbers = _table(
        "%.2f;%d;%.5f;%.5f;%.5f;%.5f\n",
        (
            data.elapsed_s,
            data.cycle,
            data.current_mA,
            data.cell_V,
            data.positive_V,
            data.negative_V,
        ),
    ).replace(".", ",")
    rows = []
    times = local_times(plan, unix_s=data.unix_s)
    for line, moment, word in zip(numbers.splitlines(), times, words.tolist(), strict=True):
        elapsed, cycle, rest = line.split(";", 2)
        rows.append(f"{elapsed};{moment};{cycle};{word};{rest}\r\n")
    return (head + "".join(rows)).encode("cp1252")


def _unit_row(plan: CellPlan, data: Readings) -> bytes:
    """Tabs, a row of units, hours and milliamperes, no calendar, no negative."""
    del plan
    head = "time\tcounter\tcurrent\tvoltage\tpositive vs ref\nh\t-\tmA\tV\tV\n"
    columns = (
        data.elapsed_s / 3600.0,
        data.cycle,
        data.current_mA,
        data.cell_V,
        data.positive_V,
    )
    return (head + _table("%.7f\t%d\t%.5f\t%.5f\t%.5f\n", columns)).encode()


def _discharge_positive(plan: CellPlan, data: Readings) -> bytes:
    """Commas, Unix time, amperes with discharge positive, all three voltages."""
    del plan
    head = "unix_s,cycle_no,I_A,U_cell_V,U_pos_ref_V,U_neg_ref_V\n"
    columns = (
        data.unix_s,
        data.cycle,
        -data.current_mA / 1000.0 + 0.0,
        data.cell_V,
        data.positive_V,
        data.negative_V,
    )
    return (head + _table("%.3f,%d,%.8f,%.5f,%.5f,%.5f\n", columns)).encode()


def _bdf(plan: CellPlan, data: Readings) -> bytes:
    """Headers of the open Battery Data Format, with electrode potentials in its style."""
    del plan
    head = (
        "Test Time / s,Voltage / V,Current / A,Unix Time / s,Cycle Count / 1,"
        "Ambient Temperature / degC,"
        "Positive Electrode Potential / V,Negative Electrode Potential / V\n"
    )
    columns = (
        data.elapsed_s,
        data.cell_V,
        data.current_mA / 1000.0,
        data.unix_s,
        data.cycle,
        data.temperature_degC,
        data.positive_V,
        data.negative_V,
    )
    return (head + _table("%.3f,%.5f,%.8f,%.3f,%d,%.2f,%.5f,%.5f\n", columns)).encode()


_WRITERS: dict[str, Callable[[CellPlan, Readings], bytes]] = {
    "semicolon": _semicolon,
    "unit-row": _unit_row,
    "discharge-positive": _discharge_positive,
    "bdf": _bdf,
}
SUFFIXES = {"semicolon": "csv", "unit-row": "txt", "discharge-positive": "csv", "bdf": "bdf.csv"}


def cycling_file(run: CellRun) -> tuple[str, bytes]:
    """Path below the campaign folder and content of a cell's cycling file."""
    layout, cell = run.plan.role.layout, run.plan.cell
    content = _WRITERS[layout](run.plan, readings(run))
    if run.plan.role.cut_in_mid_line:
        content = content[: content.rindex(b";") - 2]
    return f"raw/cycling-{layout}/{cell}.{SUFFIXES[layout]}", content
