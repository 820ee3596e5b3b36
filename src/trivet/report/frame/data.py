"""What the report is made from: the tables as they stand, and the settings that made them."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Collection, Container, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.report.frame.rows import TableRows
from trivet.report.frame.wording import percent
from trivet.schema.planned_end import before_planned_end
from trivet.schema.settings.block import Block, setting
from trivet.schema.settings.campaign import BuildSheet, Campaign, Report
from trivet.schema.settings.inference import Comparison, Lifetime, Survival
from trivet.schema.settings.science import Cycling, Electrodes, Impedance, Reference, Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table

Row = dict[str, Any]

NO_DATE = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)
"""Date written into the files where no time is known: never the clock."""


class ReportSettings(Block):
    """The blocks that the report prints."""

    campaign: Campaign = setting(..., "what the campaign is")
    build_sheet: BuildSheet = setting(..., "one row a cell as built")
    electrodes: Electrodes = setting(..., "the two electrodes")
    cycling: Cycling = setting(..., "half-cycles, cycles and their kinds")
    reference: Reference = setting(Reference(), "the reference")
    trust: Trust = setting(Trust(), "thresholds of the checks of reference and spectra")
    impedance: Impedance = setting(Impedance(), "impedance")
    lifetime: Lifetime = setting(Lifetime(), "clocks and rules of the end")
    survival: Survival = setting(Survival(), "survival statistics")
    comparison: Comparison = setting(..., "what is compared")
    report: Report = setting(Report(), "the report")


@dataclass(frozen=True)
class DataCut:
    """The moment up to which data count.

    Attributes
    ----------
    words : str
        As printed in the running head.
    moment : datetime.datetime
        As written into the files.
    """

    words: str
    moment: datetime.datetime


@dataclass(frozen=True)
class ReportData:
    """All that the report may draw on.

    Attributes
    ----------
    settings : ReportSettings
        Settings that made the tables.
    tables : dict of str to pyarrow.Table
        Archived tables by name.
    cut : DataCut
        The data cut.
    groups : tuple of str
        Groups of the primary factor, the control first.
    rows : TableRows
        The same tables as rows; of long tables ask `some` or `of_cell`.
    """

    settings: ReportSettings
    tables: dict[str, pa.Table]
    cut: DataCut
    groups: tuple[str, ...]
    rows: TableRows

    @property
    def factor(self) -> str:
        """The primary factor."""
        return self.settings.comparison.factors[0].factor

    @property
    def control(self) -> str:
        """The control of the primary factor."""
        return self.settings.comparison.factors[0].control

    @property
    def clock(self) -> str:
        """The primary clock."""
        return self.settings.lifetime.primary_clock

    @cached_property
    def group_of(self) -> dict[str, str]:
        """Group of each cell."""
        return {row["cell"]: row["group"] for row in self.rows["cells"]}

    @cached_property
    def batches(self) -> tuple[str, ...]:
        """All batches in order of name."""
        return tuple(sorted({row["batch"] for row in self.rows["cells"]}))

    @cached_property
    def batch_of(self) -> dict[str, str]:
        """Batch of each cell."""
        return {row["cell"]: row["batch"] for row in self.rows["cells"]}

    def place_of(self, group: str) -> tuple[int, str]:
        """Place of a group in every table and figure: the control first, others by name."""
        known = group in self.groups
        return (self.groups.index(group) if known else len(self.groups), group)

    def cells_of(self, group: str) -> list[str]:
        """Cells of a group in order of batch and name."""
        chosen = where(self.rows["cells"], group=group)
        return [row["cell"] for row in sorted(chosen, key=lambda r: (r["batch"], r["cell"]))]

    @cached_property
    def cells(self) -> tuple[str, ...]:
        """All cells, group by group in order of batch and name."""
        return tuple(cell for group in self.groups for cell in self.cells_of(group))

    @cached_property
    def lasted_h(self) -> dict[str, float | None]:
        """How long each cell has lasted, or was seen to last [h]; None where that is not known."""
        lives = where(self.rows["lifetimes"], endpoint="cell", clock="hours")
        return {row["cell"]: row["duration"] for row in lives}

    @cached_property
    def drawn(self) -> dict[str, tuple[str, ...]]:
        """Cells that figures draw one by one, group by group in order of batch and name.

        All of them, but of a group with more than the setting allows those at equal steps from
        the shortest life to the longest, both among them.
        """
        most = self.settings.report.cells_drawn
        return {group: self._at_equal_steps(self.cells_of(group), most) for group in self.groups}

    def _at_equal_steps(self, cells: list[str], most: int) -> tuple[str, ...]:
        """Of many cells as many as may be drawn, by their lives in hours."""
        if len(cells) <= most:
            return tuple(cells)
        by_life = sorted(cells, key=lambda cell: (self.lasted_h.get(cell) or 0.0, cell))
        chosen = {by_life[round(step)] for step in np.linspace(0, len(cells) - 1, most)}
        return tuple(cell for cell in cells if cell in chosen)

    @cached_property
    def drawn_cells(self) -> frozenset[str]:
        """The same cells without their groups."""
        return frozenset(cell for cells in self.drawn.values() for cell in cells)

    @property
    def drawn_words(self) -> str:
        """What a figure of single cells says where not all of a group are drawn; else empty."""
        if all(len(self.drawn[group]) == len(self.cells_of(group)) for group in self.groups):
            return ""
        most = self.settings.report.cells_drawn
        return (
            f" Of a group with more than {most} cells {most} are drawn, at equal steps from the "
            f"shortest life to the longest; tables and web page have all."
        )

    def first_of_groups(self, usable: Container[str]) -> list[str]:
        """The first usable cell of each group that has one, groups in their order."""
        firsts = [
            [cell for cell in self.cells_of(group) if cell in usable] for group in self.groups
        ]
        return [cell for found in firsts for cell in found[:1]]

    def some(
        self,
        table: str,
        columns: Sequence[str] = (),
        *,
        cells: Collection[str] | None = None,
        **equal: Any,  # noqa: ANN401  # whatever a column holds
    ) -> list[Row]:
        """Rows of a long table, without making those of the rest.

        Parameters
        ----------
        table : str
            Name of the table.
        columns : sequence of str
            Columns that are needed; none given: all.
        cells : collection of str or None
            Only rows of these cells.
        **equal
            Only rows whose columns have this value.
        """
        return self.rows.some(table, columns, cells, equal)

    def cells_in(self, table: str, known: str = "", **equal: Any) -> list[str]:  # noqa: ANN401
        """Cells that have rows in a table, with these values of columns, in order of name.

        Parameters
        ----------
        table : str
            Name of the table.
        known : str
            A column of numbers: only cells with a row that holds one; empty for all.
        **equal
            Only rows whose columns have this value.
        """
        return self.rows.cells_in(table, known, equal)

    def counted(self, table: str, columns: Sequence[str], **equal: Any) -> list[Row]:  # noqa: ANN401
        """Combinations of values that columns hold, in order of first sight, with their `rows`."""
        return self.rows.counted(table, columns, equal)

    def of_cell(self, table: str, cell: str) -> list[Row]:
        """Rows of a table that belong to a cell; looked up, since reports go cell by cell."""
        return self.rows.of_cell(table, cell)

    @property
    def confidence(self) -> str:
        """Confidence of the intervals, in percent."""
        return percent(self.settings.comparison.confidence)

    @property
    def final(self) -> bool:
        """Whether the campaign has a planned end, and the data cut has reached it."""
        return self.settings.campaign.planned_end is not None and not self.interim

    @property
    def interim(self) -> bool:
        """Whether the data cut lies before the planned end of the campaign."""
        campaign = self.settings.campaign
        return before_planned_end(
            self.cut.moment, planned_end=campaign.planned_end, time_zone=campaign.time_zone
        )


def read_tables(folder: Path) -> dict[str, pa.Table]:
    """Read every archived table.

    Parameters
    ----------
    folder : pathlib.Path
        Folder with one Parquet file a table.

    Raises
    ------
    FileNotFoundError
        A table is missing: a fault of the program.
    trivet.store.tables.TableError
        A table is not what the dictionary of columns says.
    """
    archived = [table for table in TABLES.values() if table.archived]
    return {table.name: read_table(table, folder / f"{table.name}.parquet") for table in archived}


def gather(*, settings: ReportSettings, tables: dict[str, pa.Table]) -> ReportData:
    """Put tables and settings together; nothing is computed but the order of things."""
    rows = TableRows(tables)
    control = settings.comparison.factors[0].control
    names = sorted(
        {row["group"] for row in rows["cells"]}, key=lambda name: (name != control, name)
    )
    return ReportData(
        settings=settings,
        tables=tables,
        cut=_data_cut(settings.campaign, rows["ledger"]),
        groups=tuple(names),
        rows=rows,
    )


def _data_cut(campaign: Campaign, ledger: list[Row]) -> DataCut:
    """Take the cut of the settings, else the last time in the data, never the clock."""
    if campaign.data_cut is not None:
        moment = datetime.datetime.fromisoformat(campaign.data_cut)
        moment = moment if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)
        return DataCut(f"{campaign.data_cut} (as set)", moment)
    times = [
        row["last_time_s"]
        for row in ledger
        if row["absolute_time"] == "yes" and row["last_time_s"] is not None
    ]
    if not times:
        return DataCut("not known: no file has times of the calendar", NO_DATE)
    moment = datetime.datetime.fromtimestamp(int(max(times)), tz=datetime.UTC)
    return DataCut(f"{moment:%Y-%m-%d %H:%M} UTC (last row of the data)", moment)


def where(rows: list[Row], **equal: Any) -> list[Row]:  # noqa: ANN401
    """Rows whose columns equal the given values."""
    return [row for row in rows if all(row[name] == value for name, value in equal.items())]


def by(rows: list[Row], name: str) -> dict[Any, list[Row]]:
    """Rows by the value of a column, both in their order."""
    found: dict[Any, list[Row]] = {}
    for row in rows:
        found.setdefault(row[name], []).append(row)
    return found


def numbers(rows: list[Row], name: str) -> np.ndarray:
    """One column as floats, NaN where missing; shape (n_rows,)."""
    return np.array([np.nan if row[name] is None else row[name] for row in rows], dtype=float)


def tally(rows: list[Row], name: str) -> list[tuple[str, int]]:
    """Count rows by the value of a column, the commonest first."""
    counted = Counter(row[name] for row in rows)
    return sorted(counted.items(), key=lambda item: (-item[1], str(item[0])))


def last_states(rows: list[Row], track: str) -> dict[str, str]:
    """State of each cell in the last span of a track of the timeline."""
    states: dict[str, str] = {}
    for row in sorted(where(rows, track=track), key=lambda r: r["start_h"]):
        states[row["cell"]] = row["state"]
    return states
