"""What each stage reads, writes and depends on: one record a stage, the only place that says so.

The rules, the settings that a job is given, the tables that the runner opens and writes, and the
tests of all these follow from here. Only single settings of blocks that a stage is not given stand
elsewhere: at their fields in `trivet.schema.settings`, with the stages that are given them.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from trivet.schema.settings.marked import given_to


class Sources(StrEnum):
    """What a stage reads besides tables; a change of its content reruns the stage."""

    NONE = ""
    RAW_FILES = "raw files"
    SHEETS = "sheets"
    """Build sheet, bench log, table of lives."""
    EARLIER = "earlier campaigns"
    ALL = "all"
    """Settings file, sheets and earlier campaigns, as people wrote them."""


@dataclass(frozen=True)
class Stage:
    """One stage: a job a cell, or one job a campaign.

    Attributes
    ----------
    name : str
        Its name, that of its module in `trivet.stages` and of its rule.
    task : str
        What it does, in one line.
    blocks : tuple of str
        Blocks of the settings that it is given.
    repeats : tuple of str
        Stages that it runs again, so that it is given their settings too.
    reads : tuple of str
        Tables that it is given; `earlier/NAME` as of the earlier data cut.
    writes : tuple of str
        Tables that it gives; the runner writes them.
    files : tuple of str
        What it writes itself, from the folder of its results.
    of_cell : bool
        Whether there is one job for each cell.
    sources : Sources
        What it reads besides tables.
    reads_results : bool
        Whether it reads every archived table.
    long : bool
        Whether it takes longer than most, so that it begins before others that are ready.
    on_request : bool
        Whether no run does it unless asked for what it writes.
    memory_MB, minutes : int
        What a cluster is asked for [MB], [min].
    """

    name: str
    task: str
    blocks: tuple[str, ...] = ()
    repeats: tuple[str, ...] = ()
    reads: tuple[str, ...] = ()
    writes: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    of_cell: bool = False
    sources: Sources = Sources.NONE
    reads_results: bool = False
    long: bool = False
    on_request: bool = False
    memory_MB: int = 1000
    minutes: int = 30

    @property
    def settings(self) -> tuple[str, ...]:
        """Paths into the settings: what it is given, and nothing else.

        Its blocks, and single settings of others whose marks name it; those of stages it repeats.
        """
        own = (self, *(STAGES[name] for name in self.repeats))
        blocks = tuple(dict.fromkeys(block for stage in own for block in stage.blocks))
        single = dict.fromkeys(path for stage in own for path in given_to(stage.name))
        within = tuple(f"{block}." for block in blocks)
        return (*blocks, *(path for path in single if not path.startswith(within)))


EVERYTHING = ("*",)
"""Blocks of a stage that depends on all settings."""
DECIDED = ("lifetimes", "timeline", "comparisons", "findings")
"""Tables that are compared between two data cuts."""

_STAGES = (
    Stage(
        name="read",
        task="Read the raw files of one cell, with an account of every row.",
        of_cell=True,
        sources=Sources.RAW_FILES,
        blocks=("raw",),
        writes=(
            "series",
            "spectrum_points",
            "capacity_records",
            "plating_series",
            "ledger",
            "findings",
        ),
        memory_MB=2000,
    ),
    Stage(
        name="cycling",
        task="Cycles, electrodes and the reference of one cell.",
        of_cell=True,
        blocks=("cycling", "electrodes", "reference", "trust"),
        reads=("series", "ledger", "capacity_records", "plating_series", "spectrum_points"),
        writes=(
            "cycles",
            "electrode_cycles",
            "reference_checks",
            "timeline",
            "excursions",
            "potential_curves",
            "plating",
            "differential_capacity",
            "fitness",
            "attribution",
            "end_points",
            "step_resistances",
            "rate_capability",
            "findings",
        ),
        memory_MB=2000,
    ),
    Stage(
        name="impedance",
        task="Spectra of one cell: validity, headline, fit, trust.",
        of_cell=True,
        blocks=("impedance", "trust"),
        reads=("spectrum_points", "cycles", "timeline", "fitness", "ledger", "series"),
        writes=("spectra", "spectrum_checks", "spectrum_curves", "findings"),
        memory_MB=2000,
    ),
    Stage(
        name="bdf",
        task="Write the series of one cell as the open Battery Data Format, on request.",
        of_cell=True,
        reads=("series", "ledger"),
        files=("series.bdf.csv", "series.bdf.csv-metadata.json"),
        on_request=True,
        memory_MB=2000,
    ),
    Stage(
        name="collect",
        task="Join the tables of all cells into the tables of the campaign.",
        writes=(
            "ledger",
            "cycles",
            "electrode_cycles",
            "reference_checks",
            "timeline",
            "excursions",
            "potential_curves",
            "plating",
            "differential_capacity",
            "fitness",
            "attribution",
            "end_points",
            "step_resistances",
            "rate_capability",
            "spectra",
            "spectrum_checks",
            "spectrum_curves",
            "ledger_by_cell",
            "findings_cells",
        ),
    ),
    Stage(
        name="lifetime",
        task="Decide how long each cell and each reference lasted, and what ended or censored it.",
        sources=Sources.SHEETS,
        blocks=("lifetime", "build_sheet", "bench_log"),
        reads=("cycles", "reference_checks", "timeline", "excursions", "ledger", "plating"),
        writes=("cells", "lifetimes", "findings_lifetime"),
    ),
    Stage(
        name="survival",
        long=True,
        task="Estimate survival by group and compare the groups with their control.",
        blocks=("survival", "comparison"),
        reads=("cells", "lifetimes", "ledger"),
        writes=(
            "survival",
            "survival_intervals",
            "at_risk",
            "life_summary",
            "comparisons",
            "looks",
            "causes",
            "findings_survival",
        ),
    ),
    Stage(
        name="pooling",
        task="Pool the contrasts with those of earlier campaigns, beside the verdict.",
        sources=Sources.EARLIER,
        blocks=("survival", "comparison"),
        reads=("cells", "lifetimes", "comparisons"),
        writes=("pooled",),
    ),
    Stage(
        name="planning",
        task="Say what the groups at hand could have shown, and how many cells come next.",
        blocks=("comparison",),
        reads=("cells", "lifetimes"),
        writes=("planning",),
    ),
    Stage(
        name="balance",
        task="Say how alike groups were built, and whether lives follow the build or an order.",
        blocks=("comparison", "survival"),
        reads=("cells", "lifetimes"),
        writes=("covariates", "covariate_tests", "order_trends"),
    ),
    Stage(
        name="fading",
        task="Say of each group what took the capacity of its cells, and what ends half-cycles.",
        reads=("cells", "attribution", "end_points", "cycles"),
        writes=("fading",),
    ),
    Stage(
        name="forecast",
        task="Forecast when running cells reach their limit, and how past forecasts have fared.",
        blocks=("lifetime.capacity",),
        reads=("cycles", "lifetimes", "ledger"),
        writes=("forecasts", "forecast_coverage"),
    ),
    Stage(
        name="trends",
        task="What needs the spectra of all cells: second pass, trends, relaxation times.",
        reads=("cells", "spectra", "spectrum_curves", "lifetimes"),
        writes=(
            "spectra_second_pass",
            "resistance_trends",
            "separator_resistance",
            "relaxation_times",
            "relaxation_peaks",
        ),
    ),
    Stage(
        name="measures",
        task="Compare numbers of cells between groups: capacity, efficiency, drift, resistances.",
        blocks=("comparison", "survival"),
        reads=(
            "cells",
            "cycles",
            "electrode_cycles",
            "reference_checks",
            "spectra",
            "resistance_trends",
            "attribution",
            "lifetimes",
        ),
        writes=("cell_measures", "measures"),
    ),
    Stage(
        name="as_of",
        long=True,
        task="Decide lives, verdicts and trust again as of an earlier data cut.",
        sources=Sources.SHEETS,
        repeats=("cycling", "lifetime", "survival"),
        reads=(
            "ledger",
            "cycles",
            "reference_checks",
            "timeline",
            "excursions",
            "plating",
            "findings_cells",
        ),
        writes=("data_cuts", "earlier/cells", *(f"earlier/{name}" for name in DECIDED)),
    ),
    Stage(
        name="record",
        task="Keep the record: all findings, what changed, reports issued, a paper's checklist.",
        sources=Sources.SHEETS,
        blocks=(
            "build_sheet",
            "bench_log",
            "raw",
            "electrodes",
            "cycling",
            "reference",
            "trust",
            "impedance",
            "lifetime",
            "survival",
            "comparison",
        ),
        reads=(
            "findings_cells",
            "findings_lifetime",
            "findings_survival",
            "lifetimes",
            "timeline",
            "comparisons",
            *(f"earlier/{name}" for name in DECIDED),
            "data_cuts",
            "cells",
            "cycles",
            "spectra",
            "ledger",
            "plating",
            "cell_measures",
            "spectrum_curves",
        ),
        writes=(
            "findings",
            "changes",
            "checklist",
            "reports_issued",
            "input_changes",
            "late_decisions",
        ),
        files=("register_entry.json",),
    ),
    Stage(
        name="report",
        long=True,
        task="Print the report of a campaign: PDF, web page, figures with their numbers, summary.",
        blocks=(
            "campaign",
            "build_sheet",
            "electrodes",
            "cycling",
            "reference",
            "trust",
            "impedance",
            "lifetime",
            "survival",
            "comparison",
            "report",
        ),
        reads_results=True,
        files=("report.pdf", "report.html", "summary.json", "figures/contents.json"),
        memory_MB=4000,
    ),
    Stage(
        name="export_csv",
        task="Write every result as text beside its Parquet file, for people and papers.",
        reads_results=True,
    ),
    Stage(
        name="archive",
        task="Pack the results of a campaign with what they were made from into one bag.",
        sources=Sources.ALL,
        blocks=EVERYTHING,
        reads=("ledger", "cells"),
        reads_results=True,
        files=("archive/manifest-sha256.txt",),
    ),
)

STAGES: dict[str, Stage] = {stage.name: stage for stage in _STAGES}
"""Every stage by name, in the order of a campaign."""


def cell_stages() -> tuple[Stage, ...]:
    """Stages of a cell whose tables are joined over the campaign."""
    return tuple(stage for stage in _STAGES if stage.of_cell and stage.writes)


def writer_of(table: str) -> Stage:
    """Stage of a cell that writes a table of the cell.

    Raises
    ------
    KeyError
        No stage of a cell writes it.
    """
    for stage in cell_stages():
        if table in stage.writes:
            return stage
    raise KeyError(table)
