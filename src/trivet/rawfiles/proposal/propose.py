"""A layout for an unknown file: proposed with evidence, never applied by itself."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from trivet.rawfiles.layout.declared import layout_named
from trivet.rawfiles.layout.header import find_header
from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.layout.units import kind_of
from trivet.rawfiles.proposal.columns import guess_columns
from trivet.rawfiles.proposal.guesses import ColumnGuess
from trivet.rawfiles.proposal.pairs import open_pairs
from trivet.rawfiles.proposal.starts import StartGuess, guess_start
from trivet.rawfiles.proposal.text import TextGuess, guess_text
from trivet.rawfiles.proposal.wide import frequencies_of, guess_wide, holds_frequencies
from trivet.rawfiles.proposal.words import words_of
from trivet.rawfiles.reading.spreadsheet import is_workbook
from trivet.rawfiles.series import read_series
from trivet.rawfiles.spectra import read_spectra
from trivet.rawfiles.spectrum_signs import IMAGINARY_SIGN
from trivet.rawfiles.text.text_file import RawFileError, read_text
from trivet.rawfiles.two_currents import CHARGE, DISCHARGE
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.block import DECIDE
from trivet.schema.settings.raw import Layout, LayoutColumn, PairWords, Raw

_NAME = "proposed"
BDF = "bdf"
SIGN_KEYS = {"cycling": "charging_current", "impedance": "capacitive_imaginary"}
"""Setting of the sign by what a file holds; it is in the evidence of a proposal where proved."""
BY_DIFFERENCE = "potentials by their difference"
"""In the evidence of a proposal where no header says which column is which electrode."""
_WORDS = 3
_POTENTIALS = ("positive potential", "negative potential")
_SOFT = ("pair", "positive potential")
"""Quantities whose question leaves the file readable."""
_ALIKE = 12
_CELL = "cell"
_SIGN = "sign of current"
_OWN_SIGN = "charge and discharge have a column each"
_EXCHANGED = (
    "current: the voltage falls where the column named for charge has a current; are the two "
    "columns exchanged? Declare each by what it holds."
)


@dataclass(frozen=True)
class Proposal:
    """What is proposed for a file.

    Attributes
    ----------
    path : Path
        The file.
    content : str
        `cycling` or `impedance`.
    layout : Layout or None
        None where the open Battery Data Format reads it.
    evidence : dict of str to str
        By setting, or by header of a column.
    left_out : tuple of str
        Columns that are not used, and why.
    questions : tuple of str
        What can't be told; a layout with any is not to be used as it stands.
    rows : dict of str to numpy.ndarray
        Columns of the table `series` or `spectrum_points`, as the layout reads the file.
    findings : tuple of Finding
        What reading it so found.
    """

    path: Path
    content: str
    layout: Layout | None
    evidence: dict[str, str]
    left_out: tuple[str, ...]
    questions: tuple[str, ...]
    rows: dict[str, Any]
    findings: tuple[Finding, ...]

    @property
    def name(self) -> str:
        """Name for the layout: what the file holds, its columns, and four signs of all the rest.

        Equal layouts have equal names, others others, so that proposals can stand side by side.
        """
        if self.layout is None:
            return BDF
        named = (
            "current",
            CHARGE,
            "cell voltage",
            "positive potential",
            "frequency",
            "real",
            "modulus",
        )
        headers = {column.quantity: column.header for column in self.layout.columns}
        words = [word for quantity in named if quantity in headers
                 for word in words_of(headers[quantity])]  # fmt: skip
        digest = hashlib.sha256(self.layout.model_dump_json().encode()).hexdigest()
        return "-".join([self.content, *dict.fromkeys(words[:_WORDS]), digest[:4]])


def propose(path: Path, *, others: Sequence[Path] = (), time_zone: str = "UTC") -> Proposal:
    """Propose a layout for a file.

    Parameters
    ----------
    path : Path
        The file.
    others : sequence of Path
        Files beside it, one of which may hold the exact frequencies of a wide table.
    time_zone : str
        IANA zone of times of day, for the preview.

    Raises
    ------
    OSError
        The file can't be read.
    RawFileError
        It is no table that could have a layout.
    """
    known = None if is_workbook(path) else _open_format(path, time_zone)
    if known is not None:
        return known
    guess = guess_text(path)
    columns, left = guess_columns(guess)
    wide = guess_wide(guess.header)
    if wide:
        columns = [column for column in columns if column.quantity not in ("real", "imaginary")]
        left = [text for text in left if "real stands" not in text and "imaginary st" not in text]
    content = "impedance" if wide or _has(columns, "frequency") else "cycling"
    columns, left = _of_content(columns, left, content, wide=bool(wide))
    evidence = dict(guess.evidence) | {column.header: column.evidence for column in columns}
    proofs = [column.evidence for column in columns if column.by_difference]
    evidence |= dict.fromkeys([BY_DIFFERENCE] * bool(proofs), "".join(proofs[:1]))
    evidence |= dict.fromkeys(wide, "headers that differ by a number only")
    soft = [c.question for c in columns if c.question and c.quantity in _SOFT and _is_known(c)]
    swapped = any(
        c.question and c.quantity == "positive potential" and _is_known(c) for c in columns
    )
    questions = [*guess.questions, *(c.question for c in columns if c.question not in ("", *soft))]
    start = None if wide else _start(guess, columns, path, others)
    if start is not None:
        evidence |= {"start_line": start.evidence, "start_format": start.evidence}
        soft += [start.question] if start.question else []
        settings = {"start_line": start.words, "start_format": start.format}
    else:
        settings = {}
    if _has(columns, CHARGE) and _has(columns, DISCHARGE):
        evidence[SIGN_KEYS["cycling"]] = _OWN_SIGN
    questions += _lacking(columns, content, bool(wide), guess)
    if wide:
        wide |= _exact(guess, wide, others, path, evidence)
    if questions:
        layout = _layout(guess, columns, wide | settings) if columns else None
        if SIGN_KEYS[content] not in evidence:
            why = "The data can prove it once the rest is clear."
            questions.append(_sign_question(content, why))
        questions += soft
        return Proposal(path, content, layout, evidence, tuple(left), tuple(questions), {}, ())
    made = _proved(
        path, content, _layout(guess, columns, wide | settings), evidence, left, time_zone
    )
    if swapped and made.layout is not None:
        made = replace(made, layout=_undecided(made.layout))
    if start is not None and start.question and made.layout is not None:
        # No value that a run would take: who pastes it unread is stopped by the check.
        made = replace(made, layout=made.layout.model_copy(update={"start_line": DECIDE}))
    return replace(made, questions=(*made.questions, *soft))


def _has(columns: Sequence[ColumnGuess], quantity: str) -> bool:
    """Whether a quantity is among the columns."""
    return any(column.quantity == quantity for column in columns)


def _of_content(
    columns: list[ColumnGuess], left: list[str], content: str, *, wide: bool
) -> tuple[list[ColumnGuess], list[str]]:
    """Columns that the reading of cycling or of impedance uses."""
    impedance = {"frequency", "real", "imaginary", "modulus", "phase", "pair"}
    if content == "cycling":
        unused = impedance | {"capacity", "cell"}
    else:
        unused = {"current", "cell voltage", "positive potential", "negative potential", "step"}
        unused |= {
            CHARGE,
            DISCHARGE,
            "state",
            "temperature",
            "elapsed time",
            "charge counter",
            "discharge counter",
        }
        unused |= set() if wide else {"cell", "capacity"}
    kept = [column for column in columns if column.quantity not in unused]
    gone = [f"'{c.header}': not used for {content}" for c in columns if c.quantity in unused]
    return kept, [*left, *gone]


def _is_known(column: ColumnGuess) -> bool:
    """Whether the unit of a column is known, so that a question about it stops no reading."""
    return not kind_of(column.quantity) or bool(column.unit)


def _undecided(layout: Layout) -> Layout:
    """The same with both potentials to be decided: no value that a run would take."""
    columns = [
        column.model_copy(update={"quantity": DECIDE}) if column.quantity in _POTENTIALS else column
        for column in layout.columns
    ]
    return layout.model_copy(update={"columns": columns})


def _start(
    guess: TextGuess, columns: Sequence[ColumnGuess], path: Path, others: Sequence[Path]
) -> StartGuess | None:
    """The line that states the start, where no column holds times of the calendar."""
    if _has(columns, "absolute time") or _has(columns, "unix time"):
        return None
    alone = guess_start(guess)
    if alone is None or not alone.question:
        return alone
    alike = list[TextGuess]()
    for other in others[:_ALIKE]:
        try:
            read = guess_text(other) if other != path else guess
        except (OSError, RawFileError):
            # A file of another kind beside this one proves nothing about its dates.
            continue
        alike += [read] if read.header == guess.header else []
    return guess_start(guess, alike)


def _lacking(
    columns: Sequence[ColumnGuess], content: str, wide: bool, guess: TextGuess
) -> list[str]:
    """Questions for what reading can't do without."""
    headers = ", ".join(f"'{header}'" for header in guess.header[:20])
    out = []
    if content == "cycling":
        times = ("elapsed time", "absolute time", "unix time")
        if not any(_has(columns, quantity) for quantity in times):
            out.append(f"time: which column is it? Headers are {headers}.")
        if not any(_has(columns, quantity) for quantity in ("current", CHARGE, DISCHARGE)):
            out.append(f"current: which column is it? Headers are {headers}.")
        both = _has(columns, "positive potential") and _has(columns, "negative potential")
        if not _has(columns, "cell voltage") and not both:
            out.append(f"cell voltage: which column is it? Headers are {headers}.")
    elif not wide:
        cartesian = _has(columns, "real") and _has(columns, "imaginary")
        if not cartesian and not (_has(columns, "modulus") and _has(columns, "phase")):
            out.append(f"impedance: which columns are its parts? Headers are {headers}.")
    return out


def _exact(
    guess: TextGuess,
    wide: dict[str, str],
    others: Sequence[Path],
    path: Path,
    evidence: dict[str, str],
) -> dict[str, str]:
    """Setting for the file with the exact frequencies, where one of the others is it."""
    shown = frequencies_of(guess.header, wide["wide_real"])
    for other in others:
        if other != path and holds_frequencies(other, shown):
            evidence["frequencies_file"] = "as many, each within 10 % of its header"
            return {"frequencies_file": other.name}
    return {}


def _layout(guess: TextGuess, columns: Sequence[ColumnGuess], wide: dict[str, str]) -> Layout:
    """Settings of the layout."""
    paired = next((column for column in columns if column.quantity == "pair"), None)
    words = PairWords() if paired is None else open_pairs(guess.column(paired.place))
    declared = [
        LayoutColumn(
            header=column.header,
            quantity=column.quantity,  # type: ignore[arg-type]
            unit=column.unit,
            format=column.format,
        )
        for column in columns
    ]
    return Layout(
        encoding=guess.encoding,
        delimiter=guess.delimiter,  # type: ignore[arg-type]
        decimal=guess.decimal,  # type: ignore[arg-type]
        header_rows=guess.header_rows,
        unit_row=guess.unit_row,
        columns=declared,
        pair_words=words,
        **wide,  # type: ignore[arg-type]
    )


def _open_format(path: Path, time_zone: str) -> Proposal | None:
    """The open format, where its terms and its sign hold; None otherwise."""
    layout = layout_named(Raw(), name=BDF, time_zone=time_zone)
    try:
        header = find_header(read_text(path, encoding="utf-8").head(), layout=layout)
    except RawFileError:
        return None
    impedance = "frequency" in header.columns
    if not impedance and not {"current", "cell voltage"} <= set(header.columns):
        return None
    content = "impedance" if impedance else "cycling"
    rows, findings = _read(path, content, None, time_zone)
    if _contradicted(findings):
        return None
    named = ", ".join(f"'{header.cells[place]}'" for place, _ in header.columns.values())
    evidence = {BDF: f"headers of the open Battery Data Format: {named}"}
    return Proposal(path, content, None, evidence, (), (), rows, findings)


def _read(
    path: Path, content: str, layout: Layout | None, time_zone: str
) -> tuple[dict[str, Any], tuple[Finding, ...]]:
    """Read the file by a layout, for proofs and preview."""
    name = BDF if layout is None else _NAME
    raw = Raw(layouts={} if layout is None else {_NAME: layout})
    file = RawFile(path, path.name, content, name, pair=_CELL, folder=path.parent)
    if content == "cycling":
        series = read_series([file], facts=CellFacts(_CELL, ""), raw=raw, time_zone=time_zone)
        return series.columns, (*series.findings, *series.reads[0].findings)
    cell = _first_cell(path, layout) if layout is not None else _CELL
    spectra = read_spectra([file], cell=cell, raw=raw, time_zone=time_zone)
    return spectra.columns, (*spectra.findings, *spectra.reads[0].findings)


def _first_cell(path: Path, layout: Layout) -> str:
    """Name of the first cell of a table that names several."""
    header = next((c.header for c in layout.columns if c.quantity == "cell"), None)
    if header is None:
        return _CELL
    guess = guess_text(path)
    return guess.column(guess.header.index(header))[0]


def _contradicted(findings: Sequence[Finding]) -> bool:
    """Whether the data speak against a declared sign."""
    return any(f.check in (_SIGN, IMAGINARY_SIGN) and f.severity == "fault" for f in findings)


def _proved(
    path: Path,
    content: str,
    layout: Layout,
    evidence: dict[str, str],
    left: Sequence[str],
    time_zone: str,
) -> Proposal:
    """A layout whose sign is proved by reading the file with it, or a question."""
    key = SIGN_KEYS[content]
    rows, findings = _read(path, content, layout, time_zone)
    if SIGN_KEYS["cycling"] in evidence:
        contradicted = [_EXCHANGED] if _contradicted(findings) else []
        faults = [f"{f.message}." for f in findings if f.severity == "fault" and f.check != _SIGN]
        return Proposal(
            path, content, layout, evidence, tuple(left), (*contradicted, *faults), rows, findings
        )
    if _contradicted(findings):
        turned = "negative" if content == "cycling" else "positive"
        layout = Layout.model_validate(layout.model_dump() | {key: turned})
        rows, findings = _read(path, content, layout, time_zone)
    questions = []
    unproved = any(f.check == _SIGN and f.severity == "note" for f in findings)
    if content == "impedance" and not _clear(rows):
        unproved = True
    if _contradicted(findings) or unproved:
        questions.append(_sign_question(content, "The data do not prove it."))
    proof = {
        "charging_current": "the voltage rises where the current is of this sign",
        "capacitive_imaginary": "most points below 1 kHz are of this sign",
    }
    told = evidence if questions else evidence | {key: proof[key]}
    return Proposal(path, content, layout, told, tuple(left), tuple(questions), rows, findings)


def _sign_question(content: str, why: str) -> str:
    """Ask for a sign."""
    what = "current: is charging" if content == "cycling" else "imaginary part: is a capacitor"
    return (
        f"sign of the {what} positive or negative in this file? {why} "
        f"Declare '{SIGN_KEYS[content]}'."
    )


def _clear(rows: dict[str, Any]) -> bool:
    """Whether points below 1 kHz prove that the imaginary part has its sign."""
    frequency, imaginary = rows["frequency_Hz"], rows["imaginary_ohm"]
    judged = imaginary[frequency < 1000.0] if len(frequency) else imaginary
    return bool(len(judged)) and float(np.mean(judged < 0)) > 0.5
