"""Elements against closed forms at fifty digits and against the limits of the formulas."""

from __future__ import annotations

import mpmath
import numpy as np
import pytest

from trivet.science.circuit import closed_forms as el

# Check values P1.1: closed forms evaluated with mpmath at 50 digits, 12 digits printed.
POINTS = [
    (el.resistor, {"resistance_ohm": 12.5}, 10, 12.5, 0.0),
    (el.capacitor, {"capacitance_F": 2e-5}, 100, 0.0, -79.5774715459),
    (el.inductor, {"inductance_H": 1e-6}, 1e4, 0.0, 0.0628318530718),
    (
        el.constant_phase,
        {"admittance_S_s_n": 1e-3, "exponent": 0.8},
        10,
        11.2574096324,
        -34.646744297,
    ),
    (
        el.constant_phase,
        {"admittance_S_s_n": 1e-3, "exponent": 0.8},
        1,
        71.029452874,
        -218.606177765,
    ),
    (el.constant_phase, {"admittance_S_s_n": 2e-5, "exponent": 1.0}, 100, 0.0, -79.5774715459),
    (
        el.constant_phase,
        {"admittance_S_s_n": 1e-2, "exponent": 0.5},
        0.1,
        89.2062058076,
        -89.2062058076,
    ),
    (
        el.zarc,
        {"resistance_ohm": 50, "time_constant_s": 1e-3, "exponent": 0.85},
        1,
        49.8351358749,
        -0.649320948795,
    ),
    (
        el.zarc,
        {"resistance_ohm": 50, "time_constant_s": 1e-3, "exponent": 0.85},
        100,
        32.7211575209,
        -18.5216392024,
    ),
    (
        el.zarc,
        {"resistance_ohm": 50, "time_constant_s": 1e-3, "exponent": 0.85},
        1e4,
        0.383916336214,
        -1.41908597889,
    ),
    (el.warburg, {"coefficient_ohm_per_root_s": 5}, 0.01, 19.9471140201, -19.9471140201),
    (el.warburg, {"coefficient_ohm_per_root_s": 5}, 1, 1.99471140201, -1.99471140201),
    (
        el.warburg_open,
        {"resistance_ohm": 20, "time_constant_s": 100},
        0.001,
        6.65002259317,
        -32.1091955726,
    ),
    (
        el.warburg_open,
        {"resistance_ohm": 20, "time_constant_s": 100},
        0.01,
        5.46998271612,
        -5.22735523327,
    ),
    (
        el.warburg_open,
        {"resistance_ohm": 20, "time_constant_s": 100},
        1,
        0.564189583548,
        -0.564189583548,
    ),
    (
        el.warburg_short,
        {"resistance_ohm": 20, "time_constant_s": 10},
        0.001,
        19.9894792345,
        -0.418611457217,
    ),
    (
        el.warburg_short,
        {"resistance_ohm": 20, "time_constant_s": 10},
        0.1,
        5.81322781182,
        -6.08304854683,
    ),
    (
        el.warburg_short,
        {"resistance_ohm": 20, "time_constant_s": 10},
        10,
        0.564189583548,
        -0.564189583548,
    ),
    (
        el.warburg_short,
        {"resistance_ohm": 20, "time_constant_s": 10, "exponent": 0.45},
        0.1,
        7.13199264946,
        -5.96222644111,
    ),
    (
        el.gerischer,
        {"resistance_ohm": 30, "time_constant_s": 0.1},
        1,
        26.5265982993,
        -7.64194327629,
    ),
    (
        el.gerischer,
        {"resistance_ohm": 30, "time_constant_s": 0.1},
        100,
        2.69722505603,
        -2.65463897191,
    ),
]


def assert_equal_digits(found, real, imaginary):
    """Compare to the twelve digits printed."""
    assert found.real == pytest.approx(real, rel=2e-11, abs=1e-13)
    assert found.imag == pytest.approx(imaginary, rel=2e-11, abs=1e-13)


@pytest.mark.parametrize(("element", "parameters", "frequency_Hz", "real", "imaginary"), POINTS)
def test_element_value(element, parameters, frequency_Hz, real, imaginary):
    """An element has the impedance of its closed form to twelve digits."""
    assert_equal_digits(element(frequency_Hz, **parameters), real, imaginary)


def test_resistor_beside_capacitor():
    """R beside C composes in parallel to the closed form (P1.1)."""
    pair = el.parallel(el.resistor(1000, resistance_ohm=50), el.capacitor(1000, capacitance_F=1e-5))
    assert_equal_digits(pair, 4.59998341752, -14.4512741111)


def test_zarc_from_its_admittance():
    """R beside a constant phase element gives the depressed arc of the Q form (P1.1)."""
    pair = el.parallel(
        el.resistor(50, resistance_ohm=100),
        el.constant_phase(50, admittance_S_s_n=2e-5, exponent=0.9),
    )
    assert_equal_digits(pair, 85.4069792123, -28.2617108131)


@pytest.mark.parametrize(
    ("frequency_Hz", "real", "imaginary"),
    [(1, 47.9873012803, -4.34940763176), (1000, 5.06305404488, -1.58888821109)],
)
def test_randles_circuit(frequency_Hz, real, imaginary):
    """Rs + (Rct + W) beside C composes from series and parallel (P1.1, Randles)."""
    faradaic = el.series(
        el.resistor(frequency_Hz, resistance_ohm=40),
        el.warburg(frequency_Hz, coefficient_ohm_per_root_s=8),
    )
    total = el.series(
        el.resistor(frequency_Hz, resistance_ohm=5),
        el.parallel(faradaic, el.capacitor(frequency_Hz, capacitance_F=1e-4)),
    )
    assert_equal_digits(total, real, imaginary)


@pytest.mark.parametrize(
    ("frequency_Hz", "real", "imaginary"),
    [
        (0.01, 60.9231705863, -12.1052223263),
        (1, 47.7146132833, -5.95174209115),
        (10, 32.2067032244, -11.48818662),
        (1000, 10.572050228, -6.45019351141),
        (1e5, 4.06976540284, -0.256546355587),
    ],
)
def test_two_arcs_and_tail(frequency_Hz, real, imaginary):
    """R0 + two arcs + W, the circuit of most electrodes, adds up (P1.1)."""
    total = el.series(
        el.resistor(frequency_Hz, resistance_ohm=4),
        el.zarc(frequency_Hz, resistance_ohm=15, time_constant_s=2e-4, exponent=0.85),
        el.zarc(frequency_Hz, resistance_ohm=30, time_constant_s=2e-2, exponent=0.8),
        el.warburg(frequency_Hz, coefficient_ohm_per_root_s=3),
    )
    assert_equal_digits(total, real, imaginary)


def test_porous_line():
    """The porous line has its blocking, faradaic and dc values (P1.1)."""
    surface = el.constant_phase(1, admittance_S_s_n=5e-3, exponent=0.95)
    faradaic = el.parallel(surface, el.resistor(1, resistance_ohm=12))
    blocking = el.porous_line(surface, ionic_resistance_ohm=30)
    assert_equal_digits(blocking, 12.6477450264, -35.3473604889)
    assert_equal_digits(
        el.porous_line(faradaic, ionic_resistance_ohm=30), 19.1112408488, -3.87952591488
    )
    at_rest = el.porous_line(np.array(12.0 + 0j), ionic_resistance_ohm=30)
    assert_equal_digits(at_rest, 20.6509448129, 0.0)


def test_porous_line_of_small_ionic_resistance():
    """For Rct much above Rion the dc limit is Rct + Rion/3 (series expansion of x coth x)."""
    line = el.porous_line(np.array(1e4 + 0j), ionic_resistance_ohm=3.0)
    assert line.real == pytest.approx(1e4 + 1.0, rel=1e-7)


@pytest.mark.parametrize(
    ("exponent", "height"),
    [
        (1.0, 0.5),
        (0.9, 0.427040342732),
        (0.85, 0.394168217293),
        (0.7, 0.30640039407),
        (0.5, 0.207106781187),
    ],
)
def test_apex_of_an_arc(exponent, height):
    """At w tau = 1 an arc stands at half its width, (R/2) tan(n pi/4) high (P1.1, identities)."""
    apex = el.zarc(1 / (2 * np.pi), resistance_ohm=1, time_constant_s=1, exponent=exponent)
    assert apex.real == pytest.approx(0.5, rel=1e-12)
    assert -apex.imag == pytest.approx(height, rel=1e-11)


@pytest.mark.parametrize("frequency_Hz", [3e-3, 0.7, 45.0, 2e5])
def test_hyperbolic_elements_against_mpmath(frequency_Hz):
    """Diffusion and porous elements equal mpmath's own complex functions at 30 digits."""
    mpmath.mp.dps = 30
    laplace = 2j * mpmath.pi * frequency_Hz
    root = mpmath.sqrt(laplace * 7)
    surface = 1 / (mpmath.mpf("2e-3") * laplace ** mpmath.mpf("0.9"))
    wanted = [
        11 * mpmath.coth(root) / root,
        11 * mpmath.tanh(root) / root,
        mpmath.sqrt(25 * surface) * mpmath.coth(mpmath.sqrt(25 / surface)),
    ]
    found = [
        el.warburg_open(frequency_Hz, resistance_ohm=11, time_constant_s=7),
        el.warburg_short(frequency_Hz, resistance_ohm=11, time_constant_s=7),
        el.porous_line(
            el.constant_phase(frequency_Hz, admittance_S_s_n=2e-3, exponent=0.9),
            ionic_resistance_ohm=25,
        ),
    ]
    for here, there in zip(found, wanted, strict=True):
        assert complex(here) == pytest.approx(complex(there), rel=1e-12)


def test_shapes_are_kept():
    """Frequencies of any shape give impedances of that shape."""
    grid = np.geomspace(1e-2, 1e5, 6).reshape(2, 3)
    assert el.resistor(grid, resistance_ohm=1).shape == (2, 3)
    assert el.gerischer(grid, resistance_ohm=1, time_constant_s=1).shape == (2, 3)


@pytest.mark.parametrize("frequency_Hz", [0.0, -1.0, np.nan, np.inf])
def test_frequency_must_be_positive(frequency_Hz):
    """A frequency that is not a positive number is refused with its unit."""
    with pytest.raises(ValueError, match=r"positive and finite \[Hz\]"):
        el.resistor([1.0, frequency_Hz], resistance_ohm=1)
