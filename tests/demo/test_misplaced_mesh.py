"""The mesh off the middle: its geometry by hand, limits of the line, the cell untouched."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from trivet.demo.misplaced_mesh import misread_ohm, share_beyond_rim
from trivet.demo.plan import CellPlan
from trivet.demo.protocol import CellRun
from trivet.demo.spectra import exact_spectra_ohm, measured_spectra_ohm


def test_share_of_the_mesh_beyond_the_rim() -> None:
    """Nothing up to 4 mm, all from 8 mm; at the rim of 6 mm the area counted on a grid."""
    assert share_beyond_rim(0.0) == 0.0
    assert share_beyond_rim(4.0) == 0.0
    assert share_beyond_rim(8.0) == 1.0
    across = np.linspace(-2.0, 2.0, 2001)
    x, y = np.meshgrid(across, across)
    mesh = x**2 + y**2 <= 4.0
    beyond = mesh & ((x + 6.0) ** 2 + y**2 > 36.0)
    assert share_beyond_rim(6.0) == pytest.approx(beyond.sum() / mesh.sum(), abs=1e-3)


def test_the_line_has_its_limits() -> None:
    """A vanishing interface takes the whole share of the negative, an infinite one nothing.

    Source: cosh of a fin, 1/cosh tends to 0 and 1.
    """
    negative = np.array([5.0 + 0j])
    share = share_beyond_rim(6.0)
    short = misread_ohm(negative, interface_ohm=np.array([1e-3 + 0j]), offset_mm=6.0)
    closed = misread_ohm(negative, interface_ohm=np.array([1e9 + 0j]), offset_mm=6.0)
    assert short == pytest.approx(share * negative, rel=1e-6)
    assert np.abs(closed[0]) < 1e-6


def test_cell_is_untouched_and_the_electrodes_mirror_each_other(
    plans: dict[str, CellPlan], run_of: Callable[[str], CellRun]
) -> None:
    """What the positive gains the negative loses, to the noise; the sum stays (Kirchhoff)."""
    (off,) = [cell for cell, plan in plans.items() if plan.role.mesh_offset_mm]
    check_up = run_of(off).check_ups[0]
    exact, measured = (
        exact_spectra_ohm(check_up),
        measured_spectra_ohm(plans[off], check_up=check_up),
    )
    gained = measured["positive"] - exact["positive"]
    lost = exact["negative"] - measured["negative"]
    assert np.median(np.abs(gained)) > 1.0
    assert np.median(np.abs(gained - lost)) < 0.1
    assert np.max(np.abs(measured["cell"] / exact["cell"] - 1)) < 0.02
