"""Write every result as text beside its Parquet file, for people and papers.

Settings
--------
None.

Reads
-----
Every table of the results.

Writes
------
The same tables as comma-separated text.
"""

from __future__ import annotations

from collections.abc import Sequence

from trivet.io.store import read_table, write_csv
from trivet.records.tables import TABLES
from trivet.stages.command import parse, spare_pandas


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, "Write every result as text.")
    for path in command.inputs:
        write_csv(read_table(TABLES[path.stem], path), command.out / f"{path.stem}.csv")


if __name__ == "__main__":
    spare_pandas()
    main()
