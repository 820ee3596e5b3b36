"""How often the Kramers-Kronig test condemns sound spectra, and how often it sees a drift.

`python -m trivet.studies.random_circuits` prints the tables that stand in tests/STUDIES.md: random
circuits of arcs, diffusion and porous electrodes (closed forms), noise of a share of |Z| on both
parts, and a drift of all but the ohmic part along the sweep, from high to low frequency.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from trivet.schema.settings.science import Trust
from trivet.science.circuit import closed_forms as el
from trivet.science.impedance.kramers_kronig import screen
from trivet.science.impedance.spectrum import Trace
from trivet.science.impedance.verdict import verdict
from trivet.stages.impedance.pair import limits_of

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

FREQUENCY_HZ = np.geomspace(1e5, 1e-2, 57)
SEED, NUMBER = 20260401, 1000
NOISES = (0.0, 0.001, 0.002, 0.005)
"""Spread of the noise of each part, as share of |Z|."""
DRIFTS = (0.02, 0.05, 0.2)
"""Growth of all but the ohmic part from the first to the last point of a sweep."""


def random_circuit(random: np.random.Generator, frequency_Hz: Floats = FREQUENCY_HZ) -> Complex:
    """Impedance of a random circuit, shape (N,) [ohm].

    Parameters
    ----------
    random : numpy.random.Generator
        Source of the circuit.
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].

    Notes
    -----
    1 to 10 ohm, one to three arcs of 2 to 50 ohm with exponents 0.6 to 1 (one in three ideal), and
    by equal chance nothing more, a semi-infinite or a bounded diffusion, or a porous electrode.
    """
    parts = [el.resistor(frequency_Hz, resistance_ohm=random.uniform(1.0, 10.0))]
    for _ in range(int(random.integers(1, 4))):
        ideal = random.uniform() < 1.0 / 3.0
        parts.append(
            el.zarc(
                frequency_Hz,
                resistance_ohm=10.0 ** random.uniform(0.3, 1.7),
                time_constant_s=10.0 ** random.uniform(-5.0, 0.5),
                exponent=1.0 if ideal else random.uniform(0.6, 1.0),
            )
        )
    kind = int(random.integers(4))
    laplace = 2j * np.pi * frequency_Hz
    if kind == 1:
        size = 10.0 ** random.uniform(-0.5, 1.0)
        parts.append(el.warburg(frequency_Hz, coefficient_ohm_per_root_s=size))
    elif kind == 2:
        root = np.sqrt(laplace * 10.0 ** random.uniform(0.0, 2.5))
        parts.append(10.0 ** random.uniform(0.0, 1.5) / np.tanh(root) / root)
    elif kind == 3:
        along = 10.0 ** random.uniform(0.0, 1.5)
        charge = 10.0 ** random.uniform(-3.0, -1.5) * laplace ** random.uniform(0.8, 1.0)
        surface = 1.0 / (10.0 ** -random.uniform(0.0, 2.0) + charge)
        parts.append(np.sqrt(along * surface) / np.tanh(np.sqrt(along / surface)))
    return np.asarray(sum(parts))


def measured(
    impedance_ohm: Complex, random: np.random.Generator, *, noise: float, drift: float = 0.0
) -> Complex:
    """A spectrum as an instrument gives it, shape (N,) [ohm].

    Parameters
    ----------
    impedance_ohm : numpy.ndarray
        True impedance by falling frequency, shape (N,) [ohm].
    random : numpy.random.Generator
        Source of the noise.
    noise : float
        Spread of each part, as share of |Z| [1].
    drift : float
        Growth of all but the smallest real part along the sweep [1].
    """
    ohmic = float(impedance_ohm.real.min())
    along = np.linspace(0.0, 1.0, len(impedance_ohm))
    grown = ohmic + (impedance_ohm - ohmic) * (1.0 + drift * along)
    parts = random.standard_normal((2, len(impedance_ohm)))
    return np.asarray(grown + noise * np.abs(grown) * (parts[0] + 1j * parts[1]))


def outcome(frequency_Hz: Floats, impedance_ohm: Complex) -> tuple[str, frozenset[str]]:
    """Trust of a spectrum by the linear test alone, and the checks that speak against it."""
    screened = screen(frequency_Hz, impedance_ohm)
    used = Trace(frequency_Hz[screened.kept], impedance_ohm[screened.kept])
    found = verdict(used, limits=limits_of(Trust()), test=screened.test)
    names = {check.name for check in found.reasons}
    if screened.outliers:
        names.add("outlier")
    return found.trust, frozenset(names)


def counted(*, number: int, noise: float, drift: float) -> Counter[str]:
    """Outcomes, and checks that spoke, over random circuits."""
    counts: Counter[str] = Counter()
    for seed in range(number):
        random = np.random.default_rng([SEED, seed])
        seen = measured(random_circuit(random), random, noise=noise, drift=drift)
        trust, names = outcome(FREQUENCY_HZ, seen)
        counts[trust] += 1
        counts.update(names)
    return counts


CHECKS = ("Kramers-Kronig rms", "Kramers-Kronig pattern", "largest Kramers-Kronig residual",
          "outlier")  # fmt: skip


def table(*, number: int) -> Iterable[str]:
    """Lines of the table in Markdown: shares of the spectra in percent."""
    yield f"| noise % | drift % | trusted | suspect | rejected | {' | '.join(CHECKS)} |"
    yield "|---|" + "---|" * (4 + len(CHECKS))
    for drift in (0.0, *DRIFTS):
        for noise in NOISES:
            counts = counted(number=number, noise=noise, drift=drift)
            names = ("trusted", "suspect", "rejected", *CHECKS)
            shares = (f"{100.0 * counts[name] / number:.1f}" for name in names)
            yield f"| {100 * noise:g} | {100 * drift:g} | {' | '.join(shares)} |"


def main(argv: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="False alarms and power of Kramers-Kronig.")
    parser.add_argument("--number", type=int, default=NUMBER, help="random circuits a row")
    given = parser.parse_args(argv)
    sys.stdout.write("\n".join(table(number=given.number)) + "\n")


if __name__ == "__main__":
    main()
