"""Page one: the question, what was found, how sure, what not to trust."""

from __future__ import annotations

from typing import Any

from trivet.reasons import Fitness, Trust
from trivet.report.frame.data import ReportData, Row, last_states, tally, where
from trivet.report.frame.section import Section
from trivet.report.frame.wording import count, listed, plural
from trivet.report.sections.changes import block

PRIMARY_MEASURE = "exact log-rank"


TRUST_ORDER = ("trusted", "suspect", "lost", "not plated", "unknown")


def primary_rows(data: ReportData) -> list[Row]:
    """Rows of the primary comparison: endpoint, clock and factor of the settings."""
    return where(
        data.rows["comparisons"],
        endpoint=data.settings.comparison.primary_endpoint,
        clock=data.clock,
        factor=data.factor,
        measure=PRIMARY_MEASURE,
    )


def summary(data: ReportData) -> dict[str, Any]:
    """Contents of page one."""
    contrasts = [row for row in primary_rows(data) if row["control"] != "all"]
    overall = [row for row in primary_rows(data) if row["control"] == "all"]
    return {
        "question": data.settings.campaign.question,
        "people": data.settings.campaign.people,
        "organisation": data.settings.campaign.organisation,
        "interim": data.interim,
        "planned_end": data.settings.campaign.planned_end,
        "endpoint": data.settings.comparison.primary_endpoint,
        "clock": data.clock,
        "factor": data.factor,
        "contrasts": contrasts,
        "overall": overall,
        "no_contrast": why_no_contrast(data),
        "counts": _counts(data),
        "excluded": where(data.rows["cells"], included=0),
        "since": block(data),
        "cautions": mistrust(data),
    }


def why_no_contrast(data: ReportData) -> str:
    """Reason for an empty list of verdicts."""
    if not data.rows["lifetimes"]:
        return "no cell has a lifetime"
    if len(data.groups) < 2:
        return "there is one group only"
    return f"the table of comparisons has no primary test of {data.factor}"


def _counts(data: ReportData) -> list[tuple[str, str]]:
    """Counts of cells in words, from those built to those that ended."""
    built = data.rows["cells"]
    included = where(built, included=1)
    lines = [("built", count(len(built))), ("included", count(len(included)))]
    lines += [(status, count(cells)) for status, cells in tally(included, "status")]
    lines += [("excluded", count(len(where(built, included=0))))]
    return lines


def mistrust(data: ReportData) -> list[str]:
    """Sentences on what the reader should not trust, from counts of rows."""
    sentences = []
    states = last_states(data.rows["timeline"], "reference")
    for state in TRUST_ORDER[1:]:
        cells = sorted(cell for cell, last in states.items() if last == state)
        if cells and state == Trust.UNKNOWN:
            sentences.append(f"Offset of the reference unknown at the last row: {listed(cells)}.")
        elif cells:
            sentences.append(f"Reference {state} at the last row: {listed(cells)}.")
    sentences += _withheld(data)
    faults = where(data.rows["findings"], severity="fault")
    cautions = where(data.rows["findings"], severity="caution")
    said = []
    if faults:
        named = sorted({row["cell"] for row in faults if row["cell"]})
        said.append(
            f"{plural(len(faults), 'finding')} of severity fault in "
            f"{listed(named) if named else 'the campaign as a whole'}"
        )
    if cautions:
        said.append(f"{plural(len(cautions), 'finding')} of severity caution")
    if said:
        sentences.append(f"{' and '.join(said)}; see the findings.")
    return sentences or ["Nothing: no reference was doubted, nothing was withheld, no fault found."]


def _withheld(data: ReportData) -> list[str]:
    """Sentences on what is withheld or rejected."""
    sentences = []
    cycles = data.rows["electrode_cycles"]
    electrodes = [row for row in data.rows["spectra"] if row["pair"] != "cell"]
    corrected = where(cycles, absolute_fitness=Fitness.CORRECTED.value)
    shown = where(cycles, withheld=0)
    for held, of, what in (
        (
            where(cycles, withheld=1),
            f"{count(len(cycles))} electrode cycles show nothing",
            "the reference served for nothing there; cell voltage, capacity and cell life are not "
            "touched by that",
        ),
        (
            where(shown, absolute_fitness=Fitness.NOT_FIT.value),
            f"{count(len(cycles))} electrode cycles show no potential against lithium",
            "no known offset",
        ),
        (
            where(shown, difference_fitness=Fitness.NOT_FIT.value),
            f"{count(len(cycles))} electrode cycles show no hysteresis and no dc resistance",
            "the reference did not serve within the cycle",
        ),
        (
            where(electrodes, withheld=1),
            f"{count(len(electrodes))} electrode spectra are withheld",
            "reference not fit for it",
        ),
    ):
        if held:
            cells = {row["cell"] for row in held}
            sentences.append(
                f"{count(len(held))} of {of}, in {plural(len(cells), 'cell')}: {what}."
            )
    if corrected:
        sentences.append(
            f"{count(len(corrected))} electrode cycles: an offset between two anchors is taken off."
        )
    rejected = where(data.rows["spectra"], trust="rejected")
    if rejected:
        sentences.append(
            f"{count(len(rejected))} of {count(len(data.rows['spectra']))} spectra are rejected."
        )
    return sentences


SECTION = Section("summary", "Summary", summary)
