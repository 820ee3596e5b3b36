"""Models written out node by node: values at fifty digits, slopes, direct current, recovery."""

from __future__ import annotations

import mpmath
import numpy as np
import pytest

from trivet.science.circuit.model import Grid
from trivet.science.circuit.tree import build_circuit
from trivet.science.impedance.model_choice import fit_written

FREQUENCY = np.geomspace(1e5, 1e-2, 60)


def element(name, **more):
    """A node of one element."""
    return {"element": name, **more}


def line_of(*surface):
    """A porous line covered by elements side by side."""
    return element("porous line", surface={"parallel": list(surface)})


RANDLES = {
    "series": [
        element("inductor"),
        element("resistor"),
        {
            "parallel": [
                {"series": [element("resistor"), element("warburg open")]},
                element("constant phase"),
            ]
        },
    ]
}
MODELS = {
    "randles": (RANDLES, [1e-6, 3, 20, 15, 50, 2e-3, 0.85]),
    "gerischer": (
        {"series": [element("resistor"), element("arc"), element("gerischer")]},
        [3, 10, 1e-4, 0.85, 30, 0.1],
    ),
    "porous": (
        {
            "series": [
                element("resistor"),
                line_of(element("resistor"), element("constant phase")),
                element("warburg"),
            ]
        },
        [3, 30, 12, 5e-3, 0.9, 1.0],
    ),
    "short": (
        {"series": [element("resistor"), element("arc"), element("arc"), element("warburg short")]},
        [3, 10, 1e-4, 0.85, 20, 1e-2, 0.8, 20, 10.0],
    ),
    "blocking": (
        {
            "series": [
                element("resistor"),
                {"parallel": [element("resistor"), element("capacitor")]},
                element("constant phase"),
            ]
        },
        [3, 20, 1e-4, 0.05, 0.5],
    ),
}


def by_mpmath(model, frequency, values):
    """Each model as its closed form, at fifty digits."""
    with mpmath.workdps(50):
        s = mpmath.mpc(0, 2) * mpmath.pi * mpmath.mpf(float(frequency))
        v = [mpmath.mpf(str(value)) for value in values]

        def arc(width, tau, exponent):
            return width / (1 + (s * tau) ** exponent)

        if model == "randles":
            root = mpmath.sqrt(s * v[4])
            inner = v[2] + v[3] * mpmath.coth(root) / root
            return complex(s * v[0] + v[1] + 1 / (1 / inner + v[5] * s ** v[6]))
        if model == "gerischer":
            return complex(v[0] + arc(*v[1:4]) + v[4] / mpmath.sqrt(1 + s * v[5]))
        if model == "porous":
            surface = 1 / (1 / v[2] + v[3] * s ** v[4])
            root = mpmath.sqrt(v[1] / surface)
            line = mpmath.sqrt(v[1] * surface) * mpmath.coth(root)
            return complex(
                v[0] + line + v[5] * mpmath.mpc(1, -1) / mpmath.sqrt(s / mpmath.mpc(0, 1))
            )
        if model == "short":
            root = mpmath.sqrt(s * v[8])
            tail = v[7] * mpmath.tanh(root) / root
            return complex(v[0] + arc(*v[1:4]) + arc(*v[4:7]) + tail)
        return complex(v[0] + 1 / (1 / v[1] + s * v[2]) + 1 / (v[3] * s ** v[4]))


@pytest.mark.parametrize("name", MODELS)
def test_compositions_equal_their_closed_forms(name):
    """Series, parallel and porous line give the closed form at fifty digits, to 1e-12 (mpmath)."""
    node, values = MODELS[name]
    circuit = build_circuit(node)
    found = circuit.impedance(FREQUENCY[::6], np.array(values, dtype=float))
    wanted = [by_mpmath(name, frequency, values) for frequency in FREQUENCY[::6]]
    assert np.max(np.abs(found / np.array(wanted) - 1)) < 1e-12


@pytest.mark.parametrize("name", MODELS)
def test_slopes_equal_finite_differences(name):
    """The chain rule through every composition equals central differences (own)."""
    node, values = MODELS[name]
    circuit, grid = build_circuit(node), Grid(FREQUENCY)
    inner = circuit.inner(np.array(values, dtype=float))
    _, slopes = circuit.impedance_and_slopes(grid, inner)
    for which in range(len(inner)):
        step = np.zeros(len(inner))
        step[which] = 1e-6
        ahead = circuit.impedance_and_slopes(grid, inner + step)[0]
        behind = circuit.impedance_and_slopes(grid, inner - step)[0]
        wanted = (ahead - behind) / 2e-6
        assert slopes[which] == pytest.approx(wanted, rel=1e-5, abs=1e-7 * np.max(np.abs(wanted)))


@pytest.mark.parametrize("name", MODELS)
def test_noise_free_models_return_the_truth(name):
    """Every written model is recovered from its own noise-free spectrum to 1e-8 (as P1.5)."""
    node, values = MODELS[name]
    circuit, truth = build_circuit(node), np.array(values, dtype=float)
    found = fit_written(FREQUENCY, circuit.impedance(FREQUENCY, truth), circuit=circuit)
    assert found.parameters == pytest.approx(truth, rel=1e-8)


def test_standard_errors_of_a_written_model_cover_the_truth():
    """Over 30 noisy spectra of a Randles circuit errors scatter by 1 within 3/sqrt(2 x 30)."""
    node, values = MODELS["randles"]
    circuit, truth = build_circuit(node), np.array(values, dtype=float)
    clean, scores = circuit.impedance(FREQUENCY, truth), []
    for seed in range(30):
        parts = np.random.default_rng(seed).standard_normal((2, len(FREQUENCY)))
        noisy = clean + 0.003 * np.abs(clean) * (parts[0] + 1j * parts[1])
        found = fit_written(FREQUENCY, noisy, circuit=circuit, starts=2)
        scores.append((found.parameters - truth)[1:5] / found.standard_errors[1:5])
    assert np.sqrt(np.mean(np.square(scores), axis=0)) == pytest.approx(np.ones(4), abs=0.39)


@pytest.mark.parametrize(
    ("name", "wanted"),
    # the porous line: check values P1.1, dc limit of Rion 30, Rct 12
    [("randles", 20.0), ("gerischer", 40.0), ("porous", 20.6509448129), ("short", 30.0)],
)
def test_direct_current_resistance_is_the_polarisation(name, wanted):
    """Polarisation is what direct current meets, without the ohmic part and diffusion."""
    node, values = MODELS[name]
    circuit = build_circuit(node)
    found, slopes = circuit.polarisation(np.array(values, dtype=float))
    assert found == pytest.approx(wanted, rel=1e-11)
    assert slopes.shape == (len(values),)


def test_a_blocking_line_has_no_polarisation():
    """A porous line under blocking elements lets no direct current through: no number."""
    circuit = build_circuit({"series": [element("resistor"), line_of(
        element("constant phase"), element("capacitor"))]})  # fmt: skip
    truth = np.array([3.0, 30.0, 5e-3, 0.95, 1e-4])
    found = fit_written(
        FREQUENCY, circuit.impedance(FREQUENCY, truth), circuit=circuit, neighbour=None
    )
    assert np.isnan(found.polarisation_resistance_ohm)
    assert found.polarisation_resistance_se_ohm is None


def test_names_and_label_follow_the_nodes():
    """The first resistor in series is R0, others are numbered in order; the label shows nodes."""
    circuit = build_circuit(RANDLES)
    assert circuit.names == ("L_H", "R0_ohm", "R1_ohm", "R2_ohm", "tau2_s", "Q3_S_s_n", "n3")
    assert circuit.label == "L + R0 + ((R + W open) | CPE)"
    assert circuit.arc_places == ()
    arcs = build_circuit(MODELS["short"][0])
    assert arcs.arc_places == (1, 4)
