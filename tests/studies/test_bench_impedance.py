"""Time of a spectrum and of a fit beside scipy: what is timed, and the ratio.

The aims in milliseconds are printed by `python -m trivet.studies.bench_impedance`; a time on a busy
machine is no test, a ratio of two things timed by turns is.
"""

from __future__ import annotations

import numpy as np
import pytest

from trivet.demo.spectra import FREQUENCIES_HZ
from trivet.studies import bench_impedance as bench


def test_spectra_are_those_of_the_demo() -> None:
    """Every spectrum has three pairs on the demo's grid, and no two are the same."""
    made = bench.made_spectra(3)
    assert [set(one) for one in made] == [{"cell", "positive", "negative"}] * 3
    assert all(one["cell"].shape == FREQUENCIES_HZ.shape for one in made)
    assert not np.allclose(made[0]["cell"], made[1]["cell"])


def test_both_sides_solve_the_same_problem() -> None:
    """Ours and scipy's reach the same sum of squares, so that their times may be compared."""
    impedance = bench.made_spectra(1)[0]["positive"]
    assert bench.fit_ours(impedance) == pytest.approx(bench.fit_bare(impedance), rel=1e-4)


def test_a_fit_takes_no_longer_than_allowed_beside_scipy() -> None:
    """One fit takes at most twice the bare problem; timed by turns, the least of five each."""
    electrodes = [one["positive"] for one in bench.made_spectra(4)]
    ours = sum(bench.milliseconds(lambda z=z: bench.fit_ours(z)) for z in electrodes)
    bare = sum(bench.milliseconds(lambda z=z: bench.fit_bare(z)) for z in electrodes)
    assert ours <= bench.LARGEST_RATIO * bare
