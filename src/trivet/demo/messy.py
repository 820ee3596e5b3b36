"""Make a messy folder of raw files, small and invented, for the tutorial.

`python -m trivet.demo.messy FOLDER` writes files of four cells as two instruments leave them, in
folders that nobody tidied up. The same command gives the same bytes.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from trivet.demo.physics import negative_potential_V, positive_potential_V, starvation_ohm

ZONE = ZoneInfo("Europe/Berlin")
FIRST_ROW = datetime(2026, 1, 13, 9, 0, tzinfo=ZONE)
CAPACITY_MAH = 2.0
CURRENT_MA = 1.0
CYCLES = 16
ROWS = 24
"""Rows of a charge or discharge."""
REST_H = 0.25
NEXT_ROW_H = 1.0 / 3600.0
"""From the last row of a step to the first of the next."""
NOISE_V = 2e-4
_OHMIC_OHM = (12.0, 9.0)
"""Resistance of positive and negative [ohm]; chosen, not measured."""
_LITHIUM_POSITIVE, _LITHIUM_NEGATIVE = (0.98, 0.03), (0.02, 0.74)
"""Lithium contents of a discharged and of a charged cell [1]."""


@dataclass(frozen=True)
class MessyCell:
    """One cell.

    Attributes
    ----------
    cell : str
        Name, as the file says it.
    file : str
        Path of its file below the folder.
    fade : float
        Share of the capacity lost in each cycle [1].
    """

    cell: str
    file: str
    fade: float


CELLS = (
    MessyCell("A-11", "cycler 1/A-11_cyc.csv", 0.030),
    MessyCell("A-12", "cycler 1/A-12_cyc.csv", 0.026),
    MessyCell("K-03", "from the old PC/K-03-cycling.txt", 0.009),
    MessyCell("K-04", "from the old PC/K-04-cycling.txt", 0.011),
)
NOTES = "Invented. A-11 and A-12 have tape on the lead, K-03 and K-04 epoxy. Call the workshop.\n"


def rows_of(cell: MessyCell) -> dict[str, np.ndarray]:
    """Rows of a cell: hours, cycle, current [mA] and potentials [V], each of shape (n,)."""
    random = np.random.default_rng([ord(letter) for letter in cell.cell])
    parts: list[np.ndarray] = []
    start_h = 0.0
    # denser at the ends, where potentials run away
    share = (1.0 - np.cos(np.linspace(0.0, np.pi, ROWS))) / 2.0
    for cycle in range(1, CYCLES + 1):
        hours = CAPACITY_MAH * (1.0 - cell.fade * (cycle - 1)) / CURRENT_MA
        for sign in (1.0, -1.0):
            charged = share if sign > 0 else 1.0 - share
            parts.append(_rows(start_h + hours * share, cycle, sign * CURRENT_MA, charged))
            start_h += hours
            rest = start_h + np.array([NEXT_ROW_H, 0.5 * REST_H, REST_H])
            parts.append(_rows(rest, cycle, 0.0, np.full(3, charged[-1])))
            start_h += REST_H + NEXT_ROW_H
    hours_of, cycles, current, positive, negative = np.concatenate(parts, axis=1)
    positive = positive + NOISE_V * random.standard_normal(len(positive))
    negative = negative + NOISE_V * random.standard_normal(len(negative))
    return {
        "hours": hours_of,
        "cycle": cycles,
        "current_mA": current,
        "cell_V": positive - negative,
        "positive_V": positive,
        "negative_V": negative,
    }


def _rows(hours: np.ndarray, cycle: int, current_mA: float, charged: np.ndarray) -> np.ndarray:
    """Rows of a step, shape (5, n): hours, cycle, current, positive and negative potential."""
    positive = _LITHIUM_POSITIVE[0] + np.diff(_LITHIUM_POSITIVE)[0] * charged
    negative = _LITHIUM_NEGATIVE[0] + np.diff(_LITHIUM_NEGATIVE)[0] * charged
    extra = starvation_ohm(positive, charging=current_mA > 0) if current_mA else 0.0
    return np.stack(
        [
            hours,
            np.full_like(hours, cycle),
            np.full_like(hours, current_mA),
            positive_potential_V(positive) + current_mA * (_OHMIC_OHM[0] + extra) / 1000.0,
            negative_potential_V(negative) - current_mA * _OHMIC_OHM[1] / 1000.0,
        ]
    )


def _semicolons(cell: MessyCell, rows: dict[str, np.ndarray]) -> str:
    """Decimal commas, a preamble, the laboratory's local time."""
    lines = [
        f"Sample;{cell.cell}",
        "Operator;A. Invented",
        "Zeitpunkt;Zyklus;Strom [mA];Zellspannung [V];Potential Plus [V];Potential Minus [V]",
    ]
    for hours, cycle, *values in zip(*rows.values(), strict=True):
        moment = FIRST_ROW + timedelta(seconds=round(3600 * hours))
        numbers = ";".join(f"{value:.5f}".replace(".", ",") for value in values)
        lines.append(f"{moment:%d.%m.%Y %H:%M:%S};{cycle:.0f};{numbers}")
    return "\r\n".join(lines) + "\r\n"


def _tabs(cell: MessyCell, rows: dict[str, np.ndarray]) -> str:
    """Tabs, a row of units, seconds since 1970, amperes with discharge positive."""
    del cell
    lines = ["unix time\tcycle\tcurrent\tvoltage\tpositive vs ref", "s\t-\tA\tV\tV"]
    start_s = FIRST_ROW.timestamp()
    for hours, cycle, current, cell_V, positive_V, _ in zip(*rows.values(), strict=True):
        lines.append(
            f"{start_s + 3600 * hours:.1f}\t{cycle:.0f}\t{-current / 1000 + 0.0:.6f}\t"
            f"{cell_V:.5f}\t{positive_V:.5f}"
        )
    return "\n".join(lines) + "\n"


def main(argv: Sequence[str] | None = None) -> None:
    """Write the folder."""
    given = list(sys.argv[1:] if argv is None else argv)
    if len(given) != 1:
        sys.exit("usage: python -m trivet.demo.messy FOLDER")
    folder = Path(given[0])
    for cell in CELLS:
        path = folder / cell.file
        path.parent.mkdir(parents=True, exist_ok=True)
        write = _semicolons if path.suffix == ".csv" else _tabs
        path.write_bytes(write(cell, rows_of(cell)).encode())
    (folder / "notes.txt").write_text(NOTES, encoding="utf-8")
    sys.stdout.write(f"{len(CELLS)} cells, invented, in '{folder}'\n")


if __name__ == "__main__":
    main()
