"""`trivet layout`: propose how unknown raw files are laid out, with the evidence."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from trivet.errors import InputError, Problem
from trivet.rawfiles.layout.pair_words import meant_pair
from trivet.rawfiles.proposal.propose import SIGN_KEYS, Proposal, propose
from trivet.rawfiles.text.text_file import RawFileError
from trivet.schema.settings.block import DECIDE
from trivet.schema.settings.raw import Layout, LayoutColumn

_SETTINGS = (
    "encoding",
    "delimiter",
    "decimal",
    "header_rows",
    "unit_row",
    "start_line",
    "start_format",
    "charging_current",
    "capacitive_imaginary",
    "wide_real",
    "wide_imaginary",
    "frequencies_file",
)
_CYCLING = ("time_s", "current_mA", "cell_V", "positive_V", "negative_V", "temperature_degC")
_IMPEDANCE = ("time_s", "frequency_Hz", "real_ohm", "imaginary_ohm")
_SHOWN = 2


def layout(files: Sequence[Path]) -> tuple[str, list[Problem]]:
    """Propose layouts for files.

    Parameters
    ----------
    files : sequence of Path
        Raw files; a list of frequencies beside a wide table is taken as part of it.

    Returns
    -------
    str
        Proposals, for the terminal.
    list of Problem
        Questions that only a person can answer.

    Raises
    ------
    InputError
        No file could be understood at all.
    """
    texts, questions = [], []
    proposals, failed = _proposals(files)
    used = {
        path
        for proposal in proposals
        for path in files
        if proposal.layout is not None and proposal.layout.frequencies_file == path.name
    }
    questions += [problem for path, problem in failed if path not in used]
    for proposal in proposals:
        texts.append(describe(proposal))
        questions += [Problem(str(proposal.path), text) for text in proposal.questions]
    if not texts:
        raise InputError(questions)
    return "\n\n".join(texts), questions


def _proposals(files: Sequence[Path]) -> tuple[list[Proposal], list[tuple[Path, Problem]]]:
    """Proposals, and the files that have none."""
    made, failed = [], []
    for path in files:
        try:
            made.append(propose(path, others=files))
        except RawFileError as fault:
            failed.append((path, Problem(str(path), f"{fault.check}: {fault.message}.")))
        except OSError as error:
            failed.append((path, Problem(str(path), f"can't be read: {error.strerror}.")))
    return made, failed


def describe(proposal: Proposal) -> str:
    """A proposal as text: YAML to paste, then a preview."""
    lines = [f"# {proposal.path}", "raw:", f"  {proposal.content}:"]
    lines.append(f"    - {_pattern(proposal, proposal.name)}  # put your folder and {{cell}} here")
    if proposal.layout is None:
        lines.append(f"    # {next(iter(proposal.evidence.values()))}")
    else:
        lines += ["  layouts:", f"    {proposal.name}:", *_layout_lines(proposal, proposal.layout)]
    lines += [f"# left out: {text}" for text in proposal.left_out]
    given = proposal.layout.columns if proposal.layout is not None else []
    if any(c.quantity == "absolute time" and "%z" not in c.format for c in given):
        lines.append(
            "# times of day count in the campaign's time zone, or give the layout 'time_zone';"
            " the preview takes UTC"
        )
    if proposal.content == "impedance" and not _timed(proposal):
        lines.append(
            "# no column holds a time: without one the trust of the reference at a spectrum is not"
            " known, and spectra of electrodes are withheld"
        )
    lines += _preview(proposal)
    lines += [f"# question: {text}" for text in proposal.questions]
    return "\n".join(lines)


def _timed(proposal: Proposal) -> bool:
    """Whether a column says when; files of the open format may have one without being asked."""
    given = proposal.layout
    return (
        given is None
        or bool(given.start_line)
        or any("time" in column.quantity for column in given.columns)
    )


def _pattern(proposal: Proposal, name: str) -> str:
    """A pattern of files."""
    given = proposal.layout
    by_column = given is not None and any(c.quantity == "cell" for c in given.columns)
    files = f"raw/{proposal.path.name if by_column else '{cell}' + proposal.path.suffix}"
    paired = given is not None and any(c.quantity == "pair" for c in given.columns)
    pair = "" if proposal.content == "cycling" or paired else f", pair: {_pair(proposal)}"
    return f"{{files: {json.dumps(files)}, layout: {name}{pair}}}"


def _pair(proposal: Proposal) -> str:
    """Pair that a word of the file's name says; `decide` where none does."""
    words = re.split(r"[\W_]+", proposal.path.stem)
    return next((pair for word in words if (pair := meant_pair(word))), DECIDE)


def _layout_lines(proposal: Proposal, given: Layout) -> list[str]:
    """Settings of the layout, each with its evidence."""
    lines = []
    for key in _SETTINGS:
        value = getattr(given, key)
        sign = key in SIGN_KEYS.values()
        if value == "" or (sign and key != SIGN_KEYS[proposal.content]):
            continue
        if sign and key not in proposal.evidence:
            # No value that a run would take: who pastes it unread is stopped by the check.
            lines.append(f"      {key}: decide  # positive or negative, not proved")
            continue
        shown = json.dumps(value, ensure_ascii=False)
        lines.append(f"      {key}: {shown}  # {proposal.evidence.get(key, '')}".rstrip(" #"))
    words = {pair: listed for pair, listed in given.pair_words.model_dump().items() if listed}
    if words:
        lines.append(f"      pair_words: {json.dumps(words)}  # words for each, not known")
    lines.append(f"      columns:  # {proposal.evidence['header']}")
    return lines + [
        f"        - {_column(column)}  # {proposal.evidence[column.header]}"
        for column in given.columns
    ]


def _column(column: LayoutColumn) -> str:
    """One column in YAML."""
    parts = [f"header: {json.dumps(column.header, ensure_ascii=False)}"]
    parts.append(f"quantity: {column.quantity}")
    for key in ("unit", "format"):
        if getattr(column, key):
            parts.append(f"{key}: {json.dumps(getattr(column, key), ensure_ascii=False)}")
    return "{" + ", ".join(parts) + "}"


def _preview(proposal: Proposal) -> list[str]:
    """First and last rows in our units, as comments."""
    names: tuple[str, ...] = _CYCLING if proposal.content == "cycling" else _IMPEDANCE
    rows = proposal.rows
    count = len(rows["time_s"]) if rows else 0
    if not count:
        return []
    shown = [*range(min(_SHOWN, count)), *range(max(count - _SHOWN, _SHOWN), count)]
    names = tuple(name for name in names if any(rows[name][at] == rows[name][at] for at in shown))
    lines = [f"# {count} rows read; the first and the last:", f"#   {' | '.join(names)}"]
    return lines + [
        "#   " + " | ".join(_value(name, rows[name][at]) for name in names) for at in shown
    ]


def _value(name: str, value: Any) -> str:  # noqa: ANN401
    """One number; a Unix time as a date too."""
    if name == "time_s" and value > 1e8:
        return datetime.fromtimestamp(float(value), UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    return f"{float(value):.6g}"
