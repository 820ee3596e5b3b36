"""Several folders of results, side by side; nothing in them is changed."""

from __future__ import annotations

import csv
import io
import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa

from trivet.errors import Problem, printable
from trivet.report.frame.printed import PrintedTable
from trivet.report.overview import Overview, overview_pdf, tables
from trivet.results.export import refuse_bag
from trivet.results.folder import ResultsError, find
from trivet.results.opened import Results
from trivet.store.tables import harmless

Row = dict[str, Any]
_LIFE = ("cells", "events", "median", "median_lower", "median_upper", "median_beta_lower",
         "median_beta_upper", "restricted_mean", "restriction_time")  # fmt: skip
_WIDEST = 40
"""Letters of a column of the text table; longer texts run on below."""
_GAP = "  "
_VERDICT = ("factor", "group", "control", "verdict", "cells", "events", "control_cells",
            "control_events")  # fmt: skip


def put_together(folders: Sequence[Path]) -> Overview:
    """Put campaigns side by side, by data cut.

    Parameters
    ----------
    folders : sequence of Path
        Folders of results or archives; one that is named twice counts once.

    Raises
    ------
    ResultsError
        With every folder that holds no results.
    """
    problems: list[Problem] = []
    found = []
    for folder in {folder.resolve(): folder for folder in folders}.values():
        try:
            found.append(_read(Results(find(folder))))
        except ResultsError as error:
            problems += error.problems
        except (KeyError, TypeError, AttributeError) as error:
            message = f"is not understood by this version: {error!r}."
            problems.append(Problem(str(folder), message, hint="Run that campaign again."))
    if problems:
        raise ResultsError(problems)
    found.sort(key=lambda one: (one[0]["moment"] or 0.0, one[0]["id"], one[0]["folder"]))
    _name([campaign for campaign, _, _ in found])
    verdicts, lives = list[Row](), list[Row]()
    for campaign, own_verdicts, own_lives in found:
        common = {name: campaign[name] for name in ("name", "id", "folder", "moment")}
        verdicts += [common | row for row in own_verdicts]
        lives += [common | row for row in own_lives]
    # a stable sort: groups stand together, each in the order of the data cuts
    order = {key: place for place, key in
             enumerate(dict.fromkeys((row["factor"], row["group"]) for row in lives))}  # fmt: skip
    lives.sort(key=lambda row: order[row["factor"], row["group"]])
    return Overview(tuple(one for one, _, _ in found), tuple(verdicts), tuple(lives))


def _name(campaigns: Sequence[Row]) -> None:
    """Name each campaign by its id, and by its folder where another bears the same."""
    counts = Counter(row["id"] for row in campaigns)
    for row in campaigns:
        alike = counts[row["id"]] > 1
        row["name"] = f"{row['id']} ({row['folder']})" if alike else row["id"]


def _read(results: Results) -> tuple[Row, list[Row], list[Row]]:
    """One campaign, its verdicts and the lives of its groups."""
    found, settings = results.summary, results.settings
    status = _rows(results, "cells")
    cells = Counter(row["status"] for row in status)
    lived = [row for row in _rows(results, "lifetimes")
             if row["endpoint"] == "cell" and row["clock"] == _clock(results)]  # fmt: skip
    campaign = {
        "id": found["campaign"],
        "folder": str(results.folder),
        "title": found["title"],
        "question": found["question"],
        "variants": "; ".join(f"{name}: {', '.join(groups)}"
                              for name, groups in results.factors.items()),
        "data_cut": found["data_cut"],
        "moment": _moment(results),
        "built": found["cells"]["built"],
        "included": found["cells"]["included"],
        "ended": sum(row["observed"] for row in lived),
        "running": cells["running"],
        "interim": found["interim"],
        "invented": found["invented"],
        "version": found["version"],
        "tables_version": found["schema"],
    }  # fmt: skip
    verdicts = [
        {name: row[name] for name in _VERDICT}
        | {"p": row["p"] if row["p_adjusted"] is None else row["p_adjusted"]}
        for row in found["verdicts"]
        if row["verdict"]
    ]
    endpoint = settings["comparison"]["primary_endpoint"]
    summaries = {
        (row["factor"], row["group"]): row
        for row in _rows(results, "life_summary")
        if (row["endpoint"], row["clock"]) == (endpoint, _clock(results))
    }
    lives = [
        {"factor": factor, "group": group, "endpoint": endpoint, "clock": _clock(results)}
        | {name: summaries[factor, group].get(name) for name in _LIFE}
        for factor, groups in results.factors.items()
        for group in groups
        if (factor, group) in summaries
    ]
    return campaign, verdicts, lives


def _rows(results: Results, name: str) -> list[Row]:
    """Rows of a table as it is stored."""
    data: pa.Table = results.stored(name)[0]
    rows: list[Row] = data.to_pylist()
    return rows


def _clock(results: Results) -> str:
    """The primary clock."""
    return str(results.settings["lifetime"]["primary_clock"])


def _moment(results: Results) -> float | None:
    """Data cut in seconds since 1970; None where no time is known."""
    cuts = [row["time_s"] for row in _rows(results, "data_cuts") if row["cut"] == "now"]
    return cuts[0] if cuts else None


def as_text(found: Overview) -> str:
    """Campaigns side by side as aligned columns for the terminal."""
    return "\n".join(line for table in tables(found) for line in (*_text(table), ""))


def _text(table: PrintedTable) -> Iterator[str]:
    """A table as lines of aligned columns; long texts run on below."""
    yield table.caption if table.rows else table.reason
    if not table.rows:
        return
    rows = [[printable(cell.text) for cell in row] for row in (table.headings, *table.rows)]
    numeric = [cell.numeric for cell in table.headings]
    widths = [_width(column) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = [
            textwrap.wrap(text, width, break_on_hyphens=False) or [""]
            for text, width in zip(row, widths, strict=True)
        ]
        for line in range(max(map(len, cells))):
            pieces = [cell[line] if line < len(cell) else "" for cell in cells]
            yield (
                "  "
                + _GAP.join(
                    piece.rjust(width) if flush else piece.ljust(width)
                    for piece, width, flush in zip(pieces, widths, numeric, strict=True)
                ).rstrip()
            )


def _width(texts: Sequence[str]) -> int:
    """Width of a column: no word is broken, so that a folder can be copied."""
    longest_word = max((len(word) for text in texts for word in text.split()), default=0)
    return max(min(max(map(len, texts)), _WIDEST), longest_word)


def write(found: Overview, folder: Path) -> list[Path]:
    """Write the tables and the page.

    Parameters
    ----------
    found : Overview
        Campaigns side by side.
    folder : Path
        Folder to write into.

    Raises
    ------
    ResultsError
        It lies within a bag.
    """
    refuse_bag(folder)
    contents = {
        "campaigns.csv": _csv(found.campaigns),
        "verdicts.csv": _csv(found.verdicts),
        "lives.csv": _csv(found.lives),
        "overview.pdf": overview_pdf(found),
    }
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in contents.items():
        (folder / name).write_bytes(content)
    return [folder / name for name in contents]


def _csv(rows: Sequence[Row]) -> bytes:
    """Rows as text; no text is a formula."""
    text = io.StringIO()
    if rows:
        writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(
            {name: harmless(value) if isinstance(value, str) else value
             for name, value in row.items()}
            for row in rows
        )  # fmt: skip
    return text.getvalue().encode()
