"""Page one: the question, the answer and its figure, what to do, what not to trust."""

from __future__ import annotations

import datetime
import zoneinfo
from typing import Any

from trivet.reasons import Censored, Fitness, Hand, Judged, Purpose
from trivet.report.frame.answer import VERDICT_WORDS, answer
from trivet.report.frame.data import NO_DATE, ReportData, Row, by, tally, where
from trivet.report.frame.section import Section
from trivet.report.frame.wording import (
    count,
    interval,
    is_missing,
    listed,
    number,
    p_value,
    plural,
    unit,
)
from trivet.report.sections.appendix.changes import block
from trivet.report.sections.appendix.register import late_words, since_block
from trivet.report.sections.findings import Task, tasks
from trivet.report.sections.survival import answer_curves
from trivet.schema.findings.fitness import NUMBERS
from trivet.schema.findings.verdicts import disagree

TRUST_ORDER = ("trusted", "suspect", "lost", "not plated", "unknown")

_MOST_CELLS = 8
"""Cells that a line of page one names."""
_MOST_WITH_TIMES = 6
"""Cells named in a line that gives an hour beside each, too."""
_MOST_GROUPS = 6
"""Groups of which page one says what became of their cells."""
_MOST_ENDS = 5
"""Cells that page one says may end within a week."""


def primary_rows(data: ReportData) -> list[Row]:
    """Rows of the primary comparison: endpoint, clock and factor of the settings."""
    rows = where(
        data.rows["comparisons"],
        endpoint=data.settings.comparison.primary_endpoint,
        clock=data.clock,
        factor=data.factor,
        measure=Judged.EXACT,
    )
    return sorted(rows, key=lambda row: data.place_of(row["group"]))


def summary(data: ReportData) -> dict[str, Any]:
    """Contents of page one."""
    contrasts = [row for row in primary_rows(data) if row["control"] != "all"]
    campaign, by_group = data.settings.campaign, _by_group(data)
    return {
        "question": campaign.question,
        "interim": data.interim,
        "planned_end": campaign.planned_end,
        "answer": answer(
            contrasts,
            margin=data.settings.comparison.equivalence_margin,
            alpha=1 - data.settings.comparison.confidence,
            final=data.final,
        ),
        "no_contrast": why_no_contrast(data),
        "grounds": [_grounds(data, row, len(contrasts)) for row in contrasts],
        "unlike": built_unlike(data),
        "counts": _counts(data, states=not by_group),
        "by_group": by_group,
        "excluded": _excluded(data),
        "since": block(data),
        "since_report": since_block(data),
        "forecasts": bool(data.rows["forecasts"]),
        "ends_next": ends_next(data),
        "tasks": [*(task_words(data, task) for task in tasks(data)), *_over(data)],
        "cautions": mistrust(data),
    }


def ends_next(data: ReportData) -> list[str]:
    """Sentences on the running cells whose interval reaches into the next seven days."""
    rows = where(data.rows["forecasts"], soon=1)
    ordered = sorted(rows, key=lambda r: (r["estimate_in_d"] or 0.0, r["cell"]))
    room = _MOST_ENDS if len(ordered) <= _MOST_ENDS else _MOST_ENDS - 1
    said = [_end(data, row) for row in ordered[:room]]
    if len(ordered) > room:
        said.append(f"And {listed([row['cell'] for row in ordered[room:]], _MOST_CELLS)}.")
    return said


def _end(data: ReportData, row: Row) -> str:
    """One cell that may end within a week."""
    if row["reason"]:
        return f"{row['cell']}: {row['reason']}."
    limits = interval(row["lower_in_d"], row["upper_in_d"], 2)
    basis = "" if row["cells_learnt_from"] else "; by default, since no cell has ended yet"
    days = row["estimate_in_d"]
    on = f", about {_day(data, days)}" if data.cut.moment != NO_DATE else ""
    return f"{row['cell']} in {number(days, 2)} days{on} ({limits}, {data.confidence}{basis})."


def _day(data: ReportData, days: float) -> str:
    """Date some days after the data cut, where the laboratory is."""
    then = data.cut.moment + datetime.timedelta(days=days)
    return f"{then.astimezone(zoneinfo.ZoneInfo(data.settings.campaign.time_zone)):%Y-%m-%d}"


def why_no_contrast(data: ReportData) -> str:
    """Reason for an empty list of verdicts."""
    if not data.rows["lifetimes"]:
        return "no cell has a lifetime"
    if len(data.groups) < 2:
        return "there is one group only"
    return f"the table of comparisons has no primary test of {data.factor}"


def _grounds(data: ReportData, row: Row, contrasts: int) -> dict[str, str]:
    """Numbers of one contrast of so many, which stand below the sentence."""
    level = 1 - data.settings.comparison.confidence
    same = {name: row[name] for name in ("endpoint", "clock", "factor", "group", "control")}
    found = where(data.rows["comparisons"], measure="time ratio", **same)
    said = [
        f"{row['events']} of {row['cells']} ended against {row['control_events']} of "
        f"{row['control_cells']}",
        f"exact p {p_value(row['p'])}",
        *_adjusted(row, contrasts),
        f"smallest p that these cells could have given {p_value(row['smallest_attainable_p'])}",
    ]
    if found and not is_missing(found[0]["estimate"]):
        limits = found[0]["lower"], found[0]["upper"]
        why = f"; {found[0]['reason']}" if found[0]["reason"] else ""
        said.insert(
            1, f"lives {number(found[0]['estimate'])} times as long ({interval(*limits)}{why})"
        )
        if row["verdict"] != "different" and disagree(row["p_adjusted"], level, *limits):
            said.append("the interval is from a model and counts no contrasts; the test leads")
    verdict = VERDICT_WORDS.get(row["verdict"], "no verdict")
    smallest = row["smallest_attainable_p"]
    if row["verdict"] == "inconclusive" and smallest is not None and smallest > level:
        verdict = "can't be shown with these cells and ends"
    elif data.final and row["verdict"] == "inconclusive":
        verdict = "not shown by the planned end"
    said += _on_other_clocks(data, row)
    if not row["shown_on"]:
        said += _needed(data, row)
    if row["shown_on"]:
        verdict += f" since the look of {row['shown_on']}"
        if row["p_adjusted"] is not None and row["p_adjusted"] > level:
            said.append("p are those of now; what a look has shown stays shown")
    pair = f"{row['group']} against {row['control']}: {verdict}"
    return {"pair": pair, "numbers": "; ".join(said), "late": late_words(data, row)}


def _adjusted(row: Row, contrasts: int) -> list[str]:
    """The p that counts all contrasts of the factor, where there are several."""
    if contrasts < 2:
        return []
    return [f"adjusted for the {contrasts} contrasts {p_value(row['p_adjusted'])}"]


def _on_other_clocks(data: ReportData, row: Row) -> list[str]:
    """The adjusted p on other clocks, where these would have said something else."""
    names = {name: row[name] for name in ("endpoint", "factor", "group", "control", "measure")}
    others = [one for one in where(data.rows["comparisons"], **names)
              if one["clock"] != row["clock"] and one["verdict"] != row["verdict"]]  # fmt: skip
    return [
        f"counted in {one['clock']}, which decides nothing, {p_value(one['p_adjusted'])}"
        for one in others
        if not is_missing(one["p_adjusted"])
    ]


def _needed(data: ReportData, row: Row) -> list[str]:
    """The p that the last look would have needed, where looks share the level."""
    names = {name: row[name] for name in ("endpoint", "clock", "factor", "control")}
    looks = where(data.rows["looks"], groups=row["group"], **names)
    last = max(looks, key=lambda look: look["time_s"], default=None)
    if last is None:
        return []
    then = f"at the look of {last['look']}"
    if is_missing(last["nominal_level"]) or last["nominal_level"] == 0:
        return [f"{then} no p could have shown a difference"]
    return [f"{then} a difference would be shown up to p {p_value(last['nominal_level'])}"]


def _counts(data: ReportData, *, states: bool) -> list[tuple[str, str]]:
    """Counts of cells in words, from those built to those excluded; their states if wanted."""
    built = data.rows["cells"]
    included = where(built, included=1)
    lines = [("built", count(len(built))), ("included", count(len(included)))]
    if states:
        lines += [(status, count(cells)) for status, cells in tally(included, "status")]
    lines += [("excluded", count(len(where(built, included=0))))]
    return lines


def _by_group(data: ReportData) -> str:
    """What became of the cells of each group, where there are few groups; else empty."""
    if not 1 < len(data.groups) <= _MOST_GROUPS:
        return ""
    included = by(where(data.rows["cells"], included=1), "group")
    said = {
        group: [f"{status} {count(cells)}" for status, cells in tally(included[group], "status")]
        for group in data.groups
        if group in included
    }
    return "; ".join(f"{group}: {', '.join(parts)}" for group, parts in said.items())


def _excluded(data: ReportData) -> str:
    """Excluded cells by the reason that was stated; empty where none is."""
    found = by(where(data.rows["cells"], included=0), "exclusion_reason")
    return "; ".join(
        f"{listed([row['cell'] for row in rows], _MOST_CELLS)}, {reason or 'no reason stated'}"
        for reason, rows in found.items()
    )


def task_words(data: ReportData, task: Task) -> str:
    """One line of the list of tasks; who is about to end is told apart, where it costs a cell."""
    ending = {row["cell"] for row in where(data.rows["forecasts"], soon=1)}
    spared = [cell for cell in task.cells if task.hand is Hand.REPLATE and cell in ending]
    cells = [cell for cell in task.cells if cell not in spared] or task.cells
    said = task.hand.value.format(cells=listed(cells, _MOST_CELLS)) + "."
    if not spared:
        return said
    whom = "all of them" if spared == cells else listed(spared, _MOST_CELLS)
    return f"{said} May end within a week, so plate only if still wanted: {whom}."


def _over(data: ReportData) -> list[str]:
    """That cells which still run decide nothing any more, once the planned end is past."""
    running = where(data.rows["lifetimes"], endpoint="cell", clock="hours",
                    censored_because=Censored.RUNNING)  # fmt: skip
    if not data.final or not running:
        return []
    return [
        f"The planned end, {data.settings.campaign.planned_end}, is reached: the "
        f"{plural(len(running), 'running cell')} will change no verdict."
    ]


_FROM_A_TABLE = "Lives stand as their table gives them: no raw file was read to check them by."


def mistrust(data: ReportData) -> list[str]:
    """Sentences on what the reader should not trust, by what a number needs of its reference."""
    by_said: dict[str, list[str]] = {}
    if data.settings.lifetime.table is not None:
        return [_FROM_A_TABLE]
    for purpose in Purpose:
        said = _by_purpose(data, purpose)
        if said:
            by_said.setdefault(said, []).append(NUMBERS[purpose])
    sentences = [f"{_capital(listed(what))}: {said}." for said, what in by_said.items()]
    if not data.rows["fitness"]:
        sentences.append("Nothing is known of any reference.")
    geometry = {
        row["cell"]
        for row in where(data.rows["spectra"], trust="suspect", withheld=0)
        if row["pair"] != "cell"
    }
    if geometry:
        sentences.append(f"Suspect electrode spectra: {listed(sorted(geometry), _MOST_CELLS)}.")
    rejected = where(data.rows["spectra"], trust="rejected")
    if rejected:
        cells = {row["cell"] for row in rejected}
        sentences.append(f"{plural(len(rejected), 'spectrum row')} rejected, in "
                         f"{listed(sorted(cells), _MOST_CELLS)}.")  # fmt: skip
    if sentences:
        sentences.append("Cell voltage, capacity and cell life need no reference.")
    return sentences or ["Nothing: every reference served for all that was asked of it."]


def built_unlike(data: ReportData) -> list[str]:
    """A sentence on each group of the primary factor that was built unlike its control."""
    rows = where(data.rows["covariates"], aliased=1, factor=data.factor)
    said = by(rows, "group")
    control = {row["covariate"]: row for row in where(data.rows["covariates"], factor=data.factor,
                                                      group=data.control)}  # fmt: skip
    return [
        f"Every cell of {group} differs from every cell of {data.control} also in "
        + listed([_unlike_in(row, control[row["covariate"]]) for row in own])
        + f": what is found between them may come from that instead of the {data.factor}."
        for group, own in said.items()
    ]


def _unlike_in(row: Row, control: Row) -> str:
    """A number of the build in which two groups lie apart, with both ranges."""
    symbol = unit(row["unit"])
    # a number of two columns of times is the time between them
    name = f"the time from {row['covariate']}" if row["unit"] == "min" else row["covariate"]
    return f"{name} ({_range(row)} {symbol}; {control['group']} {_range(control)} {symbol})"


def _range(row: Row) -> str:
    """Range of a number of the build in a group."""
    low, high = number(row["lowest"]), number(row["highest"])
    return low if low == high else f"{low} to {high}"


def _by_purpose(data: ReportData, purpose: Purpose) -> str:
    """Cells whose reference does not serve a purpose, and those whose offset is taken off."""
    spans = [row for row in where(data.rows["fitness"], purpose=purpose.value) if row["plating"]]
    first: dict[str, float] = {}
    for row in sorted(spans, key=lambda r: r["from_h"]):
        first.setdefault(row["cell"], row["from_h"])
    said = []
    for fitness, words in (
        (Fitness.NOT_FIT, "withheld for"),
        (Fitness.CORRECTED, "with the offset taken off for"),
    ):
        starts: dict[str, float] = {}
        for row in where(spans, fitness=fitness.value):
            starts[row["cell"]] = min(row["from_h"], starts.get(row["cell"], row["from_h"]))
        if starts:
            names = [
                cell if start <= first[cell] else f"{cell} (from {number(start)} h)"
                for cell, start in sorted(starts.items())
            ]
            said.append(f"{words} {listed(names, _MOST_WITH_TIMES)}")
    return "; ".join(said)


def _capital(text: str) -> str:
    """Text with a capital first letter."""
    return text[:1].upper() + text[1:]


SECTION = Section("summary", "Summary", summary, {"answer": answer_curves}, place=10)
