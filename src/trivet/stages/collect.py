"""Join the tables of all cells into the tables of the campaign.

Settings
--------
None.

Reads
-----
The tables of the stages read, cycling and impedance of every cell.

Writes
------
The same tables over all cells; the ledger summed by cell; their findings together as
findings_cells.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa

from trivet.rawfiles.ledger import ledger_by_cell
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.command import parse, spare_pandas
from trivet.stages.contract import CELL_TABLES
from trivet.store.tables import join_tables, make_table, write_table


def run(*, folder: Path, cells: Sequence[str]) -> dict[str, pa.Table]:
    """Join the tables of cells.

    Parameters
    ----------
    folder : Path
        Folder with one folder a cell.
    cells : sequence of str
        Ids of the cells.

    Returns
    -------
    dict of str to pyarrow.Table
        Tables by file name without ending.
    """
    joined = {}
    findings: list[Path] = []
    for stage, tables in CELL_TABLES.items():
        for name in tables:
            paths = [folder / cell / stage / f"{name}.parquet" for cell in cells]
            if name == "findings":
                findings += paths
            elif TABLES[name].archived:
                joined[name] = join_tables(TABLES[name], paths)
    joined["ledger_by_cell"] = make_table(
        TABLES["ledger_by_cell"], ledger_by_cell(joined["ledger"])
    )
    joined["findings_cells"] = join_tables(TABLES["findings"], findings)
    return joined


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, "Join the tables of all cells.")
    for name, data in run(folder=command.inputs[0], cells=command.cells).items():
        table = TABLES["findings" if name == "findings_cells" else name]
        write_table(table, data, command.out / f"{name}.parquet")


if __name__ == "__main__":
    spare_pandas()
    main()
