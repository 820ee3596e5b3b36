"""Spectra: processor time of the whole chain and of one fit, beside scipy on the bare problem.

Run as `python -m trivet.studies.bench_impedance [SPECTRA]`. The chain of a pair is sorting, linear
test with outliers, headline, choice of the model from several starts, checks; a spectrum has three
pairs. The bare problem is `scipy.optimize.least_squares` from the same single start, with the same
analytic slopes. Times are aims (25 ms a spectrum, 3 ms a fit); the ratio is the bar.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial
from statistics import median
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from trivet.demo.cycler import CheckUp
from trivet.demo.plan import plan_campaign
from trivet.demo.spectra import FREQUENCIES_HZ, measured_spectra_ohm
from trivet.schema.settings.science import Impedance, Trust
from trivet.schema.tables.impedance import PAIRS
from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.fit import fit_circuit
from trivet.science.circuit.solver import Problem
from trivet.science.impedance.analysis import analyse, electrode_of, judge
from trivet.science.impedance.kramers_kronig import screen
from trivet.science.impedance.reference_geometry import geometry_checks
from trivet.science.impedance.spectrum import Trace
from trivet.stages.impedance.pair import choice_of, limits_of

SPECTRA = 20
AIM_SPECTRUM_MS = 25.0
AIM_FIT_MS = 3.0
LARGEST_RATIO = 2.0
"""One fit may take this many times as long as the bare problem: bounds, errors, criteria."""
CIRCUIT = Circuit(2, "warburg", inductance=True)
Spectrum = dict[str, np.ndarray]


def made_spectra(count: int) -> list[Spectrum]:
    """Spectra of invented cells at 300 h, three pairs each [ohm]."""
    plans = [plan for seed in range(1, 9) for plan in plan_campaign(seed)]
    made = []
    for plan in plans[:count]:
        positive, negative = plan.ageing.resistances(300.0)
        check_up = CheckUp(1, 300.0, positive, negative)
        made.append(measured_spectra_ohm(plan, check_up=check_up))
    return made


def run_chain(spectrum: Spectrum) -> None:
    """Everything that the stage does with the numbers of one spectrum."""
    settings, limits = Impedance(), limits_of(Trust())
    analyses = {
        pair: analyse(
            Trace(FREQUENCIES_HZ, spectrum[pair]),
            may_turn=pair == "negative",
            choice=choice_of(pair, settings),
        )
        for pair in PAIRS
    }
    electrodes = {pair: electrode_of(one) for pair, one in analyses.items() if pair != "cell"}
    shapes = geometry_checks(electrodes, limits=limits)
    for pair, one in analyses.items():
        judge(one, limits=limits, additivity=None, further=shapes.get(pair, ()))


def fit_linear(impedance: np.ndarray) -> None:
    """Test one pair, outliers included."""
    screen(FREQUENCIES_HZ, impedance)


def each(work: Callable[[Any], None], given: list[Any]) -> None:
    """Do something with each."""
    for one in given:
        work(one)


def fit_ours(impedance: np.ndarray) -> float:
    """Fit one circuit from one start, with errors and criteria; give the sum of squares."""
    return fit_circuit(FREQUENCIES_HZ, impedance, circuit=CIRCUIT, starts=1).sum_of_squares


def fit_bare(impedance: np.ndarray) -> float:
    """Solve the same problem by scipy alone, from the same start; give the sum of squares."""
    problem = Problem(FREQUENCIES_HZ, impedance, CIRCUIT)

    def misfit(inner: np.ndarray) -> np.ndarray:
        return problem.evaluate(inner)[0]

    def slopes(inner: np.ndarray) -> np.ndarray:
        return problem.evaluate(inner)[1].T

    found = least_squares(misfit, problem.start(0), jac=slopes, bounds=(problem.low, problem.high))
    return 2.0 * float(found.cost)


def milliseconds(work: Callable[[], object], repeats: int = 5) -> float:
    """Least processor time of a few runs [ms], so that what else the machine does counts little."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(1000 * (time.process_time() - start))
    return min(times)


def main(argv: list[str] | None = None) -> int:
    """Print times and their ratio; 1 where one fit takes too long beside the bare problem."""
    given = sys.argv[1:] if argv is None else argv
    spectra = made_spectra(int(given[0]) if given else SPECTRA)
    electrodes = [one["positive"] for one in spectra]
    chain = milliseconds(lambda: each(run_chain, spectra), 3) / len(spectra)
    test = milliseconds(lambda: each(fit_linear, electrodes)) / len(electrodes)
    ours = median(milliseconds(partial(fit_ours, one)) for one in electrodes)
    bare = median(milliseconds(partial(fit_bare, one)) for one in electrodes)
    ratio = ours / bare
    sys.stdout.write(
        f"{len(spectra)} spectra of {len(FREQUENCIES_HZ)} frequencies: whole chain {chain:.1f} ms "
        f"a spectrum of three pairs (aim {AIM_SPECTRUM_MS:g}), {chain / 3:.1f} ms a pair, as long "
        f"as {chain / bare:.1f} bare fits; of a pair the Kramers-Kronig test takes {test:.1f} ms; "
        f"one fit from one start {ours:.1f} ms (aim {AIM_FIT_MS:g}), scipy on the bare problem "
        f"{bare:.1f} ms; ratio {ratio:.2f}, limit {LARGEST_RATIO:g}\n"
    )
    return int(ratio > LARGEST_RATIO)


if __name__ == "__main__":
    sys.exit(main())
