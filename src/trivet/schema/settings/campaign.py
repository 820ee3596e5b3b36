"""The settings of a campaign: one model, one class a block; what the user decides."""

from __future__ import annotations

from typing import Literal

from trivet.schema.settings.block import BOTH, Block, setting
from trivet.schema.settings.inference import Comparison, Lifetime, Survival
from trivet.schema.settings.raw import Raw
from trivet.schema.settings.science import Cycling, Electrodes, Impedance, Reference, Trust

DateOrder = Literal["", "day first", "month first"]
DecimalSign = Literal["", ".", ","]
_DATES = (
    "order in dates such as 03.02.2026; empty: each column proves it by a day above 12, or is "
    "asked about; ISO 8601 is always read"
)
_DECIMAL = "decimal sign; empty: a comma is taken only where it can part no thousands"


class Campaign(Block):
    """What the campaign is."""

    id: str = setting(
        ...,
        "short name: small letters, digits, hyphens; names the output folder",
        example="seal-trial",
        pattern=r"^[a-z0-9][a-z0-9-]*$",
        max_length=80,
        registered=False,
        given_to=("record",),
    )
    title: str = setting(..., "title of the report", example="Sealing the reference lead")
    question: str = setting(
        ...,
        "the question the campaign answers, one sentence",
        example="Does the way of sealing the lead passage change how long cells live?",
        called="question of the campaign",
        given_to=("record",),
    )
    people: list[str] = setting([], "who answers for the campaign", example=["A. Example"])
    organisation: str = setting("", "laboratory", example="Example Laboratory")
    licence: str = setting(
        "",
        "licence of the results, an SPDX name; empty: not stated",
        example="CC-BY-4.0",
        registered=False,
        given_to=("record",),
    )
    time_zone: str = setting(
        "UTC",
        "IANA name of the zone of all times written by people",
        example="Europe/Berlin",
        called="time zone",
        given_to=("read", "lifetime", "survival", "planning", "balance", "forecast", "record"),
    )
    data_cut: str | None = setting(
        None,
        "count data up to this date or time (ISO 8601, campaign's zone); null: all data",
        registered=False,
        given_to=("read", "lifetime", "survival", "forecast", "record"),
    )
    planned_end: str | None = setting(
        None,
        "date of the planned final data cut; before it verdicts are marked interim, and with what "
        "was known at it (of a date its first moment) a difference may be shown for the last time",
        called="planned end",
        given_to=("survival", "planning", "record"),
    )
    invented: bool = setting(False, "true marks all data as invented, on every page")


class BuildSheet(Block):
    """The build sheet."""

    file: str = setting(
        "build-sheet.csv",
        "file below the campaign folder: text parted by commas, semicolons or tabs, or .xlsx",
    )
    factors: list[str] = setting(
        ..., "columns that are build factors", min_length=1, example=["seal", "separators"]
    )
    columns: dict[str, str | list[str]] = setting(
        {},
        "own names of columns in the file, by the names used here: {cell: Cell ID, batch: Lot}; a "
        "date and a time of day in two columns: {crimped_at: [Built on, Time crimped]}",
    )
    dates: DateOrder = setting("", _DATES)
    decimal: DecimalSign = setting("", _DECIMAL)
    as_meant: list[str] = setting(
        [], "names of groups that are meant as they are, although each looks like another"
    )


class BenchLog(Block):
    """The bench log."""

    file: str | None = setting(
        "bench-log.csv", "file below the campaign folder, text or .xlsx; null: none"
    )
    columns: dict[str, str | list[str]] = setting(
        {},
        "own names of columns in the file, by the names used here: {time: [Date, Time], event: "
        "What}; a number may share the column of notes, and is read there for its own event only",
    )
    words: dict[str, list[str]] = setting(
        {},
        "own words for events, causes and reasons, by the words used here: {weighed: [on the "
        "balance], leak: [wet at the lead]}; as an event a cause means that the cell failed of it, "
        "a reason that it was stopped for it",
    )
    dates: DateOrder = setting("", _DATES)
    decimal: DecimalSign = setting("", _DECIMAL)


class Report(Block):
    """The report."""

    cycles_drawn: int = setting(
        3, "cycles of each cell whose potential curves are drawn", ge=1, le=8, given_to=("cycling",)
    )
    cells_drawn: int = setting(
        40,
        "cells of a group that figures draw one by one; of a larger group so many are drawn, at "
        "equal steps from the shortest life to the longest",
        ge=3,
    )
    paper: Literal["A4"] = setting("A4", "paper size")
    findings_listed: int = setting(40, "findings listed in the report; the table has all", ge=1)
    compare_days: int = setting(
        7,
        "days before the data cut at which everything is decided again, to say what changed since; "
        "0: no comparison",
        unit="d",
        ge=0,
        given_to=("as_of",),
    )
    part: Literal["whole", "meeting"] = setting(
        "whole", "what is printed: the meeting part alone, or the whole with its appendix"
    )
    cell_pages: bool = setting(False, "whether one page a cell is appended")


class Archive(Block):
    """The archive."""

    raw_files: Literal["checksums", "copies"] = setting(
        "checksums", "whether the archive holds checksums of the raw files or copies too"
    )


class Settings(Block):
    """All settings of a campaign."""

    campaign: Campaign = setting(..., "what the campaign is", turns=BOTH)
    build_sheet: BuildSheet = setting(..., "one row a cell as built", turns=BOTH)
    bench_log: BenchLog = setting(BenchLog(), "what people did, with time", turns=BOTH)
    raw: Raw = setting(..., "raw files and their layouts", turns=BOTH)
    electrodes: Electrodes = setting(..., "the two electrodes", turns=("reference",))
    cycling: Cycling = setting(..., "half-cycles, cycles and their kinds", turns=BOTH)
    reference: Reference = setting(Reference(), "the reference", turns=("reference",))
    trust: Trust = setting(
        Trust(),
        "thresholds of the checks of reference and spectra; common "
        "practice, no source, unless said otherwise",
        turns=("reference",),
    )
    impedance: Impedance = setting(Impedance(), "impedance", turns=())
    lifetime: Lifetime = setting(Lifetime(), "clocks and rules of the end", turns=BOTH)
    survival: Survival = setting(Survival(), "survival statistics", turns=BOTH)
    comparison: Comparison = setting(
        ..., "what is compared; all meant to be set before the data are seen", turns=BOTH
    )
    report: Report = setting(Report(), "the report", turns=())
    archive: Archive = setting(Archive(), "the archive", turns=())
