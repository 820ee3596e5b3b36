"""Findings about how the life of a cell was decided, in words."""

from __future__ import annotations

from trivet.reasons import STATED_REASONS
from trivet.schema.findings.finding import Finding


def data_end(cell: str, *, last_h: float, evidence: str) -> Finding:
    """Give the finding for data that end and nothing says why.

    Parameters
    ----------
    cell : str
        Cell id.
    last_h : float
        Last row, hours since the clock start [h].
    evidence : str
        What is known.
    """
    return Finding(
        cell=cell,
        check="data end",
        severity="caution",
        message=f"The data of cell {cell} end and nothing says why: {evidence}.",
        action="censored at the last row",
        value=last_h,
        unit="h",
    )


def no_reason(
    cell: str, *, event: str, line: int, note: str = "", place: str = "the bench log"
) -> Finding:
    """Give the finding for a cell that a person stopped without saying why.

    Parameters
    ----------
    cell : str
        Cell id.
    event : str
        What the log calls it.
    line : int
        Line of the log.
    note : str
        What else stands in that line; empty where nothing does.
    place : str
        Where the line stands.
    """
    remark = f", whose note says '{note}'," if note else ""
    return Finding(
        cell=cell,
        check="stop without a reason",
        severity="caution",
        message=f"Line {line} of {place}{remark} gives no reason for '{event}' of cell "
        f"{cell}: one of {', '.join(STATED_REASONS)}.",
        action="verdicts must hold whatever became of it",
    )


def log_outranks(cell: str, *, log_h: float, rule_h: float, evidence: str) -> Finding:
    """Give the finding for a cell whose life the bench log decided against a rule.

    Parameters
    ----------
    cell : str
        Cell id.
    log_h, rule_h : float
        End of the life by the log and by the rule, hours since the clock start [h].
    evidence : str
        Both, in words.
    """
    return Finding(
        cell=cell,
        check="bench log outranks rule",
        severity="note",
        message=f"The bench log decided the life of cell {cell}: {evidence}.",
        action="bench log taken",
        value=log_h,
        limit=rule_h,
        unit="h",
    )


def log_not_placed(cell: str, *, event: str, line: int, taken_at: str) -> Finding:
    """Give the finding for a log entry of a cell whose rows have no calendar time."""
    return Finding(
        cell=cell,
        check="bench log time",
        severity="caution",
        message=f"The entry '{event}' in line {line} of the bench log can't be placed on the clock "
        f"of cell {cell}, whose raw files have no calendar time.",
        action=f"taken at {taken_at}",
    )


def log_before_start(cell: str, *, event: str, line: int, time_h: float) -> Finding:
    """Give the finding for a log entry before the clock start, `time_h` hours after it [h]."""
    return Finding(
        cell=cell,
        check="bench log time",
        severity="caution",
        message=f"The entry '{event}' in line {line} of the bench log lies before the clock start "
        f"of cell {cell}.",
        action="taken at the clock start",
        value=time_h,
        limit=0.0,
        unit="h",
    )


def not_judged(cell: str) -> Finding:
    """Give the finding for a cell with cycles of which no rule of capacity can judge one."""
    return Finding(
        cell=cell,
        check="end by capacity",
        severity="caution",
        message=f"Cell {cell} has no complete ageing cycle, so that neither its capacity nor a "
        "cut-off at once can be judged.",
        action="censored",
    )


def spectra_without_times(cell: str) -> Finding:
    """Give the finding for a cell of which there are spectra alone, and none has a time."""
    return Finding(
        cell=cell,
        check="life not observed",
        severity="caution",
        message=f"Cell {cell} was not cycled and its spectra have no calendar time, so that "
        "nothing says how long it has lived.",
        action="no life of it is counted",
    )


def no_row(cell: str, *, endpoint: str, clock: str, file: str) -> Finding:
    """Give the finding for a cell that a table of lives leaves out.

    Parameters
    ----------
    cell, endpoint, clock : str
        The life that is missing.
    file : str
        Name of the table.
    """
    return Finding(
        cell=cell,
        file=file,
        check="no data",
        severity="caution",
        message=f"Cell {cell} has no {endpoint} life in {clock} in {file}.",
        action="counted as censored at 0",
    )
