"""Join the findings of all stages into one table.

Settings
--------
None.

Reads
-----
findings_cells, findings_lifetime, findings_survival.

Writes
------
findings.
"""

from __future__ import annotations

from collections.abc import Sequence

from trivet.schema.tables.dictionary import TABLES
from trivet.stages.command import parse, spare_pandas
from trivet.store.tables import join_tables, write_table


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, "Join the findings of all stages.")
    table = TABLES["findings"]
    write_table(table, join_tables(table, command.inputs), command.out / "findings.parquet")


if __name__ == "__main__":
    spare_pandas()
    main()
