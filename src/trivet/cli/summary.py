"""`trivet summary`: in a few lines what a run found; a run ends with the same lines."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from trivet.errors import InputError, Problem, printable
from trivet.reasons import Trust

_SEVERITIES = ("fault", "caution", "note")
_FAULTS_NAMED = 3
"""Cells whose first fault is told; the others are named."""
_LONGEST = 160
"""Signs of a fault that are printed; the report has it whole."""


def summary(folder: Path) -> str:
    """Say what a run found.

    Parameters
    ----------
    folder : Path
        Folder with the results of one campaign, `reports/<id>`.

    Returns
    -------
    str
        Lines for the terminal: cells, verdicts, findings, what not to trust, where things lie.

    Raises
    ------
    InputError
        There is no summary in the folder.
    """
    path = folder / "summary.json"
    try:
        found = json.loads(path.read_bytes())
        lines = _lines(found)
    except FileNotFoundError:
        hint = "Give the folder of the results, reports/<id>."
        raise InputError([Problem(str(path), "is missing.", hint=hint)]) from None
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise InputError([Problem(str(path), f"is no summary: {error!r}.")]) from error
    lines.append(f"  report:   {folder / 'report.pdf'}")
    if (page := folder / "report.html").is_file():  # results of an older version have none
        lines.append(f"  web page: {page}")
    lines.append(f"  archive:  {folder / 'archive'}")
    return "\n".join(printable(line) for line in lines)


def print_summary(folder: Path) -> None:
    """Print the closing lines of a run; nothing where the run was not asked for a report."""
    if not (folder / "summary.json").is_file():
        return
    try:
        print(f"\n{summary(folder)}", flush=True)
    except InputError as error:  # the run itself went well
        print(error, file=sys.stderr)


def _lines(found: dict[str, Any]) -> list[str]:
    """What was found."""
    invented = " All data are invented." if found["invented"] else ""
    interim = " Verdicts are interim." if found["interim"] else ""
    cells = found["cells"]
    lines = [
        f"{found['title']} ({found['campaign']})",
        f"  data cut: {found['data_cut']}.{interim}{invented}",
        f"  cells:    {cells['built']} built, {cells['included']} count; "
        + _counts(cells["status"]),
    ]
    verdicts = [_verdict(one) for one in found["verdicts"] if one["verdict"]]
    lines += [f"  verdict:  {text}" for text in verdicts] or ["  verdict:  nothing was compared"]
    doubtful = {
        name: trust
        for name, trust in found["references"].items()
        if trust not in (Trust.TRUSTED, Trust.UNKNOWN)
    }
    unknown = sorted(n for n, trust in found["references"].items() if trust == Trust.UNKNOWN)
    if doubtful:
        named = ", ".join(f"{name} {trust}" for name, trust in sorted(doubtful.items()))
        lines.append(f"  references not to trust: {named}")
    if unknown:
        lines.append(f"  references of unknown offset: {', '.join(unknown)}")
    findings = {name: found["findings"].get(name, 0) for name in _SEVERITIES}
    rest = {name: n for name, n in found["findings"].items() if name not in findings}
    lines.append(f"  findings: {_counts({**findings, **rest})}")
    firsts: dict[str, dict[str, Any]] = {}
    for fault in found.get("faults", []):  # results of an older version have none
        firsts.setdefault(fault["cell"], fault)
    told = list(firsts)[:_FAULTS_NAMED]
    lines += [f"  fault:    {_fault(firsts[cell])}" for cell in told]
    others = ", ".join(cell or "the campaign" for cell in firsts if cell not in told)
    if others:
        lines[-1] += f" More in the report: {others}."
    return lines


def _fault(one: dict[str, Any]) -> str:
    """What needs a hand, in a line."""
    text = f"{one['cell']}: {one['message']}" if one["cell"] else one["message"]
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3].rstrip()}..."


def _verdict(one: dict[str, Any]) -> str:
    """One contrast in a line."""
    p = one["p_adjusted"] if one["p_adjusted"] is not None else one["p"]
    chance = "" if p is None else f", p {p:.2g} over all contrasts"
    shown = f", shown on {one['shown_on']}" if one.get("shown_on") else ""
    return (
        f"{one['factor']}, {one['endpoint']} life in {one['clock']}: "
        f"{one['group']} against {one['control']}: {one['verdict']}{shown} "
        f"({one['events']} of {one['cells']} ended against "
        f"{one['control_events']} of {one['control_cells']}{chance})"
    )


def _counts(counts: dict[str, int]) -> str:
    """Counts in words."""
    return ", ".join(f"{name} {number}" for name, number in counts.items())
