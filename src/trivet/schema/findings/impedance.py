"""Findings of the stage impedance in words."""

from __future__ import annotations

from trivet.schema.findings.finding import Finding

NOT_PLACED = "no calendar time, or the cell's cycling rows have none"


def no_spectra(cell: str) -> Finding:
    """Say that the cell has no spectrum."""
    return Finding(cell, "no spectrum", "note", "No spectrum was read for this cell.", "none")


def hours_from_first_spectrum(cell: str) -> Finding:
    """Say that hours count from the first spectrum."""
    return Finding(
        cell,
        "start of the hours",
        "caution",
        "The cell has no clock start in the build sheet and no cycling rows; hours of its spectra "
        "count from the first spectrum.",
        "hours from the first spectrum",
    )


def not_placed(cell: str, *, spectra: int) -> Finding:
    """Say that spectra have no place on the cell's clock."""
    return Finding(
        cell,
        "time of spectra",
        "caution",
        f"{spectra} spectra can't be placed on the cell's clock ({NOT_PLACED}).",
        "time left empty, cycle as the file states it; electrodes withheld, since what the "
        "reference serves at the time is unknown: give spectra a time by a column, or their cycle "
        "by {cycle} in the file name",
        value=float(spectra),
        unit="1",
    )


def placed_by_cycle(cell: str, *, spectra: int) -> Finding:
    """Say that spectra without a time were placed by the cycle that their file states."""
    return Finding(
        cell,
        "time of spectra",
        "note",
        f"{spectra} spectra have no time; each was placed at the end of the cycle that its file "
        "states.",
        "hours of the end of that cycle",
        value=float(spectra),
        unit="1",
    )


def invalid_point(cell: str, *, file: str, line: int) -> Finding:
    """Say that a row is no impedance."""
    return Finding(
        cell,
        "spectrum point",
        "note",
        "The row has no positive frequency, or its impedance is zero or not finite.",
        "row set aside",
        file=file,
        line=line,
    )


def copied_points(cell: str, *, name: str, count: int, file: str, line: int) -> Finding:
    """Say that rows repeat earlier rows of the same spectrum."""
    return Finding(
        cell,
        "copied spectrum point",
        "note",
        f"{name}: {count} row(s) repeat frequency and impedance of an earlier row exactly.",
        "copies set aside",
        file=file,
        line=line,
        value=float(count),
        unit="1",
    )


def outside_window(cell: str, *, count: int, lowest_Hz: float, highest_Hz: float) -> Finding:
    """Say how many points the frequency window leaves out."""
    return Finding(
        cell,
        "frequency window",
        "note",
        f"{count} spectrum point(s) lie outside {lowest_Hz:g} to {highest_Hz:g} Hz.",
        "points set aside",
        value=float(count),
        unit="1",
    )


def turned(cell: str, *, name: str, file: str) -> Finding:
    """Say that a spectrum came wholly negated."""
    return Finding(
        cell,
        "negated spectrum",
        "note",
        f"{name}: nearly every real part is negative; a negative is often recorded against "
        "the current of the positive.",
        "both parts turned before the checks",
        file=file,
    )


def outlier(
    cell: str,
    *,
    name: str,
    frequency_Hz: float,
    residual: float,
    limit: float,
    place: tuple[str, int],
) -> Finding:
    """Say that a point does not fit its spectrum."""
    return Finding(
        cell,
        "spectrum outlier",
        "note",
        f"{name}: the point at {frequency_Hz:.4g} Hz is {100 * residual:.2f} % off the linear "
        f"Kramers-Kronig model, limit {100 * limit:.2f} %.",
        "point set aside, test repeated",
        file=place[0],
        line=place[1],
        value=100 * residual,
        limit=100 * limit,
        unit="%",
    )


def not_fitted(cell: str, *, name: str, file: str, reason: str) -> Finding:
    """Say why no model was fitted."""
    return Finding(
        cell,
        "no fit",
        "caution",
        f"{name}: no model was fitted: {reason}.",
        "fitted values left empty",
        file=file,
    )


def distrusted(
    cell: str,
    *,
    name: str,
    file: str,
    trust: str,
    text: str,
    value: float | None,
    limit: float | None,
    unit: str,
) -> Finding:
    """Say why a spectrum is not trusted."""
    return Finding(
        cell,
        "trust of a spectrum",
        "caution",
        f"{name}: {text}.",
        f"spectrum {trust}",
        file=file,
        value=value,
        limit=limit,
        unit=unit,
    )


def additivity_not_testable(cell: str, *, spectra: int) -> Finding:
    """Say for how many spectra the sum of the electrodes can't be held against the cell."""
    return Finding(
        cell,
        "additivity",
        "note",
        f"Additivity is not testable in {spectra} spectra: a pair is missing, the frequencies of "
        "the pairs differ, or one pair was derived from the others.",
        "additivity left empty",
        value=float(spectra),
        unit="1",
    )


def misplaced(cell: str, *, count: int, of: int) -> Finding:
    """Say that the reference of a cell may sit in the wrong place."""
    return Finding(
        cell,
        "suspect reference geometry",
        "caution",
        f"In {count} of {of} measurements the spectra of the electrodes have the shape that a "
        "misplaced reference gives them, by loops, a falling real part, mirror features or the "
        "share of resistance; the sum of both and the cell are not touched by it.",
        "electrode spectra suspect; reasons stand in spectra",
        value=float(count),
        limit=0.0,
        unit="1",
    )


def withheld(cell: str, *, count: int, points: int) -> Finding:
    """Say how many electrode spectra are withheld."""
    return Finding(
        cell,
        "withheld spectra",
        "caution",
        f"{count} electrode spectra were taken while the reference did not serve for impedance.",
        f"their numbers and {points} points of their curves withheld; the rows stay",
        value=float(count),
        unit="1",
    )
