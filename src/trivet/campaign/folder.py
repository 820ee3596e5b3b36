"""A campaign folder as a whole: settings, build sheet, bench log; all problems at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from trivet.campaign.build_sheet import read_build_sheet
from trivet.campaign.built.covariates import covariate_problems
from trivet.campaign.earlier.read import earlier_problems
from trivet.campaign.lives_file import read_lifetimes
from trivet.campaign.paths import SETTINGS_FILE
from trivet.campaign.settings_file import read_settings
from trivet.campaign.settings_rules import zone_exists
from trivet.errors import InputError, Problem, near_name
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.block import DECIDE
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.inference import Comparison
from trivet.schema.settings.yaml_lines import Place, line_of


@dataclass(frozen=True)
class CampaignFolder:
    """A campaign that may be run.

    Attributes
    ----------
    folder : Path
        The folder.
    settings : Settings
        Its settings.
    cells : tuple of CellFacts
        Its cells in the order of the build sheet.
    """

    folder: Path
    settings: Settings
    cells: tuple[CellFacts, ...]


def read_campaign(folder: Path, overrides: dict[Place, Any] | None = None) -> CampaignFolder:
    """Read a campaign folder.

    Parameters
    ----------
    folder : Path
        The folder with `campaign.yaml`.
    overrides : dict of Place to object
        Settings given on the command line, which win.

    Raises
    ------
    InputError
        With every problem of settings, build sheet and bench log.
    """
    if not folder.is_dir():
        raise InputError(
            [
                Problem(
                    str(folder),
                    "is no folder.",
                    hint="Give a campaign folder, or make one with 'trivet new'.",
                )
            ]
        )
    read = read_settings(folder / SETTINGS_FILE, overrides)
    problems = list(read.problems)
    cells: tuple[CellFacts, ...] = ()
    blocks = read.blocks
    if all(name in blocks for name in ("build_sheet", "bench_log", "lifetime", "campaign")):
        cells, sheet_problems = read_build_sheet(
            folder,
            build_sheet=blocks["build_sheet"],
            bench_log=blocks["bench_log"],
            clock_start=blocks["lifetime"].clock_start,
            time_zone=_zone_of(blocks).key,
        )
        problems += sheet_problems
        if (table := blocks["lifetime"].table) is not None:
            problems += read_lifetimes(folder, file=table, cells=[c.cell for c in cells])[1]
    if "comparison" in blocks and "build_sheet" in blocks:
        problems += earlier_problems(
            folder,
            blocks["comparison"],
            cells=cells,
            as_meant=blocks["build_sheet"].as_meant,
        )
    if "comparison" in blocks:
        problems += _between(blocks["comparison"], read.lines, cells, _zone_of(blocks))
    if problems or read.settings is None:
        raise InputError(problems)
    return CampaignFolder(folder, read.settings, cells)


def _zone_of(blocks: dict[str, Any]) -> ZoneInfo:
    """Zone of times written by people; UTC where the settings name none that exists."""
    named = blocks["campaign"].time_zone if "campaign" in blocks else "UTC"
    return ZoneInfo(named if zone_exists(named) else "UTC")


def sheet_files(settings: Settings) -> list[str]:
    """Build sheet, bench log and table of lives, below the campaign folder.

    Parameters
    ----------
    settings : Settings
        Settings of the campaign.
    """
    names = (settings.build_sheet.file, settings.bench_log.file, settings.lifetime.table)
    return [name for name in names if name is not None]


def _between(
    comparison: Comparison,
    lines: dict[Place, int],
    cells: tuple[CellFacts, ...],
    zone: ZoneInfo,
) -> Iterator[Problem]:
    """Problems between the settings and the build sheet."""
    for position, factor in enumerate(comparison.factors):
        values = {cell.values.get(factor.factor, "") for cell in cells} - {""}
        if values and factor.control not in (*values, DECIDE):
            line = line_of(lines, ("comparison", "factors", position, "control"))
            message = f"no cell has '{factor.control}' as its {factor.factor}."
            yield Problem(SETTINGS_FILE, message, line, near_name(factor.control, sorted(values)))
    for name, levels in comparison.ordered.items():
        line = line_of(lines, ("comparison", "ordered", name))
        for value in sorted({cell.values.get(name, "") for cell in cells} - {"", *levels}):
            message = f"the order of '{name}' lacks the value '{value}' of the build sheet."
            yield Problem(SETTINGS_FILE, message, line, near_name(value, levels))
    for position, message in covariate_problems(comparison.covariates, cells, zone):
        line = line_of(lines, ("comparison", "covariates", position))
        yield Problem(SETTINGS_FILE, message, line)


def no_raw_files(campaign: CampaignFolder) -> Problem:
    """Say that no cell has any raw file, and where they were looked for."""
    raw = campaign.settings.raw
    patterns = ", ".join(f"'{entry.files}'" for entry in chain(*raw.by_content.values()))
    hint = "Put the files there, or correct the patterns in 'raw'."
    if campaign.settings.campaign.invented:
        hint = "'make demo' makes the files of the demonstration."
    return Problem(
        SETTINGS_FILE,
        f"no cell has any raw file; looked for {patterns} below '{campaign.folder}'.",
        hint=hint,
    )
