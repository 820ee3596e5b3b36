"""What is said of spectra: first and last ones, and what a separator adds."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.printed import PrintedColumn, PrintedTable, made, print_table, words
from trivet.report.frame.wording import MISSING, as_set, count, interval, is_missing, number, plural

_WHERE = {
    "cell": "in the cell",
    "positive": "on the side of the positive",
    "negative": "on the side of the negative",
}


def impedance(data: ReportData) -> dict[str, Any]:
    """Counts of spectra, what a separator adds, first and last resistances of every cell."""
    spectra = data.rows["spectra"]
    withheld = [row for row in spectra if row["withheld"]]
    return {
        "spectra": plural(len(spectra), "row")
        + f" of {plural(len({(r['cell'], r['spectrum']) for r in spectra}), 'measurement')}",
        "none": not spectra,
        "trust": [(state, count(len(own))) for state, own in sorted(by(spectra, "trust").items())],
        "withheld": count(len(withheld)),
        "separators": separators(data),
        "table": _first_and_last_table(data),
    }


def _first_and_last_table(data: ReportData) -> PrintedTable:
    """One row a cell: both resistances of every pair, first and last spectrum."""
    second = by(data.rows["spectra_second_pass"], "cell")
    first = by(data.rows["spectra"], "cell")
    ends = [
        {"cell": cell, "rows": by(second[cell], "pair"), "first_pass": first.get(cell, [])}
        for cell in (c for g in data.groups for c in data.cells_of(g))
        if cell in second
    ]
    resistances = [
        _pair_column(f"{quantity} {pair} [Ω]", pair, f"{quantity}_resistance_ohm")
        for quantity in ("ohmic", "polarisation")
        for pair in _WHERE
    ]
    return print_table(
        ends,
        [
            words("cell", "cell"),
            made("at [h]", _hours, numeric=True),
            *resistances,
            made("trust of the last", _trust),
        ],
        caption="First; last spectrum of each cell: fitted ohmic resistance and sum of the arcs, "
        "second pass. Standard errors stand in spectra_second_pass, all checks of all spectra in "
        f"spectra. Limits: {_spectrum_limits(data)} (settings; common practice, no source). From "
        "spectra_second_pass and spectra (trust, reasons).",
        reason="No spectra: no impedance file was read.",
        small=True,
    )


def _hours(row: Row) -> str:
    """Hours of the first and the last spectrum of a cell."""
    return _ends(max(row["rows"].values(), key=len, default=[]), "time_h")


def _ends(rows: list[Row], name: str) -> str:
    """First and last value of rows, or one where there is one row."""
    if not rows:
        return MISSING
    texts = [_value(row, name) for row in (rows[0], rows[-1])]
    return texts[0] if len(rows) == 1 else "; ".join(texts)


def _value(row: Row, name: str) -> str:
    """One number, or in a word why there is none."""
    if is_missing(row[name]) and row["reason"]:
        return str(row["reason"]).split(":")[0].split()[0]
    return number(row[name])


def _pair_column(heading: str, pair: str, name: str) -> PrintedColumn:
    """Column of one resistance of one pair."""
    return made(heading, lambda row: _ends(row["rows"].get(pair, []), name), numeric=True)


def _trust(row: Row) -> str:
    """Trust of the last spectrum, with what speaks against it once; numbers are in the table."""
    last = max((r["spectrum"] for r in row["first_pass"]), default=0)
    own = where(row["first_pass"], spectrum=last)
    states = sorted({r["trust"] for r in own}, key=("trusted", "suspect", "rejected").index)
    reasons = dict.fromkeys(
        one.split(":")[0] for r in own for one in r["reasons"].split("; ") if one
    )
    said = states[-1] if states else MISSING
    return f"{said}: {'; '.join(reasons)}" if reasons else said


def _spectrum_limits(data: ReportData) -> str:
    """Limits of the checks of spectra in words."""
    trust = data.settings.trust
    return (
        f"Kramers-Kronig suspect above {as_set(trust.kk_suspect_percent)} %, rejected above "
        f"{as_set(trust.kk_rejected_percent)} %; additivity suspect above "
        f"{as_set(trust.additivity_suspect_percent)} %, rejected above "
        f"{as_set(trust.additivity_rejected_percent)} %"
    )


def separators(data: ReportData) -> list[str]:
    """Say what one more separator adds to the ohmic resistance; nothing where no spectrum is."""
    rows = data.rows["separator_resistance"]
    if not rows or not data.rows["spectra"]:
        return []
    order = list(_WHERE)
    said = [_sentence(row) for row in sorted(rows, key=lambda r: order.index(r["pair"]))]
    return [
        "One more separator adds to the ohmic resistance at the first check-up, batches apart "
        f"({data.confidence} limits): {'; '.join(said)}. From separator_resistance."
    ]


def _sentence(row: Row) -> str:
    """What one pair says."""
    place = _WHERE[row["pair"]]
    if is_missing(row["per_separator_ohm"]):
        return f"{place} {row['reason']}"
    limits = interval(row["lower_ohm"], row["upper_ohm"])
    areal = row["areal_per_separator_ohm_cm2"]
    per_area = "" if is_missing(areal) else f", {number(areal)} Ω cm²"
    cells = plural(row["cells"], "cell")
    batches = f"{row['batches']} {'batch' if row['batches'] == 1 else 'batches'}"
    return (
        f"{place} {number(row['per_separator_ohm'])} Ω ({limits}){per_area}, {cells} of {batches}"
    )
