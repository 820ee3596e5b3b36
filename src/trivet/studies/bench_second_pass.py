"""How long a fit with held exponents and a distribution of relaxation times take, beside scipy.

`python -m trivet.studies.bench_second_pass` prints milliseconds a spectrum, and the ratio of one
fit to `scipy.optimize.least_squares` on the bare problem from the same start.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.solver import Problem
from trivet.science.impedance.fixed_exponents import fit_fixed
from trivet.science.impedance.relaxation import distribution

SPECTRA = 60
NOISE = 0.005
ALLOWED_RATIO = 1.0
EXPONENTS = {"n1": 0.85, "n2": 0.80}
CIRCUIT = Circuit(2, "warburg", inductance=False)
TRUTH = np.array([4.0, 15.0, 2e-4, 0.85, 30.0, 2e-2, 0.80, 3.0])
FREQUENCY_HZ = np.geomspace(1e5, 1e-2, 60)


@dataclass(frozen=True)
class Timing:
    """Milliseconds a spectrum: fit, the same by scipy on the bare problem, distribution."""

    fit_ms: float
    scipy_ms: float
    distribution_ms: float

    @property
    def ratio(self) -> float:
        """Fit over scipy."""
        return self.fit_ms / self.scipy_ms


def spectra(count: int = SPECTRA) -> list[np.ndarray]:
    """Noisy spectra of two arcs and a diffusion tail, 60 frequencies each."""
    exact = CIRCUIT.impedance(FREQUENCY_HZ, TRUTH)
    random = np.random.default_rng(1)
    drawn = random.standard_normal((count, 2, len(exact)))
    return [exact + NOISE * np.abs(exact) * (one[0] + 1j * one[1]) for one in drawn]


def bare(impedance_ohm: np.ndarray) -> np.ndarray:
    """Fit the same by scipy alone, with its own differences; logarithms of the parameters."""
    laplace = 2j * np.pi * FREQUENCY_HZ
    start = Problem(FREQUENCY_HZ, impedance_ohm, CIRCUIT).start(0)

    def misfit(logs: np.ndarray) -> np.ndarray:
        r0, r1, t1, r2, t2, sigma = np.exp(logs)
        model = r0 + r1 / (1 + (laplace * t1) ** EXPONENTS["n1"])
        model = model + r2 / (1 + (laplace * t2) ** EXPONENTS["n2"])
        away = (model + sigma * (1 - 1j) / np.sqrt(laplace.imag) - impedance_ohm) / np.abs(
            impedance_ohm
        )
        return np.concatenate([away.real, away.imag])

    return np.asarray(least_squares(misfit, np.delete(start, [3, 6]), method="lm").x)


def _mean_ms(work: Callable[[np.ndarray], object], measured: list[np.ndarray]) -> float:
    """Mean processor time of one spectrum, the best of three rounds [ms]."""
    rounds = []
    for _ in range(3):
        start = time.process_time()
        for one in measured:
            work(one)
        rounds.append(time.process_time() - start)
    return 1e3 * min(rounds) / len(measured)


def measure(count: int = SPECTRA) -> Timing:
    """Time all three on the same spectra."""
    measured = spectra(count)
    fit_ms = _mean_ms(
        lambda z: fit_fixed(FREQUENCY_HZ, z, circuit=CIRCUIT, exponents=EXPONENTS, starts=1),
        measured,
    )
    distribution_ms = _mean_ms(
        lambda z: distribution(FREQUENCY_HZ, z, regularisation=1e-2), measured
    )
    return Timing(fit_ms, _mean_ms(bare, measured), distribution_ms)


def main() -> int:
    """Print the times; 1 where a fit takes longer than scipy alone."""
    found = measure()
    sys.stdout.write(
        f"second pass: {found.fit_ms:.2f} ms a fit, scipy alone {found.scipy_ms:.2f} ms, ratio "
        f"{found.ratio:.2f}, limit {ALLOWED_RATIO:g}; relaxation times "
        f"{found.distribution_ms:.2f} ms a spectrum\n"
    )
    return int(found.ratio > ALLOWED_RATIO)


if __name__ == "__main__":
    sys.exit(main())
