"""The demonstration, made and run once in this process, with what its functions gave."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
from campaign_runs import FOUR, demonstration, run_here
from followed import Follower, columns, take

from trivet.stages.job import Job, shape_of, work_of
from trivet.store.tables import read_table

Values = dict[tuple[str, str], set[Any]]


@dataclass(frozen=True)
class Demonstrated:
    """All cells of the demonstration with their results.

    Attributes
    ----------
    work : Path
        Folder with `campaign`, `reports`, and `truth`, which lies beside the campaign since before
        it was run.
    follower : Follower
        What the functions at the addresses of columns gave.
    values : dict
        Values of each column, by table and name.
    """

    work: Path
    follower: Follower
    values: Values


def demonstrated(work: Path) -> Demonstrated:
    """Run all stages but those of the report in this process, and watch them."""
    campaign = demonstration(work)
    (campaign / "truth").rename(work / "truth")
    with (campaign / "bench-log.csv").open("a", encoding="utf-8") as log:
        log.write("2026-02-02T12:00:00,c01,weighed,,,3410.0,,\n")
    follower = Follower({column.computed_by for _, column in columns()})
    values: Values = {}
    with follower.watching():
        jobs = list(run_here(campaign, work / "reports", without=("report", "archive")))
        # so many cells leave no measure without an interval, so that none says why
        few = next(job for job in jobs if job.stage.name == "measures")
        given = work_of("measures")(OfFew(**vars(few)))
    for job in jobs:
        for name in job.stage.writes:
            take(values, name, read_table(shape_of(name), job.path(name, writes=True)))
    for name, data in given.items():
        take(values, name, data)
    return Demonstrated(work, follower, values)


class OfFew(Job):
    """A job that is given four cells."""

    def table(self, name: str) -> pa.Table:
        """Read a table without the rows of other cells."""
        data = super().table(name)
        return data.filter(pc.is_in(data["cell"], pa.array(FOUR)))
