"""Raw files made in tests: written below a folder and read as the stage reads them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trivet.rawfiles.layout.patterns import find_files
from trivet.rawfiles.suspicion.fit_to_cell import Expected
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Layout, LayoutColumn, Raw, RawFiles
from trivet.stages.read import ReadTables, run
from trivet.store.tables import arrays

OPEN = "Test Time / s,Current / A,Voltage / V"
UNIX = "Unix Time / s,Current / A,Voltage / V"
EXPECTED = Expected(lower_V=2.5, upper_V=3.65, capacity_mAh=2.0)


def columns(**units: str) -> list[LayoutColumn]:
    """Columns of a layout: header by quantity and unit, as in `time='elapsed time:h'`."""
    split = {header: text.split(":", 1) for header, text in units.items()}
    return [
        LayoutColumn(header=header, quantity=quantity, unit=unit)  # type: ignore[arg-type]
        for header, (quantity, unit) in split.items()
    ]


PLAIN = columns(t="elapsed time:s", I="current:mA", U="cell voltage:V")


@dataclass(frozen=True)
class Outcome:
    """What the stage gives, easy to ask."""

    tables: ReadTables

    @property
    def series(self) -> dict[str, np.ndarray]:
        """Columns of the series."""
        return arrays(self.tables.series)

    @property
    def points(self) -> dict[str, np.ndarray]:
        """Columns of the points of spectra."""
        return arrays(self.tables.spectrum_points)

    @property
    def ledger(self) -> list[dict[str, object]]:
        """Rows of the ledger; every row of every file is accounted for."""
        rows = self.tables.ledger.to_pylist()
        for row in rows:
            assert row["rows_seen"] == row["rows_used"] + row["rows_set_aside"]
        return rows

    @property
    def findings(self) -> dict[str, dict[str, object]]:
        """Findings by check."""
        return {row["check"]: row for row in self.tables.findings.to_pylist()}

    @property
    def assumed(self) -> str:
        """What was assumed of the first file."""
        return str(self.ledger[0]["assumed"])


def read(
    folder: Path,
    files: dict[str, str | bytes],
    layout: Layout | None = None,
    *,
    facts: CellFacts | None = None,
    expected: Expected | None = None,
    impedance: bool = False,
    time_zone: str = "UTC",
) -> Outcome:
    """Write files of cell `A` and read them, by default as the open format.

    Names are `A.csv`, or `A_part.csv` for parts; spectra belong to the cell's pair.
    """
    for name, content in files.items():
        data = content.encode() if isinstance(content, str) else content
        (folder / name).write_bytes(data)
    name = "bdf" if layout is None else "bench"
    suffix = Path(next(iter(files))).suffix if files else ".csv"
    patterns = [
        RawFiles(files=pattern + suffix, layout=name, pair="cell" if impedance else "")
        for pattern in ("{cell}", "{cell}_{part}")
    ]
    raw = Raw(
        cycling=[] if impedance else patterns,
        impedance=patterns if impedance else [],
        layouts={} if layout is None else {"bench": layout},
    )
    facts = facts or CellFacts("A", "1")
    found = find_files(folder, raw, facts.cell)
    return Outcome(run(facts=facts, files=found, raw=raw, time_zone=time_zone, expected=expected))


def lines(*rows: str) -> str:
    """Rows as the text of a file."""
    return "\n".join(rows) + "\n"


def charge(header: str = OPEN, *, count: int = 61, start_V: float = 3.0, sign: int = 1) -> str:
    """A charge at 1 mA, a row a minute."""
    body = [f"{60 * n},{sign * 0.001},{start_V + 0.01 * n:.4f}" for n in range(count)]
    return lines(header, *body)
