"""The benchmark of the second pass compares like with like; times themselves are not tested."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.impedance.fixed_exponents import fit_fixed
from trivet.studies.bench_second_pass import (
    CIRCUIT,
    EXPONENTS,
    FREQUENCY_HZ,
    bare,
    measure,
    spectra,
)


def test_both_sides_find_the_same_minimum() -> None:
    """Our fit and scipy on the bare problem give the same resistances."""
    (measured,) = spectra(1)
    ours = fit_fixed(FREQUENCY_HZ, measured, circuit=CIRCUIT, exponents=EXPONENTS)
    theirs = np.exp(bare(measured))
    names = ("R0_ohm", "R1_ohm", "tau1_s", "R2_ohm", "tau2_s", "sigma_ohm_per_root_s")
    assert [ours.value(name) for name in names] == pytest.approx(list(theirs), rel=1e-3)


def test_times_are_of_one_spectrum() -> None:
    """Times are above zero and their ratio follows from them."""
    found = measure(2)
    assert min(found.fit_ms, found.scipy_ms, found.distribution_ms) > 0
    assert found.ratio == found.fit_ms / found.scipy_ms
