"""Compare what was decided as of the earlier data cut with what is decided now.

Settings
--------
lifetime (primary_clock).

Reads
-----
lifetimes, timeline, comparisons, findings; the same as of the earlier cut; data_cuts.

Writes
------
changes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pyarrow as pa

from trivet.campaign.changes import changes
from trivet.campaign.data_cut import BEFORE, time_of
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.command import parse, spare_pandas
from trivet.store.tables import empty, make_table, read_table, write_table

COMPARED = ("lifetimes", "timeline", "comparisons", "findings")


def run(
    *,
    before: Mapping[str, pa.Table],
    after: Mapping[str, pa.Table],
    cuts: pa.Table,
    primary_clock: str,
) -> pa.Table:
    """Compare two states of a campaign.

    Parameters
    ----------
    before, after : mapping of str to pyarrow.Table
        Tables of `COMPARED` at each data cut.
    cuts : pyarrow.Table
        Table `data_cuts`.
    primary_clock : str
        Clock whose verdicts are compared.

    Returns
    -------
    pyarrow.Table
        Table `changes`; without rows where there is no earlier cut.
    """
    table = TABLES["changes"]
    if time_of(cuts, BEFORE) is None:
        return empty(table)
    found = changes(
        {name: before[name].to_pylist() for name in COMPARED},
        {name: after[name].to_pylist() for name in COMPARED},
        clock=primary_clock,
    )
    return make_table(table, {name: [row[name] for row in found] for name in table.names})


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, (__doc__ or "").splitlines()[0])
    *paths, cuts = command.inputs
    names = [*COMPARED, *COMPARED]
    read = [read_table(TABLES[name], path) for name, path in zip(names, paths, strict=True)]
    found = run(
        after=dict(zip(COMPARED, read[: len(COMPARED)], strict=True)),
        before=dict(zip(COMPARED, read[len(COMPARED) :], strict=True)),
        cuts=read_table(TABLES["data_cuts"], cuts),
        primary_clock=command.settings["lifetime"]["primary_clock"],
    )
    write_table(TABLES["changes"], found, command.out / "changes.parquet")


if __name__ == "__main__":
    spare_pandas()
    main()
