"""The linear least squares behind the Kramers-Kronig test, with its columns kept by grid."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import linalg
from scipy.linalg import lapack

from trivet.science.circuit.model import laplace

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]


class LinearSystem:
    """What does not depend on the number of time constants, and the fit for any number."""

    def __init__(
        self, frequency_Hz: Floats, impedance_ohm: Complex, capacitance: bool, inductance: bool
    ) -> None:
        self.frequency = np.ascontiguousarray(frequency_Hz, dtype=np.float64)
        self.impedance = np.asarray(impedance_ohm, dtype=complex)
        self.size = np.abs(self.impedance)
        self.weights = np.tile(1 / self.size, 2)[:, None]
        self.extra = (capacitance, inductance)
        self.fixed = 1 + capacitance + inductance
        self.target = stacked(self.impedance / self.size)

    def values(self, time_constants: int) -> Floats:
        """Fit R0, the optional L and 1/C, and R_k, in this order."""
        unknowns = time_constants + self.fixed
        if 2 * len(self.size) < unknowns:
            raise ValueError(f"{len(self.size)} points are too few for {unknowns} unknowns")
        rows = _columns(self.frequency.tobytes(), time_constants, *self.extra)[1] * self.weights
        scale = np.sqrt(np.einsum("nk,nk->k", rows, rows))
        rows /= scale
        # By QR, a fifth of the time of singular values; those stand in where a column is lost.
        _, solution, failed = lapack.dgels(rows, self.target)
        if failed:
            solution = linalg.lstsq(rows, self.target)[0]
        fitted: Floats = np.asarray(solution[:unknowns], dtype=np.float64) / scale
        return fitted

    def resistances(self, values: Floats) -> Floats:
        """Give the R_k among the fitted values."""
        return values[self.fixed :]

    def model(self, time_constants: int, values: Floats) -> Complex:
        """Give the spectrum of fitted values, shape (N,) [ohm]."""
        columns = _columns(self.frequency.tobytes(), time_constants, *self.extra)[0]
        return np.asarray(columns @ values)


@lru_cache(maxsize=256)
def _columns(
    frequency_bytes: bytes, time_constants: int, capacitance: bool, inductance: bool
) -> tuple[Complex, Floats]:
    """Columns of the linear model on a grid of frequencies, complex and stacked.

    Spectra of a campaign share few grids, so that these are built once and not for each spectrum.
    """
    points = laplace(np.frombuffer(frequency_bytes))
    angular = points.imag
    columns = [np.ones_like(points)]
    columns += [points] if inductance else []
    columns += [1 / points] if capacitance else []
    tau_s = np.geomspace(1 / np.max(angular), 1 / np.min(angular), time_constants)
    basis = np.concatenate([np.stack(columns, axis=1), 1 / (1 + np.outer(points, tau_s))], axis=1)
    return basis, stacked(basis)


def stacked(values: Complex) -> Floats:
    """Real rows above imaginary rows.

    Parameters
    ----------
    values : numpy.ndarray
        Complex, shape (N,) or (N, k).
    """
    return np.concatenate([values.real, values.imag])
