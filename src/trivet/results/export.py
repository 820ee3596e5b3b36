"""Results for other programs: a workbook of the main tables, figures for slides."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from trivet.errors import Problem
from trivet.report.frame.data import ReportData, ReportSettings, gather, read_tables
from trivet.report.slides import slides
from trivet.results.folder import BAG_MARK, Place, ResultsError, find
from trivet.results.opened import Results
from trivet.results.workbook import workbook
from trivet.store.tables import TableError, harmless

LIST_OF_FIGURES = "figures.csv"


@dataclass(frozen=True)
class Exported:
    """What an export wrote.

    Attributes
    ----------
    workbook : Path
        The workbook.
    figures : tuple of str
        Names of the figures; each is there as SVG and as PNG.
    folder : Path
        Folder that holds them all.
    """

    workbook: Path
    figures: tuple[str, ...]
    folder: Path


def export(folder: Path, to: Path | None = None) -> Exported:
    """Write a workbook and the figures.

    Parameters
    ----------
    folder : Path
        Folder of results, or the bag of an archive; nothing in it is changed.
    to : Path or None
        Folder to write into; None: `<id>-export` where the command is called.

    Raises
    ------
    ResultsError
        There are no results, they are of another version, or the target lies within a bag.
    """
    place = find(folder)
    data = report_data(place)
    target = to or Path(f"{data.settings.campaign.id}-export")
    refuse_bag(target)
    target.mkdir(parents=True, exist_ok=True)
    book = target / f"{data.settings.campaign.id}.xlsx"
    book.write_bytes(workbook(Results(place), data.cut.moment))
    return Exported(book, _figures(data, target), target)


def _figures(data: ReportData, target: Path) -> tuple[str, ...]:
    """Write every figure, and the list of what they show."""
    written = []
    text = io.StringIO()
    listed = csv.writer(text, lineterminator="\n")
    listed.writerow(["figure", "shows"])
    for slide in slides(data):
        (target / f"{slide.name}.svg").write_bytes(slide.svg)
        (target / f"{slide.name}.png").write_bytes(slide.png)
        listed.writerow([slide.name, harmless(slide.shows)])
        written.append(slide.name)
    (target / LIST_OF_FIGURES).write_text(text.getvalue(), encoding="utf-8")
    return tuple(written)


def report_data(place: Place) -> ReportData:
    """Give what the report draws from.

    Raises
    ------
    ResultsError
        Tables or settings are not those of this version, or a table is missing.
    """
    blocks = {name: place.settings[name] for name in ReportSettings.model_fields
              if name in place.settings}  # fmt: skip
    try:
        settings = ReportSettings.model_validate(blocks)
        return gather(settings=settings, tables=read_tables(place.root / "tables"))
    except (ValidationError, TableError, OSError) as error:
        made_by = place.summary.get("version", "an unknown version")
        message = f"holds results that this version can't draw (made by Trivet {made_by})."
        hint = "Run the campaign again with this version; 'trivet.open' reads them as they are."
        raise ResultsError([Problem(str(place.given), message, hint=hint)]) from error


def refuse_bag(target: Path) -> None:
    """Refuse to write into a bag, whose checksums would not hold any more.

    Raises
    ------
    ResultsError
        The target lies within one.
    """
    for folder in (target.resolve(), *target.resolve().parents):
        if (folder / BAG_MARK).is_file():
            message = f"lies within the archive '{folder}', which must stay as it is."
            raise ResultsError([Problem(str(target), message, hint="Give another folder.")])
