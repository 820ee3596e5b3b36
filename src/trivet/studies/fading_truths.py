"""Whether what took the capacity comes back: the invented campaign over ten seeds, by group.

`python -m trivet.studies.fading_truths` prints the table in tests/STUDIES.md. The model loses
lithium to a side reaction and no material; its raw files, with their noise and their digits, are
read and judged as in a run.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from trivet.campaign.folder import CampaignFolder, read_campaign
from trivet.demo.make import main as make_demo
from trivet.demo.plan import plan_campaign
from trivet.rawfiles.layout.patterns import find_files
from trivet.schema.cell_facts import CellFacts
from trivet.stages import read
from trivet.stages.cycling import stage as cycling

CELLS = ("c01", "c10", "c02", "c08", "c03", "c06")
"""Two cells of each way of sealing whose references and leads are sound."""
SEEDS = tuple(range(1, 11))
Z95 = 1.959964
TERMS = ("inventory", "positive", "negative")


@dataclass(frozen=True)
class Deviation:
    """One number of one check-up against the model.

    Attributes
    ----------
    group, term : str
        Way of sealing, and which number: lithium lost, active share of either electrode.
    off, error : float
        Found less true, and the standard error found [mA.h or 1].
    """

    group: str
    term: str
    off: float
    error: float

    @property
    def inside(self) -> bool:
        """Whether the 95 % interval holds the truth."""
        return abs(self.off) <= Z95 * self.error


def deviations(seed: int, *, cells: Sequence[str] = CELLS) -> Iterator[Deviation]:
    """Compare the last comparable check-up of each cell with the model.

    Parameters
    ----------
    seed : int
        Seed of the campaign.
    cells : sequence of str
        Ids of the cells.

    Yields
    ------
    Deviation
        For each cell and number that is estimable.
    """
    plans = {plan.cell: plan for plan in plan_campaign(seed)}
    with tempfile.TemporaryDirectory(prefix="trivet-truths-") as name:
        folder = Path(name)
        make_demo([name, "--seed", str(seed), "--sheets", "--cells", *cells])
        campaign = read_campaign(folder, {})
        for facts in campaign.cells:
            tables = _measured(campaign, folder, facts)
            hours = {
                row["cycle"]: (row["start_h"] + row["end_h"]) / 2.0
                for row in tables["cycles"].to_pylist()
            }
            rows = [
                row
                for row in tables["attribution"].to_pylist()
                if row["inventory_lost_mAh"] is not None
            ]
            if rows:
                last = rows[-1]
                between = np.linspace(hours[last["base_cycle"]], hours[last["cycle"]], 400)
                plan = plans[facts.cell]
                lost = [plan.ageing.loss_mA(float(hour)) for hour in between]
                yield from _of_row(plan.seal, last, float(np.trapezoid(lost, between)))


def _measured(campaign: CampaignFolder, folder: Path, facts: CellFacts) -> dict[str, Any]:
    """Tables of the stage cycling for one cell."""
    settings = campaign.settings
    files = find_files(folder, settings.raw, facts.cell)
    given = read.run(
        facts=facts, files=files, raw=settings.raw, time_zone=settings.campaign.time_zone
    )
    assert settings.electrodes is not None
    return cycling.run(
        facts=facts,
        series=given.series,
        ledger=given.ledger,
        settings=settings,
        stated=given.capacity_records,
        plating_rows=given.plating_series,
        points=given.spectrum_points,
    ).tables


def _of_row(group: str, row: dict[str, Any], lost_mAh: float) -> Iterator[Deviation]:
    """Numbers of one check-up that are estimable."""
    yield Deviation(
        group, "inventory", row["inventory_lost_mAh"] - lost_mAh, row["inventory_lost_error_mAh"]
    )
    for side in TERMS[1:]:
        if row[f"{side}_active"] is not None:
            yield Deviation(group, side, row[f"{side}_active"] - 1.0, row[f"{side}_active_error"])


def table(found: Sequence[Deviation]) -> list[str]:
    """Lines of the table, a group and number each.

    Parameters
    ----------
    found : sequence of Deviation
        Of all seeds.
    """
    lines = [
        "| group | number | cells | 95 % intervals that hold the truth | median off | "
        "largest off |",
        "|---|---|---|---|---|---|",
    ]
    for group in sorted({one.group for one in found}):
        for term in TERMS:
            own = [one for one in found if (one.group, one.term) == (group, term)]
            if own:
                off = np.array([one.off for one in own])
                lines.append(
                    f"| {group} | {term} | {len(own)} | {sum(one.inside for one in own)} | "
                    f"{np.median(off):.2g} | {np.abs(off).max():.2g} |"
                )
    return lines


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", type=int, default=len(SEEDS), help="how many seeds")
    given = parser.parse_args(arguments)
    found = [one for seed in SEEDS[: given.seeds] for one in deviations(seed)]
    sys.stdout.write("\n".join(table(found)) + "\n")


if __name__ == "__main__":
    main()
