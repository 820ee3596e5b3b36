"""Writers of raw impedance files, one for each layout that the campaign declares."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from trivet.demo.cycler import CheckUp
from trivet.demo.layouts import local_times
from trivet.demo.plan import CellPlan
from trivet.demo.protocol import CellRun
from trivet.demo.spectra import FREQUENCIES_HZ, measured_spectra_ohm
from trivet.schema.tables.impedance import PAIRS

File = tuple[str, bytes]


def _semicolon(plan: CellPlan, check_up: CheckUp, spectra: dict[str, np.ndarray]) -> list[File]:
    """One file a check-up with a column of pairs; milliohm, capacitive positive, local time."""
    moment = local_times(plan, unix_s=np.full(2, _start_s(plan, check_up)))[0]
    lines = ["Zeitpunkt;Paar;Frequenz [Hz];Realteil [mOhm];neg. Imaginärteil [mOhm]\r\n"]
    for pair in PAIRS:
        for frequency, value in zip(FREQUENCIES_HZ, spectra[pair] * 1000.0, strict=True):
            numbers = f"{frequency:.6g};{value.real:.3f};{-value.imag:.3f}".replace(".", ",")
            lines.append(f"{moment};{pair};{numbers}\r\n")
    name = f"raw/impedance-semicolon/{plan.cell}_{check_up.cycle}.csv"
    return [(name, "".join(lines).encode("cp1252"))]


def _unit_row(plan: CellPlan, check_up: CheckUp, spectra: dict[str, np.ndarray]) -> list[File]:
    """One file a pair; tabs, a row of units, kilohertz, rising frequency."""
    unix_s, files = _start_s(plan, check_up), []
    for pair in PAIRS:
        lines = ["t unix\tf\tZ real\tZ imag\ns\tkHz\tohm\tohm\n"]
        points = zip(FREQUENCIES_HZ[::-1] / 1000.0, spectra[pair][::-1], strict=True)
        lines += [f"{unix_s:.0f}\t{f:.6e}\t{z.real:.5f}\t{z.imag:.5f}\n" for f, z in points]
        name = f"raw/impedance-unit-row/{plan.cell}_{check_up.cycle}_{pair}.txt"
        files.append((name, "".join(lines).encode()))
    return files


def _polar(plan: CellPlan, check_up: CheckUp, spectra: dict[str, np.ndarray]) -> list[File]:
    """One file a pair; modulus and phase."""
    unix_s, files = _start_s(plan, check_up), []
    for pair in PAIRS:
        lines = ["unix_s,f_Hz,modulus_ohm,phase_deg\n"]
        for frequency, value in zip(FREQUENCIES_HZ, spectra[pair], strict=True):
            phase_deg = np.degrees(np.angle(value))
            lines.append(f"{unix_s:.0f},{frequency:.7g},{abs(value):.6f},{phase_deg:.5f}\n")
        name = f"raw/impedance-polar/{plan.cell}_{check_up.cycle}_{pair}.csv"
        files.append((name, "".join(lines).encode()))
    return files


def _bdf(plan: CellPlan, check_up: CheckUp, spectra: dict[str, np.ndarray]) -> list[File]:
    """One file a pair with the headers of the open Battery Data Format."""
    unix_s, files = _start_s(plan, check_up), []
    for pair in PAIRS:
        lines = [
            "Unix Time / s,Frequency / Hz,Real Impedance / ohm,Imaginary Impedance / ohm\n",
            *(
                f"{unix_s:.0f},{f:.7g},{z.real:.6f},{z.imag:.6f}\n"
                for f, z in zip(FREQUENCIES_HZ, spectra[pair], strict=True)
            ),
        ]
        name = f"raw/impedance-bdf/{plan.cell}_{check_up.cycle}_{pair}.bdf.csv"
        files.append((name, "".join(lines).encode()))
    return files


def _start_s(plan: CellPlan, check_up: CheckUp) -> float:
    """Unix time at which a spectrum was started [s]."""
    return plan.crimped_at.timestamp() + 3600.0 * check_up.hours


_Writer = Callable[[CellPlan, CheckUp, dict[str, np.ndarray]], list[File]]
_WRITERS: dict[str, _Writer] = {
    "semicolon": _semicolon,
    "unit-row": _unit_row,
    "discharge-positive": _polar,
    "bdf": _bdf,
}


def impedance_files(run: CellRun) -> Iterator[File]:
    """Paths below the campaign folder and contents of a cell's impedance files."""
    for check_up in run.check_ups:
        spectra = measured_spectra_ohm(run.plan, check_up=check_up)
        yield from _WRITERS[run.plan.role.layout](run.plan, check_up, spectra)
