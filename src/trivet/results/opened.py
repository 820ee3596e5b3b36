"""Results opened: each table as a frame, read when it is asked for."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pandas as pd
import pyarrow as pa

from trivet.errors import Problem
from trivet.results.folder import Place, ResultsError, find, no_table
from trivet.results.frames import Surroundings, frame_of
from trivet.schema.tables.columns import Table
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_as_stored


class Results:
    """The results of one campaign.

    A table is an attribute and an item: `results.cycles` is `results["cycles"]`. It is read from
    disk when first asked for; what is done to a frame changes nothing but that frame.

    Parameters
    ----------
    place : Place
        Where they lie.
    """

    def __init__(self, place: Place) -> None:
        self._place = place
        self._frames: dict[str, pd.DataFrame] = {}

    @property
    def folder(self) -> Path:
        """The folder as it was given."""
        return self._place.given

    @property
    def settings(self) -> Mapping[str, Any]:
        """Settings that made the results, by block."""
        return MappingProxyType(self._place.settings)

    @property
    def summary(self) -> Mapping[str, Any]:
        """What `summary.json` says: question, data cut, verdicts, counts."""
        return MappingProxyType(self._place.summary)

    @property
    def time_zone(self) -> str:
        """Zone of the campaign, an IANA name."""
        return str(self._place.settings["campaign"]["time_zone"])

    @property
    def tables(self) -> tuple[str, ...]:
        """Names of the tables that are here, in the order of the dictionary."""
        return tuple(
            table.name
            for table in TABLES.values()
            if table.archived and self._place.table(table.name).is_file()
        )

    def stored(self, name: str) -> tuple[pa.Table, str]:
        """Give a table as it is stored, and the version of the tables it was written by.

        Raises
        ------
        NoSuchTable
            There is none of that name; near ones are offered.
        ResultsError
            Its file can't be read.
        """
        if name not in self.tables:
            raise no_table(self._place, name, self.tables)
        path = self._place.table(name)
        try:
            return read_as_stored(path)
        except (OSError, pa.ArrowException) as error:
            hint = "Run the campaign again, or copy the results again."
            raise ResultsError([Problem(str(path), f"can't be read: {error}.", hint=hint)]) from (
                error
            )

    def __getitem__(self, name: str) -> pd.DataFrame:
        """Give a table as a frame; see `trivet.open`."""
        if name not in self._frames:
            data, version = self.stored(name)
            frame = frame_of(data, TABLES[name], self._surroundings(TABLES[name]))
            campaign = self._place.settings["campaign"]
            frame.attrs |= {
                "campaign": campaign["id"],
                "invented": campaign.get("invented", False),
                "data_cut": self._place.summary["data_cut"],
                "time_zone": self.time_zone,
                "tables_version": version,
                "trivet_version": self._place.summary["version"],
            }
            self._frames[name] = frame
        return self._frames[name].copy()

    def __getattr__(self, name: str) -> pd.DataFrame:
        """Give a table as a frame."""
        if name.startswith("_"):
            raise AttributeError(name)
        return self[name]

    def __iter__(self) -> Iterator[str]:
        """Go through the names of the tables."""
        return iter(self.tables)

    def __len__(self) -> int:
        """Give the number of tables."""
        return len(self.tables)

    def __contains__(self, name: object) -> bool:
        """Whether there is a table of that name."""
        return name in self.tables

    def __dir__(self) -> list[str]:
        """Names that a shell may complete: also those of the tables."""
        return [*super().__dir__(), *self.tables]

    def _ipython_key_completions_(self) -> list[str]:
        """Names that a notebook may complete between brackets."""
        return list(self.tables)

    def __repr__(self) -> str:
        """Say whose results these are."""
        campaign = self._place.settings["campaign"]
        invented = "; all data are invented" if campaign.get("invented", False) else ""
        return (
            f"Results of '{campaign['id']}' in '{self.folder}': {len(self)} tables, "
            f"data cut {self._place.summary['data_cut']}{invented}\n  {', '.join(self.tables)}"
        )

    @cached_property
    def factors(self) -> dict[str, tuple[str, ...]]:
        """Groups of each build factor that was compared: the control first, others by name."""
        found = dict[str, tuple[str, ...]]()
        cells, _ = self.stored("cells")
        for place, one in enumerate(self._place.settings["comparison"]["factors"]):
            column = "group" if place == 0 else one["factor"]
            values = cells[column].to_pylist() if column in cells.column_names else []
            others = sorted({value for value in values if value} - {one["control"]})
            found[one["factor"]] = (one["control"], *others)
        return found

    def _surroundings(self, table: Table) -> Surroundings:
        """Zone and groups; a table that names no factor is about the primary one."""
        factors = self.factors
        primary = next(iter(factors))
        groups = factors if "factor" in table.names else {primary: factors[primary]}
        names = dict.fromkeys(name for of_factor in groups.values() for name in of_factor)
        return Surroundings(self.time_zone, factors, tuple(names))


def opened(folder: str | os.PathLike[str]) -> Results:
    """Open results; see `trivet.open`."""
    return Results(find(Path(folder)))
