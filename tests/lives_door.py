"""A campaign made of a build sheet and a table of lives, run to tables without raw files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pyarrow as pa

from trivet.campaign.folder import read_campaign
from trivet.campaign.lives_file import lives_of
from trivet.schema.settings.inference import Survival
from trivet.stages.lifetime.stage import run_table
from trivet.stages.survival.stage import run

SETTINGS = """\
campaign: {{id: door, title: From a table, question: "Which lasts longer?"}}
build_sheet: {{factors: [arm]}}
bench_log: {{file: null}}
lifetime: {{table: lifetimes.csv, primary_clock: {clock}}}
comparison:
  factors: [{{factor: arm, control: {control}}}]
  stratify_by: {stratify}
{more}"""

Life = dict[str, Any]
"""arm and duration (negative: not ended), what else the table of lives should say, and under
`built` what else the build sheet should."""


def signed(arm: str, values: tuple[float, ...], **more: Any) -> list[Life]:
    """Lives of an arm; a negative duration was censored."""
    return [{"arm": arm, "duration": value, **more} for value in values]


def write(
    folder: Path,
    lives: list[Life],
    *,
    control: str,
    clock: str = "cycles",
    stratify: str = "none",
    more: str = "",
) -> Path:
    """Write the campaign folder."""
    folder.mkdir(parents=True, exist_ok=True)
    text = SETTINGS.format(clock=clock, control=control, stratify=stratify, more=more)
    (folder / "campaign.yaml").write_text(text, encoding="utf-8")
    further = list(lives[0].get("built", ())) if lives else []
    sheet = [",".join(["cell,batch,arm,crimped_at", *further])]
    table = ["cell,endpoint,clock,duration,unit,observed,cause,lower,upper,entry"]
    for place, life in enumerate(lives):
        name = f"c{place:05d}"
        built = [str(life["built"][column]) for column in further]
        sheet.append(",".join([f"{name},{life.get('batch', 1)},{life['arm']},2026-01-01", *built]))
        value = life.get("duration")
        number = "" if value is None else f"{abs(value):.12g}"
        seen = life.get("observed", 0 if value is not None and value < 0 else 1)
        own = [str(life.get(name, "")) for name in ("cause", "lower", "upper", "entry")]
        table.append(",".join([name, "cell", clock, number, life.get("unit", ""), str(seen), *own]))
    (folder / "build-sheet.csv").write_text("\n".join(sheet) + "\n", encoding="utf-8")
    (folder / "lifetimes.csv").write_text("\n".join(table) + "\n", encoding="utf-8")
    return folder


def tables(folder: Path, *, draws: int = 2000, **survival: Any) -> dict[str, pa.Table]:
    """Run the stages lifetime and survival on the folder; every table by name."""
    campaign = read_campaign(folder)
    settings = campaign.settings
    names = [facts.cell for facts in campaign.cells]
    lived = run_table(
        cells=campaign.cells,
        lives=lives_of(folder, file="lifetimes.csv", cells=names),
        factor=settings.comparison.factors[0].factor,
        file="lifetimes.csv",
        cut_s=None,
    )
    given = run(
        cells=lived.cells,
        lifetimes=lived.lifetimes,
        survival=Survival(monte_carlo_draws=draws, **survival),
        comparison=settings.comparison,
        primary_clock=settings.lifetime.primary_clock,
    )
    return {"cells": lived.cells, "lifetimes": lived.lifetimes, **vars(given)}


def measure(found: dict[str, pa.Table], name: str, group: str | None = None) -> dict[str, Any]:
    """The one row of a measure."""
    rows = [row for row in found["comparisons"].to_pylist() if row["measure"] == name]
    (row,) = [row for row in rows if group in (None, row["group"])]
    return row
