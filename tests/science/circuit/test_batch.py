"""Following starts downhill: a step is found also where the data tell parameters apart no more."""

import numpy as np

from trivet.science.circuit import closed_forms as el
from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.fit import fit_circuit

FREQUENCY = np.geomspace(1e5, 1e-2, 50)


def test_points_of_nothing_leave_the_solver_a_step():
    """Most of a spectrum is an open switch's 1e-12 ohm, which relative residuals weigh above all.

    Damping fell until the equations of the step were singular.
    """
    impedance = el.series(
        el.resistor(FREQUENCY, resistance_ohm=3.0),
        el.zarc(FREQUENCY, resistance_ohm=12.0, time_constant_s=2e-4, exponent=0.85),
        el.zarc(FREQUENCY, resistance_ohm=20.0, time_constant_s=0.6, exponent=0.8),
        el.warburg(FREQUENCY, coefficient_ohm_per_root_s=2.0),
    )
    random = np.random.default_rng(1)
    noise = random.standard_normal(50) + 1j * random.standard_normal(50)
    impedance = impedance * (1.0 + 0.002 * noise)
    impedance[5:45] = 1e-12
    circuit = Circuit(arcs=3, tail="free", inductance=True)
    found = fit_circuit(FREQUENCY, impedance, circuit=circuit, starts=5)
    assert np.isfinite(found.parameters).all()
