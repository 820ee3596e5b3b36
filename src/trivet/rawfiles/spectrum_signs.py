"""Signs of impedance proved by physics: resistances are positive, electrodes are capacitive."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead
from trivet.rawfiles.reading.sweeps import Sweep, find_sweeps
from trivet.schema.tables.impedance import PAIRS

_CAPACITIVE_BELOW_Hz = 1000.0
"""Above, the inductance of leads may win; common practice, no source."""
NEGATED = "negated spectrum"
REAL_SIGN = "sign of real part"
IMAGINARY_SIGN = "sign of imaginary part"


def right_signs(read: RawRead) -> RawRead:
    """Turn negated spectra of the negative; set aside spectra whose signs are not physical.

    A negative measured against the wrong pole comes with both parts negated; it is turned, with a
    finding. Any other spectrum whose real part is mostly negative, or whose imaginary part is
    mostly positive below 1 kHz, is set aside.
    """
    sweeps = find_sweeps(read)
    if not sweeps:
        return read
    read = _turned(read, [sweep for sweep in sweeps if sweep.pair == PAIRS[2] and _below(sweep)])
    sweeps = find_sweeps(read)
    real = [sweep for sweep in sweeps if _below(sweep)]
    imaginary = [sweep for sweep in sweeps if not _below(sweep) and not _capacitive(sweep)]
    read = _refused(
        read, real, REAL_SIGN, "have a real part that is mostly negative, which no resistance is"
    )
    return _refused(
        read,
        imaginary,
        IMAGINARY_SIGN,
        "have an imaginary part that is mostly positive below 1 kHz, against what the layout "
        "declares of capacitors",
    )


def _below(sweep: Sweep) -> bool:
    """Whether the real part is mostly negative."""
    return bool(np.median(sweep.read.values["real"][sweep.rows]) < 0)


def _capacitive(sweep: Sweep) -> bool:
    """Whether most points below 1 kHz are capacitive; of all points where none lies there."""
    imaginary = sweep.read.values["imaginary"][sweep.rows]
    low = sweep.read.values["frequency"][sweep.rows] < _CAPACITIVE_BELOW_Hz
    judged = imaginary[low] if np.any(low) else imaginary
    return bool(np.mean(judged < 0) >= 0.5) or not np.any(judged)


def _turned(read: RawRead, sweeps: list[Sweep]) -> RawRead:
    """Negate both parts of sweeps, with one finding."""
    if not sweeps:
        return read
    rows = np.concatenate([sweep.rows for sweep in sweeps])
    factor = np.ones(len(read.lines))
    factor[rows] = -1.0
    values = {name: read.values[name] * factor for name in ("real", "imaginary")}
    return replace(read, values={**read.values, **values}).note(
        NEGATED,
        "caution",
        f"{len(sweeps)} spectra of the negative are negated as a whole, so it was measured "
        "against the other pole",
        action="turned",
        line=int(read.lines[rows.min()]),
        value=float(len(sweeps)),
        unit="1",
    )


def _refused(read: RawRead, sweeps: list[Sweep], check: str, what: str) -> RawRead:
    """Set sweeps aside, with one finding."""
    if not sweeps:
        return read
    lines = np.concatenate([sweep.read.lines[sweep.rows] for sweep in sweeps])
    pairs = " and ".join(sorted({sweep.pair for sweep in sweeps}))
    return read.keep(~np.isin(read.lines, lines), reason=check).note(
        check,
        "fault",
        f"{len(sweeps)} spectra ({pairs}) {what}",
        action="spectra set aside",
        line=int(lines.min()),
        value=float(len(sweeps)),
        unit="1",
    )
